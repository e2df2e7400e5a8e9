package plot

import (
	"fmt"
	"image"
	"io"
	"math"
	"sort"
	"strings"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// Series is one line of an Over: values at stops, both in the same order. A value
// that is not known is NaN and breaks the line.
type Series struct {
	Name   string
	Stops  []float64
	Values []float64
	Strong bool // the one that is looked at
}

// Over is one reading of several things over the stops of the roll.
type Over struct {
	Title    string // the reading, with its unit
	Decimals int    // of a figure
	Signed   bool   // figures have their sign
	Series   []Series
	At       float64 // the stop at the marker; NaN for none
	Reason   string  // why there is nothing to see
}

// DrawOver draws the plot into r. hover is the device pixel, in the coordinates of
// r, under the pointer; negative for none.
func DrawOver(c *paint.Canvas, r image.Rectangle, d Over, hover int) {
	if r.Empty() {
		return
	}
	g := layOutOver(&d, float64(r.Dx())/c.Scale, float64(r.Dy())/c.Scale, c.Pal)
	l := g.list()
	if hover >= 0 {
		g.hover(l, (float64(hover-r.Min.X)+0.5)/c.Scale)
	}
	l.Paint(c, r)
}

// OverPicture draws the plot for export: w x h device pixels at a scale;
// pal nil is paint.Sheet.
func OverPicture(d Over, w, h int, scale float64, pal *paint.Palette) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, max(w, 1), max(h, 1)))
	if pal == nil {
		pal = &paint.Sheet
	}
	c := paint.New(img, scale).With(pal)
	c.Fill(img.Rect, pal.Surround)
	DrawOver(c, img.Rect, d, -1)
	return img
}

// OverSVG writes the plot as SVG, width x height units; pal nil is paint.Sheet. Errors are the writer's.
func OverSVG(w io.Writer, d Over, width, height float64, pal *paint.Palette) error {
	if pal == nil {
		pal = &paint.Sheet
	}
	return layOutOver(&d, width, height, pal).list().SVG(w)
}

// Figure writes a value of the plot as its axis and its reading do.
func (d *Over) Figure(v float64) string {
	if d.Signed {
		return number.Signed(v, d.Decimals)
	}
	return number.Fixed(v, d.Decimals)
}

type overGeometry struct {
	d              *Over
	pal            *paint.Palette
	w, h           float64
	k              float64 // type grows with the plot
	plot           box
	x0, x1, y0, y1 float64
	at             []float64 // stops that have a value, ascending
	names          float64   // width of the names beside the lines
}

func layOutOver(d *Over, w, h float64, pal *paint.Palette) *overGeometry {
	g := &overGeometry{d: d, pal: pal, w: w, h: h, x0: math.Inf(1), x1: math.Inf(-1), y0: math.Inf(1), y1: math.Inf(-1)}
	g.k = math.Max(1, math.Min(1.7, math.Sqrt(math.Min(w/340, h/190))))
	seen := map[float64]bool{}
	for _, s := range d.Series {
		known := false
		for i, v := range s.Values {
			if finite(v) && finite(s.Stops[i]) {
				known = true
				g.x0, g.x1 = math.Min(g.x0, s.Stops[i]), math.Max(g.x1, s.Stops[i])
				g.y0, g.y1 = math.Min(g.y0, v), math.Max(g.y1, v)
				if !seen[s.Stops[i]] {
					seen[s.Stops[i]] = true
					g.at = append(g.at, s.Stops[i])
				}
			}
		}
		if known {
			g.names = math.Max(g.names, gauge.Width(drawing.Plain(s.Name), g.text(10).Bold())*1.05)
		}
	}
	if len(g.at) == 0 {
		return g
	}
	sort.Float64s(g.at)
	if g.x0 == g.x1 {
		g.x0, g.x1 = g.x0-0.5, g.x1+0.5
	}
	if d.Signed { // a difference is seen from nought
		g.y0, g.y1 = math.Min(g.y0, 0), math.Max(g.y1, 0)
	}
	if least := 4 * math.Pow10(-d.Decimals); g.y1-g.y0 < least {
		m := (g.y0 + g.y1) / 2
		g.y0, g.y1 = m-least/2, m+least/2
	}
	step := overStep((g.y1 - g.y0) / 4)
	g.y0, g.y1 = math.Floor(g.y0/step)*step, math.Ceil(g.y1/step)*step
	g.names = math.Min(g.names, 0.34*w)
	wide := 0.0
	for _, v := range []float64{g.y0, g.y1, g.y1 - step} {
		wide = math.Max(wide, gauge.Width(d.Figure(v), g.text(10)))
	}
	g.plot = box{x0: wide + 12, y0: 26 * g.k, x1: w - g.names - 14, y1: h - 32*g.k}
	return g
}

