package render

import (
	"image"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"

	"golang.org/x/image/math/f64"
)

// Picture is everything that Render needs of one frame. Prepare does the slow
// part once; it belongs in a worker.
type Picture struct {
	Look   *measure.Look     // Preview, Space, Area, Ceiling, Floor, Info
	Rel    *measure.Relation // for the Noisy mask; nil before the base frame is read
	Detail *Detail           // full-resolution code values; nil when there are none yet

	Base   image.Rectangle // image area of the base frame, base pixels; empty: the frame's own
	ToThis *f64.Aff3       // base pixels -> this frame's pixels; nil: AreaMap(Base, Look.Area)

	Adjust   *Correction // view correction; nil shows the scan as it is
	Flat     *Flat       // film-flat codes, for the masks' weaker strength; nil: not known
	Noise    *Share      // what is Noisy, in place of what Rel says at its own limit; nil: as Rel says
	Dust     *Share      // dust, scratches and what moved; nil: not known
	Surround uint8       // display byte of the neutral grey around it; 0: that of the constant
	Lost     *Share      // what the base frame shows and this frame has lost; nil: not known

	shown *shown // as scanned where the correction is laid over device pixels; else corrected
	marks *marks
	fixed *fixedMarks // of marks, kept when only what moves has changed
	codes *codes
}

// Detail holds full-resolution code values of part of a scan, or a reduction of
// them by a whole factor that is finer than the preview.
type Detail struct {
	Rect image.Rectangle // full-resolution pixels covered
	Step int             // full-resolution pixels per value pixel along each side, >= 1
	W, H int             // ceil(Rect.Dx()/Step), ceil(Rect.Dy()/Step)
	Pix  []uint16        // 3*W*H, interleaved RGB code values

	// Shares 0..255 of full-resolution pixels of a value pixel with a channel at
	// the ceiling (floor). Nil when Step is 1: then Pix says it exactly.
	BlownShare, BlockedShare []uint8

	asked image.Rectangle // what was read for: Rect and what a truncated file lacks

	mu    sync.Mutex
	shown *detailShown
}

// Bytes returns the memory that d holds, its developed picture included.
func (d *Detail) Bytes() int64 {
	n := int64(d.W) * int64(d.H)
	return 6*n + int64(len(d.BlownShare)+len(d.BlockedShare)) + 5*n
}

// detailShown is a Detail made ready for one look.
type detailShown struct {
	look   *measure.Look
	flat   Flat
	flags  []uint8 // all but Noisy
	adjust *Correction
	pic    *level // nil before it was asked for
}

// BaseArea returns the image area that views of p refer to.
func (p *Picture) BaseArea() image.Rectangle {
	if !p.Base.Empty() {
		return p.Base
	}
	if p.Look != nil {
		return p.Look.Area
	}
	return image.Rectangle{}
}

// Map returns the way from base pixels to this frame's pixels.
func (p *Picture) Map() f64.Aff3 {
	if p.ToThis != nil {
		return *p.ToThis
	}
	if p.Look == nil {
		return affine.Identity
	}
	return AreaMap(p.BaseArea(), p.Look.Area)
}

// Ready reports whether Render will not have to do the slow part.
func (p *Picture) Ready() bool {
	return p.Look == nil || p.Look.Preview == nil ||
		(p.live() || p.shown != nil && p.shown.fits(p.Look, p.Adjust)) &&
			p.marks != nil && p.marks.fits(p) &&
			(p.Detail == nil || p.Detail.ready(p.Look, p.Adjust, flatOf(p.Flat)))
}

// live reports whether the picture is drawn from code values, corrected pixel by
// pixel, and nothing of it is developed.
func (p *Picture) live() bool { return p.Adjust.live() }

