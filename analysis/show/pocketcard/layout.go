package pocketcard

import (
	"image/color"
	"math"

	"stopladder/analysis/film/pocket"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// Measures at scale 1, in mm.
const (
	margin    = 3.6
	large     = 3.7 // ems
	body      = 2.45
	small     = 2.05
	leading   = 1.28
	rowLeast  = 2.35 // of a row
	gridLeast = 36.0 // of the table of cells
	headHigh  = 6.2  // over the cells
	keyHigh   = 3.1  // a line of the legend
	axisWide  = 7.4
	minScale  = 0.86
)

var (
	black = color.NRGBA{0, 0, 0, 255}
	dark  = color.NRGBA{0x40, 0x40, 0x40, 255}
	rule  = color.NRGBA{0x90, 0x90, 0x90, 255}
	white = color.NRGBA{255, 255, 255, 255}
)

// rulerEm is the size in which type is measured: unhinted, its width grows evenly with it.
const rulerEm = 64.0

// slack is how much wider a line may be in the PDF, whose type is not kerned.
const slack = 0.97

func style(em float64, bold bool, col color.NRGBA) paint.Style {
	st := paint.Style{Size: em, Col: col}
	if bold {
		st = st.Bold()
	}
	return st
}

func width(s string, em float64, bold bool) float64 {
	return drawing.Gauge.Width(s, style(rulerEm, bold, black)) * em / rulerEm
}

func wrap(s string, em, most float64) []string {
	return drawing.Gauge.Wrap(s, style(rulerEm, false, black), slack*most*rulerEm/em, 0)
}

func fit(s string, em, most float64, bold bool) string {
	return drawing.Gauge.Ellipsis(s, style(rulerEm, bold, black), slack*most*rulerEm/em)
}

// layout places a card.
type layout struct {
	list drawing.List
	size Size
	c    *pocket.Card
	h    Head
	k    float64 // scale
	y    float64
	says []pocket.Sentence
	on   []string // what it rests on
}

// Draw lays a card out, in millimetres.
func Draw(c *pocket.Card, h Head, size Size) *drawing.List {
	// The largest type that leaves the cells their room: half stops where the page is larger
	// than the smallest.
	need := gridLeast
	if size.Height > A7.Height {
		need = rowLeast * 1.1 * float64(len(lights(0.5)))
	}
	says, on := c.Lines(), c.Basis()
	for k := 1.6; ; k -= 0.02 {
		l := &layout{list: drawing.List{W: size.Width, H: size.Height}, size: size, c: c, h: h, k: math.Max(k, minScale), says: says, on: on}
		if room := l.room(); room >= need || k <= minScale {
			l.draw(math.Max(room, 13*1.6))
			return &l.list
		}
	}
}

func (l *layout) left() float64  { return margin }
func (l *layout) wide() float64  { return l.size.Width - 2*margin }
func (l *layout) right() float64 { return l.size.Width - margin }

// paragraph is one sentence as it is set.
type paragraph struct {
	lines []string
	em    float64
	col   color.NRGBA
	after float64
}

func (l *layout) paragraphs() (out []paragraph) {
	add := func(s string, em float64, col color.NRGBA) {
		out = append(out, paragraph{wrap(s, em*l.k, l.wide()), em * l.k, col, 0.55 * l.k})
	}
	for _, s := range l.says {
		if s.Small {
			add(s.Text, small, dark)
		} else {
			add(s.Text, body, black)
		}
	}
	for i, s := range l.on {
		if i == 0 {
			add(s, body, black)
		} else {
			add(s, small, dark)
		}
	}
	return out
}

// room returns the height that is left for the cells.
func (l *layout) room() float64 {
	h := l.size.Height - 2*margin
	for _, p := range l.paragraphs() {
		h -= float64(len(p.lines))*p.em*leading + p.after
	}
	_, under := l.h.name()
	h -= large * l.k
	if under != "" {
		h -= body * l.k * leading
	}
	return h - (headHigh+2*keyHigh+3.4)*l.k
}

func (l *layout) text(x, y, em float64, bold bool, align paint.Align, col color.NRGBA, s string) {
	if s != "" {
		l.list.Add(drawing.Text{At: drawing.Pt{X: x, Y: y}, S: s, Style: style(em, bold, col).Aligned(align)})
	}
}

func (l *layout) draw(room float64) {
	l.list.Add(drawing.Rect(0, 0, l.size.Width, l.size.Height, white))
	title, under := l.h.name()
	l.list.Title = "Pocket card: " + title
	em := large * l.k
	l.y = margin + em*0.8
	l.text(l.left(), l.y, em, true, paint.Left, black, fit(title, em, l.wide(), true))
	if under != "" {
		l.y += body * l.k * leading
		l.text(l.left(), l.y, body*l.k, false, paint.Left, dark, fit(under, body*l.k, l.wide(), false))
	}
	l.y += 0.2 * em
	l.grid(room)
	l.legend()
	l.y += 0.8 * l.k
	for _, p := range l.paragraphs() {
		for _, s := range p.lines {
			l.y += p.em * leading
			l.text(l.left(), l.y, p.em, false, paint.Left, p.col, s)
			l.list.Desc += s + " "
		}
		l.y += p.after
	}
}

// grid draws the cells: lights up, exposures across.
func (l *layout) grid(room float64) {
	step := 1.0
	for _, s := range steps {
		if room/float64(len(lights(s))) >= rowLeast {
			step = s
			break
		}
	}
	rows, cols := lights(step), exposures()
	high := room / float64(len(rows))
	em := small * l.k
	x0 := l.left() + axisWide*l.k
	wide := (l.right() - x0) / float64(len(cols))
	l.y += 2.6 * l.k
	l.text(x0, l.y, em, false, paint.Left, dark, "exposed, stops from the meter's")
	l.y += 2.7 * l.k
	for i, e := range cols {
		s := stops.Label(e)
		l.text(x0+(float64(i)+0.5)*wide, l.y, body*l.k, e == 0, paint.Centre, black, s)
	}
	l.y += 0.9 * l.k
	top := l.y
	for j, light := range rows {
		y := top + float64(j)*high
		whole := math.Abs(light-math.Round(light)) < 1e-6
		if whole {
			l.text(x0-1.2*l.k, y+high/2+em*0.36, body*l.k, math.Abs(light) < 1e-6, paint.Right, black, stops.Label(light))
		}
		for i, e := range cols {
			l.cell(x0+float64(i)*wide, y, x0+float64(i+1)*wide, y+high, light, e)
		}
	}
	bottom := top + room
	l.lines(x0, top, wide, high, rows, cols)
	l.text(l.left(), top-3.6*l.k, em, false, paint.Left, dark, "light")
	// The exposure that the meter gives, and mid-grey.
	for i, e := range cols {
		if e == 0 {
			a, b := x0+float64(i)*wide, x0+float64(i+1)*wide
			l.list.Add(drawing.Frame{Min: drawing.Pt{X: a, Y: top}, Max: drawing.Pt{X: b, Y: bottom}, Width: 0.45, Col: black})
		}
	}
	l.y = bottom
}

// lines rules the table.
func (l *layout) lines(x0, top, wide, high float64, rows, cols []float64) {
	x1, y1 := x0+wide*float64(len(cols)), top+high*float64(len(rows))
	for j, light := range rows {
		w := 0.06
		if math.Abs(light-math.Round(light)) < 1e-6 {
			w = 0.1
		}
		l.list.Add(drawing.Segment(x0, top+float64(j)*high, x1, top+float64(j)*high, w, rule))
	}
	for i := range len(cols) + 1 {
		l.list.Add(drawing.Segment(x0+float64(i)*wide, top, x0+float64(i)*wide, y1, 0.1, rule))
	}
	l.list.Add(drawing.Frame{Min: drawing.Pt{X: x0, Y: top}, Max: drawing.Pt{X: x1, Y: y1}, Width: 0.25, Col: black})
}

// cell draws one cell.
func (l *layout) cell(x0, y0, x1, y1, light, over float64) {
	c := l.c.At(light, over)
	l.swatch(x0, y0, x1, y1, c.State, light+over > 0)
	if c.Near && c.State != pocket.Unknown {
		r := math.Min(0.62, (y1-y0)*0.24)
		at := drawing.Pt{X: (x0 + x1) / 2, Y: (y0 + y1) / 2}
		l.list.Add(drawing.Dot{At: at, R: r + 0.28, Col: white}, drawing.Dot{At: at, R: r, Col: black})
	}
}

// legend names the patterns, in two lines.
func (l *layout) legend() {
	type key struct {
		state pocket.State
		light bool
		word  string
	}
	em := small * l.k
	x := l.left()
	l.y += 1.2 * l.k
	box := func(k key) {
		w := 4.6 * l.k
		need := w + 0.9*l.k + width(k.word, em, false)/slack + 2.2*l.k
		if x+need > l.right()+2.2*l.k {
			x, l.y = l.left(), l.y+keyHigh*l.k
		}
		y0, y1 := l.y, l.y+2.2*l.k
		if k.word == "near a border" {
			at := drawing.Pt{X: x + w/2, Y: (y0 + y1) / 2}
			l.list.Add(drawing.Frame{Min: drawing.Pt{X: x, Y: y0}, Max: drawing.Pt{X: x + w, Y: y1}, Width: 0.12, Col: rule}, drawing.Dot{At: at, R: 0.55, Col: black})
		} else {
			l.swatch(x, y0, x+w, y1, k.state, k.light)
			l.list.Add(drawing.Frame{Min: drawing.Pt{X: x, Y: y0}, Max: drawing.Pt{X: x + w, Y: y1}, Width: 0.12, Col: rule})
		}
		l.text(x+w+0.9*l.k, y1-0.35*l.k, em, false, paint.Left, black, k.word)
		x += need
	}
	for _, k := range []key{{pocket.Blown, true, "blown"}, {pocket.Flat, true, "flat, light end"}, {pocket.Drawn, true, "drawn"}, {pocket.Noisy, true, "noisy"},
		{pocket.Flat, false, "flat, dark end"}, {pocket.Blocked, false, "blocked"}, {pocket.Unknown, true, "not known"}, {pocket.Drawn, true, "near a border"}} {
		box(k)
	}
	l.y += keyHigh * l.k
}
