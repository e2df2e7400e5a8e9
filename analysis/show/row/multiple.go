package row

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
)

// Density is how much a ladder shows of each frame. It follows from the ladder's width.
type Density int

// Densities.
const (
	Marks     Density = iota // the verdict's sign and what decided it
	Multiples                // a picture, the three shares as bars, the verdict and its reason
	Figures                  // columns of readings, see Columns
)

// Widths of the rungs from which a ladder has each density, units.
const (
	LeastMultiples = 190.0
	LeastFigures   = 560.0
)

// DensityOf returns the density of rungs so many units wide.
func DensityOf(width float64) Density {
	switch {
	case width < LeastMultiples:
		return Marks
	case width < LeastFigures:
		return Multiples
	}
	return Figures
}

// Multiple says where the parts of one frame's row stand, in device pixels: what is drawn,
// and what a pointer finds. An empty rectangle is left out.
type Multiple struct {
	Picture, Verdict, Why image.Rectangle
	Bars                  [3]image.Rectangle // Blown, Blocked, Noisy
	pitch                 float64            // of the bars, device pixels
	low                   bool               // the verdict's word stands beside its sign and the reason under it
}

// lowRow is the height, in units, under which a row has no room for a line of its own for
// the reason.
const lowRow = 56.0

// PlaceMultiple places the parts of a row in r. height is that of the row in units before it
// was rounded to pixels, so that rows of one height have their parts under each other.
func PlaceMultiple(scale float64, r image.Rectangle, height float64) (m Multiple) {
	px := func(u float64) int { return int(math.Round(u * scale)) }
	edge := math.Min(pad, height/12)
	inset := px(edge)
	in := image.Rect(r.Min.X+px(side), r.Min.Y+inset, r.Max.X-px(side), r.Max.Y-inset)
	if in.Empty() {
		return m
	}
	inner := height - 2*edge
	m.low = inner < lowRow
	w := min(px(inner*1.36), int(float64(in.Dx())*0.37))
	m.Picture = image.Rect(in.Min.X, in.Min.Y, in.Min.X+w, in.Max.Y)
	rest := image.Rect(m.Picture.Max.X+px(10), in.Min.Y, in.Max.X, in.Max.Y)
	if rest.Empty() {
		return m
	}
	bars := rest
	if m.low {
		bars.Max.X = rest.Min.X + min(rest.Dx()*45/100, px(170))
		m.Verdict = image.Rect(bars.Max.X+px(12), in.Min.Y, in.Max.X, min(in.Max.Y, in.Min.Y+px(17)))
		m.Why = image.Rect(m.Verdict.Min.X, m.Verdict.Max.Y, in.Max.X, in.Max.Y)
	} else {
		m.Why = image.Rect(rest.Min.X, rest.Max.Y-px(15), rest.Max.X, rest.Max.Y)
		bars.Max.Y = m.Why.Min.Y - px(1)
		wide := px(58)
		m.Verdict = image.Rect(rest.Max.X-wide, bars.Min.Y, rest.Max.X, bars.Max.Y)
		bars.Max.X = min(m.Verdict.Min.X-px(12), rest.Min.X+px(300))
	}
	pitch := inner / 3
	if !m.low {
		pitch = (inner - 16) / 3
	}
	pitch = math.Min(pitch, 34) * scale
	top := float64(bars.Min.Y) + (float64(bars.Dy())-3*pitch)/2
	m.pitch = pitch
	for i := range m.Bars {
		m.Bars[i] = image.Rect(bars.Min.X, int(math.Round(top+pitch*float64(i))), bars.Max.X, int(math.Round(top+pitch*float64(i+1))))
	}
	return m
}

// Part names a part of a row.
type Part string

// Parts of a row that can be pointed at.
const (
	NoPart      Part = ""
	PicturePart Part = "picture"
	BlownPart   Part = "blown"
	BlockedPart Part = "blocked"
	NoisyPart   Part = "noisy"
	VerdictPart Part = "verdict"
	WhyPart     Part = "why"
)

// At returns the part at a device pixel.
func (m Multiple) At(p image.Point) Part {
	for i, part := range []Part{BlownPart, BlockedPart, NoisyPart} {
		if p.In(m.Bars[i]) {
			return part
		}
	}
	switch {
	case p.In(m.Picture):
		return PicturePart
	case p.In(m.Verdict):
		return VerdictPart
	case p.In(m.Why):
		return WhyPart
	}
	return NoPart
}

