package correction

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/interp"
)

// midGrey is 18 % of white in stops from white: lift ends and highlight
// compression, at its fullest, begins there.
const midGrey = -2.473931188332412

// CurveAt returns a curve's value at x, both in stops from white: monotone through its
// points (Fritsch & Butland 1984), with a slope of one beyond them. No points leave x
// as it is, one moves it.
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
	switch x *= h.gain; {
	case h.black > 0:
		x = math.Max(0, (x-h.black)/(1-h.black))
	case x < 0:
		return -h.tone(-x)
	}
	return h.tone(x)
}

// tone returns what comes after gain and black point.
func (h channel) tone(x float64) float64 {
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

// plain reports whether nothing comes after gain and black point.
func (h channel) plain() bool { return h.curve == nil && h.lift <= 0 && h.knee <= 0 }

// At returns the corrected light of channel c (0 R, 1 G, 2 B): exact, for analysis.
// Light below 0, of a colour outside the sRGB primaries, goes the mirror way, so that
// gains alone keep such colours; a black point makes it 0. What is no number becomes
// 0. The zero value changes nothing.
func (s Settings) At(c int, light float64) float64 {
	if math.IsNaN(light) {
		return 0
	}
	if s.IsZero() {
		return light
	}
	return s.channel(c).at(light)
}

// The curve of a channel, after gain and black point: light from 2^curveLo to
// 2^curveHi, cells of a 128th of its power of two, straight lines between. The
// error is below 0.05 % of the result, but for the few cells in which a curve's
// end falls or a short shoulder begins; there it is below 2 %.
const (
	curveLo    = -20
	curveHi    = 16
	curveShift = 16 // leaves 7 bits of a float32's mantissa
	curveCells = (curveHi - curveLo) << (23 - curveShift)
	curveFirst = (127 + curveLo) << (23 - curveShift)
)

type curveTable struct {
	y     [curveCells + 2]float32
	below float32 // slope under the table
}

func newCurveTable(h channel) *curveTable {
	t := new(curveTable)
	for i := range curveCells + 1 {
		t.y[i] = float32(h.tone(float64(math.Float32frombits(uint32(i+curveFirst) << curveShift))))
	}
	t.y[curveCells+1] = t.y[curveCells]
	t.below = t.y[0] / float32(math.Exp2(curveLo))
	return t
}

// at takes light within the table; x's bits tell the cell and the place in it.
func (t *curveTable) at(x float32) float32 {
	b := math.Float32bits(x)
	i := int(b>>curveShift) - curveFirst
	if uint(i) >= curveCells {
		return t.beyond(x)
	}
	a := t.y[i]
	return a + float32(b&(1<<curveShift-1))*(1.0/(1<<curveShift))*(t.y[i+1]-a)
}

func (t *curveTable) beyond(x float32) float32 {
	switch {
	case x < 0:
		return -t.at(-x)
	case x < 1:
		return x * t.below
	case x > 1:
		return t.y[curveCells]
	}
	return 0
}

// Table is one channel of a correction made ready for many values: gain and black
// point are reckoned, so that the black point is as sharp as it is meant, and what
// comes after is looked up.
type Table struct {
	mul, sub float32
	clip     bool        // a black point: nothing is below 0
	curve    *curveTable // nil: none
}

// At returns the corrected light, as Settings.At gives it, within float32 and the
// table. Light more than 16 stops over white, after the gain, is not told apart where
// there is a lift, a shoulder or a curve.
func (t *Table) At(x float32) float32 {
	x = x*t.mul - t.sub
	if t.clip && x < 0 || x != x {
		return 0
	}
	if t.curve == nil {
		return x
	}
	return t.curve.at(x)
}

// Tables returns the three channels made ready; equal settings give equal results.
func (s Settings) Tables() *[3]Table {
	var out [3]Table
	for c := range out {
		if s.IsZero() {
			out[c].mul = 1
			continue
		}
		h := s.channel(c)
		k := 1 / (1 - h.black)
		out[c] = Table{mul: float32(h.gain * k), sub: float32(h.black * k), clip: h.black > 0}
		if h.plain() {
			continue
		}
		for d := range c { // equal curves are made once
			if out[d].curve != nil && slices.Equal(s.Curves[c], s.Curves[d]) {
				out[c].curve = out[d].curve
			}
		}
		if out[c].curve == nil {
			out[c].curve = newCurveTable(h)
		}
	}
	return &out
}

// Linear returns the correction of interleaved linear light on the sRGB primaries, in
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
