package response

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// Swapped labels are named as swapped, a single wrong one is flagged, and the
// others keep their measured stops.
func TestWrongLabels(t *testing.T) {
	t.Parallel()
	swaps := [][2]float64{{-1, 0}, {-3, 4}, {0, 3}, {1, 2}} // TestCases has other neighbours
	if !all() {
		swaps = swaps[:2]
	}
	for i, swap := range swaps {
		o := simulate.Options{Seed: uint64(i), W: 420, H: 360, Swap: swap, ShutterError: 0.08}
		r := shoot(t, randomScene(600, 500, uint64(20+i)), stockFor(i), o, nil)
		res := r.fit(t, Options{})
		if res.Scan.Fixed == nil || !*res.Scan.Fixed {
			t.Errorf("swap %v: not called fixed: %s", swap, res.Scan.Reason)
		}
		if len(res.Labels) != 2 {
			t.Fatalf("swap %v: findings %+v", swap, res.Labels)
		}
		for _, f := range res.Labels {
			if f.Swapped < 0 || f.Label != swap[0] && f.Label != swap[1] {
				t.Errorf("swap %v: %+v", swap, f)
			}
		}
		t.Log(res.Labels[0].Text)
		for j, q := range res.Frames {
			if q.MeasuredStop == nil || math.Abs(*q.MeasuredStop-r.truth[j].Exposure) > 0.15 {
				t.Errorf("swap %v, %+g: %v, true %+.2f", swap, r.frames[j].Stop, q.MeasuredStop, r.truth[j].Exposure)
			}
		}
	}
	o := simulate.Options{Seed: 8, W: 420, H: 360}
	r := shoot(t, randomScene(600, 500, 31), simulate.Negative(), o, nil)
	r.frames[6].Stop = 2.2 // shot at +3
	r.frames[1].StopKnown = false
	res := r.fit(t, Options{})
	if len(res.Labels) != 1 || res.Labels[0].Frame != 6 || res.Labels[0].Swapped != -1 {
		t.Errorf("a wrong label: %+v", res.Labels)
	}
	for j, q := range res.Frames {
		if q.MeasuredStop == nil || math.Abs(*q.MeasuredStop-r.truth[j].Exposure) > 0.05 {
			t.Errorf("frame %d: %v, true %+.2f", j, q.MeasuredStop, r.truth[j].Exposure)
		}
	}
}

// Negatives that were not turned positive, and labels that run the wrong way, are
// called neither fixed nor corrected.
func TestReversed(t *testing.T) {
	t.Parallel()
	for i, name := range []string{"labels", "negatives"} {
		for k := range 2 {
			if k != i && !all() {
				continue
			}
			o := simulate.Options{Seed: uint64(k + 5), W: 420, H: 360}
			var invert func(j int, p *scan.Pixels)
			if name == "negatives" {
				invert = func(_ int, p *scan.Pixels) {
					for n, v := range p.Pix {
						p.Pix[n] = 65535 - v
					}
				}
			}
			r := shoot(t, randomScene(600, 500, uint64(50+2*i+k)), stockFor(k), o, invert)
			if name == "labels" {
				for j := range r.frames {
					r.frames[j].Stop *= -1
				}
			}
			res := r.fit(t, Options{})
			if !res.Scan.Reversed || res.Scan.Fixed != nil || res.Curve != nil || !strings.Contains(res.Reason, "darken") {
				t.Errorf("%s, stock %d: %+v, %s", name, k, res.Scan, res.Reason)
			}
			for j, q := range res.Frames {
				if q.MeasuredStop != nil || q.Reason == "" {
					t.Errorf("%s, stock %d, frame %d: measured %v, %q", name, k, j, q.MeasuredStop, q.Reason)
				}
			}
		}
	}
}

