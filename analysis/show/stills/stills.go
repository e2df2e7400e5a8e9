// Package stills draws the frames of a roll as the stills of a film about them: every
// frame, at every grade of salvage that is asked for, of one size and with the same part of
// the scene in the same place, numbered in order; on request with pictures between the
// frames, for a sweep without steps.
package stills

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/between"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
)

// Sizes of stills in pixels, and how many there may be.
const (
	Width, Height = 3840, 2160
	MinSide       = 360
	MaxSide       = 8192
	MaxBetween    = 240
	MaxStills     = 20000
)

// Options say what is drawn. The zero value is every frame as scanned, 3840 x 2160 pixels,
// filled, without a label.
type Options struct {
	W, H      int              // pixels; 0 is Width, Height
	Grades    []criteria.Grade // in order, "" as scanned; none is as scanned alone
	Corrected bool             // with the roll's correction of all frames
	Between   int              // pictures between two neighbouring frames
	Place     Place
	Label     Label
}

// Place is the part of the scene that all stills show.
type Place struct {
	Whole bool    // the whole image area, with surround beside it; else the still is filled
	X, Y  float64 // its middle, 0..1 across and down the image area; used with Zoom
	Zoom  float64 // pixels of the still for one of the base frame's scan; 0: as large as fills
}

// Says is what a label tells.
type Says int

// What labels tell: nothing, the stop and how the frame is shown, or besides what it comes
// to: the verdict and the figure that decided.
const (
	Nothing Says = iota
	Stop
	Verdict
)

// Label is the small label of a still.
type Label struct {
	Says   Says
	Corner Corner
}

// Corner is where a label stands.
type Corner int

// The corners.
const (
	BottomLeft Corner = iota
	BottomRight
	TopLeft
	TopRight
)

// Still is one picture of a set.
type Still struct {
	Number int // from 1, in the order of grades and in it from under to over
	Name   string
	Stop   float64
	Grade  criteria.Grade // "" as scanned
	Frame  int            // index; -1 between frames

	Label string // the stop, as it is spelled on the ladder
	Shown string // how it is shown, in a few words
	Comes string // verdict and what decided; "" not known
}

// Interpolated reports whether no frame was exposed so.
func (s Still) Interpolated() bool { return s.Frame < 0 }

// words are the lines of a still's label beside its stop.
func (s Still) words(says Says) []string {
	if says == Verdict && s.Comes != "" {
		return []string{s.Shown, s.Comes}
	}
	return []string{s.Shown}
}

// place is a place on the ladder that stills are drawn of.
type place struct {
	stop         float64
	lower, upper int // frames; alike on a frame
	mix          *between.Picture
}

// Set is the stills of a roll.
type Set struct {
	roll   *film.Roll
	opt    Options
	view   render.View
	places []place   // by rising stop
	stills [][]Still // of each grade, at the places
}

// New plans the stills of a measured roll. The error is one sentence.
func New(r *film.Roll, o Options) (*Set, error) {
	if o.W == 0 && o.H == 0 {
		o.W, o.H = Width, Height
	}
	if o.W < MinSide || o.H < MinSide || o.W > MaxSide || o.H > MaxSide {
		return nil, fmt.Errorf("a still has sides of %d to %d pixels, and %d x %d are asked for", MinSide, MaxSide, o.W, o.H)
	}
	if o.Between < 0 || o.Between > MaxBetween {
		return nil, fmt.Errorf("between two frames at most %d pictures are drawn, and %d are asked for", MaxBetween, o.Between)
	}
	if len(o.Grades) == 0 {
		o.Grades = []criteria.Grade{""}
	}
	s := &Set{roll: r, opt: o}
	if o.Between > 0 {
		if err := s.sweep(); err != nil {
			return nil, err
		}
	} else {
		for i := range r.Frames {
			if r.Frames[i].Look != nil && !r.Frames[i].Unlabelled {
				s.places = append(s.places, place{stop: r.Judged.Frames[i].Stop, lower: i, upper: i})
			}
		}
	}
	if len(s.places) == 0 {
		return nil, errors.New("no frame of the roll could be read, so there is nothing to draw stills of")
	}
	if n := len(s.places) * len(o.Grades); n > MaxStills {
		return nil, fmt.Errorf("that would be %d stills, and %d are the most: ask for fewer between the frames", n, MaxStills)
	}
	slices.SortStableFunc(s.places, func(a, b place) int {
		switch {
		case a.stop < b.stop:
			return -1
		case a.stop > b.stop:
			return 1
		}
		return 0
	})
	s.view = s.viewOf(o.Place)
	s.number()
	return s, nil
}

// sweep places stills on the frames and evenly between them.
func (s *Set) sweep() error {
	b := s.roll.Between()
	if b == nil {
		return errors.New("pictures between the frames need the measured response, and this roll has none: its notes say why")
	}
	lo, hi, ok := b.Span()
	if !ok {
		return errors.New("pictures between the frames need two frames with labels that lie on each other")
	}
	var rungs []float64
	for i := range s.roll.Frames {
		if v := s.roll.Judged.Frames[i].Stop; !s.roll.Frames[i].Unlabelled && v >= lo && v <= hi {
			if m, ok := b.At(v); ok && m.Exact {
				rungs = append(rungs, v)
			}
		}
	}
	slices.Sort(rungs)
	rungs = slices.Compact(rungs)
	add := func(stop float64) {
		if m, ok := b.At(stop); ok {
			p := place{stop: m.Stop, lower: m.Lower, upper: m.Upper}
			if !m.Exact {
				p.mix = m
			}
			s.places = append(s.places, p)
		}
	}
	for k, v := range rungs {
		add(v)
		if k+1 < len(rungs) {
			for j := range s.opt.Between {
				add(v + (rungs[k+1]-v)*float64(j+1)/float64(s.opt.Between+1))
			}
		}
	}
	return nil
}

