package row

import (
	"image"
	"math"
	"slices"

	"stopladder/analysis/show/paint"
)

// Criterion is one cost of salvage as a curve over the stops, with the judge's
// two limits. All rungs of a roll share it, so it stands in Scales.
type Criterion struct {
	ID, Title, Short string
	Unit             string // of the axis, e.g. "% of image area"
	Hint             string // one sentence for a tool tip

	// Best and Worst are the values at the left and right edge of the plot: worse
	// always lies to the right, whichever way the figure runs. Root spreads the
	// good end: the place on the axis is the square root of the way from Best to
	// Worst.
	Best, Worst float64
	Root        bool

	Holds, Strains float64 // limits; NaN: none

	At    func(d *Data) *float64             // the frame's own reading, nil unknown
	Curve func(stop float64) (float64, bool) // between the frames; nil: straight lines
	Words func(v float64) string

	// Ends are the stops at which this criterion ended the measured range.
	Ends []float64
}

// way returns where v lies between the left edge (0) and the right (1); values beyond
// either lie beyond it.
func (k *Criterion) way(v float64) float64 {
	t := (v - k.Best) / (k.Worst - k.Best)
	if k.Root && t > 0 {
		return math.Sqrt(t)
	}
	return t
}

// value returns the value at a way along the axis.
func (k *Criterion) value(t float64) float64 {
	t = math.Max(0, math.Min(1, t))
	if k.Root {
		t *= t
	}
	return k.Best + t*(k.Worst-k.Best)
}

// Limit names one of the two limits of a criterion.
type Limit int

// The limits of a criterion; NoLimit is neither.
const (
	NoLimit Limit = iota
	HoldsLimit
	StrainsLimit
)

// Costs is how many criteria there are columns for.
const Costs = 5

// Criteria are the plots of CostColumns in their order; nil has no column.
type Criteria [Costs]*Criterion

// costPad keeps marks at the edges of a plot inside it, units.
const costPad = 6.0

// CostColumns returns the columns that draw the criteria in Scales.Criteria, in their
// order. They stand in the place of other readings.
func CostColumns() (cols []Column) {
	for i := range Costs {
		get := func(all []*Data) *Criterion { return criterion(all, i) }
		cols = append(cols, Column{ID: CostID(i), Min: 54, Ideal: 92, Max: 170, Priority: 2 + i,
			DrawColumn: func(c *paint.Canvas, full image.Rectangle, yOf func(float64) float64, all []*Data) {
				if k := get(all); k != nil {
					drawCriterion(c, full, yOf, all, k)
				}
			},
			DrawHead: func(c *paint.Canvas, r image.Rectangle, all []*Data) {
				k := get(all)
				if k == nil {
					return
				}
				top := image.Rect(r.Min.X, r.Min.Y-r.Dy(), r.Max.X, r.Min.Y)
				st := dim(c, sizeTitle).Bold().Tinted(c.Pal.Text)
				title := k.Title
				if c.Width(title, st) > float64(r.Dx()) && k.Short != "" {
					title = k.Short
				}
				c.TextIn(top, title, st)
				c.TextIn(r, k.Unit, dim(c, sizeSmall))
			},
			Text: func(d *Data) []string {
				if k := criterion([]*Data{d}, i); k != nil {
					if v := k.At(d); v != nil {
						return []string{k.Title + " " + k.Words(*v)}
					}
				}
				return nil
			}})
	}
	return cols
}

// CostID returns the column's ID of the i-th criterion.
func CostID(i int) string { return "cost" + string(rune('0'+i)) }

func criterion(all []*Data, i int) *Criterion {
	for _, d := range all {
		if d != nil && d.Scales.Criteria != nil {
			return d.Scales.Criteria[i]
		}
	}
	return nil
}

// costX returns the device pixel of a value in a plot's cell.
func costX(c *paint.Canvas, r image.Rectangle, k *Criterion, v float64) float64 {
	p := c.U(costPad)
	t := math.Max(-0.05, math.Min(1, k.way(v)))
	return float64(r.Min.X) + p + t*(float64(r.Dx())-2*p)
}