// Prepare develops the preview, its masks and the detail: some tenths of a
// second for a new frame, nothing when all is at hand. What an earlier Picture
// of the same frame already holds is taken over when it is given as was. For a
// correction made by PerChannel nothing is developed.
func (p *Picture) Prepare(was *Picture) {
	if p.Look == nil || p.Look.Preview == nil {
		return
	}
	p.Adopt(was)
	if p.shown == nil && !p.live() {
		p.shown = newShown(p.Look, p.Adjust)
	}
	if p.marks == nil {
		p.marks = newMarks(p, p.fixed)
		p.fixed = p.marks.fixed
	}
	if p.Detail != nil {
		p.Detail.develop(p.Look, p.Adjust, flatOf(p.Flat))
	}
}

// PrepareCodes does what Prepare does for pictures that are made of code values, by a
// Sampler: nothing is developed.
func (p *Picture) PrepareCodes(was *Picture) {
	if p.Look == nil || p.Look.Preview == nil {
		return
	}
	p.Adopt(was)
}

// Adopt takes over what was holds ready if it is of the same look, relation and
// correction, and drops what p holds of others. It is quick.
func (p *Picture) Adopt(was *Picture) {
	if was == nil {
		was = new(Picture)
	}
	p.shown = firstFit(func(s *shown) bool { return s.fits(p.Look, p.developed()) }, p.shown, was.shown)
	p.marks = firstFit(func(m *marks) bool { return m.fits(p) }, p.marks, was.marks)
	p.fixed = firstFit(func(f *fixedMarks) bool { return f.fits(p) }, p.fixed, was.fixed)
	p.codes = firstFit(func(c *codes) bool { return c.look == p.Look }, p.codes, was.codes)
	if p.codes == nil && p.Look != nil && p.Look.Preview != nil {
		p.codes = newCodes(p.Look)
	}
}

// firstFit returns the first that is there and fits, nil for none.
func firstFit[T any](fits func(*T) bool, all ...*T) *T {
	for _, v := range all {
		if v != nil && fits(v) {
			return v
		}
	}
	return nil
}

// developed returns the correction that a developed preview of p has. Where p is drawn
// from code values that of the scan as it is is kept, one key away.
func (p *Picture) developed() *Correction {
	if p.live() {
		return nil
	}
	return p.Adjust
}

// shown is a developed preview: level 0 is the preview itself, each further
// level half the one before.
type shown struct {
	look   *measure.Look
	adjust *Correction
	levels []*level
}

func (s *shown) fits(look *measure.Look, adjust *Correction) bool {
	return s.look == look && s.adjust == adjust
}

func newShown(look *measure.Look, adjust *Correction) *shown {
	pv := look.Preview
	s := &shown{look: look, adjust: adjust}
	l := develop(look.ColourSpace(), adjust, pv.Pix, pv.W, pv.H)
	s.levels = append(s.levels, l)
	for l.w > 64 && l.h > 64 {
		l = l.half()
		s.levels = append(s.levels, l)
	}
	return s
}

func (d *Detail) ready(look *measure.Look, adjust *Correction, flat Flat) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.shown
	return s != nil && s.look == look && s.flat == flat && (adjust.live() || s.pic != nil && s.adjust == adjust)
}

// develop makes the detail's picture and flags ready and returns them; the
// picture only where the correction is not laid over device pixels.
func (d *Detail) develop(look *measure.Look, adjust *Correction, flat Flat) *detailShown {
	d.mu.Lock()
	defer d.mu.Unlock()
	var s detailShown // never changed once it was handed out
	if d.shown != nil && d.shown.look == look {
		s = *d.shown
	}
	if s.flags == nil || s.flat != flat {
		s.flat, s.flags = flat, d.flags(look, flat)
	}
	if !adjust.live() && (s.pic == nil || s.adjust != adjust) {
		s.adjust, s.pic = adjust, develop(look.ColourSpace(), adjust, d.Pix, d.W, d.H)
	}
	s.look = look
	d.shown = &s
	return &s
}

// Covers reports whether the detail holds all of r that its file has.
func (d *Detail) Covers(r image.Rectangle) bool { return r.In(d.Rect) || r.In(d.asked) }