// What cannot be told is said, and nothing panics.
func TestNothingToTell(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	o := simulate.Options{W: 300, H: 260, Stops: []float64{-1, 0, 1}}
	r := shoot(t, randomScene(400, 340, 5), simulate.Negative(), o, nil)
	said := func(name string, frames []Frame, base int) {
		t.Helper()
		res, err := Fit(ctx, frames, base, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		for j, q := range res.Frames {
			if q.MeasuredStop == nil && q.Reason == "" {
				t.Errorf("%s: frame %d has neither stop nor reason", name, j)
			}
		}
		if res.Curve == nil && res.Reason == "" {
			t.Errorf("%s: neither curve nor reason", name)
		}
		if res.Scan.Reason == "" {
			t.Errorf("%s: nothing said of the scans", name)
		}
		t.Logf("%s: %s | %s", name, res.Reason, res.Scan.Reason)
	}
	said("one frame", r.frames[:1], 0)
	said("two frames", r.frames[:2], 1)
	var unlabelled, lost, same, equal []Frame
	for _, f := range r.frames {
		g := f
		g.StopKnown = false
		unlabelled = append(unlabelled, g)
		g = f
		g.Map = f64.Aff3{1, 0, 1e6, 0, 1, 0}
		lost = append(lost, g)
		g = f
		g.Stop = 1
		equal = append(equal, g)
		g = r.frames[1]
		g.Stop = f.Stop
		same = append(same, g)
	}
	said("no labels", unlabelled, 1)
	said("nothing in common", lost, 1)
	said("equal labels", equal, 1)
	said("one exposure", same, 1)
	said("nothing read", []Frame{{}, {}}, 0)
	for _, base := range []int{-1, 3} {
		if _, err := Fit(ctx, r.frames, base, Options{}); err == nil {
			t.Errorf("base %d was taken", base)
		}
	}
	stop, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := Fit(stop, r.frames, 1, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Workers make no difference.
func TestWorkers(t *testing.T) {
	r := shoot(t, randomScene(400, 340, 6), simulate.Reversal(), simulate.Options{W: 300, H: 260}, nil)
	a, b := r.fit(t, Options{Workers: 1}), r.fit(t, Options{Workers: 3})
	for j := range a.Frames {
		x, y := a.Frames[j].MeasuredStop, b.Frames[j].MeasuredStop
		if (x == nil) != (y == nil) || x != nil && *x != *y {
			t.Errorf("frame %d: %v and %v", j, x, y)
		}
	}
}

// Frames of noise, flat codes, odd sizes and wild maps must not panic.
func FuzzFit(f *testing.F) {
	for seed := range uint64(6) {
		f.Add(seed, uint8(seed), uint8(3+seed))
	}
	f.Fuzz(func(t *testing.T, seed uint64, kind, count uint8) {
		rng := rand.New(rand.NewPCG(seed, 1))
		var frames []Frame
		for range 1 + count%6 {
			w, h := 1+rng.IntN(70), 1+rng.IntN(70)
			bits := 8 * (1 + rng.IntN(2))
			p := &scan.Pixels{Header: scan.Info{Path: "x", Width: w, Height: h, Bits: bits, Channels: 3}, Pix: make([]uint16, 3*w*h)}
			for i := range p.Pix {
				switch kind % 4 {
				case 0:
					p.Pix[i] = uint16(rng.IntN(1 << bits))
				case 1:
					p.Pix[i] = uint16(1<<bits - 1)
				case 2:
					p.Pix[i] = uint16(i * 97 % (1 << bits))
				}
			}
			l, err := measure.NewLook(context.Background(), p, measure.Options{})
			if err != nil {
				return
			}
			m := f64.Aff3{1, 0, 0, 0, 1, 0}
			if rng.IntN(3) == 0 {
				for i := range m {
					m[i] = rng.NormFloat64() * math.Pow(10, float64(rng.IntN(5)-1))
				}
			}
			if rng.IntN(9) == 0 {
				m[rng.IntN(6)] = math.NaN()
			}
			frames = append(frames, Frame{Look: l, Stop: float64(rng.IntN(9)-4) / 3, StopKnown: rng.IntN(5) > 0, Map: m})
		}
		g := image.Rect(rng.IntN(99)-9, -3, 50, rng.IntN(60))
		res, err := Fit(context.Background(), frames, rng.IntN(len(frames)), Options{Grey: &g})
		if err != nil {
			t.Fatal(err)
		}
		res.HeadroomOf([3]float64{100, math.NaN(), -4})
		res.FlatCodes(0)
	})
}

// Eight frames at the size of a preview.
func BenchmarkFit(b *testing.B) {
	r := shoot(b, sceneFor(b, 0), simulate.Negative(), simulate.Options{W: 2040, H: 1748, ShutterError: 0.05, MaxShift: 0.004, MaxRotation: 0.1}, nil)
	for b.Loop() {
		r.fit(b, Options{})
	}
}
