package view

import (
	"math"

	"gonum.org/v1/gonum/interp"
)

// midGrey is 18 % of white in stops from white: lift ends and highlight
// compression, at its fullest, begins there.
const midGrey = -2.473931188332412

// CurveAt is a curve's value at x, both in stops from white: monotone through its
// points (Fritsch & Butland 1984), with a slope of one beyond them. No points
// leave x as it is, one moves it.
func CurveAt(pts []Point, x float64) float64 { return curveOf(pts)(x) }

func curveOf(pts []Point) func(x float64) float64 {
	switch len(pts) {
	case 0:
		return func(x float64) float64 { return x }
	case 1:
		d := pts[0].Y - pts[0].X
		return func(x float64) float64 { return x + d }
	}
	xs, ys := make([]float64, len(pts)), make([]float64, len(pts))
	for i, p := range pts {
		xs[i], ys[i] = p.X, p.Y
	}
	var f interp.FritschButland
	first, last := pts[0], pts[len(pts)-1]
	if f.Fit(xs, ys) != nil { // too few points; Validate refuses what else it would
		return func(x float64) float64 { return x }
	}
	return func(x float64) float64 {
		switch {
		case x <= first.X:
			return first.Y + x - first.X
		case x >= last.X:
			return last.Y + x - last.X
		}
		return f.Predict(x)
	}
}

// channel is the way of one channel.
type channel struct {
	gain, black float64
	curve       func(x float64) float64 // nil: none
	lift, width float64
	knee, top   float64 // of the shoulder; knee 0: none
}

func (s Settings) channel(c int) channel {
	h := channel{gain: s.Gain(c), black: s.Black, lift: s.Lift, width: math.Max(4, 2*s.Lift)}
	if len(s.Curves[c]) > 0 {
		h.curve = curveOf(s.Curves[c])
	}
	if s.Highlights > 0 {
		h.knee = 1 - s.Highlights*(1-0.18)
		h.top = math.Exp2(2 * s.Highlights)
	}
	return h
}

func (h channel) at(x float64) float64 {
	x *= h.gain
	if h.black > 0 {
		x = (x - h.black) / (1 - h.black)
	}
	if !(x > 0) {
		return 0
	}
	if h.curve != nil {
		x = math.Exp2(h.curve(math.Log2(x)))
	}
	if h.lift > 0 {
		// Raised by Lift at width stops under mid-grey and below, by nothing at
		// mid-grey, smoothly between: at most three quarters of a stop each stop, so
		// that the tones keep their order.
		if t := (midGrey - math.Log2(x)) / h.width; t > 0 {
			t = math.Min(t, 1)
			x *= math.Exp2(h.lift * t * t * (3 - 2*t))
		}
	}
	if h.knee > 0 && x > h.knee {
		// The rational shoulder of Reinhard et al., SIGGRAPH 2002, eq. 4 (from
		// memory), begun at the knee with a slope of one: light of top comes to white.
		u, w := (x-h.knee)/(1-h.knee), (h.top-h.knee)/(1-h.knee)
		x = h.knee + (1-h.knee)*u*(1+u/(w*w))/(1+u)
	}
	return x
}

// At is the corrected light of channel c (0 R, 1 G, 2 B): exact, for analysis.
// Light below 0 is 0.
func (s Settings) At(c int, light float64) float64 { return s.channel(c).at(light) }

// The table of a channel: light from 2^tableLo to 2^tableHi, cells of a 128th of
// its power of two, straight lines between. The error is below 0.05 % of the
// result, but for the few cells in which a black point or a curve's end falls or
// the shoulder begins; there it is below 2 %.
const (
	tableLo    = -24
	tableHi    = 8
	tableShift = 16 // leaves 7 bits of a float32's mantissa
	tableCells = (tableHi - tableLo) << (23 - tableShift)
	tableFirst = (127 + tableLo) << (23 - tableShift)
)

// Table is one channel of a correction made ready for many values.
type Table struct {
	y     [tableCells + 2]float32
	below float32 // slope under the table
}

// At is the corrected light; below 0 and what is no number give 0.
func (t *Table) At(x float32) float32 {
	b := math.Float32bits(x)
	i := int(b>>tableShift) - tableFirst
	if uint(i) >= tableCells {
		return t.beyond(x)
	}
	f := float32(b&(1<<tableShift-1)) * (1.0 / (1 << tableShift))
	a := t.y[i]
	return a + f*(t.y[i+1]-a)
}

func (t *Table) beyond(x float32) float32 {
	switch {
	case !(x > 0):
		return 0
	case x < 1:
		return x * t.below
	}
	return t.y[tableCells]
}

// Tables are the three channels made ready; equal settings give equal tables.
func (s Settings) Tables() *[3]Table {
	var out [3]Table
	for c := range out {
		h := s.channel(c)
		t := &out[c]
		for i := range tableCells + 1 {
			t.y[i] = float32(h.at(float64(math.Float32frombits(uint32(i+tableFirst) << tableShift))))
		}
		t.y[tableCells+1] = t.y[tableCells]
		t.below = t.y[0] / float32(math.Exp2(tableLo))
	}
	return &out
}

// Linear is the correction of interleaved linear light on the sRGB primaries, in
// place and safe for concurrent use; nil when there is nothing to correct.
func (s Settings) Linear() func(rgb []float32) {
	if s.IsZero() {
		return nil
	}
	t := s.Tables()
	return func(rgb []float32) {
		for i := 0; i+2 < len(rgb); i += 3 {
			p := rgb[i : i+3 : i+3]
			p[0], p[1], p[2] = t[0].At(p[0]), t[1].At(p[1]), t[2].At(p[2])
		}
	}
}
