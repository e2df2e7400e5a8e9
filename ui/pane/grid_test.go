package pane

import (
	"slices"
	"testing"
)

// The order in which a grid was asked for stays while frames are still being read and
// handed over again; a frame that goes leaves its place.
func TestGridKeepsItsOrder(t *testing.T) {
	s := newStage(t, 4, 1, 600, 400)
	s.g.SetFrames(s.slots)
	s.g.ShowGrid(3, 2, 1, 0)
	s.g.SetFrames(s.slots) // read on
	if got := s.g.InSight(); !slices.Equal(got, []int{3, 2, 1, 0}) {
		t.Errorf("in sight %v", got)
	}
	s.g.SetFrames(append(s.slots[:1:1], s.slots[2:]...))
	if got := s.g.InSight(); !slices.Equal(got, []int{3, 2, 0}) {
		t.Errorf("with frame 1 gone, in sight %v", got)
	}
}
