package response

import (
	"context"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film/measure"
)

// manualCases are the first column of the manual's table.
func manualCases(t *testing.T) (out []Case) {
	t.Helper()
	page, err := os.ReadFile("../../../assets/manual/faults.md")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(page)) {
		if cells := strings.Split(line, "|"); len(cells) == 6 && !strings.HasPrefix(cells[1], "---") && strings.TrimSpace(cells[1]) != "case" {
			out = append(out, Case(strings.TrimSpace(cells[1])))
		}
	}
	return out
}

// bent returns the frames of a roll, of which one went through a curve of its own, on codes
// of 0..1 by channel.
func bent(t *testing.T, frames []Frame, r adversary.Roll, at int, curve func(c int, v float64) float64) []Frame {
	t.Helper()
	frames = slices.Clone(frames)
	r.Size, r.Grain, r.Blur, r.ReadSD = 600, 0.02, [2]float64{0.8, 1.4}, 1.5e-4
	p := r.Frame(at).Pixels
	for i, v := range p.Pix {
		p.Pix[i] = uint16(65535*curve(i%3, float64(v)/65535) + 0.5)
	}
	area := r.Gate()
	l, err := measure.NewLook(context.Background(), p, measure.Options{Area: &area})
	if err != nil {
		t.Fatal(err)
	}
	frames[at].Look = l
	return frames
}