// DrawMultiple draws one frame's row as a small multiple: the same parts at the same
// places in every row, so that the eye compares down the ladder. height is as for
// PlaceMultiple.
func DrawMultiple(c *paint.Canvas, r image.Rectangle, height float64, d *Data) {
	if r.Empty() {
		return
	}
	c = c.Clipped(r)
	ground(c, r, d)
	m := PlaceMultiple(c.Scale, r, height)
	if d.State == Failed {
		placed := []Placed{{Column: pictureColumn(), X: m.Picture.Min.X - r.Min.X, W: m.Picture.Dx()}, {Column: Column{ID: "words"}, X: m.Picture.Max.X + c.Px(10) - r.Min.X, W: r.Max.X - m.Picture.Max.X - c.Px(10)}}
		in := r
		in.Min.Y, in.Max.Y = m.Picture.Min.Y, m.Picture.Max.Y
		drawFailed(c, in, placed, d)
	} else {
		if d.Crop != nil {
			drawCrop(c, m.Picture, d.Crop)
		} else {
			drawPicture(c.Clipped(m.Picture), m.Picture, d)
		}
		if d.Look != nil {
			for i, l := range losses(d) {
				drawShare(c, m.Bars[i], m.pitch/c.Scale, l)
			}
		}
		m.drawVerdict(c, d)
		m.DrawWhy(c, d, d.Why())
	}
	inRange(c, r, d)
}

// ground fills a row and marks the one under the marker.
func ground(c *paint.Canvas, r image.Rectangle, d *Data) {
	if d == nil || !d.Current {
		c.Fill(r, c.Pal.Panel)
		return
	}
	c.Fill(r, c.Pal.Current)
	c.HLine(r.Min.X, r.Max.X, r.Min.Y, 1, c.Pal.Strong)
	c.HLine(r.Min.X, r.Max.X, r.Max.Y-c.Px(1)+c.Px(1)/2, 1, c.Pal.Strong)
}

// inRange runs the judge's range along the rows' left edge, so that it is seen where the
// axis is not.
func inRange(c *paint.Canvas, r image.Rectangle, d *Data) {
	if d.InRange {
		c.Fill(image.Rect(r.Min.X, r.Min.Y, r.Min.X+c.Px(2), r.Max.Y), c.Pal.Judge)
	}
}

// drawCrop shows the middle of a picture pixel by pixel: a detail at 1:1 that was scaled
// would be none.
func drawCrop(c *paint.Canvas, r image.Rectangle, img *image.RGBA) {
	c.Fill(r, c.Pal.Well)
	w, h := min(r.Dx(), img.Rect.Dx()), min(r.Dy(), img.Rect.Dy())
	to := image.Rect(0, 0, w, h).Add(image.Pt(r.Min.X+(r.Dx()-w)/2, r.Min.Y+(r.Dy()-h)/2)).Intersect(c.Clip())
	from := image.Pt(img.Rect.Min.X+(img.Rect.Dx()-w)/2, img.Rect.Min.Y+(img.Rect.Dy()-h)/2).Add(to.Min.Sub(image.Pt(r.Min.X+(r.Dx()-w)/2, r.Min.Y+(r.Dy()-h)/2)))
	draw.Draw(c.Img, to, img, from, draw.Src)
}

