package row

import (
	"image"
	"math"

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
	p := c.Pal
	in := image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Max.Y)
	c.Fill(in, p.Well)
	x := func(v float64) float64 { return costX(c, r, k, v) }
	zone := func(from, to float64, a float64) {
		x0, x1 := int(math.Round(from)), int(math.Round(to))
		if x1 > x0 {
			c.Fill(image.Rect(x0, in.Min.Y, x1, in.Max.Y), paint.Alpha(p.White, a))
		}
	}
	right := float64(r.Max.X)
	if !math.IsNaN(k.Holds) && !math.IsNaN(k.Strains) {
		zone(x(k.Holds), x(k.Strains), 0.07)
		zone(x(k.Strains), right, 0.15)
	}
	for _, l := range []struct {
		v     float64
		solid bool
	}{{k.Holds, true}, {k.Strains, false}} {
		if math.IsNaN(l.v) {
			continue
		}
		lx := int(math.Round(x(l.v)))
		if l.solid {
			c.VLine(lx, in.Min.Y, in.Max.Y, 1.5, p.Dim)
		} else {
			c.VDash(lx, in.Min.Y, in.Max.Y, 1.5, 5, 3, p.Dim)
		}
		// A handle at the top says that the line can be taken hold of.
		h := c.Px(4)
		c.RoundRect(image.Rect(lx-h, in.Min.Y+c.Px(2), lx+h, in.Min.Y+c.Px(14)), 2, p.Dim)
		c.VLine(lx, in.Min.Y+c.Px(5), in.Min.Y+c.Px(11), 1, p.Well)
	}

	var pts []paint.Pt
	var stop []float64
	type mark struct {
		x, y float64
		v    float64
		d    *Data
	}
	var marks []mark
	for _, d := range all {
		if d == nil || !known(d.Stop) || d.Unlabelled {
			continue
		}
		if v := k.At(d); v != nil && known(*v) {
			marks = append(marks, mark{x(*v), yOf(d.Stop), *v, d})
			stop = append(stop, d.Stop)
		}
	}
	if len(marks) == 0 {
		return
	}
	lo, hi := minMax(stop)
	if k.Curve != nil {
		y0, y1 := yOf(hi), yOf(lo)
		n := max(2, int((y1-y0)/c.U(3)))
		for i := range n + 1 {
			s := hi + (lo-hi)*float64(i)/float64(n)
			if v, ok := k.Curve(s); ok && known(v) {
				pts = append(pts, paint.Pt{X: x(v), Y: yOf(s)})
			}
		}
	} else {
		for i := len(marks) - 1; i >= 0; i-- {
			pts = append(pts, paint.Pt{X: marks[i].x, Y: marks[i].y})
		}
	}
	c.Polyline(pts, 1.4, p.Text)
	for _, s := range k.Ends {
		v, ok := k.Holds, true
		if k.Curve != nil {
			v, ok = k.Curve(s)
		}
		if ok && known(v) {
			c.Ring(x(v), yOf(s), c.U(5), 1.6, p.White)
		}
	}
	for _, m := range marks {
		off := k.way(m.v) > 1
		if off { // beyond the plot: a wedge at the edge
			c.Area([]paint.Pt{{X: m.x + c.U(4), Y: m.y}, {X: m.x - c.U(2), Y: m.y - c.U(4)}, {X: m.x - c.U(2), Y: m.y + c.U(4)}}, p.Text)
		} else {
			rad := 2.6
			if m.d.Current {
				rad = 3.6
			}
			c.Disc(m.x, m.y, c.U(rad+1), p.Well)
			c.Disc(m.x, m.y, c.U(rad), p.Text)
		}
		st := text(c, sizeSmall)
		if !m.d.Current {
			st = dim(c, sizeSmall)
		}
		words := k.Words(m.v)
		w := c.Width(words, st)
		tx := m.x + c.U(7)
		if tx+w > right-c.U(2) {
			tx = m.x - c.U(7) - w
		}
		if tx < float64(r.Min.X)+c.U(1) {
			continue // no room beside the mark: the readings have it
		}
		c.Text(tx, math.Round(m.y-c.U(5)), words, st)
	}
}

func minMax(v []float64) (lo, hi float64) {
	lo, hi = v[0], v[0]
	for _, x := range v {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return lo, hi
}
