package card

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// Measures at the smallest scale, in mm. At scale 1 a card of eight frames fills an
// A6 page.
const (
	margin   = 5.0
	rowHigh  = 8.6
	rowLow   = 6.6 // the least that a pencil can tick
	headHigh = 5.0
	small    = 2.5 // ems
	body     = 2.9
	large    = 4.6
	leading  = 1.32
	minScale = 0.9
)

// columns are the left edges of the table at scale 1, in mm from the margin.
const (
	colTick  = 0.0
	colNo    = 7.0
	colStop  = 13.0
	colTime  = 29.0
	colFStop = 51.0
	colNote  = 68.0
)

// layout places a card on pages.
type layout struct {
	f     *plan.File
	real  *plan.Real // nil while nothing is logged
	size  Size
	k     float64 // scale
	row   float64 // height of a row, mm
	pages []*page
	p     *page
	y     float64
}

// pages places a plan on pages: the largest scale at which everything stands on one page,
// else the smallest over several.
func pages(f *plan.File, size Size) ([]*page, error) {
	var real *plan.Real
	if f.Log != nil {
		r, err := f.Real()
		if err != nil {
			return nil, err
		}
		real = r
	}
	most := size.Width / A6.Width
	for k := most; k >= minScale-1e-9; k -= 0.05 {
		for _, row := range []float64{rowHigh, rowLow} {
			l := &layout{f: f, real: real, size: size, k: k, row: row * k}
			l.draw()
			if len(l.pages) == 1 {
				return l.pages, nil
			}
		}
	}
	l := &layout{f: f, real: real, size: size, k: math.Min(most, 1), row: rowLow * math.Min(most, 1)}
	l.draw()
	for i, p := range l.pages {
		if i > 0 {
			p.text(margin, size.Height-2.2, small, false, paint.Left, dark, fit(f.Form.Title, small, false, size.Width/2))
		}
		p.text(size.Width-margin, size.Height-2.2, small, false, paint.Right, dark, fmt.Sprintf("%d of %d", i+1, len(l.pages)))
	}
	return l.pages, nil
}

func (l *layout) left() float64   { return margin }
func (l *layout) right() float64  { return l.size.Width - margin }
func (l *layout) bottom() float64 { return l.size.Height - margin }

func (l *layout) newPage() {
	l.p = &page{drawing.List{W: l.size.Width, H: l.size.Height}}
	l.pages = append(l.pages, l.p)
	l.y = margin
}

func (l *layout) draw() {
	l.newPage()
	l.head()
	l.tableHead()
	for i := range l.f.Plan.Frames {
		if l.y+l.row > l.bottom() {
			l.newPage()
			l.tableHead()
		}
		l.frame(i)
	}
	l.foot()
}

// says writes a small line or several over the whole width.
func (l *layout) says(s string, em float64, grey uint8, lines int) {
	for _, t := range wrap(s, em*l.k, l.right()-l.left(), lines) {
		l.y += em * l.k * leading
		l.p.text(l.left(), l.y, em*l.k, false, paint.Left, grey, t)
	}
}

func (l *layout) head() {
	f, p := l.f, &l.f.Plan
	title := f.Form.Title
	if title == "" {
		title = "Bracket"
	}
	em := large * l.k
	span := fmt.Sprintf("%s to %s", stops.Label(extreme(p, -1)), stops.Label(extreme(p, 1)))
	l.y += em
	room := l.right() - l.left() - width(span, em, true) - 3*l.k
	l.p.text(l.left(), l.y, em, true, paint.Left, black, fit(title, em, true, room))
	l.p.text(l.right(), l.y, em, true, paint.Right, black, span)
	l.y += 0.6 * l.k
	for _, s := range facts(f) {
		l.says(s, body, black, 2)
	}
	l.y += 1.2 * l.k
	// What only the field knows.
	l.blank([]string{"Date", "Roll", "Lens"})
}

// blank draws a line of labels, each with room to write.
func (l *layout) blank(labels []string) {
	em := small * l.k
	l.y += 5.4 * l.k
	part := (l.right() - l.left()) / float64(len(labels))
	for i, s := range labels {
		x := l.left() + float64(i)*part
		l.p.text(x, l.y, em, false, paint.Left, dark, s)
		end := x + part - 2*l.k
		if i == len(labels)-1 {
			end = l.right()
		}
		l.p.rule(x+width(s, em, false)+1.2*l.k, end, l.y+0.4*l.k, 0.15, mid)
	}
	l.y += 0.8 * l.k
}

func (l *layout) tableHead() {
	l.y += headHigh * l.k
	for _, c := range []struct {
		x float64
		s string
	}{{colNo, "no."}, {colStop, "stop"}, {colTime, "time"}, {colFStop, "aperture"}, {colNote, "really, clock, notes"}} {
		l.p.text(l.left()+c.x*l.k, l.y-1.2*l.k, small*l.k, false, paint.Left, dark, c.s)
	}
	l.p.rule(l.left(), l.right(), l.y, 0.3, black)
}