// Every row of the manual's table of cases is reached by a roll, and every roll by the
// row that it was made for; what is told names the frame and says what to do.
func TestCases(t *testing.T) {
	films := adversary.Stocks()
	plain := func(drift ...float64) adversary.Roll {
		return adversary.Roll{Film: films["slide-dyes"], Scene: "brick", Seed: 81, Stops: bracket8, Drift: drift}
	}
	// Both are made once: what is changed is labels, or one frame.
	straight := sync.OnceValue(func() []Frame { return foreign(t, plain()) })
	drifting := sync.OnceValue(func() []Frame { return foreign(t, plain(0.05, -0.04, 0.06, 0, -0.05, 0.03, -0.06, 0.04)) })
	relabelled := func(change func(f []Frame)) func() []Frame {
		return func() []Frame {
			frames := slices.Clone(drifting())
			change(frames)
			return frames
		}
	}
	gains := func(g func(s float64) [3]float64) adversary.Roll {
		r := plain()
		for _, s := range bracket8 {
			r.Gains = append(r.Gains, g(s))
		}
		return r
	}
	seen, tried := map[Case]bool{}, 0
	for _, x := range []struct {
		want Case
		roll func() []Frame
		// about is what must stand in what is told, not what must not.
		about, not string
		more       bool // another roll of a case that has one: on request
	}{
		{FixedCase, relabelled(func([]Frame) {}), "explains all frames", "corrected", false},
		{SameExposure, relabelled(func(f []Frame) { f[5].Look, f[6].Look = f[4].Look, f[4].Look }), "labels +1, +2 and +3", "corrected", false},
		{SwappedLabels, relabelled(func(f []Frame) { f[1].Stop, f[5].Stop = f[5].Stop, f[1].Stop }), "Exchange the two labels", "corrected", false},
		{SwappedLabels, relabelled(func(f []Frame) { f[4].Stop, f[5].Stop = f[5].Stop, f[4].Stop }), "Exchange the two labels", "corrected", true},
		{WholeStep, relabelled(func(f []Frame) { f[5].Stop = 3 }), "about a whole stop off", "corrected", false},
		{RowOff, relabelled(func(f []Frame) { f[5].Stop, f[6].Stop, f[7].Stop = 3, 4, 5 }), "Look at the log from", "corrected", false},
		{RowOff, relabelled(func(f []Frame) { f[0].Stop, f[1].Stop = -4, -3 }), "Look at the log from", "corrected", true},
		{BetweenSteps, relabelled(func(f []Frame) { f[5].Stop = 2.55 }), "the measured stop stands", "corrected", false},
		{MostLabels, func() []Frame { return foreign(t, plain(0.6, -0.6, 0.6, 0, -0.6, 0.7, -0.7, 0.6)) }, "most labels", "corrected", false},
		{DarkensCase, relabelled(func(f []Frame) {
			for j := range f {
				f[j].Stop *= -1
			}
		}), "not turned positive", "corrected", false},
		{AlikeCase, func() []Frame {
			r := plain()
			for _, s := range bracket8 {
				r.Drift = append(r.Drift, -0.95*s)
			}
			return foreign(t, r)
		}, "far less than their labels say", "", false},
		{StretchedCase, func() []Frame {
			o := goodOptions(741)
			o.AutoCorrect = true
			return shoot(t, sceneFor(t, 51), simulate.Reversal(), o, nil).frames
		}, "same code values", "", false},
		{ChannelsCase, func() []Frame {
			return foreign(t, gains(func(s float64) [3]float64 {
				if s == 1 {
					return [3]float64{1, 1, 0.9}
				}
				return [3]float64{1, 1, 1}
			}))
		}, "one differs from the others", "", false},
		{FollowingCase, func() []Frame {
			r := gains(func(s float64) [3]float64 { return [3]float64{1 - 0.065*s, 1 - 0.065*s, 1 - 0.065*s} })
			return foreign(t, r)
		}, "Ask the lab", "corrected frames one by one", false},
		{ChannelsCase, func() []Frame { // a good third of the stops is taken back
			return foreign(t, gains(func(s float64) [3]float64 { g := math.Exp2(-0.35 * s); return [3]float64{g, g, g} }))
		}, "cannot be told", "one by one", true},
		{BentCase, func() []Frame {
			return bent(t, straight(), plain(), 5, func(c int, v float64) float64 {
				if c == 2 {
					return v * v * (3 - 2*v)
				}
				return v
			})
		}, "not scanned alike", "", false},
		{StrayCase, func() []Frame {
			r := plain()
			r.Stray = 0.01
			return foreign(t, r)
		}, "allowed for", "corrected", false},
		{OpenCase, func() []Frame {
			return bent(t, straight(), plain(), 5, func(_ int, v float64) float64 { return 0.75*v + 0.25*v*v*(3-2*v) })
		}, "cannot be told", "corrected", false},
		{LittleCase, func() []Frame {
			return bent(t, straight(), plain(), 5, func(c int, v float64) float64 {
				if c == 2 && v > 0.6 && v < 0.75 {
					return v * 0.85
				}
				return v
			})
		}, "Single tones", "corrected", false},
	} {
		if x.more && !all() {
			continue
		}
		t.Run(string(x.want), func(t *testing.T) {
			frames := x.roll()
			r, err := Fit(context.Background(), frames, slices.IndexFunc(frames, func(f Frame) bool { return f.Stop == 0 }), Options{})
			if err != nil {
				t.Fatal(err)
			}
			words := r.Scan.Reason + " " + strings.Join(r.Scan.Findings, " ")
			reached := r.Scan.Case == x.want
			for _, f := range r.Labels {
				reached = reached || f.Case == x.want
				words += " " + f.Text
			}
			if !reached || !strings.Contains(words, x.about) || x.not != "" && strings.Contains(words, x.not) {
				t.Errorf("told as %q, %s", r.Scan.Case, words)
			}
			t.Log(words)
			seen[x.want] = true
			for j := range frames {
				if same := x.want == SameExposure && j >= 4 && j <= 6; x.want == FixedCase || x.want == SameExposure {
					if r.Contradicted(j) != same {
						t.Errorf("frame %d: contradicted is %v; %+v", j, !same, r.Labels)
					}
				}
			}
			if x.want == SameExposure && (len(r.Labels) == 0 || !r.Labels[0].Repeated) {
				t.Errorf("not told as repeated: %+v", r.Labels)
			}
		})
		tried++
	}
	if len(seen) == 0 || len(seen) < tried/2 {
		return // some were asked for
	}
	for _, c := range manualCases(t) {
		if !seen[c] {
			t.Errorf("the manual's case %q is reached by no roll", c)
		}
		delete(seen, c)
	}
	for c := range seen {
		t.Errorf("the case %q is not in the manual", c)
	}
}
