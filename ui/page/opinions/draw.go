package opinions

import (
	"fmt"
	"image"
	"math"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/theme"
)

// Measures of the drawing, units.
const (
	headHigh  = 46 // names, days and what has to be known of them
	rowHigh   = 30
	footHigh  = 10
	stopWide  = 46
	scanWide  = 104 // the sender's readings
	columnMin = 26
	columnMax = 62
)

func height(frames int) float32 { return headHigh + footHigh + rowHigh*float32(max(1, frames)) }

// geometry is where the drawing's parts stand, device pixels.
type geometry struct {
	left, wide int // of the first judgement's column, of each
	rows       []int
	right      int // where the sender's readings begin
	shown      int // judgements that have room
}

func (p *Page) geometry(c *paint.Canvas, r image.Rectangle) (g geometry) {
	g.left, g.right = r.Min.X+c.Px(stopWide+8), r.Max.X-c.Px(8)
	if len(p.sent.figures) > 0 {
		g.right -= c.Px(scanWide)
	}
	n := max(1, len(p.side.Judgements))
	g.wide = max(c.Px(columnMin), min(c.Px(columnMax), (g.right-g.left)/n))
	g.shown = min(n, (g.right-g.left)/g.wide)
	frames := len(p.state.Roll().Frames)
	for i := range frames {
		g.rows = append(g.rows, r.Min.Y+c.Px(headHigh)+c.Px(rowHigh)*(frames-1-i)+c.Px(rowHigh)/2)
	}
	return g
}

// yOf is where a stop stands: between the rows of the frames next to it.
func (g geometry) yOf(frames []roll.Frame, stop float64) float64 {
	last := len(frames) - 1
	for i := range frames[:max(0, last)] {
		a, b := frames[i].Stop, frames[i+1].Stop
		if stop <= b || i == last-1 {
			if b-a < stops.Near {
				return float64(g.rows[i])
			}
			u := math.Max(-0.4, math.Min(1.4, (stop-a)/(b-a)))
			return float64(g.rows[i]) + u*float64(g.rows[i+1]-g.rows[i])
		}
	}
	return float64(g.rows[0])
}

func (p *Page) draw(c *paint.Canvas, r image.Rectangle) {
	frames := p.state.Roll().Frames
	if p.side == nil || len(frames) == 0 {
		return
	}
	g := p.geometry(c, r)
	quiet := paint.Style{Size: theme.Figure, Col: c.Pal.Dim}
	plain := paint.Style{Size: theme.Small, Col: c.Pal.Text}
	current := p.state.Current()
	for i, f := range frames {
		y := g.rows[i]
		line := image.Rect(r.Min.X+c.Px(10), y-c.Px(rowHigh)/2, r.Max.X-c.Px(10), y+c.Px(rowHigh)/2)
		if i == current {
			c.Fill(line, c.Pal.Current)
		}
		c.HLine(line.Min.X, line.Max.X, line.Max.Y, 1, paint.Alpha(c.Pal.Rule, 0.5))
		c.Text(float64(r.Min.X+c.Px(stopWide)), float64(y)+c.Cap(plain)/2, stops.Label(f.Stop), plain.Aligned(paint.Right))
		if p.side.Span(i) > 0 { // where verdicts part
			for k := range p.side.Span(i) {
				c.Disc(float64(r.Min.X+c.Px(14)), float64(y)+c.U(float64(6*k-3*(p.side.Span(i)-1))), 2, c.Pal.Text)
			}
		}
	}
	for k, j := range p.side.Judgements[:min(g.shown, len(p.side.Judgements))] {
		p.drawJudgement(c, g, r, k, j)
	}
	if more := len(p.side.Judgements) - g.shown; more > 0 {
		c.Text(float64(g.right), float64(r.Min.Y+c.Px(40)), fmt.Sprintf("and %d more", more), quiet.Aligned(paint.Right))
	}
	p.drawSent(c, g, r)
}

