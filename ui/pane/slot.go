// Package pane shows rendered frames in the window: Pane is one picture,
// Group is one, two or all of them with one linked view. Pictures are rendered
// in workers at exact device size and handed to the toolkit as ready buffers;
// the toolkit's goroutine only swaps them.
package pane

import (
	"image"

	"stopladder/analysis/scan"
	"stopladder/analysis/show/render"

	"golang.org/x/image/math/f64"
)

// State says how far a frame has come.
type State int

// States of a frame.
const (
	Waiting State = iota // queued, nothing known yet
	Reading              // being read
	Ready                // Picture can be shown
	Failed               // Message says why and what to do
)

// Slot is one frame as the window hands it to a Group.
type Slot struct {
	ID      int         // the caller's own, unique in the roll
	Label   string      // e.g. "+1 1/3"
	Note    string      // small print beside the label, e.g. "as scanned"
	State   State       // what there is to show
	Message string      // for Failed: one sentence and what to do; for Waiting and Reading optional
	Thumb   image.Image // shown until the frame is read; nil: a quiet text

	Picture render.Picture              // for Ready
	Open    func() (scan.Source, error) // for full resolution; nil: the preview is all there is. Called in a worker
}

// frame is a slot with what was rendered of it. Only the toolkit's goroutine
// touches it, but for prep.
type frame struct {
	Slot
	ver   uint64 // counts changes of what is shown
	maps  uint64 // counts changes of where it lies and of its correction: what hands drag
	shot  shot
	plain shot   // as it was scanned, kept ready while it is the active one
	kept  []shot // what was shown before or may be next: what is switched on and off is there at once
	prep  *prep

	warmed warmKey   // what code values were made ready for
	mapped *f64.Aff3 // by SetMaps

	detail    *render.Detail
	detailErr error
}

// warmKey is what the size of the code values that a picture takes depends on.
type warmKey struct {
	zoom float64
	w, h int
}

// shot is a rendered picture and what it was rendered for.
type shot struct {
	key   shotKey
	seq   uint64
	img   *image.RGBA
	draft bool
}

// shotKey is all that a rendered picture depends on.
type shotKey struct {
	view    render.View
	w, h    int
	overlay render.Overlay

	surround uint8

	ver, maps uint64

	// Of pictures that are made from two frames.
	mix                 uint64 // the mix's number, 0: none
	diff                difference
	otherVer, otherMaps uint64
}

// fine reports whether the shot is the final picture for key.
func (s shot) fine(key shotKey) bool { return s.img != nil && s.key == key && !s.draft }

// usable reports whether the shot shows what key asks for, be it a draft.
func (s shot) usable(key shotKey) bool { return s.img != nil && s.key == key }

// picture returns the render picture of f with its base area and detail.
func (f *frame) picture(base image.Rectangle) render.Picture {
	p := f.Picture
	if p.Base.Empty() {
		p.Base = base
	}
	if p.ToThis == nil {
		p.ToThis = f.mapped
	}
	if f.detail != nil {
		p.Detail = f.detail
	}
	return p
}

// place returns where the frame lies: base pixels to its own.
func (f *frame) place(base image.Rectangle) f64.Aff3 {
	p := f.picture(base)
	return p.Map()
}

func (f *frame) ready() bool {
	return f != nil && f.State == Ready && f.Picture.Look != nil && f.Picture.Look.Preview != nil
}
