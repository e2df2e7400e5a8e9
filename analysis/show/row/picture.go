package row

import (
	"image"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
)

// pictureColumn returns the thumbnail; while there is none, it says what is going on.
func pictureColumn() Column {
	return Column{ID: "picture", Title: "Frame", Min: 40, Ideal: 118, Max: 250, Priority: 0, Draw: drawPicture}
}

func drawPicture(c *paint.Canvas, r image.Rectangle, d *Data) {
	if d.Thumb != nil && !d.Thumb.Rect.Empty() && d.State != Failed {
		fit := paint.Fit(r, d.Thumb.Rect.Dx(), d.Thumb.Rect.Dy())
		fit = fit.Add(image.Pt(r.Min.X-fit.Min.X, 0)) // pictures share their left edge
		c.Picture(fit, d.Thumb)
		if d.State == Reading {
			progress(c, image.Rect(fit.Min.X, fit.Max.Y-c.Px(3), fit.Max.X, fit.Max.Y), d.Progress)
		}
		return
	}
	fit := paint.Fit(r, 3, 2)
	fit = fit.Add(image.Pt(r.Min.X-fit.Min.X, 0))
	c.Fill(fit, c.Pal.Well)
	if d.State == Failed {
		c.Frame(fit, 1, c.Pal.Strong)
		x0, y0, x1, y1 := float64(fit.Min.X), float64(fit.Min.Y), float64(fit.Max.X), float64(fit.Max.Y)
		c.Line(x0, y0, x1, y1, 1, c.Pal.Strong)
		c.Line(x0, y1, x1, y0, 1, c.Pal.Strong)
		return
	}
	c.Frame(fit, 1, c.Pal.Rule)
	in := fit.Inset(c.Px(4))
	switch d.State {
	case Waiting:
		c.TextIn(in, "waiting", dim(c, sizeSmall).Aligned(paint.Centre))
	case Reading:
		if float64(in.Dy()) > c.U(20) {
			up := in
			up.Max.Y -= c.Px(6)
			c.TextIn(up, "reading", dim(c, sizeSmall).Aligned(paint.Centre))
		}
		progress(c, image.Rect(in.Min.X, in.Max.Y-c.Px(3), in.Max.X, in.Max.Y), d.Progress)
	}
}

func progress(c *paint.Canvas, r image.Rectangle, part float64) {
	if !(part > 0) {
		part = 0
	}
	c.Fill(r, c.Pal.Well)
	r.Max.X = r.Min.X + int(float64(r.Dx())*min(part, 1)+0.5)
	c.Fill(r, c.Pal.Text)
}

// VerdictMark draws the sign of a verdict: a rung of a ladder that holds,
// strains or breaks. It is told by shape alone. r is filled in width; the sign
// is centred.
func VerdictMark(c *paint.Canvas, r image.Rectangle, v roll.Verdict) { verdictMark(c, r, v, 22) }

// verdictMark draws the sign at most so many units wide.
func verdictMark(c *paint.Canvas, r image.Rectangle, v roll.Verdict, width float64) {
	w := min(float64(r.Dx()), c.U(width))
	cx, cy := float64(r.Min.X)+w/2, float64(r.Min.Y+r.Max.Y)/2
	x0, x1 := cx-w/2+c.U(1), cx+w/2-c.U(1)
	const t = 3.2 // thickness, units
	post := func(x, dy float64) {
		c.Line(x, cy-dy, x, cy+dy, 1.6, c.Pal.Strong)
	}
	dy := min(float64(r.Dy())/2, c.U(7))
	col := c.Pal.Text
	switch v {
	case roll.Holds:
		post(x0, dy)
		post(x1, dy)
		c.Line(x0, cy, x1, cy, t, col)
	case roll.Strains:
		post(x0, dy)
		post(x1, dy)
		sag := min(c.U(4.5), dy)
		var pts []paint.Pt
		for i := 0; i <= 12; i++ {
			u := float64(i)/6 - 1
			pts = append(pts, paint.Pt{X: cx + u*(x1-x0)/2, Y: cy - sag/2 + sag*(1-u*u)})
		}
		c.Polyline(pts, t, col)
	case roll.Breaks:
		post(x0, dy)
		post(x1, dy)
		drop := min(c.U(5.5), dy)
		g := w * 0.10
		c.Line(x0, cy-drop*0.55, cx-g, cy+drop*0.75, t, col)
		c.Line(x1, cy-drop*0.55, cx+g, cy+drop*0.75, t, col)
	default:
		c.HLine(int(cx-w*0.16), int(cx+w*0.16), int(cy), 1, c.Pal.Strong)
	}
}

