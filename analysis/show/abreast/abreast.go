// Package abreast draws rolls beside each other: the shelf as small multiples on one axis
// of stops, and the comparison of two to twelve rolls as one page. Both are lists of marks
// (package drawing), painted in the window and written as PNG, SVG and PDF.
package abreast

import (
	"image/color"
	"math"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/shelf/against"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// Ground is what a drawing stands on.
type Ground string

// The grounds.
const (
	Dark  Ground = "dark"
	White Ground = "white"
)

// Grounds returns them all.
func Grounds() []Ground { return []Ground{Dark, White} }

// Pal are the colours of a ground. Text is at least 4.5:1 on it (WCAG 2.2, 1.4.3), what is
// drawn 3:1.
type Pal struct {
	Ground, Band, Well, Rule, Strong, Text, Dim, Measured, Judge color.NRGBA
	Rolls                                                        [6]color.NRGBA
}

// PalOf returns the colours of a ground. Rolls are told apart by a letter at every curve
// and by dashes; colours help (Okabe & Ito 2008, darkened on white to 3:1).
func PalOf(g Ground) *Pal {
	h := paint.Hex
	if g == White {
		return &Pal{Ground: h(0xFFFFFF), Band: h(0xF4F4F4), Well: h(0xFAFAFA), Rule: h(0xD6D6D6), Strong: h(0x6A6A6A), Text: h(0x1A1A1A), Dim: h(0x575757), Measured: h(0x4A4A4A), Judge: h(0xB87A00),
			Rolls: [6]color.NRGBA{h(0x1A1A1A), h(0x0072B2), h(0xC05000), h(0x00875F), h(0xA85C84), h(0x8C7A00)}}
	}
	return &Pal{Ground: h(0x303030), Band: h(0x383838), Well: h(0x292929), Rule: h(0x4E4E4E), Strong: h(0xA0A0A0), Text: h(0xF0F0F0), Dim: h(0xBDBDBD), Measured: h(0xE6E6E6), Judge: paint.Orange,
		Rolls: [6]color.NRGBA{h(0xF5F5F5), h(0x56B4E9), h(0xF08A4B), h(0x35C79B), h(0xE0A0C4), h(0xF0E442)}}
}

// Of returns the colour and the dashes of the i-th roll.
func (p *Pal) Of(i int) (col color.NRGBA, on, off float64) {
	if i >= len(p.Rolls) {
		on, off = 7, 4
	}
	return p.Rolls[i%len(p.Rolls)], on, off
}

// Letter is what the i-th roll is called in plots.
func Letter(i int) string { return against.Letter(i) }

// page is a drawing that grows downwards.
type page struct {
	*drawing.List
	pal *Pal
	y   float64
}

func newPage(w float64, g Ground, title string) *page {
	return &page{List: &drawing.List{W: w, Title: title}, pal: PalOf(g)}
}

func style(size float64, col color.NRGBA) paint.Style { return paint.Style{Size: size, Col: col} }

// text puts one line at a place, shortened to a width.
func (p *page) text(x, y, w float64, s string, st paint.Style) {
	if s = drawing.Plain(s); w > 0 {
		s = drawing.Gauge.Ellipsis(s, st, w)
	}
	if s != "" {
		p.Add(drawing.Text{At: drawing.Pt{X: x, Y: y}, S: s, Style: st})
	}
}

// lines puts a text in lines and returns how high it stands.
func (p *page) lines(x, y, w float64, s string, st paint.Style) float64 {
	h := 0.0
	for _, line := range drawing.Gauge.Wrap(drawing.Plain(s), st, w, 0) {
		h += st.Size * 1.35
		p.Add(drawing.Text{At: drawing.Pt{X: x, Y: y + h - st.Size*0.3}, S: line, Style: st})
	}
	return h
}

// ground lays the ground under all that was drawn, once the height is known.
func (p *page) ground() *drawing.List {
	p.H = math.Ceil(p.y)
	p.Marks = append([]drawing.Mark{drawing.Rect(0, 0, p.W, p.H, p.pal.Ground)}, p.Marks...)
	return p.List
}

// axis is a horizontal axis of stops.
type axis struct{ x0, x1, lo, hi float64 }

func (a axis) x(stop float64) float64 {
	return a.x0 + (a.x1-a.x0)*(math.Max(a.lo, math.Min(a.hi, stop))-a.lo)/(a.hi-a.lo)
}

// every returns how many stops apart labels stand that need so much room.
func (a axis) every(room float64) float64 {
	for _, s := range []float64{1, 2, 4, 8} {
		if (a.x1-a.x0)/(a.hi-a.lo)*s >= room {
			return s
		}
	}
	return 16
}

// grid draws the whole stops of an axis from y0 down to y1.
func (p *page) grid(a axis, y0, y1 float64) {
	for s := math.Ceil(a.lo); s <= a.hi; s++ {
		col := p.pal.Rule
		if s == 0 {
			col = p.pal.Strong
		}
		p.Add(drawing.Segment(a.x(s), y0, a.x(s), y1, 1, col))
	}
}

// scale labels the stops of an axis over y.
func (p *page) scale(a axis, y float64) {
	st := style(11.5, p.pal.Dim).Aligned(paint.Centre)
	step := a.every(30)
	for s := math.Ceil(a.lo/step) * step; s <= a.hi; s += step {
		p.text(a.x(s), y, 0, stops.Label(s), st)
	}
}

// rangeBar draws what a roll holds and strains, with the errors of the ends, and the
// judge's range under it, about the height y.
func (p *page) rangeBar(a axis, y float64, k *kept.Readings, judged *roll.Range, faint bool) {
	col := p.pal.Measured
	if faint {
		col = paint.Alpha(col, 0.55)
	}
	if k != nil {
		if g := k.Range.Strains; g != nil {
			p.Add(drawing.Segment(a.x(g.Lo.Stop), y, a.x(g.Hi.Stop), y, 2, col))
			p.end(a, y, 4, g.Lo, -1, col)
			p.end(a, y, 4, g.Hi, 1, col)
		}
		if g := k.Range.Holds; g != nil {
			p.Add(drawing.Rect(a.x(g.Lo.Stop), y-4, a.x(g.Hi.Stop), y+4, col))
			p.end(a, y, 6, g.Lo, -1, col)
			p.end(a, y, 6, g.Hi, 1, col)
			for _, e := range []kept.End{g.Lo, g.Hi} { // whiskers under the bar
				if !e.Open && e.Error > 0 {
					p.whisker(a.x(e.Stop-e.Error), a.x(e.Stop+e.Error), y+8, col)
				}
			}
		}
	}
	if judged != nil {
		x0, x1 := a.x(judged.Lo), a.x(judged.Hi)
		p.Add(drawing.Segment(x0, y-9, x1, y-9, 2, p.pal.Judge), drawing.Segment(x0, y-12, x0, y-6, 2, p.pal.Judge), drawing.Segment(x1, y-12, x1, y-6, 2, p.pal.Judge))
	}
}

func (p *page) whisker(x0, x1, y float64, col color.NRGBA) {
	p.Add(drawing.Segment(x0, y, x1, y, 1, col), drawing.Segment(x0, y-2, x0, y+2, 1, col), drawing.Segment(x1, y-2, x1, y+2, 1, col))
}

// end marks an end: a post, or an arrow where the roll does not reach it.
func (p *page) end(a axis, y, h float64, e kept.End, way float64, col color.NRGBA) {
	x := a.x(e.Stop)
	if !e.Open {
		p.Add(drawing.Rect(x-1, y-h, x+1, y+h, col))
		return
	}
	p.Add(drawing.Area{Pts: []drawing.Pt{{X: x, Y: y - h}, {X: x + way*h, Y: y}, {X: x, Y: y + h}}, Col: col})
}
