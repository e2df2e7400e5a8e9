package row

import (
	"image"
	"math"
	"strconv"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// measuredColumn returns the exposure that the picture tells, against the label.
func measuredColumn() Column {
	return numbers("measured", "Measured stop", Table, 46, []string{"stop", "±", "off label"}, measuredCells)
}

func measuredCells(d *Data) []string {
	if d == nil || d.MeasuredStop == nil || !known(*d.MeasuredStop) {
		return nil
	}
	out := []string{number.Signed(*d.MeasuredStop, 2), "–", "–"}
	if e := d.MeasuredStopError; e != nil && known(*e) {
		out[1] = number.Fixed(*e, 2)
	}
	if off, ok := d.Off(); ok {
		out[2] = number.Signed(off, 2)
	}
	return out
}

// shiftColumn returns the registration against the base frame. Rotation is
// counter-clockwise; confidence is 0..1.
func shiftColumn() Column {
	return numbers("shift", "Shift from the base frame", 12, 46, []string{"x px", "y px", "turn °", "sure %"}, func(d *Data) []string {
		if d == nil || d.Registration == nil || d.Registration.Refused() {
			return nil
		}
		g := d.Registration
		out := []string{number.Signed(g.DX, 1), number.Signed(g.DY, 1), number.Signed(g.Rotation, 3), sure(g.Confidence)}
		if g.How == register.Hand {
			out[3] = "hand"
		}
		return out
	})
}

// sure writes a confidence in per cent; the whole only when it is exact.
func sure(v float64) string {
	if !(v >= 0 && v <= 1) {
		return "–"
	}
	if v < 1 {
		v = math.Min(v, 0.99)
	}
	return strconv.Itoa(int(math.Round(v * 100)))
}

// DrawMeasured marks on the stop axis in r, the rectangle of DrawAxis, where each
// frame's measured stop lies: a small white wedge beside the axis, joined to the
// frame's rung where it deviates by more than MeasuredTolerance, and written out
// in a frame of its own where the picture contradicts the label. lo and hi are
// the ends of the axis in stops. Call it after DrawAxis and DrawRange.
func DrawMeasured(c *paint.Canvas, r image.Rectangle, yOf func(stop float64) float64, lo, hi float64, all []*Data) {
	if r.Empty() || yOf == nil || !known(lo) || !known(hi) || hi < lo || hi-lo > 100 {
		return
	}
	c = c.Clipped(r)
	x := float64(AxisX(r, c.Scale))
	var at []float64
	for _, d := range all {
		if d != nil {
			at = append(at, d.Stop)
		}
	}
	var taken []float64
	for _, l := range placeLabels(c, yOf, lo, hi, at) {
		if l.frame {
			taken = append(taken, l.y)
		}
	}
	for _, d := range all {
		if d == nil || d.MeasuredStop == nil || !known(*d.MeasuredStop) || math.Abs(*d.MeasuredStop) > 100 {
			continue
		}
		m := math.Max(lo, math.Min(hi, *d.MeasuredStop)) // beyond the axis it stands at its end, and the words say where it is
		y := yOf(m)
		if !known(y) {
			continue
		}
		off, compared := d.Off()
		if compared && math.Abs(off) > MeasuredTolerance {
			if to := yOf(d.Stop); known(to) {
				c.Polyline([]paint.Pt{{X: x + c.U(7.5), Y: y}, {X: x + c.U(7.5), Y: to}, {X: x + c.U(4.5), Y: to}}, 1.2, c.Pal.White)
			}
		}
		wedge(c, x+c.U(4.5), y)
		if compared && math.Abs(off) > LabelLimit {
			if yb, ok := flagPlace(c, r, y, taken); ok {
				taken = append(taken, yb)
				flag(c, r, x, y, yb, number.Signed(*d.MeasuredStop, 2))
			}
		}
	}
}

// MeasuredMark draws the mark of a measured stop, a wedge of 6 units' width that
// points at x from the right; device pixels.
func MeasuredMark(c *paint.Canvas, x, y float64) { wedge(c, x, y) }

// wedge points at the axis from the right.
func wedge(c *paint.Canvas, x, y float64) {
	for _, q := range []struct {
		grow float64
		dark bool
	}{{1.2, true}, {0, false}} {
		g := c.U(q.grow)
		pts := []paint.Pt{{X: x - 1.6*g, Y: y}, {X: x + c.U(6) + g, Y: y - c.U(3.2) - 1.6*g}, {X: x + c.U(6) + g, Y: y + c.U(3.2) + 1.6*g}}
		col := c.Pal.White
		if q.dark {
			col = c.Pal.Surround
		}
		c.Area(pts, col)
	}
}

// flagPlace finds the height nearest to y where a flag touches no label.
func flagPlace(c *paint.Canvas, r image.Rectangle, y float64, taken []float64) (float64, bool) {
	room := c.U(labelRoom + 2)
	for k := 0.0; k < c.U(60); k++ {
		for _, at := range [2]float64{y - k, y + k} {
			free := at >= float64(r.Min.Y)+c.U(7) && at <= float64(r.Max.Y)-c.U(7)
			for _, t := range taken {
				free = free && math.Abs(t-at) >= room
			}
			if free {
				return at, true
			}
		}
	}
	return 0, false
}

// flag writes a measured stop left of the axis in a white frame, with a line to
// its place on the axis.
func flag(c *paint.Canvas, r image.Rectangle, x, y, at float64, s string) {
	st := text(c, sizeSmall)
	w := int(math.Ceil(c.Width(s, st))) + c.Px(6)
	right := int(x) - c.Px(5)
	box := image.Rect(right-w, int(math.Round(at))-c.Px(6.5), right, int(math.Round(at))+c.Px(6.5))
	if d := r.Min.X + 1 - box.Min.X; d > 0 {
		box.Min.X += d
	}
	c.Line(float64(right), at, x, y, 1.2, c.Pal.White)
	c.Fill(box, c.Pal.Surround)
	c.Frame(box, 1, c.Pal.White)
	c.TextIn(box, s, st.Aligned(paint.Centre))
}

// together returns the rows of the readings that the roll as a whole tells of a frame.
func together(d *Data) []Section {
	one := func(name, value string) Row { return Row{Name: name, Values: []string{value}} }
	s := Section{Title: "From the whole roll"}
	if d.MeasuredStop != nil && known(*d.MeasuredStop) {
		v := number.Signed(*d.MeasuredStop, 2)
		if e := d.MeasuredStopError; e != nil && known(*e) {
			v += " ± " + number.Fixed(*e, 2)
		}
		if off, ok := d.Off(); ok && math.Abs(off) > MeasuredTolerance {
			v += ", " + number.Signed(off, 2) + " off the label"
		}
		s.Rows = append(s.Rows, one("Measured stop", v))
		if d.Flagged() {
			s.Rows = append(s.Rows, Row{Name: "The picture contradicts the label by more than a third of a stop.", Prose: true})
		}
	} else if d.MeasuredReason != "" {
		s.Rows = append(s.Rows, Row{Name: "Measured stop: " + d.MeasuredReason, Prose: true})
	}
	if g := d.Registration; g != nil && !d.Base {
		switch {
		case g.Refused():
			s.Rows = append(s.Rows, Row{Name: "Not registered: nothing in common with the base frame was found.", Prose: true})
		default:
			s.Rows = append(s.Rows, one("Shift", number.Signed(g.DX, 1)+", "+number.Signed(g.DY, 1)+" px"), one("Turn", number.Signed(g.Rotation, 3)+"°"))
			if g.Scale != 0 && math.Abs(g.Scale-1) > 1e-5 {
				s.Rows = append(s.Rows, one("Size", number.Fixed(g.Scale*100, 2)+" %"))
			}
			how := sure(g.Confidence) + " %"
			if g.How == register.Hand {
				how = "by hand"
			}
			s.Rows = append(s.Rows, one("Sure", how))
		}
	}
	for _, q := range []struct {
		name string
		v    *float64
	}{{"Flat light", d.FlatLight}, {"Flat dark", d.FlatDark}} {
		if q.v != nil && known(*q.v) {
			s.Rows = append(s.Rows, one(q.name, Percent(*q.v)+" of image area"))
		}
	}
	var out []Section
	if len(s.Rows) > 0 {
		out = append(out, s)
	}
	h := Section{Title: "Headroom, stops", Heads: []string{"to Blocked", "to Blown"}}
	for i := measure.Bands - 1; i >= 0; i-- {
		if q := d.Headroom[i]; q != nil {
			h.Rows = append(h.Rows, Row{Name: BandNames[i], Values: []string{room(q.Blocked, q.BlockedAtLeast), room(q.Blown, q.BlownAtLeast)}})
		}
	}
	if len(h.Rows) > 0 {
		out = append(out, h)
	}
	return out
}

func room(v *float64, least float64) string {
	if v != nil && known(*v) {
		return number.Fixed(*v, 1)
	}
	if known(least) && least > 0 {
		return "≥ " + number.Fixed(least, 1)
	}
	return "–"
}