// VerdictWord returns the verdict as it is written.
func VerdictWord(v roll.Verdict) string {
	if w := v.Word(); w != "" {
		return w
	}
	return "Not judged"
}

func verdictColumn() Column {
	return Column{ID: "verdict", Title: "Verdict", Unit: "and note", Min: 22, Ideal: 116, Max: 230, Priority: 1,
		Draw: drawVerdict, Text: func(d *Data) []string {
			if d.Note == "" {
				return []string{VerdictWord(d.Verdict)}
			}
			return []string{VerdictWord(d.Verdict) + ": " + d.Note}
		}}
}

// noteLines returns how many lines of a note have room in a verdict's cell.
func noteLines(c *paint.Canvas, cell image.Rectangle, d *Data) int {
	if cell.Dx() < c.Px(22)+c.Px(44) {
		return 0
	}
	lines := int(float64(cell.Dy())/c.U(noteLead)) - 1
	if d.Suggested != "" {
		lines--
	}
	return max(0, min(lines, 6))
}

const noteLead = 13.5 // units from line to line

// NoteStands reports whether the whole note of a frame stands in its row, drawn by
// DrawRung into r.
func NoteStands(c *paint.Canvas, r image.Rectangle, placed []Placed, d *Data) bool {
	if d.Note == "" {
		return true
	}
	for _, p := range placed {
		if p.ID != "verdict" || d.State == Failed {
			continue
		}
		inset := rungInset(c, r)
		r.Min.Y += inset
		r.Max.Y -= inset
		cell := p.Rect(r)
		return len(c.Wrap(d.Note, dim(c, sizeSmall), float64(cell.Dx()), 0)) <= noteLines(c, cell, d)
	}
	return false
}

func drawVerdict(c *paint.Canvas, r image.Rectangle, d *Data) {
	word := text(c, sizeText).Bold()
	note := dim(c, sizeSmall)
	name := VerdictWord(d.Verdict)
	if d.Verdict == roll.Unjudged {
		word = dim(c, sizeSmall)
	}
	markW := c.Px(22)
	if r.Dx() < markW+c.Px(44) {
		VerdictMark(c, r, d.Verdict)
		return
	}
	lh := c.U(noteLead)
	lines := int(float64(r.Dy())/lh) - 1
	var rows []string
	if d.Suggested != "" && lines > 0 { // never in the place of the judge's own word
		rows = append(rows, c.Ellipsis("limits: "+d.Suggested, note, float64(r.Dx())))
	}
	if n := noteLines(c, r, d); d.Note != "" && n > 0 {
		rows = append(rows, c.Wrap(d.Note, note, float64(r.Dx()), n)...)
	}
	first := c.U(16)
	y := float64(r.Min.Y) + (float64(r.Dy())-first-lh*float64(len(rows)))/2
	y = max(y, float64(r.Min.Y))
	line := image.Rect(r.Min.X, int(y), r.Max.X, int(y+first))
	VerdictMark(c, image.Rect(line.Min.X, line.Min.Y, line.Min.X+markW, line.Max.Y), d.Verdict)
	line.Min.X += markW + c.Px(7)
	c.TextIn(line, name, word)
	y += first
	for _, s := range rows {
		c.TextIn(image.Rect(r.Min.X, int(y), r.Max.X, int(y+lh)), s, note)
		y += lh
	}
}
