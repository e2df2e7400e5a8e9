package session

import (
	"image"
	"math"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/show/render"
)

// Detail returns the centre of the detail that the ladder shows of every frame, in
// full-resolution pixels of the base frame; ok is false where none was chosen.
func (s *State) Detail() (centre image.Point, ok bool) {
	if s.detail == nil || s.Empty() {
		return image.Point{}, false
	}
	return *s.detail, true
}

// ChooseDetail gives the next click or drag on a picture the purpose to choose the detail
// that the ladder shows; again leaves it at what was chosen before.
type ChooseDetail struct{}

func (ChooseDetail) apply(s *State) Effect {
	if s.Empty() {
		return Effect{}
	}
	if s.picking == PickDetail {
		return Pick{}.apply(s)
	}
	return Pick{PickDetail}.apply(s)
}

// SetDetail chooses the detail around a pixel of a frame's scan. The ladder follows a hand
// that drags; Done: it was let go, and the next click is for nothing of its own.
type SetDetail struct {
	File string
	At   image.Point
	Done bool
}

func (c SetDetail) apply(s *State) (e Effect) {
	if c.Done && s.picking == PickDetail {
		s.picking = PickFrame
		e.Redraw = View
	}
	i := s.Index(c.File)
	if i < 0 {
		return e
	}
	at, ok := s.onBase(i, c.At)
	if !ok {
		e.Hint = "The base frame is not read yet: a detail is chosen by it"
		return e
	}
	if s.detail == nil || *s.detail != at {
		s.detail = &at
		e.Redraw |= View
	}
	return e
}

// NoDetail shows whole frames on the ladder again.
type NoDetail struct{}

func (NoDetail) apply(s *State) Effect {
	if s.detail == nil && s.picking != PickDetail {
		return Effect{}
	}
	s.detail = nil
	if s.picking == PickDetail {
		s.picking = PickFrame
	}
	return Effect{Redraw: View}
}

// onBase returns the pixel of the base frame's image area that shows what a pixel of the
// i-th frame shows; a place beside the area is brought to its edge. ok is false while the
// base frame is not read.
func (s *State) onBase(i int, at image.Point) (image.Point, bool) {
	b := s.Base()
	if b < 0 || s.Frame(b).Look == nil || s.Frame(b).Look.Area.Empty() {
		return at, false
	}
	area := s.Frame(b).Look.Area
	if i != b && s.Frame(i).Look != nil {
		m := render.AreaMap(area, s.Frame(i).Look.Area) // as the pictures lie until they are registered
		if known := s.Frame(i).Map; known != nil {
			m = *known
		}
		if back, ok := affine.Inverse(m); ok {
			x, y := affine.At(back, float64(at.X)+0.5, float64(at.Y)+0.5)
			at = image.Pt(int(math.Floor(x)), int(math.Floor(y)))
		}
	}
	at.X = min(max(at.X, area.Min.X), area.Max.X-1)
	at.Y = min(max(at.Y, area.Min.Y), area.Max.Y-1)
	return at, true
}
