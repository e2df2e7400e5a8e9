package ui

import (
	"slices"
	"testing"
)

func TestOrdering(t *testing.T) {
	// Frame 2 has the least exposure, frame 1 the most.
	o := newOrdering([]float64{0, 1, -2, -1}, []float64{0, -1, 2, 1})
	if !slices.Equal(o.from, []int{2, 3, 0, 1}) || o.base != 2 {
		t.Fatalf("begins with %v, base %d", o.from, o.base)
	}
	o.turn()
	if !slices.Equal(o.at, []float64{0, -1, 2, 1}) {
		t.Errorf("turned round: %v", o.at)
	}
	o.turn()
	if !slices.Equal(o.at, []float64{0, 1, -2, -1}) {
		t.Errorf("turned twice: %v", o.at)
	}
	o.fill(0.5)
	if !slices.Equal(o.at, []float64{0, 0.5, -1, -0.5}) {
		t.Errorf("by half stops: %v", o.at)
	}
	o.setBase(0)
	if !slices.Equal(o.at, []float64{1, 1.5, 0, 0.5}) {
		t.Errorf("the lowest is the base: %v", o.at)
	}
	o.setBase(-1)
	o.setBase(4)
	o.turn() // the base stays the base
	if !slices.Equal(o.at, []float64{-1, -1.5, 0, -0.5}) {
		t.Errorf("turned round: %v", o.at)
	}
	p := newOrdering([]float64{-0.5, 0, 1}, []float64{0.5, 0, -1})
	p.setBase(2)
	if !slices.Equal(p.at, []float64{-1.5, -1, 0}) {
		t.Errorf("steps as they were, another base: %v", p.at)
	}
}
