package model

import (
	"context"
	"errors"
	"image"
	"math"
	"sort"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/matrix"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// The film of these tests has one curve in closed form for all layers.
const (
	filmLow, filmHigh, filmSteep = 0.08, 3.0, 2.2
	filmFrom, filmTo             = -2.2, 2.2 // log10 exposure: what its response is known of
)

func filmDensity(x float64) float64 {
	return filmLow + (filmHigh-filmLow)/(1+math.Exp(filmSteep*x))
}

// filmWide, filmLong are the size of the pictures.
const filmWide, filmLong = 96, 72

// exposureAt is the log10 exposure of a pixel at stop 0, a scene of many colours.
func exposureAt(x, y int) (e [3]float64) {
	u, v := float64(x)/filmWide, float64(y)/filmLong
	grey := 1.2*u - 0.6
	return [3]float64{grey + 0.55*math.Sin(5*v), grey + 0.55*math.Sin(5*v+2.1), grey + 0.55*math.Sin(5*v+4.2)}
}

// shown are the densities of the scan's channels at a stop: the layers', mixed.
func shown(mix matrix.Of, e [3]float64, stop float64) (d [3]float64) {
	for c := range 3 {
		for k := range 3 {
			d[c] += mix[c][k] * filmDensity(e[k]+stop*stopLog)
		}
	}
	return d
}

// knownRoll is a roll of that film, in 16 bits, as package response would hand it on.
func knownRoll(t *testing.T, mix matrix.Of, stops []float64, base int) ([]response.Frame, *response.Result) {
	t.Helper()
	look := func(px *scan.Pixels) *measure.Look {
		area := image.Rect(0, 0, filmWide, filmLong)
		l, err := measure.NewLook(context.Background(), px, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	blank := func() *scan.Pixels {
		return &scan.Pixels{Header: scan.Info{Path: "known.tif", Format: "TIFF", Width: filmWide, Height: filmLong, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*filmWide*filmLong)}
	}
	tone := look(blank()).Space.Tone()
	res := &response.Result{Base: base, Curve: &response.Curve{}}
	var frames []response.Frame
	for i := range stops {
		px := blank()
		for k := range filmWide * filmLong {
			d := shown(mix, exposureAt(k%filmWide, k/filmWide), stops[i])
			for c := range 3 {
				l := float32(math.Pow(10, -d[c]))
				code := sort.Search(len(tone[c]), func(v int) bool { return tone[c][v] >= l })
				px.Pix[3*k+c] = uint16(min(code, len(tone[c])-1))
			}
		}
		frames = append(frames, response.Frame{Look: look(px), Stop: stops[i], StopKnown: true, Map: f64.Aff3{1, 0, 0, 0, 1, 0}})
		res.Frames = append(res.Frames, response.Reading{MeasuredStop: &stops[i]})
	}
	k := res.Curve
	for x := filmFrom; x < filmTo+0.005; x += 0.01 {
		k.LogE = append(k.LogE, x)
		for c := range 3 {
			k.Density[c] = append(k.Density[c], filmDensity(x))
		}
	}
	for c := range k.Channels {
		k.Channels[c].Covered = [2]float64{filmFrom, k.LogE[len(k.LogE)-1]}
	}
	return frames, res
}

func known(t *testing.T, mix matrix.Of) *Model {
	t.Helper()
	frames, res := knownRoll(t, mix, []float64{-2, -1, 0, 1, 2}, 2)
	m, err := New(context.Background(), frames, 2, res, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// placeOf is the pixel of a place: previews of such small scans are the scans, and a block
// has three by three places.
func (m *Model) placeOf(k int) (x, y int) {
	n := m.places()
	return m.spot(image.Rect(0, 0, filmWide, filmLong), k/n, k%n)
}

// The roll at a stop, between its frames and at them, is what the film's own curve gives in
// closed form, and what the model says of itself agrees with that.
func TestAtIsTheFilm(t *testing.T) {
	m := known(t, matrix.Unit)
	if m.Mixed() {
		t.Errorf("dyes that mix nothing are told as mixing: %v", m.Mix)
	}
	blocks, cells, per := m.Blocks()
	if blocks != filmWide/3*(filmLong/3) || cells != 9 || per != 1 {
		t.Errorf("%d blocks of %d cells of %d places", blocks, cells, per)
	}
	for _, stop := range []float64{-2, -1.3, 0, 0.5, 2} {
		v := m.At(stop)
		if v.Stop != stop || len(v.State) != blocks*cells*per || len(v.Light) != 3*len(v.State) {
			t.Fatalf("%+v: %d places", stop, len(v.State))
		}
		worst := 0.0
		for k, st := range v.State {
			d := shown(matrix.Unit, exposureAt(m.placeOf(k)), stop)
			if st != 0 {
				t.Fatalf("%+g: place %d of density %.2f is in state %d", stop, k, d, st)
			}
			for c := range 3 {
				worst = math.Max(worst, math.Abs(-math.Log10(float64(v.Light[3*k+c]))-d[c]))
			}
		}
		t.Logf("%+g: within %.4f of density", stop, worst)
		if worst > 0.01 { // the light of a place is told from five frames of whole codes
			t.Errorf("%+g: %.4f of density off", stop, worst)
		}
		if off := m.Off(stop); !(off < 0.005) {
			t.Errorf("%+g: frames are said to be %.4f of density off", stop, off)
		}
		if lost := m.LostOff(stop); lost != 0 {
			t.Errorf("%+g: lost areas are said to be %.4f off, nothing is lost", stop, lost)
		}
	}
	for k := range m.Base.State {
		rgb := m.Base.Light[3*k : 3*k+3] // sRGB: the channels are the primaries
		y := colour.Luminance(float64(rgb[0]), float64(rgb[1]), float64(rgb[2]))
		if math.Abs(m.Luminance(k)-y) > 1e-5 || m.Band(k) != measure.BandOf(m.Luminance(k)) {
			t.Fatalf("place %d: luminance %.6f, want %.6f; band %v", k, m.Luminance(k), y, m.Band(k))
		}
	}
}

// A grey of the base frame is, at every stop, what the curve gives in closed form; beyond
// the curve there is none.
func TestNeutral(t *testing.T) {
	m := known(t, matrix.Unit)
	for _, v := range []float64{0.02, 0.18, 0.5} {
		x := math.Log((filmHigh-filmLow)/(-math.Log10(v)-filmLow)-1) / filmSteep
		for _, stop := range []float64{-1, 0, 1.5} {
			rgb, state, ok := m.Neutral(v, stop)
			want := math.Pow(10, -filmDensity(x+stop*stopLog))
			for c := range 3 {
				if !ok || state != 0 || math.Abs(rgb[c]/want-1) > 0.005 {
					t.Errorf("grey of %g at %+g: %.5f, want %.5f (state %d, %v)", v, stop, rgb[c], want, state, ok)
				}
			}
		}
	}
	if _, _, ok := m.Neutral(1e-6, 0); ok {
		t.Error("a grey that is darker than the film can be")
	}
}

// Dyes that absorb outside their own part of the spectrum are found from the frames, and
// the roll between its frames is what they make of the layers. Rows add up to one: a grey
// stays grey.
func TestDyesAreFound(t *testing.T) {
	mix := matrix.Of{{0.86, 0.10, 0.04}, {0.06, 0.84, 0.10}, {0.02, 0.08, 0.90}}
	m := known(t, mix)
	if !m.Mixed() {
		t.Fatal("no mixing is found")
	}
	for c := range 3 {
		sum := 0.0
		for k := range 3 {
			sum += m.Mix[c][k]
			if math.Abs(m.Mix[c][k]-mix[c][k]) > 0.03 {
				t.Errorf("layer %d shows in channel %d by %.3f, made with %.3f", k, c, m.Mix[c][k], mix[c][k])
			}
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("row %d adds up to %.6f", c, sum)
		}
	}
	plain := known(t, matrix.Unit)
	for _, stop := range []float64{-1.5, 0.5, 1.5} {
		v, worst, without := m.At(stop), 0.0, 0.0
		for k := range v.State {
			e := exposureAt(m.placeOf(k))
			d := shown(mix, e, stop)
			// What a film without mixing makes of the same base frame.
			base := shown(mix, e, 0)
			for c := range 3 {
				worst = math.Max(worst, math.Abs(-math.Log10(float64(v.Light[3*k+c]))-d[c]))
				x, _ := plain.layer[c].exposure(float32(base[c]))
				without = math.Max(without, math.Abs(filmDensity(float64(x)+stop*stopLog)-d[c]))
			}
		}
		t.Logf("%+g: within %.4f of density, without dyes %.4f", stop, worst, without)
		if worst > without/2 {
			t.Errorf("%+g: %.4f of density off, and %.4f without knowing of dyes", stop, worst, without)
		}
	}
}

// Without a response there is no model, and frames that take no part change nothing.
func TestNone(t *testing.T) {
	frames, res := knownRoll(t, matrix.Unit, []float64{-1, 0, 1}, 1)
	for what, r := range map[string]*response.Result{"no result": nil, "no curve": {Frames: res.Frames}} {
		if _, err := New(context.Background(), frames, 1, r, nil); !errors.Is(err, ErrNone) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := New(context.Background(), frames, -1, res, nil); !errors.Is(err, ErrNone) {
		t.Errorf("no base frame: %v", err)
	}
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := New(stopped, frames, 1, res, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Between frames what they are off by in lost area goes from one to the other in a straight
// line, in density it is the greater of the two; beyond them it is that of the last.
func TestOffBetweenFrames(t *testing.T) {
	m := &Model{frames: []frame{{stop: 1, off: 0.03, lostOff: 0.4}, {stop: -1, off: 0.01, lostOff: 0.2}, {stop: 0, off: 0.02}}}
	for _, x := range []struct{ stop, off, lost float64 }{
		{-3, 0.01, 0.2}, {-1, 0.01, 0.2}, {-0.75, 0.02, 0.15}, {0, 0.02, 0}, {0.25, 0.03, 0.1}, {1, 0.03, 0.4}, {4, 0.03, 0.4},
	} {
		if off, lost := m.Off(x.stop), m.LostOff(x.stop); off != x.off || math.Abs(lost-x.lost) > 1e-12 {
			t.Errorf("%+g: off by %g and %g, want %g and %g", x.stop, off, lost, x.off, x.lost)
		}
	}
	if none := (&Model{}); none.Off(0) != 0 || none.LostOff(0) != 0 {
		t.Error("no frame is off by something")
	}
}

// even is noise of one size, with as much in luminance as channels that are strangers give
// it, or so many times that variance.
type even struct{ sigma, times float64 }

func (n even) Sigma(int, float64) float64 { return n.sigma }
func (n even) SigmaY(float64) float64 {
	return n.sigma * math.Sqrt(n.times*(colour.LumR*colour.LumR+colour.LumG*colour.LumG+colour.LumB*colour.LumB))
}

// Small noise of a grey is carried to L* by its slope (CIE 15, in closed form), as strangers
// or as far as channels share it, up to thrice.
func TestLightnessVariance(t *testing.T) {
	none := correction.Settings{}
	tables := none.Tables()
	for _, y := range []float64{0.1, 0.18, 0.6} {
		light := []float32{float32(y), float32(y), float32(y)}
		for _, x := range []struct{ times, counts float64 }{{1, 1}, {0.2, 1}, {2, 2}, {9, 3}} {
			n := even{1e-3 * y, x.times}
			m := &Model{noise: n, primaries: matrix.Unit}
			slope := 116 / 3.0 * math.Pow(y, -2.0/3)
			want := x.counts * slope * slope * math.Pow(n.SigmaY(y), 2) / x.times
			if got := m.LightnessVariance(light, tables); math.Abs(got/want-1) > 0.02 {
				t.Errorf("luminance %g, shared %g: %.3g, want %.3g", y, x.times, got, want)
			}
		}
	}
	if v := (&Model{}).LightnessVariance([]float32{0.2, 0.2, 0.2}, tables); v == v {
		t.Errorf("noise that is not known makes %g", v)
	}
}

// Five points of Gauss-Hermite have the moments of a normal distribution up to the ninth
// (Abramowitz & Stegun 25.4.46).
func TestNodes(t *testing.T) {
	want := []float64{1, 0, 1, 0, 3, 0, 15, 0, 105, 0}
	for p, w := range want {
		sum := 0.0
		for i, x := range Nodes {
			sum += Shares[i] * math.Pow(x, float64(p))
		}
		if math.Abs(sum-w) > 1e-9*math.Max(1, w) {
			t.Errorf("moment %d is %.12g, want %g", p, sum, w)
		}
	}
}

// L* of greys is that of package colour, which Little CMS is held against.
func TestLightness(t *testing.T) {
	for y := 0.0; y <= 1.2; y += 0.003 {
		if got, want := Lightness(y), colour.LabOf(y, y, y).L; math.Abs(got-want) > 1e-3 {
			t.Errorf("luminance %.3f: L* %.4f, want %.4f", y, got, want)
		}
	}
}

// The tables of logarithms keep to what is said of them.
func TestTables(t *testing.T) {
	for v := 1e-7; v < 2; v *= 1.0137 {
		if d := math.Abs(float64(log10(float32(v))) - math.Log10(v)); d > 1.5e-6 {
			t.Fatalf("log10 of %g is off by %g", v, d)
		}
	}
	for d := -1.0; d <= 8; d += 0.00713 {
		if r := float64(tenTo(float32(d)))*math.Pow(10, d) - 1; math.Abs(r) > 3e-6 {
			t.Fatalf("10^-%g is off by a part of %g", d, r)
		}
	}
}

// How far an end may lie off follows from the curve's own slope there, in closed form.
func TestShift(t *testing.T) {
	m := known(t, matrix.Unit)
	at := func(end float32, stops float64) {
		e := math.Log((filmHigh-filmLow)/(float64(end)-filmLow)-1) / filmSteep
		q := (filmDensity(e) - filmLow) / (filmHigh - filmLow)
		slope := (filmHigh - filmLow) * filmSteep * q * (1 - q) // of density, by log10 exposure
		want := 0.05 / (slope * stopLog)
		if math.Abs(stops/want-1) > 0.05 {
			t.Errorf("density %.2f may lie %.3f stop off, by the curve's slope %.3f", end, stops, want)
		}
	}
	// Ends on the curve itself, the scan's: without noise nothing else ends it.
	for c := range 3 {
		m.light[c], m.full[c], m.dark[c], m.empty[c] = 0.6, 0.6, 2.2, 2.2
	}
	for j := range m.frames {
		m.frames[j].ends, m.frames[j].dyes = [2]float64{0.03, 0.03}, [2]float64{0.04, 0.04} // 0.05 together
	}
	light, dark := m.Shift(0)
	at(0.6, light)
	at(2.2, dark)
	ends := m.Silent()
	if math.Abs(ends[1][0]-math.Pow(10, -0.6)) > 1e-6 || math.Abs(ends[1][1]-math.Pow(10, -2.2)) > 1e-6 {
		t.Errorf("silent from %v on", ends[1])
	}
}

// A channel that is beyond its ends says nothing: places are lost where channels of half of
// the luminance do, to the side that most of it is on.
func TestSilent(t *testing.T) {
	m := &Model{light: [3]float32{0.5, 0.5, 0.5}, dark: [3]float32{2, 2, 2}}
	for _, x := range []struct {
		d    [3]float32
		want uint8
	}{
		{[3]float32{1, 1, 1}, 0},
		{[3]float32{0.4, 1, 0.4}, Partial},               // red and blue: 0.29 of luminance
		{[3]float32{1, 0.4, 1}, LostLight | Partial},     // green alone: 0.72
		{[3]float32{2.1, 2.1, 0.4}, LostDark | Partial},  // most of it too dark
		{[3]float32{0.4, 0.4, 0.4}, LostLight | Partial}, // all too light
		{[3]float32{2.1, 0.4, 2.1}, LostLight | Partial}, // green outweighs
		{[3]float32{2.5, 1.9, 0.49}, Partial},            // red and blue again, to both sides
		{[3]float32{0.51, 1.99, 0.51}, 0},                // just within
		{[3]float32{0.5, 0.5, 0.5}, LostLight | Partial}, // at the end is beyond it
		{[3]float32{2.0, 2.0, 2.0}, LostDark | Partial},
	} {
		if got := m.silent(x.d); got != x.want {
			t.Errorf("densities %v: state %d, want %d", x.d, got, x.want)
		}
	}
}