// LimitNear returns the limit of the criterion whose line lies within reach units of
// device pixel x of its column, which begins at left and is width wide. The nearer of
// the two wins.
func LimitNear(k *Criterion, left, width int, scale, x, reach float64) Limit {
	best, at := reach*scale, NoLimit
	for l, v := range map[Limit]float64{HoldsLimit: k.Holds, StrainsLimit: k.Strains} {
		if math.IsNaN(v) {
			continue
		}
		p := costPad * scale
		lx := float64(left) + p + math.Max(0, math.Min(1, k.way(v)))*(float64(width)-2*p)
		if d := math.Abs(lx - x); d < best {
			best, at = d, l
		}
	}
	return at
}

// LimitValue returns the value that lies at device pixel x of a criterion's column.
func LimitValue(k *Criterion, left, width int, scale, x float64) float64 {
	p := costPad * scale
	return k.value((x - float64(left) - p) / math.Max(1, float64(width)-2*p))
}

// drawCriterion draws one criterion over the height of all rungs: the ground is
// lighter where a frame would strain and lighter still where it would break, the
// limits are lines with a handle at the top, and the readings are joined by the
// curve that the measured range is read from.
func drawCriterion(c *paint.Canvas, r image.Rectangle, yOf func(float64) float64, all []*Data, k *Criterion) {
	c.Fill(r, c.Pal.Well)
	d := costPlot{c, r, k, yOf}
	d.zones()
	d.limit(k.Holds, true)
	d.limit(k.Strains, false)
	marks := d.marks(all)
	if len(marks) == 0 {
		return
	}
	c.Polyline(d.curve(marks), 1.4, c.Pal.Text)
	d.ends()
	for _, m := range marks {
		d.mark(m)
		d.words(m)
	}
}

// costPlot is the place in which a criterion is drawn.
type costPlot struct {
	c   *paint.Canvas
	r   image.Rectangle
	k   *Criterion
	yOf func(float64) float64 // of a stop
}

// costMark is a frame's own reading, at its place.
type costMark struct {
	paint.Pt
	v, stop float64
	current bool
}

func (d *costPlot) x(v float64) float64 { return costX(d.c, d.r, d.k, v) }

// zones lightens the ground from limit to limit, and beyond the second to the edge.
func (d *costPlot) zones() {
	if math.IsNaN(d.k.Holds) || math.IsNaN(d.k.Strains) {
		return
	}
	zone := func(from, to float64, a float64) {
		x0, x1 := int(math.Round(from)), int(math.Round(to))
		if x1 > x0 {
			d.c.Fill(image.Rect(x0, d.r.Min.Y, x1, d.r.Max.Y), paint.Alpha(d.c.Pal.White, a))
		}
	}
	zone(d.x(d.k.Holds), d.x(d.k.Strains), 0.07)
	zone(d.x(d.k.Strains), float64(d.r.Max.X), 0.15)
}

func (d *costPlot) limit(v float64, solid bool) {
	if math.IsNaN(v) {
		return
	}
	c, top := d.c, d.r.Min.Y
	x := int(math.Round(d.x(v)))
	if solid {
		c.VLine(x, top, d.r.Max.Y, 1.5, c.Pal.Dim)
	} else {
		c.VDash(x, top, d.r.Max.Y, 1.5, 5, 3, c.Pal.Dim)
	}
	// A handle at the top says that the line can be taken hold of, and where it stands. The
	// limit for Strains has its handle lower, so that the two never lie on each other.
	st := paint.Style{Size: sizeTiny, Col: c.Pal.Well}
	words := d.k.LimitWords(v)
	w := int(math.Ceil(c.Width(words, st))) + c.Px(6)
	y := top + c.Px(2)
	if !solid {
		y += c.Px(15)
	}
	left := max(d.r.Min.X, min(x-w/2, d.r.Max.X-w))
	box := image.Rect(left, y, left+w, y+c.Px(13))
	c.RoundRect(box, 2, c.Pal.Dim)
	c.TextIn(box, words, st.Aligned(paint.Centre))
}