// overStep returns the least of 1, 2 and 5 times a power of ten that is v or more.
func overStep(v float64) float64 {
	p := math.Pow10(int(math.Floor(math.Log10(v))))
	for _, k := range []float64{1, 2, 5} {
		if k*p >= v*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}

func (g *overGeometry) text(size float64) paint.Style {
	return paint.Style{Size: size * g.k, Col: g.pal.Text}
}
func (g *overGeometry) dim(size float64) paint.Style { return g.text(size).Tinted(g.pal.Dim) }

func (g *overGeometry) x(stop float64) float64 {
	return g.plot.x0 + 6 + (stop-g.x0)/(g.x1-g.x0)*(g.plot.w()-12)
}

func (g *overGeometry) y(v float64) float64 {
	return g.plot.y1 - (v-g.y0)/(g.y1-g.y0)*g.plot.h()
}

// style returns how a line and its name are drawn: the one that is looked at stands
// out.
func (g *overGeometry) style(s Series) (width float64, st paint.Style) {
	if s.Strong {
		return 2.2 * g.k, g.text(10).Bold()
	}
	return 1.1 * g.k, g.dim(10)
}

func (g *overGeometry) list() *List {
	l := &List{W: g.w, H: g.h, Title: drawing.Plain(g.d.Title) + " over stops", Desc: g.desc()}
	p := g.plot
	if len(g.at) == 0 || p.w() < 40 || p.h() < 30 {
		why := g.d.Reason
		if why == "" {
			why = "No frame has this reading."
		}
		l.Add(Text{At: Pt{X: g.w / 2, Y: g.h / 2}, S: drawing.Plain(why), Style: g.dim(11).Aligned(paint.Centre)})
		return l
	}
	l.Add(drawing.Rect(p.x0, p.y0, p.x1, p.y1, g.pal.Well))
	l.Add(Text{At: Pt{X: p.x0, Y: 16 * g.k}, S: drawing.Plain(g.d.Title), Style: g.text(11).Bold()})
	step := overStep((g.y1 - g.y0) / 4)
	for k := math.Round(g.y0 / step); k*step <= g.y1+step/2; k++ {
		v, col := k*step, g.pal.Rule
		if k == 0 {
			col = g.pal.Strong
		}
		l.Add(drawing.Segment(p.x0, g.y(v), p.x1, g.y(v), 1, col))
		l.Add(Text{At: Pt{X: p.x0 - 5, Y: g.y(v) + 3.5*g.k}, S: g.d.Figure(v), Style: g.dim(10).Aligned(paint.Right)})
	}
	if finite(g.d.At) && g.d.At >= g.x0 && g.d.At <= g.x1 {
		l.Add(drawing.Segment(g.x(g.d.At), p.y0, g.x(g.d.At), p.y1, 1, g.pal.Judge))
	}
	last := math.Inf(-1)
	for _, s := range g.at {
		st := g.text(10).Aligned(paint.Centre)
		t := Text{At: Pt{X: g.x(s), Y: p.y1 + 13*g.k}, S: stops.Label(s), Style: st}
		l.Add(drawing.Segment(g.x(s), p.y1, g.x(s), p.y1+3, 1, g.pal.Strong))
		if b := textBox(t); b.x0 > last+4 {
			l.Add(t)
			last = b.x1
		}
	}
	l.Add(Text{At: Pt{X: p.x0, Y: g.h - 4}, S: "Stops from the base frame", Style: g.dim(10)})
	for _, strong := range []bool{false, true} {
		for _, s := range g.d.Series {
			if s.Strong == strong {
				g.series(l, s)
			}
		}
	}
	g.nameLines(l)
	return l
}

func (g *overGeometry) desc() string {
	var b strings.Builder
	for _, s := range g.d.Series {
		for i, v := range s.Values {
			if finite(v) {
				fmt.Fprintf(&b, "%s at %s: %s. ", drawing.Plain(s.Name), stops.Label(s.Stops[i]), g.d.Figure(v))
			}
		}
	}
	return strings.TrimSpace(b.String())
}

// inOrder returns the places of a series' values by rising stops.
func (s Series) inOrder() []int {
	at := make([]int, len(s.Values))
	for i := range at {
		at[i] = i
	}
	sort.SliceStable(at, func(a, b int) bool { return s.Stops[at[a]] < s.Stops[at[b]] })
	return at
}

func (g *overGeometry) series(l *List, s Series) {
	width, st := g.style(s)
	var run []Pt
	flush := func() {
		if len(run) > 1 {
			l.Add(Line{Pts: run, Width: width, Col: st.Col})
		}
		run = nil
	}
	for _, i := range s.inOrder() {
		if !finite(s.Values[i]) || !finite(s.Stops[i]) {
			flush()
			continue
		}
		p := Pt{X: g.x(s.Stops[i]), Y: g.y(s.Values[i])}
		run = append(run, p)
		l.Add(Dot{At: p, R: 1 + width, Col: st.Col})
	}
	flush()
}

// nameLines writes the names beside the last value of each line, moved apart; a
// thin line leads to a name that had to move.
func (g *overGeometry) nameLines(l *List) {
	type end struct {
		s Series
		p Pt
	}
	var ends []end
	for _, s := range g.d.Series {
		at := s.inOrder()
		for k := len(at) - 1; k >= 0; k-- {
			if i := at[k]; finite(s.Values[i]) && finite(s.Stops[i]) {
				ends = append(ends, end{s, Pt{X: g.x(s.Stops[i]), Y: g.y(s.Values[i])}})
				break
			}
		}
	}
	sort.SliceStable(ends, func(a, b int) bool { return ends[a].p.Y < ends[b].p.Y })
	var want, sizes []float64
	for _, e := range ends {
		want, sizes = append(want, e.p.Y), append(sizes, 12*g.k)
	}
	if float64(len(ends))*12*g.k > g.plot.h()+10 { // no room for all: the one that counts
		for _, e := range ends {
			if e.s.Strong {
				_, st := g.style(e.s)
				l.Add(Text{At: Pt{X: g.plot.x1 + 8, Y: e.p.Y + 3.5*g.k}, S: gauge.Ellipsis(drawing.Plain(e.s.Name), st, g.names), Style: st})
			}
		}
		return
	}
	for i, y := range row.Spread(want, sizes, g.plot.y0-5, g.plot.y1+5) {
		e := ends[i]
		_, st := g.style(e.s)
		l.Add(Line{Pts: []Pt{{X: e.p.X + 5, Y: e.p.Y}, {X: g.plot.x1 + 5, Y: y}}, Width: 0.7, Col: paint.Alpha(st.Col, 0.6)})
		l.Add(Text{At: Pt{X: g.plot.x1 + 8, Y: y + 3.5*g.k}, S: gauge.Ellipsis(drawing.Plain(e.s.Name), st, g.names), Style: st})
	}
}

// hover draws the readings at the stop nearest to x.
func (g *overGeometry) hover(l *List, x float64) {
	if len(g.at) == 0 || x < g.plot.x0 || x > g.plot.x1 {
		return
	}
	best := g.at[0]
	for _, s := range g.at {
		if math.Abs(g.x(s)-x) < math.Abs(g.x(best)-x) {
			best = s
		}
	}
	type line struct {
		name, value string
		v           float64
		st          paint.Style
	}
	var lines []line
	wide := gauge.Width(stops.Label(best)+" stops", g.text(10).Bold())
	for _, s := range g.d.Series {
		for i, v := range s.Values {
			if s.Stops[i] == best && finite(v) {
				_, st := g.style(s)
				q := line{gauge.Ellipsis(drawing.Plain(s.Name), st, 0.4*g.w), g.d.Figure(v), v, st}
				lines = append(lines, q)
				wide = math.Max(wide, gauge.Width(q.name, st)+gauge.Width(q.value, st)+14)
				l.Add(Dot{At: Pt{X: g.x(best), Y: g.y(v)}, R: 4, Width: 1.2, Col: g.pal.Text})
			}
		}
	}
	sort.SliceStable(lines, func(a, b int) bool { return lines[a].v > lines[b].v })
	l.Add(drawing.Segment(g.x(best), g.plot.y0, g.x(best), g.plot.y1, 1, g.pal.Text))
	lead := 13 * g.k
	h := lead*float64(len(lines)+1) + 8
	left := g.x(best) + 9
	if left+wide+14 > g.w-2 {
		left = math.Max(2, g.x(best)-9-wide-14)
	}
	top := math.Max(2, math.Min(g.plot.y0+6, g.h-h-2))
	l.Add(drawing.Rect(left, top, left+wide+14, top+h, paint.Alpha(g.pal.Surround, 0.95)))
	l.Add(Text{At: Pt{X: left + 7, Y: top + lead + 1}, S: stops.Label(best) + " stops", Style: g.text(10).Bold()})
	for i, q := range lines {
		y := top + 1 + lead*float64(i+2)
		l.Add(Text{At: Pt{X: left + 7, Y: y}, S: q.name, Style: q.st})
		l.Add(Text{At: Pt{X: left + 7 + wide, Y: y}, S: q.value, Style: q.st.Aligned(paint.Right)})
	}
}
