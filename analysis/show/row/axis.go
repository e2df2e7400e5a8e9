package row

import (
	"image"
	"math"
	"sort"
	"stopladder/analysis/judge/stops"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
)

// AxisWidth is the width, in units, that DrawAxis and DrawRange are made for.
const AxisWidth = 66.0

// Places across the axis, units left of its right edge. The labels stand left
// of the line, the ranges right of it, next to the rungs.
const (
	axisLine     = 30.0
	axisJudge    = 17.0
	axisMeasured = 6.0
)

// AxisX returns the device pixel of the axis line inside r.
func AxisX(r image.Rectangle, scale float64) int {
	return r.Max.X - int(math.Round(axisLine*scale))
}

// PostRect returns the rectangle, in device pixels, of the judge's post at height y:
// what is drawn, and what a pointer takes hold of.
func PostRect(r image.Rectangle, scale, y float64) image.Rectangle {
	x := float64(r.Max.X) - axisJudge*scale
	px := func(v float64) int { return int(math.Round(v)) }
	t := max(2, px(5*scale))
	top := px(y) - t/2
	return image.Rect(px(x-12*scale), top, px(x+13*scale), top+t)
}

// DrawAxis draws the vertical stop axis into r: ticks at whole stops, labelled;
// small ticks at halves and thirds where there is room; a mark at every frame,
// labelled where it stands between whole stops; 0, the base, in the heavier
// type. More exposure is above. yOf gives the device pixel of a stop; lo and hi
// are the ends of the axis in stops.
func DrawAxis(c *paint.Canvas, r image.Rectangle, yOf func(stop float64) float64, lo, hi float64, at []float64) {
	DrawAxisTo(c, r, yOf, lo, hi, at, nil)
}

// DrawAxisTo does what DrawAxis does for rows that could not all stand at their stops: rows
// holds the device pixel of each row's middle, and a frame's line leads there
// from its true place on the axis.
func DrawAxisTo(c *paint.Canvas, r image.Rectangle, yOf func(stop float64) float64, lo, hi float64, at, rows []float64) {
	if r.Empty() || yOf == nil || !known(lo) || !known(hi) || hi < lo || hi-lo > 100 {
		return
	}
	c = c.Clipped(r)
	x := AxisX(r, c.Scale)
	y0, y1 := yOf(hi), yOf(lo)
	if !known(y0) || !known(y1) {
		return
	}
	perStop := c.U(40)
	if hi > lo {
		perStop = math.Abs(y1-y0) / (hi - lo)
	}
	c.VLine(x, int(math.Round(math.Min(y0, y1))), int(math.Round(math.Max(y0, y1)))+1, 1.5, c.Pal.Strong)

	tick := func(stop, length, width float64) {
		if stop < lo-1e-6 || stop > hi+1e-6 {
			return
		}
		c.HLine(x-c.Px(length), x, int(math.Round(yOf(stop))), width, c.Pal.Strong)
	}
	first, last := int(math.Floor(lo)), int(math.Ceil(hi))
	for s := first; s <= last; s++ {
		f := float64(s)
		tick(f, 8, 1.5)
		if perStop >= c.U(24) {
			tick(f+0.5, 5, 1)
		}
		if perStop >= c.U(48) {
			tick(f+1.0/3, 3, 1)
			tick(f+2.0/3, 3, 1)
		}
	}
	labels(c, r, yOf, lo, hi, at)

	// A frame's rung reaches to the axis.
	for i, s := range at {
		if !known(s) {
			continue
		}
		y := yOf(s)
		if i < len(rows) && math.Abs(rows[i]-y) > c.U(1) {
			c.Polyline([]paint.Pt{{X: float64(x), Y: y}, {X: float64(x) + c.U(8), Y: y}, {X: float64(r.Max.X) - c.U(2), Y: rows[i]}, {X: float64(r.Max.X), Y: rows[i]}}, 1, c.Pal.Rule)
		} else {
			c.HLine(x, r.Max.X, int(math.Round(y)), 1, c.Pal.Rule)
		}
		rad := 2.6
		if s == 0 {
			rad = 3.6
		}
		c.Disc(float64(x), math.Round(y)+0.5, c.U(rad+1.2), c.Pal.Surround)
		c.Disc(float64(x), math.Round(y)+0.5, c.U(rad), c.Pal.Text)
	}
}

// placedLabel is a word of the axis.
type placedLabel struct {
	stop, y float64
	frame   bool
}

// labelRoom is the least distance of two words of the axis, units.
const labelRoom = 13.0