// drawJudgement draws one judge's column: who and when, the range as a bar, the verdicts.
func (p *Page) drawJudgement(c *paint.Canvas, g geometry, r image.Rectangle, k int, j opinion.Judgement) {
	x0 := g.left + k*g.wide
	name := paint.Style{Size: theme.Small, Col: c.Pal.Text}
	quiet := paint.Style{Size: theme.Figure, Col: c.Pal.Dim}
	room := float64(g.wide - c.Px(6))
	c.Text(float64(x0), float64(r.Min.Y+c.Px(14)), c.Ellipsis(legible.Line(j.Called()), name, room), name)
	day := j.Date
	if len(day) == len("2006-01-02") && room < c.Width(day, quiet) {
		day = day[2:]
	}
	c.Text(float64(x0), float64(r.Min.Y+c.Px(27)), c.Ellipsis(legible.Line(day), quiet, room), quiet)
	c.Text(float64(x0), float64(r.Min.Y+c.Px(39)), c.Ellipsis(short(j), quiet, room), quiet)
	frames := p.state.Roll().Frames
	if j.Range != nil {
		lo, hi := g.yOf(frames, j.Range.Lo), g.yOf(frames, j.Range.Hi)
		bar := c.Pal.White
		if j.Now || j.Mine {
			bar = c.Pal.Judge
		}
		c.Fill(image.Rect(x0, int(math.Min(lo, hi)), x0+c.Px(3), int(math.Max(lo, hi))+1), bar)
	}
	for i, v := range j.Frames {
		at := image.Rect(x0+c.Px(8), g.rows[i]-c.Px(9), x0+g.wide-c.Px(4), g.rows[i]+c.Px(9))
		row.VerdictMark(c, at, v.Verdict)
		if v.Changed {
			c.Text(float64(at.Min.X)+c.U(24), float64(g.rows[i])+c.Cap(name)/2, "!", name)
		}
	}
}

// short is what has to be known of a judgement, in a word that has room.
func short(j opinion.Judgement) string {
	switch {
	case j.Knowing:
		return "knowing"
	case j.Now:
		return "now"
	case j.Seen != "":
		return "previews"
	}
	return ""
}

// drawSent draws the sender's readings of the full scans.
func (p *Page) drawSent(c *paint.Canvas, g geometry, r image.Rectangle) {
	if len(p.sent.figures) == 0 {
		return
	}
	head := paint.Style{Size: theme.Figure, Col: c.Pal.Dim, Align: paint.Right}
	st := paint.Style{Size: theme.Figure, Col: c.Pal.Text, Align: paint.Right}
	blown, blocked := float64(g.right+c.Px(scanWide/2)), float64(g.right+c.Px(scanWide))
	c.Text(blocked, float64(r.Min.Y+c.Px(14)), "full scans", head)
	c.Text(blown, float64(r.Min.Y+c.Px(39)), "Blown", head)
	c.Text(blocked, float64(r.Min.Y+c.Px(39)), "Blocked", head)
	for i, f := range p.state.Roll().Frames {
		for _, s := range p.sent.figures {
			if s.File != f.ScanName() {
				continue
			}
			y := float64(g.rows[i]) + c.Cap(st)/2
			c.Text(blown, y, share(s.Blown), st)
			c.Text(blocked, y, share(s.Blocked), st)
		}
	}
}

func share(v *float64) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", 100**v)
}

// at says what the pointer is over.
func (p *Page) at(x, y float64, ok bool) string {
	if !ok || p.side == nil || p.plot.Scale() <= 0 {
		return ""
	}
	k := p.plot.Scale()
	canvas := &paint.Canvas{Scale: k}
	size := p.plot.Size()
	g := p.geometry(canvas, image.Rect(0, 0, int(float64(size.Width)*k), int(float64(size.Height)*k)))
	column := (int(x) - g.left) / max(1, g.wide)
	if int(x) < g.left || column >= min(g.shown, len(p.side.Judgements)) {
		return ""
	}
	j := p.side.Judgements[column]
	words := legible.Line(j.Called())
	if j.Date != "" {
		words += ", " + legible.Line(j.Date)
	}
	if a := j.Aside(); a != "" {
		words += " (" + a + ")"
	}
	if y < headHigh*k {
		if j.Range != nil {
			words += ": range " + stops.Label(j.Range.Lo) + " to " + stops.Label(j.Range.Hi)
		}
		if j.Finding != "" {
			words += ". " + legible.Line(j.Finding)
		}
		return words
	}
	for i, at := range g.rows {
		if math.Abs(float64(at)-y) > float64(rowHigh)*k/2 {
			continue
		}
		v := j.Frames[i]
		words += ": " + stops.Label(p.state.Roll().Frames[i].Stop) + " " + row.VerdictWord(v.Verdict)
		if v.Note != "" {
			words += ", " + legible.Line(v.Note)
		}
		if v.Changed {
			words += ". The scan has changed since: it does not count"
		}
		return words
	}
	return words
}
