package blindly

import (
	"image/color"
	"math"

	"stopladder/analysis/judge/blind"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// Look are the colours of a plot.
type Look struct{ Ground, Text, Quiet, Rule, Judge, White color.NRGBA }

// DarkLook is the window's.
func DarkLook() Look {
	p := paint.Dark
	return Look{Ground: p.Well, Text: p.Text, Quiet: p.Dim, Rule: p.Rule, Judge: p.Judge, White: p.White}
}

// Draw plots the verdicts over stops: one mark for each view, in the row of its verdict, the
// likelihood that a frame holds and that it is usable as lines, both ranges with their errors
// under them, and the range that the judge marked with labels in sight (nil: none).
func Draw(res *blind.Result, marked *roll.Range, l Look, w, h float64) *drawing.List {
	list := &drawing.List{W: w, H: h, Title: "Verdicts of a blind judging over stops"}
	p := plotter{list: list, l: l, left: 92, right: w - 16, top: 26, bottom: h - 106}
	list.Add(drawing.Rect(0, 0, w, h, l.Ground))
	if len(res.Stops) == 0 {
		return list
	}
	p.lo, p.hi = res.Stops[0].Stop-0.6, res.Stops[len(res.Stops)-1].Stop+0.6
	p.axis(res)
	p.views(res)
	p.curve(res.Usable, l.Quiet)
	p.curve(res.Holds, l.Text)
	p.ranges(res, marked)
	return list
}

type plotter struct {
	list                     *drawing.List
	l                        Look
	left, right, top, bottom float64
	lo, hi                   float64
}

func (p *plotter) x(stop float64) float64 {
	return p.left + (p.right-p.left)*(stop-p.lo)/(p.hi-p.lo)
}

// y is the height of a likelihood.
func (p *plotter) y(share float64) float64 { return p.bottom - (p.bottom-p.top)*share }

func (p *plotter) text(x, y, em float64, align paint.Align, col color.NRGBA, s string) {
	p.list.Add(drawing.Text{At: drawing.Pt{X: x, Y: y}, S: s, Style: paint.Style{Size: em, Col: col}.Aligned(align)})
}

// rows are the heights of the verdicts: as their likelihoods stand.
var rows = []struct {
	v     roll.Verdict
	share float64
}{{roll.Holds, 0.94}, {roll.Strains, 0.5}, {roll.Breaks, 0.06}}

func (p *plotter) axis(res *blind.Result) {
	for _, r := range rows {
		y := p.y(r.share)
		p.list.Add(drawing.Line{Pts: []drawing.Pt{{X: p.left, Y: y}, {X: p.right, Y: y}}, Width: 1, On: 2, Off: 4, Col: p.l.Rule})
		p.text(p.left-10, y+5, 13, paint.Right, p.l.Text, r.v.Word())
	}
	for _, s := range res.Stops {
		p.list.Add(drawing.Segment(p.x(s.Stop), p.bottom, p.x(s.Stop), p.bottom+5, 1, p.l.Quiet))
		p.text(p.x(s.Stop), p.bottom+20, 13, paint.Centre, p.l.Text, stops.Label(s.Stop))
	}
	p.list.Add(drawing.Segment(p.left, p.bottom, p.right, p.bottom, 1, p.l.Quiet))
	p.text(p.right, p.top-10, 12, paint.Right, p.l.Quiet, "lines: how likely a frame holds (bright), holds or strains (dim)")
}

// views draws a mark for each view, in rows of eight.
func (p *plotter) views(res *blind.Result) {
	const r, gap = 5.0, 13.0
	for _, s := range res.Stops {
		for k, n := range []int{s.Holds, s.Strains, s.Breaks} {
			across := min(n, max(1, int((p.x(1)-p.x(0))/gap)))
			for i := range n {
				row, at := i/max(1, across), i%max(1, across)
				in := min(across, n-row*across)
				x := p.x(s.Stop) + (float64(at)-float64(in-1)/2)*gap
				y := p.y(rows[k].share) + float64(row)*gap
				p.mark(k, drawing.Pt{X: x, Y: y}, r)
			}
		}
	}
}

// mark draws a verdict: full, hollow, or crossed out.
func (p *plotter) mark(k int, at drawing.Pt, r float64) {
	switch k {
	case 0:
		p.list.Add(drawing.Dot{At: at, R: r, Col: p.l.Text})
	case 1:
		p.list.Add(drawing.Dot{At: at, R: r, Width: 2, Col: p.l.Text})
	default:
		p.list.Add(drawing.Segment(at.X-r*0.8, at.Y-r*0.8, at.X+r*0.8, at.Y+r*0.8, 2, p.l.Text),
			drawing.Segment(at.X-r*0.8, at.Y+r*0.8, at.X+r*0.8, at.Y-r*0.8, 2, p.l.Text))
	}
}

// curve draws how likely frames are accepted, between stops by straight lines.
func (p *plotter) curve(f blind.Fit, col color.NRGBA) {
	if !f.OK {
		return
	}
	var pts []drawing.Pt
	for _, s := range f.At {
		pts = append(pts, drawing.Pt{X: p.x(s.Stop), Y: p.y(0.06 + 0.88*s.Accepted)})
	}
	p.list.Add(drawing.Line{Pts: pts, Width: 1.5, Col: paint.Alpha(col, 0.7)})
}

// ranges draws the ranges that follow, and the one that was marked, on the same axis.
func (p *plotter) ranges(res *blind.Result, marked *roll.Range) {
	y := p.bottom + 42
	bar := func(word string, lo, hi float64, width float64, col color.NRGBA, ends *blind.Fit) {
		p.text(p.left-10, y+5, 12, paint.Right, p.l.Quiet, word)
		p.list.Add(drawing.Segment(p.clamp(lo), y, p.clamp(hi), y, width, col))
		if ends != nil {
			for k, e := range []blind.End{ends.Under, ends.Over} {
				a, b := p.clamp(e.Lo), p.clamp(e.Hi)
				p.list.Add(drawing.Segment(a, y, b, y, 1.5, col))
				for n, x := range []float64{a, b} {
					if e.Beyond && n == k { // no bound
						continue
					}
					p.list.Add(drawing.Segment(x, y-5, x, y+5, 1.5, col))
				}
			}
		}
		y += 22
	}
	if f := &res.Holds; f.OK {
		bar("holds", f.Under.Stop, f.Over.Stop, 5, p.l.White, f)
	}
	if f := &res.Usable; f.OK {
		bar("or strains", f.Under.Stop, f.Over.Stop, 5, p.l.Quiet, f)
	}
	if marked != nil {
		bar("with labels", marked.Lo, marked.Hi, 5, p.l.Judge, nil)
	}
}

// clamp places a stop, at the plot's edge where it lies beyond.
func (p *plotter) clamp(stop float64) float64 { return p.x(math.Max(p.lo, math.Min(p.hi, stop))) }