func (d *costPlot) marks(all []*Data) (marks []costMark) {
	for _, f := range all {
		if f == nil || !known(f.Stop) || f.Unlabelled {
			continue
		}
		if v := d.k.At(f); v != nil && known(*v) {
			marks = append(marks, costMark{paint.Pt{X: d.x(*v), Y: d.yOf(f.Stop)}, *v, f.Stop, f.Current})
		}
	}
	return marks
}

// curve returns the line through the marks, the most exposed frame first: the
// criterion's curve at every third unit of height, else straight from mark to mark.
func (d *costPlot) curve(marks []costMark) (pts []paint.Pt) {
	if d.k.Curve == nil {
		for _, m := range slices.Backward(marks) {
			pts = append(pts, m.Pt)
		}
		return pts
	}
	lo, hi := marks[0].stop, marks[0].stop
	for _, m := range marks {
		lo, hi = math.Min(lo, m.stop), math.Max(hi, m.stop)
	}
	n := max(2, int((d.yOf(lo)-d.yOf(hi))/d.c.U(3)))
	for i := range n + 1 {
		s := hi + (lo-hi)*float64(i)/float64(n)
		if v, ok := d.k.Curve(s); ok && known(v) {
			pts = append(pts, paint.Pt{X: d.x(v), Y: d.yOf(s)})
		}
	}
	return pts
}

// ends rings where the criterion ended the measured range.
func (d *costPlot) ends() {
	for _, s := range d.k.Ends {
		v, ok := d.k.Holds, true
		if d.k.Curve != nil {
			v, ok = d.k.Curve(s)
		}
		if ok && known(v) {
			d.c.Ring(d.x(v), d.yOf(s), d.c.U(5), 1.6, d.c.Pal.White)
		}
	}
}

func (d *costPlot) mark(m costMark) {
	c := d.c
	if d.k.way(m.v) > 1 { // beyond the plot: a wedge at the edge
		c.Area([]paint.Pt{{X: m.X + c.U(4), Y: m.Y}, {X: m.X - c.U(2), Y: m.Y - c.U(4)}, {X: m.X - c.U(2), Y: m.Y + c.U(4)}}, c.Pal.Text)
		return
	}
	rad := 2.6
	if m.current {
		rad = 3.6
	}
	c.Disc(m.X, m.Y, c.U(rad+1), c.Pal.Well)
	c.Disc(m.X, m.Y, c.U(rad), c.Pal.Text)
}

// words sets the figure on the side of its mark that has room for it.
func (d *costPlot) words(m costMark) {
	c := d.c
	st := dim(c, sizeSmall)
	if m.current {
		st = text(c, sizeSmall)
	}
	words := d.k.Words(m.v)
	w := c.Width(words, st)
	right, left := m.X+c.U(7), m.X-c.U(7)-w
	fits := func(x float64) bool { return x >= float64(d.r.Min.X)+c.U(1) && x+w <= float64(d.r.Max.X)-c.U(2) }
	clear := func(x float64) bool { // of the limits' lines
		for _, v := range []float64{d.k.Holds, d.k.Strains} {
			if lx := d.x(v); known(v) && lx > x-c.U(2) && lx < x+w+c.U(2) {
				return false
			}
		}
		return true
	}
	x := right
	switch {
	case fits(right) && clear(right):
	case fits(left) && clear(left), fits(left) && !fits(right):
		x = left
	case !fits(right):
		return // no room beside the mark: the readings have it
	}
	y := math.Round(m.Y - c.U(5))
	if !clear(x) { // neither side is: the line stops behind the figure
		c.Fill(image.Rect(int(x)-c.Px(1), int(y-c.U(9)), int(x+w)+c.Px(1), int(y+c.U(2))), c.Pal.Well)
	}
	c.Text(x, y, words, st)
}
