package response

import (
	"context"
	"math"
	"strings"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film/measure"
)

// foreign is a roll of the adversary, which shares no code with the program's own
// simulator, laid by its own truth.
func foreign(t testing.TB, r adversary.Roll) []Frame {
	t.Helper()
	r.Size, r.Grain, r.Blur, r.ReadSD = 600, 0.02, [2]float64{0.8, 1.4}, 1.5e-4
	var frames []Frame
	for i, s := range r.Stops {
		area := r.Gate()
		l, err := measure.NewLook(context.Background(), r.Frame(i).Pixels, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		frames = append(frames, Frame{Look: l, Stop: s, StopKnown: true, Map: r.Map(i)})
	}
	return frames
}

var bracket8 = []float64{-3, -2, -1, 0, 1, 2, 3, 4}

// What the scanner did is told as what it is, and what it did not do is not told. On plain
// film and with one frame's blue on slide film TestCases holds the same but for the
// figures, which are held on request.
func TestScanner(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	blue := make([][3]float64, 8)
	blue[4] = [3]float64{1, 1, 0.9}
	films := adversary.Stocks()
	for _, x := range []struct {
		name  string
		roll  adversary.Roll
		fixed bool
		flare float64
		named int // the one frame that differs; -1: none
		more  bool
	}{
		{"plain slide", adversary.Roll{Film: films["slide-dyes"], Scene: "brick", Seed: 1}, true, 0, -1, true},
		{"plain negative", adversary.Roll{Film: films["negative-dyes"], Scene: "foliage", Seed: 2}, true, 0, -1, true},
		{"flare of the lens", adversary.Roll{Film: films["slide-dyes"], Scene: "sky", Seed: 3, Flare: 0.015}, true, 0, -1, false},
		{"stray light, slide", adversary.Roll{Film: films["slide-dyes"], Scene: "brick", Seed: 4, Stray: 0.01}, true, 0.01, -1, false},
		{"one frame's blue, slide", adversary.Roll{Film: films["slide-dyes"], Scene: "brick", Seed: 5, Gains: blue}, false, 0, 4, true},
		{"one frame's blue, negative", adversary.Roll{Film: films["negative-dyes"], Scene: "foliage", Seed: 6, Gains: blue}, false, 0, 4, false},
	} {
		if x.more && !all() {
			continue
		}
		x.roll.Stops = bracket8
		r, err := Fit(context.Background(), foreign(t, x.roll), 3, Options{})
		if err != nil {
			t.Fatal(err)
		}
		words := r.Scan.Reason + " " + strings.Join(r.Scan.Findings, " ")
		if r.Scan.Fixed == nil || *r.Scan.Fixed != x.fixed {
			t.Errorf("%s: fixed is not told as %v: %s", x.name, x.fixed, words)
			continue
		}
		if x.flare > 0 && (r.Scan.Flare == nil || math.Abs(*r.Scan.Flare-x.flare) > 0.002) || x.flare == 0 && r.Scan.Flare != nil {
			t.Errorf("%s: stray light %v, true %g", x.name, r.Scan.Flare, x.flare)
		}
		for j, q := range r.Frames {
			if x.fixed && (q.MeasuredStop == nil || math.Abs(*q.MeasuredStop-bracket8[j]) > 0.036) {
				t.Errorf("%s: frame at %+g: %v", x.name, bracket8[j], q.MeasuredStop)
			}
		}
		if x.named >= 0 {
			most, at, channel := 0.0, -1, ""
			for _, g := range r.Scan.Gains {
				for c, v := range map[string]float64{"R": g.R, "G": g.G, "B": g.B} {
					if math.Abs(v) > most {
						most, at, channel = math.Abs(v), g.Frame, c
					}
				}
			}
			if at != x.named || channel != "B" || !strings.Contains(words, "one differs from the others") {
				t.Errorf("%s: frame %d, %s: %s", x.name, at, channel, words)
			}
		}
	}
}
