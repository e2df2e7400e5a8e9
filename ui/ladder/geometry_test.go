package ladder

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Stops must stand at their true distance, whatever the frames and the height.
func TestStopsStandTrue(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		n := 1 + rng.IntN(22)
		stops := make([]float64, n)
		for i := range stops {
			stops[i] = math.Round(rng.Float64()*36-18) / 3
		}
		slices.Sort(stops)
		view := 120 + rng.Float64()*1500
		g := place(stops, view, rng.Float64()*3000-500)
		if g.content < g.view || g.offset < 0 || g.offset > g.content-g.view+1e-9 {
			t.Fatalf("%v in %.0f: content %.1f view %.1f offset %.1f", stops, view, g.content, g.view, g.offset)
		}
		for i, s := range g.slots {
			if s.top < -1e-6 || s.top+s.height > g.content+1e-6 {
				t.Fatalf("%v in %.0f: frame %d at %.1f+%.1f outside 0..%.1f", stops, view, i, s.top, s.height, g.content)
			}
			if i > 0 && stops[i] != stops[i-1] && s.top+s.height > g.slots[i-1].top-1 {
				t.Fatalf("%v in %.0f: rungs %d and %d overlap", stops, view, i-1, i)
			}
			if off := math.Abs(g.rowY(stops[i]) - g.y(stops[i])); off > farthest+1e-6 {
				t.Fatalf("%v in %.0f: rung %d stands %.1f from its stop", stops, view, i, off)
			}
			if s.height < minRung-2 {
				t.Fatalf("%v in %.0f: rung %d is %.1f high", stops, view, i, s.height)
			}
			if got := g.at(s.top + s.height/2 - g.offset); got != i {
				t.Fatalf("%v: the middle of rung %d belongs to %d", stops, i, got)
			}
		}
		for range 5 {
			a, b := rng.Float64()*8-4, rng.Float64()*8-4
			if d := (g.y(a) - g.y(b)) + (a-b)*g.perStop; math.Abs(d) > 1e-6 {
				t.Fatalf("distance of %v and %v is off by %v", a, b, d)
			}
			if back := g.stop(g.y(a)); math.Abs(back-a) > 1e-9 {
				t.Fatalf("stop(y(%v)) = %v", a, back)
			}
			k := rng.IntN(n)
			g.offset = g.reveal(k, stops[k])
			if s := g.slots[k]; s.height+8 <= g.view && (s.top-g.offset < -1e-6 || s.top+s.height-g.offset > g.view+1e-6) {
				t.Fatalf("%v in %.0f: revealed rung stands at %.1f, %.1f high", stops, view, s.top-g.offset, s.height)
			}
			if y := g.rowY(stops[k]); math.Abs(y-(g.rungs[slices.Index(distinct(stops), stops[k])].middle-g.offset)) > 1e-6 {
				t.Fatalf("%v in %.0f: stop %v stands at %.1f among the rungs", stops, view, stops[k], y)
			}
		}
	}
}

// Eight whole stops in an ordinary window need no scrolling and leave no rung cut.
func TestEightFramesFitAnOrdinaryWindow(t *testing.T) {
	g := place([]float64{-3, -2, -1, 0, 1, 2, 3, 4}, 600, 0)
	if g.content != 600 {
		t.Errorf("content is %.1f high in a view of 600", g.content)
	}
	if g.rung < 60 {
		t.Errorf("rungs are only %.1f high", g.rung)
	}
}

// Frames that stand closer than their rungs are high are moved apart a little, around
// their stops, and do not make the ladder longer than all rungs together need.
func TestCloseFramesAreMovedApart(t *testing.T) {
	stops := []float64{-7, -6.667, -6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 5.5}
	g := place(stops, 700, 0)
	if g.content != 700 {
		t.Errorf("15 frames are %.0f high in a view of 700", g.content)
	}
	for i, s := range g.slots {
		if off := math.Abs(s.top + s.height/2 - g.y(stops[i])); off > minRung {
			t.Errorf("frame %d at %+.2f stands %.0f from its stop", i, stops[i], off)
		}
	}
	g = place(stops, 900, 0) // room for most
	middle := g.slots[8]
	if off := middle.top + middle.height/2 - g.y(0); math.Abs(off) > 1 {
		t.Errorf("a frame with room around it stands %.1f from its stop", off)
	}
}

// Frames a hair apart, as logged exposures are, do not stretch the ladder without end.
func TestFramesAHairApart(t *testing.T) {
	g := place([]float64{-3, -0.001, 0, 0.001, 0.002, 3}, 600, 0)
	if g.content > 6000 {
		t.Errorf("six frames are %.0f high", g.content)
	}
	for i := 1; i < len(g.slots); i++ {
		if s := g.slots[i]; s.top+s.height > g.slots[i-1].top-1 {
			t.Errorf("rungs %d and %d overlap", i-1, i)
		}
	}
}