// frame draws one row: a box to tick, what to set in large type, room to write.
func (l *layout) frame(i int) {
	f, k := l.f.Plan.Frames[i], l.k
	top := l.y
	at := func(col float64) float64 { return l.left() + col*k }
	if f.Stop == 0 {
		// Under all else: the rule above it lies half on it.
		l.p.Marks = slices.Insert(l.p.Marks, 0, drawing.Mark(drawing.Rect(l.left(), top, l.right(), top+l.row, ink(light))))
	}
	tick := math.Min(4.4*k, l.row-1.6*k)
	x, y := at(colTick)+0.8*k, top+(l.row-tick)/2
	l.p.Add(drawing.Rect(x, y, x+tick, y+tick, ink(paper)),
		drawing.Frame{Min: drawing.Pt{X: x, Y: y}, Max: drawing.Pt{X: x + tick, Y: y + tick}, Width: 0.35, Col: ink(black)})

	under := ""
	if f.Aperture.Between != "" {
		under = click(f.Aperture)
	}
	deviates := ""
	if math.Abs(f.Deviation) >= 0.05 {
		deviates = "really " + strings.Replace(plan.Hundredths(f.Real()), "-", "−", 1)
	}
	by := ""
	switch {
	case f.Short:
		by = "out of reach"
	case f.Time.Watch:
		by = "B, by watch"
	case f.Time.Between != "":
		by = click(f.Time)
	}
	em := large * k
	base := top + l.row/2 + em*0.36
	second := base + small*k*0.98
	if under+deviates+by != "" {
		em *= 0.86 // two lines between the same rules
		base = top + l.row/2 + em*0.36 - small*k*0.5
		second = base + small*k*0.98
	}
	no := body * k
	l.p.text(at(colNo)+4*k, base, no, false, paint.Right, black, fmt.Sprint(f.Number))
	stop := stops.Label(f.Stop)
	if f.Stop == 0 {
		stop = "base"
	}
	cell := func(col, next float64, s string, bold bool) {
		room := (next - col - 1.6) * k
		size := em
		if w := width(s, em, bold); w > slack*room { // "1 min 35 s" is set smaller, never cut
			size = em * slack * room / w
		}
		l.p.text(at(col), base, size, bold, paint.Left, black, s)
	}
	cell(colStop, colTime, stop, true)
	cell(colTime, colFStop, f.Time.Seconds(), false)
	cell(colFStop, colNote, f.Aperture.Number(), false)
	tiny := small * k * 0.86
	l.p.text(at(colStop), second, tiny, false, paint.Left, dark, deviates)
	l.p.text(at(colTime), second, tiny, false, paint.Left, dark, fit(by, tiny, false, (colFStop-colTime-1)*k))
	l.p.text(at(colFStop), second, tiny, false, paint.Left, dark, fit(under, tiny, false, (colNote-colFStop-0.5)*k/slack))
	l.logged(i, top, tick)
	l.y += l.row
	l.p.rule(l.left(), l.right(), l.y, 0.15, mid)
}

// logged ticks a frame and writes what became of it.
func (l *layout) logged(i int, top, tick float64) {
	if l.real == nil {
		return
	}
	f, k := l.f.Plan.Frames[i], l.k
	shot := l.f.Shot(f.Number)
	if shot == nil {
		return
	}
	x, y := l.left()+colTick*k+0.8*k, top+(l.row-tick)/2
	stroke := func(x0, y0, x1, y1 float64) {
		l.p.Add(drawing.Segment(x+x0*tick, y+y0*tick, x+x1*tick, y+y1*tick, 0.5*k, ink(black)))
	}
	note := string(shot.State)
	if shot.State == plan.Done {
		stroke(0.2, 0.55, 0.42, 0.78)
		stroke(0.42, 0.78, 0.82, 0.22)
		note = shot.Setting
		for _, e := range l.real.Exposed {
			if e.Frame == i && math.Abs(e.Stop-f.Stop) >= 0.05 {
				note = join(note, "got "+plan.Hundredths(e.Stop))
			}
		}
	} else {
		stroke(0.2, 0.2, 0.8, 0.8)
		stroke(0.2, 0.8, 0.8, 0.2)
	}
	note = join(join(note, shot.Clock), oneLine(shot.Note))
	em := small * k
	lines := wrap(note, em, l.right()-l.left()-colNote*k, 2)
	for n, t := range lines {
		down := float64(n) - float64(len(lines)-1)/2
		l.p.text(l.left()+colNote*k, top+l.row/2+em*(0.36+1.15*down), em, false, paint.Left, black, t)
	}
}

// foot draws the light at the end, what to know, and lines for notes.
func (l *layout) foot() {
	k := l.k
	var small2 []string
	for _, w := range l.f.Plan.Warnings {
		small2 = append(small2, "! "+w.Text)
	}
	small2 = append(small2, l.f.Plan.Cautions...)
	need := 6.5 * k
	for _, s := range small2 {
		need += float64(len(wrap(s, small*k, l.right()-l.left(), 0))) * small * k * leading
	}
	if l.y+need > l.bottom() {
		l.newPage()
	}
	if log := l.f.Log; log != nil && log.Light != nil {
		l.y += 1.5 * k
		l.says(join("Light at the end: "+log.Light.Meter, log.Light.Clock), body, black, 2)
	} else {
		l.blank([]string{"Light at the end", "at"})
	}
	l.y += 0.8 * k
	for _, s := range small2 {
		l.says(s, small, black, 0)
	}
	if log := l.f.Log; log != nil && log.Note != "" {
		l.says("Notes: "+oneLine(log.Note), small, black, 6)
	}
	if l.y+small*k*1.8+6*k <= l.bottom() {
		l.y += small * k * 1.8
		l.p.text(l.left(), l.y, small*k, false, paint.Left, dark, "Notes")
		for l.y+6*k <= l.bottom() {
			l.y += 6 * k
			l.p.rule(l.left(), l.right(), l.y, 0.15, mid)
		}
	}
}