// drawShare draws one share of the image area: its name, always, its figure, and a bar on
// the scale of the whole area.
// h is the bars' pitch in units, before it was rounded to pixels: all three choose alike.
func drawShare(c *paint.Canvas, r image.Rectangle, h float64, l loss) {
	name, value := dim(c, sizeSmall), text(c, sizeSmall)
	if h < 11.5 {
		name, value = name.Sized(sizeTiny), value.Sized(sizeTiny)
	}
	figure := shareFigure(l.share)
	if l.share == 0 {
		value.Col = c.Pal.Dim
	}
	if l.flat >= 0.0005 && h >= stackedBar {
		if more := figure + " + " + shareFigure(l.flat) + " flat"; c.Width(more, value)+c.Width(l.name, name)+c.U(8) <= float64(r.Dx()) {
			figure = more
		}
	}
	if h >= stackedBar {
		line := image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Max.Y-c.Px(5))
		line.Min.Y = max(line.Min.Y-c.Px(1), line.Max.Y-c.Px(15))
		c.TextIn(line, l.name, name)
		c.TextIn(line, figure, value.Aligned(paint.Right))
		slimBar(c, image.Rect(r.Min.X, line.Max.Y, r.Max.X, line.Max.Y+c.Px(math.Min(6, 3+(h-stackedBar)/4))), l)
		return
	}
	w := int(math.Max(c.U(44), c.Width("Blocked", name)+c.U(5)))
	figW := c.Px(30)
	c.TextIn(image.Rect(r.Min.X, r.Min.Y, r.Min.X+w, r.Max.Y), l.name, name)
	c.TextIn(image.Rect(r.Max.X-figW, r.Min.Y, r.Max.X, r.Max.Y), figure, value.Aligned(paint.Right))
	t := c.Px(math.Max(2, math.Min(6, h-5)))
	mid := (r.Min.Y + r.Max.Y) / 2
	if bar := image.Rect(r.Min.X+w, mid-t/2, r.Max.X-figW-c.Px(2), mid-t/2+t); bar.Dx() > c.Px(8) {
		slimBar(c, bar, l)
	}
}

// slimBar draws a share in the mask's colour, since its pattern needs more height than a
// row has, and after it what is flat in a weaker one. The name beside it tells them apart
// without colour.
func slimBar(c *paint.Canvas, r image.Rectangle, l loss) {
	c.Fill(r, c.Pal.Well)
	part := func(from int, share float64, col color.NRGBA) int {
		if !(share > 0) {
			return from
		}
		to := min(r.Max.X, from+max(c.Px(1), int(math.Round(math.Min(1, share)*float64(r.Dx())))))
		c.Fill(image.Rect(from, r.Min.Y, to, r.Max.Y), col)
		return to
	}
	col := paint.MaskColour(l.kind)
	part(part(r.Min.X, l.share, col), l.flat, paint.Alpha(col, 0.45))
}

// stackedBar is the pitch, units, from which a bar lies under its words.
const stackedBar = 15.5

// shareFigure writes a share 0..1 in per cent without the sign, which the column's head has.
func shareFigure(v float64) string {
	w := Percent(v)
	if n := len(w) - len(" %"); n > 0 && w[n:] == " %" {
		return w[:n]
	}
	return w
}

// shownVerdict returns the verdict that a row shows: the judge's in full strength, else what
// the limits suggest, in brackets and dim: a suggestion never stands in for the judge.
func shownVerdict(d *Data) (v roll.Verdict, word string, judged bool) {
	if d.Verdict != roll.Unjudged {
		return d.Verdict, VerdictWord(d.Verdict), true
	}
	if d.Suggested != "" {
		return roll.Verdict(d.Suggested), "(" + d.Suggested + ")", false
	}
	return roll.Unjudged, "", false
}

// drawVerdict draws the sign over its word, and under them what the limits suggest where
// the judge says otherwise.
func (m Multiple) drawVerdict(c *paint.Canvas, d *Data) {
	v, word, judged := shownVerdict(d)
	if word == "" {
		return
	}
	st := text(c, sizeSmall).Bold()
	k := c
	if !judged {
		st = dim(c, sizeSmall)
		k = c.With(quiet(c.Pal))
	}
	r := m.Verdict
	other := ""
	if judged && d.Suggested != "" && d.Suggested != string(d.Verdict) {
		other = "(" + d.Suggested + ")"
	}
	if m.low {
		sign := image.Rect(r.Min.X, r.Min.Y, r.Min.X+c.Px(22), r.Max.Y)
		VerdictMark(k, sign, v)
		if other != "" && c.Width(word+" "+other, st) < float64(r.Dx()-c.Px(28)) {
			word += " " + other
		}
		c.TextIn(image.Rect(sign.Max.X+c.Px(6), r.Min.Y, r.Max.X, r.Max.Y), word, st)
		return
	}
	n := 1
	if other != "" {
		n = 2
	}
	lead, sign := c.Px(14), c.Px(22)
	y := max(r.Min.Y, r.Min.Y+(r.Dy()-sign-n*lead)/2)
	side := c.Px(32)
	verdictMark(k, image.Rect(r.Min.X+(r.Dx()-side)/2, y, r.Min.X+(r.Dx()+side)/2, y+sign), v, 32)
	y += sign
	for i, w := range []string{word, other}[:n] {
		q := st
		if i > 0 {
			q = dim(c, sizeTiny)
		}
		c.TextIn(image.Rect(r.Min.X, y, r.Max.X, y+lead), w, q.Aligned(paint.Centre))
		y += lead
	}
}