// base is the area that all stills refer to, base pixels.
func (s *Set) base() image.Rectangle {
	if b := s.roll.Base; b >= 0 && s.roll.Frames[b].Look != nil {
		return s.roll.Frames[b].Look.Area
	}
	return s.roll.Frames[s.places[0].lower].Look.Area
}

// viewOf returns the view that all stills show.
func (s *Set) viewOf(p Place) render.View {
	area := s.base()
	port := render.Port{Area: area, W: s.opt.W, H: s.opt.H}
	switch {
	case p.Whole:
		return port.Fit()
	case p.Zoom > 0:
		return port.Clamp(render.View{U: p.X, V: p.Y, Zoom: p.Zoom})
	}
	c := s.common(area)
	return render.View{
		U:    (float64(c.Min.X+c.Max.X)/2 - float64(area.Min.X)) / float64(area.Dx()),
		V:    (float64(c.Min.Y+c.Max.Y)/2 - float64(area.Min.Y)) / float64(area.Dy()),
		Zoom: math.Max(float64(s.opt.W)/float64(c.Dx()), float64(s.opt.H)/float64(c.Dy())),
	}
}

// common returns the part of the base frame's image area that every frame shows, so that no
// still has an edge of surround; the area itself where a frame lies far off.
func (s *Set) common(area image.Rectangle) image.Rectangle {
	c := area
	for _, p := range s.places {
		for _, i := range []int{p.lower, p.upper} {
			f := &s.roll.Frames[i]
			if f.Map == nil {
				continue
			}
			back, ok := affine.Inverse(*f.Map)
			if !ok {
				continue
			}
			l := f.Look.Area
			x0, y0 := affine.At(back, float64(l.Min.X), float64(l.Min.Y))
			x1, y1 := affine.At(back, float64(l.Max.X), float64(l.Min.Y))
			x2, y2 := affine.At(back, float64(l.Min.X), float64(l.Max.Y))
			x3, y3 := affine.At(back, float64(l.Max.X), float64(l.Max.Y))
			c = c.Intersect(image.Rect(int(math.Ceil(math.Max(x0, x2))), int(math.Ceil(math.Max(y0, y1))),
				int(math.Floor(math.Min(x1, x3))), int(math.Floor(math.Min(y2, y3)))))
		}
	}
	if 5*c.Dx() < 4*area.Dx() || 5*c.Dy() < 4*area.Dy() {
		return area
	}
	return c
}

// List returns the stills in the order of their numbers.
func (s *Set) List() (out []Still) { return slices.Concat(s.stills...) }

// Enlarged returns how many pixels of a still one pixel of the scan takes, where that is
// more than one.
func (s *Set) Enlarged() (factor float64, ok bool) { return s.view.Zoom, s.view.Zoom > 1.01 }

// number names the stills and says what each shows.
func (s *Set) number() {
	rows := row.Of(s.roll, func(*row.Data) {})
	n, total := 0, len(s.places)*len(s.opt.Grades)
	digits := max(2, len(fmt.Sprint(total)))
	for _, g := range s.opt.Grades {
		var of []Still
		look := render.Shown{Grade: g, Corrected: s.opt.Corrected}
		for k, p := range s.places {
			n++
			still := Still{Number: n, Stop: p.stop, Grade: g, Frame: p.lower, Label: stops.Label(p.stop)}
			_, _, still.Shown = look.Of(s.roll, p.lower)
			if p.mix != nil {
				still.Frame = -1
				still.Shown += ", interpolated"
			} else {
				still.Comes = comes(rows[p.lower])
			}
			if s.opt.Between > 0 {
				still.Name = fmt.Sprintf("%s_%04d.png", word(g), k+1)
			} else {
				still.Name = fmt.Sprintf("%0*d_%s_%s.png", digits, n, word(g), nameOf(p.stop))
			}
			of = append(of, still)
		}
		s.stills = append(s.stills, of)
	}
}

// comes returns a frame's verdict and what decided, as its rung on the ladder has them.
func comes(d *row.Data) string {
	w := row.VerdictWord(d.Verdict)
	if d.Verdict == "" {
		w = ""
		if d.Suggested != "" {
			w = "(" + d.Suggested + ")" // a suggestion never stands in for a verdict
		}
	}
	why := d.Why()
	switch {
	case w == "":
		return why
	case why == "":
		return w
	}
	return w + ": " + why
}

// word is a grade in a file's name.
func word(g criteria.Grade) string {
	if g == "" {
		return "scanned"
	}
	return string(g)
}

// nameOf is a stop in a file's name: -2, +1_1-3.
func nameOf(stop float64) string {
	return strings.NewReplacer(" ", "_", "/", "-").Replace(stops.ASCII(stop))
}
