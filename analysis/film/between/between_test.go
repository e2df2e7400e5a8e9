package between

import (
	"context"
	"math"
	"slices"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/scan/colour"
)

// shoot makes frames of the embedded scene with their true registration.
func shoot(t testing.TB, stock simulate.Stock, o simulate.Options) []response.Frame {
	t.Helper()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	var out []response.Frame
	for _, s := range o.Stops {
		f, err := simulate.Shoot(context.Background(), r, stock, o, s)
		if err != nil {
			t.Fatal(err)
		}
		area := f.Truth.Area
		l, err := measure.NewLook(context.Background(), f.Pixels, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		a := f.Truth.FromBase
		out = append(out, response.Frame{Look: l, Stop: s, StopKnown: true, Map: a})
	}
	return out
}

func baseOf(fs []response.Frame) int {
	return slices.IndexFunc(fs, func(f response.Frame) bool { return f.Stop == 0 })
}

var plain = f64.Aff3{1, 0, 0, 0, 1, 0}

// On a half-stop roll the pictures synthesised from the whole stops alone must
// match the held-out halves: at most 2 in the median of CIEDE2000, grain of both
// pictures included. Sharma's test data of the formula are in package colour.
func TestHeldOutHalves(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	for _, stock := range []simulate.Stock{simulate.Reversal(), simulate.Negative()} {
		o := simulate.Options{Seed: 5, W: 1000, H: 860, MaxShift: 0.004, MaxRotation: 0.1, ShutterError: 0.05, Border: true}
		for s := -3.0; s <= 4; s += 0.5 {
			o.Stops = append(o.Stops, s)
		}
		all := shoot(t, stock, o)
		var whole []response.Frame
		for _, f := range all {
			if f.Stop == math.Trunc(f.Stop) {
				whole = append(whole, f)
			}
		}
		res, err := response.Fit(context.Background(), whole, baseOf(whole), response.Options{})
		if err != nil || res.Curve == nil {
			t.Fatalf("no response: %v %s", err, res.Reason)
		}
		roll, halves := New(res, whole), New(nil, all)
		area := whole[baseOf(whole)].Look.Area.Inset(12)
		w, h := area.Dx(), area.Dy()
		view := f64.Aff3{1, 0, float64(area.Min.X), 0, 1, float64(area.Min.Y)}
		a, b, got, want := make([]uint16, 3*w*h), make([]uint16, 3*w*h), make([]uint16, 3*w*h), make([]uint16, 3*w*h)
		for j, f := range all {
			if f.Stop == math.Trunc(f.Stop) {
				continue
			}
			m, ok := roll.At(f.Stop)
			if !ok || m.Exact || !m.Response {
				t.Fatalf("%+g: no mix", f.Stop)
			}
			roll.Lay(a, w, h, m.Lower, view)
			roll.Lay(b, w, h, m.Upper, view)
			halves.Lay(want, w, h, j, view)
			m.Codes(got, a, b)
			d := difference(f.Look.Space, got, want)
			plainMix, _ := New(nil, whole).At(f.Stop)
			plainMix.Codes(got, a, b)
			p := difference(f.Look.Space, got, want)
			t.Logf("%s %+.1f: median dE00 %.2f, 95 %% %.2f (plain mix %.2f, %.2f)", stock.Name, f.Stop, d[len(d)/2], d[len(d)*95/100], p[len(p)/2], p[len(p)*95/100])
			if d[len(d)/2] > 2 {
				t.Errorf("%s %+.1f: median dE00 %.2f", stock.Name, f.Stop, d[len(d)/2])
			}
		}
	}
}

// difference is CIEDE2000 of every 7th pixel, sorted.
func difference(s *colour.Space, a, b []uint16) []float64 {
	la, lb := make([]float32, len(a)), make([]float32, len(b))
	s.Linear(la, a)
	s.Linear(lb, b)
	lab := func(v []float32) colour.LAB { return colour.LabOf(float64(v[0]), float64(v[1]), float64(v[2])) }
	var d []float64
	for i := 0; i+2 < len(la); i += 21 {
		d = append(d, colour.DeltaE2000(lab(la[i:]), lab(lb[i:])))
	}
	slices.Sort(d)
	return d
}

// small is a quick roll.
func small(t testing.TB) ([]response.Frame, *response.Result) {
	t.Helper()
	fs := shoot(t, simulate.Negative(), simulate.Options{Seed: 3, W: 420, H: 360, Stops: []float64{-2, -1, 0, 1, 2}, ShutterError: 0.05})
	res, err := response.Fit(context.Background(), fs, baseOf(fs), response.Options{})
	if err != nil || res.Curve == nil {
		t.Fatalf("no response: %v", err)
	}
	return fs, res
}

// On a rung the picture is the frame's own, code for code, and near it nearly so.
func TestRungsExact(t *testing.T) {
	fs, res := small(t)
	r := New(res, fs)
	if lo, hi, ok := r.Span(); !ok || lo != -2 || hi != 2 {
		t.Fatalf("Span %v %v %v", lo, hi, ok)
	}
	for j, f := range fs {
		m, ok := r.At(f.Stop)
		if !ok || !m.Exact || m.Lower != j || m.Upper != j {
			t.Fatalf("%+g: %+v", f.Stop, m)
		}
		got := make([]uint16, len(f.Look.Preview.Pix))
		m.Codes(got, f.Look.Preview.Pix, f.Look.Preview.Pix)
		if !slices.Equal(got, f.Look.Preview.Pix) {
			t.Errorf("%+g: the rung's picture is not its own", f.Stop)
		}
	}
	for _, s := range []float64{-2.01, 2.01, math.NaN(), math.Inf(1)} {
		if _, ok := r.At(s); ok {
			t.Errorf("a picture at %v", s)
		}
	}
	// Just off the rung every unclipped code stays within one part in 500.
	m, _ := r.At(0.001)
	l := fs[2].Look
	for c := range 3 {
		for code := channels(l.Floor)[c] + 200; code < channels(l.Ceiling)[c]-200; code += 97 {
			lower, _ := m.Tables()
			if got := int(lower[c][code] >> 16); math.Abs(float64(got-code)) > 130 {
				t.Fatalf("channel %d: code %d moves to %d within a thousandth of a stop", c, code, got)
			}
		}
	}
}

// Tables rise with the code, brighten with the stop, and are identity at 0.
func TestTablesMonotone(t *testing.T) {
	fs, res := small(t)
	r := New(res, fs)
	zero := r.Tables(2, 0)
	for _, delta := range []float64{-1.5, -0.3, 0.3, 1.5} {
		tab := r.Tables(2, delta)
		for c := range 3 {
			for i := 1; i < len(tab[c]); i++ {
				if tab[c][i] < tab[c][i-1] {
					t.Fatalf("%+g channel %d: falls at code %d", delta, c, i)
				}
			}
			if zero[c][30000] != 30000 {
				t.Fatalf("not the identity: %d", zero[c][30000])
			}
			if (tab[c][30000] > 30000) != (delta > 0) {
				t.Errorf("%+g stops move code 30000 to %d", delta, tab[c][30000])
			}
		}
	}
	if New(nil, fs).Tables(2, 1) != nil || r.Tables(-1, 1) != nil || r.Tables(99, 1) != nil {
		t.Error("tables from nothing")
	}
}

// Without a response, with 8-bit frames, one frame or none, there are plain mixes
// or no pictures, and no panic.
func TestWithoutResponse(t *testing.T) {
	fs, _ := small(t)
	m, ok := New(&response.Result{}, fs).At(0.5)
	if !ok || m.Response || m.Exact {
		t.Fatalf("%+v", m)
	}
	out := make([]uint16, 3)
	m.Codes(out, []uint16{20000, 20000, 20000}, []uint16{40000, 40000, 40000})
	for _, v := range out {
		if v < 29900 || v > 30100 {
			t.Errorf("the plain mix of 20000 and 40000 is %d", v)
		}
	}
	if _, ok := New(nil, nil).At(0); ok {
		t.Error("a picture of no roll")
	}
	if m, ok := New(nil, fs[:1]).At(-2); !ok || !m.Exact {
		t.Error("one frame is its own rung")
	}
	if New(nil, fs).Lay(out, 1, 1, 7, plain) || New(nil, fs).Lay(out, 5, 5, 0, plain) {
		t.Error("laid what is not there")
	}
	big := make([]uint16, 12)
	New(nil, fs).Lay(big, 2, 2, 0, f64.Aff3{math.NaN(), 0, 0, 0, 1, math.Inf(1)})
}

// A picture at the window's size: tables anew and mix to sRGB, as in gliding.
func BenchmarkPicture1600x1000(b *testing.B) {
	fs, res := small(b)
	r := New(res, fs)
	const w, h = 1600, 1000
	lower, upper, dst := make([]uint16, 3*w*h), make([]uint16, 3*w*h), make([]uint8, 4*w*h)
	k := 420.0 / w
	view := f64.Aff3{k, 0, 0, 0, k, 0}
	r.Lay(lower, w, h, 2, view)
	r.Lay(upper, w, h, 3, view)
	stop := 0.0
	for b.Loop() {
		if stop += 0.037; stop >= 1 {
			stop = 0.01
		}
		m, ok := r.At(stop)
		if !ok {
			b.Fatal("no mix")
		}
		m.RGBA(dst, lower, upper)
	}
}

func BenchmarkCodes1600x1000(b *testing.B) {
	fs, res := small(b)
	r := New(res, fs)
	const w, h = 1600, 1000
	lower, upper, dst := make([]uint16, 3*w*h), make([]uint16, 3*w*h), make([]uint16, 3*w*h)
	k := 420.0 / w
	view := f64.Aff3{k, 0, 0, 0, k, 0}
	r.Lay(lower, w, h, 2, view)
	r.Lay(upper, w, h, 3, view)
	m, _ := r.At(0.4)
	for b.Loop() {
		m.Codes(dst, lower, upper)
	}
}

func BenchmarkAt(b *testing.B) {
	fs, res := small(b)
	r := New(res, fs)
	for b.Loop() {
		r.At(0.4)
	}
}