// quiet returns the palette in which a suggestion's sign is drawn.
func quiet(p *paint.Palette) *paint.Palette {
	q := *p
	q.Text, q.Strong = p.Strong, p.Rule
	return &q
}

// DrawWhy writes the line under the readings over what stood there: the reason, or what
// is under the pointer.
func (m Multiple) DrawWhy(c *paint.Canvas, d *Data, words string) {
	r := m.Why
	if r.Empty() {
		return
	}
	back := c.Pal.Panel
	if d.Current {
		back = c.Pal.Current
	}
	c.Fill(r, back)
	st := dim(c, sizeSmall)
	if d.Suggested == "breaks" || d.Current {
		st.Col = c.Pal.Text
	}
	if !m.low {
		if full := "brought back: " + words; words != "" && !d.Base && d.Suggested != "" && words == d.Why() && c.Width(full, st) <= float64(r.Dx()) {
			words = full
		}
		c.TextIn(r, words, st)
		return
	}
	lead := c.Px(12.5)
	y := r.Min.Y
	for _, w := range c.Wrap(words, st, float64(r.Dx()), max(1, r.Dy()/lead)) {
		c.TextIn(image.Rect(r.Min.X, y, r.Max.X, y+lead), w, st)
		y += lead
	}
}

// MultipleHeader draws the heads of the parts over rows placed like r.
func MultipleHeader(c *paint.Canvas, head, r image.Rectangle, height float64, detail string) {
	m := PlaceMultiple(c.Scale, r, height)
	st := dim(c, sizeTitle)
	word := func(x0, x1 int, s string) { c.TextIn(image.Rect(x0, head.Min.Y, x1, head.Max.Y), s, st) }
	word(m.Picture.Min.X, m.Picture.Max.X+c.Px(8), detail)
	if m.low {
		word(m.Bars[0].Min.X, m.Bars[0].Max.X, "% of area")
		word(m.Verdict.Min.X, m.Verdict.Max.X, "Verdict (limits)")
		return
	}
	word(m.Bars[0].Min.X, m.Verdict.Min.X-c.Px(4), "% of image area")
	word(m.Verdict.Min.X-c.Px(8), m.Verdict.Max.X+c.Px(6), "Verdict")
}

// DrawMarks draws one frame's row in the least width: the verdict's sign and what decided.
func DrawMarks(c *paint.Canvas, r image.Rectangle, d *Data) {
	if r.Empty() {
		return
	}
	c = c.Clipped(r)
	ground(c, r, d)
	in := image.Rect(r.Min.X+c.Px(side), r.Min.Y, r.Max.X-c.Px(3), r.Max.Y)
	m := Multiple{low: true}
	lead := c.Px(14)
	lines := 2
	if r.Dy() < 2*lead {
		lines = 1
	}
	y := r.Min.Y + (r.Dy()-lines*lead)/2
	m.Verdict = image.Rect(in.Min.X, y, in.Max.X, y+lead)
	switch {
	case d.State == Failed:
		c.TextIn(m.Verdict, "not read", dim(c, sizeSmall))
	case d.State == Waiting || d.State == Reading:
		c.TextIn(m.Verdict, map[State]string{Waiting: "waiting", Reading: "reading"}[d.State], dim(c, sizeSmall))
		if d.State == Reading {
			progress(c, image.Rect(in.Min.X, m.Verdict.Max.Y, in.Max.X, m.Verdict.Max.Y+c.Px(3)), d.Progress)
		}
	default:
		m.drawVerdict(c, d)
		if lines > 1 {
			words := "base frame"
			if e, ok := d.Decide(); ok && !d.Base {
				words = e.Criterion.Figure(e.Value)
			} else if !d.Base {
				words = ""
			}
			c.TextIn(image.Rect(in.Min.X, y+lead, in.Max.X, y+2*lead), words, dim(c, sizeTiny))
		}
	}
	inRange(c, r, d)
}
