package session

import (
	"errors"
	"fmt"
	"image"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
)

// Placing is the work of laying one frame on the base frame by hand, under a difference
// view: where both agree the picture is plain grey.
type Placing struct {
	File string
	Put  roll.Placement
	Map  *f64.Aff3 // base full-resolution px -> the frame's

	base, frame *measure.Look
	before      Layout
}

// Placing returns the frame that is being placed, nil for none.
func (s *State) Placing() *Placing { return s.placing }

// Words returns where the frame stands that is being placed.
func (p *Placing) Words(stop float64) string {
	return fmt.Sprintf("%s against the base frame:  right %s px   down %s px   turned %s°.  %s", stops.Label(stop), number.Signed(p.Put.DX, 2), number.Signed(p.Put.DY, 2), number.Signed(p.Put.Rotation, 3),
		"Placing by hand: arrow keys move by ¼ px (with Shift 4 px), comma and full stop turn by 0.01° (with Shift 0.1°), Return keeps, Escape leaves, Delete goes back to what was found.")
}

// StartPlacing begins to place the frame under the marker.
type StartPlacing struct{}

func (StartPlacing) apply(s *State) Effect {
	i, b := s.Current(), s.Base()
	if i < 0 || b < 0 {
		return Effect{}
	}
	base, frame := s.Frame(b).Look, s.Frame(i).Look
	switch {
	case i == b:
		return refuse("Nothing to place", errors.New("the base frame is what the others are placed on; move the marker to another frame"))
	case base == nil || frame == nil || s.reading.on:
		return refuse("Nothing to place yet", errors.New("the frame and the base frame must have been read; wait until the reading is done"))
	}
	g := s.Frame(i).Registration
	p := &Placing{File: s.roll.Frames[i].File, base: base, frame: frame, before: s.layout,
		Put: roll.Placement{DX: g.DX, DY: g.DY, Rotation: g.Rotation, Scale: g.Scale}}
	if p.Put.Scale == 0 {
		p.Put.Scale = 1
	}
	s.placing, s.layout = p, One
	return Nudge{}.apply(s).and(View)
}

// Nudge moves the frame that is being placed by full-resolution pixels and degrees.
type Nudge struct{ Right, Down, Turn float64 }

func (c Nudge) apply(s *State) Effect {
	if s.placing == nil {
		return Effect{}
	}
	p := *s.placing
	p.Put.DX, p.Put.DY, p.Put.Rotation = p.Put.DX+c.Right, p.Put.DY+c.Down, p.Put.Rotation+c.Turn
	p.Map = film.MapOf(film.ByHand(p.Put), p.base, p.frame)
	s.placing = &p
	return Effect{Redraw: Placed | Notices}
}

// EndPlacing ends the placing of a frame.
type EndPlacing struct{ How PlacingEnd }

// PlacingEnd is a way to end.
type PlacingEnd int

// The ways.
const (
	Leave   PlacingEnd = iota // as it was before
	Keep                      // where it lies now
	Unplace                   // where the program found it
)

func (c EndPlacing) apply(s *State) Effect {
	p := s.placing
	if p == nil {
		return Effect{}
	}
	s.placing, s.layout = nil, p.before
	e := Effect{Redraw: View | Placed | Notices}
	if i := s.Index(p.File); i >= 0 && c.How != Leave {
		e.Redraw |= s.edited(Frames|Marks, "placing a frame", func(r *roll.Roll) {
			r.Frames[i].Placed = nil
			if c.How == Keep {
				r.Frames[i].Placed = &p.Put
			}
		}).Redraw
	}
	return e
}

// Picking is what the next click on a picture is for.
type Picking int

// What it may be for.
const (
	PickFrame   Picking = iota // the marker goes there
	PickPatch                  // a patch is dropped there
	PickNeutral                // what is there becomes neutral
	PickDetail                 // the ladder shows it of every frame
)

// Picking returns what the next click on a picture is for, and the words that ask for it.
func (s *State) Picking() (p Picking, please string) {
	return s.picking, [...]string{"", "Click on the place of the new patch; Escape leaves.",
		"Click on something that is neutral grey in the scene; Escape leaves.",
		"Click or drag on a picture: what is there is shown at 1:1 of every frame on the ladder; Escape leaves."}[s.picking]
}

// Pick gives the next click on a picture a purpose.
type Pick struct{ For Picking }

func (c Pick) apply(s *State) Effect {
	s.picking = c.For
	return Effect{Redraw: View}
}

// Click is a click on a picture, at a pixel of the frame's scan.
type Click struct {
	File string
	At   image.Point
}

func (c Click) apply(s *State) Effect {
	i := s.Index(c.File)
	if i < 0 {
		return Effect{}
	}
	purpose := s.picking
	s.picking = PickFrame
	switch purpose {
	case PickPatch:
		return s.addPatch(i, float64(c.At.X), float64(c.At.Y)).and(View)
	case PickNeutral:
		return s.pickNeutral(i, c.At).and(View)
	case PickDetail:
		return SetDetail{File: c.File, At: c.At, Done: true}.apply(s).and(View)
	}
	return s.goTo(i)
}