// placeLabels chooses the words of the axis: frames first, whole stops where
// there is room, so that none touches another.
func placeLabels(c *paint.Canvas, yOf func(float64) float64, lo, hi float64, at []float64) (out []placedLabel) {
	var want []placedLabel
	for _, s := range at {
		if known(s) {
			want = append(want, placedLabel{stop: s, frame: true})
		}
	}
	sort.SliceStable(want, func(a, b int) bool { return rank(want[a].stop) < rank(want[b].stop) })
	for s := math.Ceil(lo - 1e-6); s <= hi+1e-6; s++ {
		want = append(want, placedLabel{stop: s})
	}
	room := c.U(labelRoom)
next:
	for _, l := range want {
		l.y = yOf(l.stop)
		for _, t := range out {
			if math.Abs(t.y-l.y) < room {
				continue next
			}
		}
		out = append(out, l)
	}
	return out
}

// labels draws the words of the axis.
func labels(c *paint.Canvas, r image.Rectangle, yOf func(float64) float64, lo, hi float64, at []float64) {
	right := float64(AxisX(r, c.Scale)) - c.U(12)
	for _, l := range placeLabels(c, yOf, lo, hi, at) {
		st := text(c, 14)
		switch {
		case l.stop == 0 && l.frame:
			st = text(c, 16).Bold()
		case !l.frame:
			st = dim(c, 12)
		case rank(l.stop) > 0:
			st = text(c, 12)
		}
		if w := c.Width(stops.Label(l.stop), st); w > right-float64(r.Min.X) {
			st = st.Sized(st.Size * (right - float64(r.Min.X)) / w)
		}
		c.Text(right, math.Round(l.y+c.Cap(st)/2), stops.Label(l.stop), st.Aligned(paint.Right))
	}
}

// rank prefers 0, then whole stops, then the others.
func rank(stop float64) int {
	switch {
	case stop == 0:
		return -1
	case stop == math.Round(stop):
		return 0
	}
	return 1
}

// RangeMarks is what DrawRange draws.
type RangeMarks struct {
	Judge    *roll.Range // amber, with a post at each end; nil when not marked yet
	Measured *roll.Range // white, slim, without posts; nil when not measured
	Hot      int         // the post that is held or pointed at: +1 upper, -1 lower, 0 none
}

// DrawRange draws the ranges beside the axis in r, the rectangle of DrawAxis.
func DrawRange(c *paint.Canvas, r image.Rectangle, yOf func(stop float64) float64, m RangeMarks) {
	if r.Empty() || yOf == nil {
		return
	}
	c = c.Clipped(r)
	span := func(g *roll.Range, x, width float64, fill func(image.Rectangle)) (lo, hi float64, ok bool) {
		if g == nil || !known(g.Lo) || !known(g.Hi) {
			return 0, 0, false
		}
		lo, hi = yOf(g.Lo), yOf(g.Hi)
		if !known(lo) || !known(hi) {
			return 0, 0, false
		}
		cx, w := float64(r.Max.X)-c.U(x), c.Px(width)
		left := int(math.Round(cx)) - w/2
		fill(image.Rect(left, int(math.Round(math.Min(lo, hi))), left+w, int(math.Round(math.Max(lo, hi)))+1))
		return lo, hi, true
	}
	span(m.Measured, axisMeasured, 4, func(q image.Rectangle) {
		c.Fill(q.Inset(-c.Px(1)), c.Pal.Surround)
		c.Fill(q, c.Pal.White)
		// Its ends are bars: they are read against the stops.
		for _, y := range []int{q.Min.Y, q.Max.Y - c.Px(2)} {
			c.Fill(image.Rect(q.Min.X-c.Px(3), y, q.Max.X+c.Px(2), y+c.Px(2)), c.Pal.White)
		}
	})
	lo, hi, ok := span(m.Judge, axisJudge, 5, func(q image.Rectangle) { c.Fill(q, c.Pal.Judge) })
	if !ok {
		return
	}
	for end, y := range map[int]float64{1: hi, -1: lo} {
		post := PostRect(r, c.Scale, y)
		if m.Hot == end {
			c.RoundRect(post.Inset(-c.Px(2)), 4, c.Pal.Text)
		}
		c.RoundRect(post, 2.5, c.Pal.Judge)
		// Two grooves say that it can be taken hold of.
		mid := (post.Min.X + post.Max.X) / 2
		if post.Dy() >= c.Px(4) {
			c.VLine(mid-c.Px(2), post.Min.Y+c.Px(1.2), post.Max.Y-c.Px(1.2), 1, c.Pal.Well)
			c.VLine(mid+c.Px(2), post.Min.Y+c.Px(1.2), post.Max.Y-c.Px(1.2), 1, c.Pal.Well)
		}
	}
}
