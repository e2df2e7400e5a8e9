package render

import (
	"context"
	"errors"
	"image"
	"math"

	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/paint"
)

// Exact asks for a frame's image area, or a part of it, at an exact size: the picture of
// sheets, which may be larger than the preview.
type Exact struct {
	Picture Picture                     // Look and Adjust count, and for masks what they are made of
	Open    func() (scan.Source, error) // for more than the preview has; nil: the preview is all there is. Its only user
	Crop    image.Rectangle             // of the frame, full-resolution pixels; empty: the image area
	W, H    int                         // pixels
	Masks   Overlay
	Space   colour.Display
	Room    []uint16 // of a picture that is no longer needed, to draw into; nil: new
}

// Deep is a picture of 16-bit codes, RGB interleaved.
type Deep struct {
	W, H int
	Pix  []uint16 // 3*W*H
	// Stood says why the preview had to stand in for the scan; nil: it did not.
	Stood error
}

// enough is the share of the wanted pixels from which the preview will do.
const enough = 0.97

// Draw draws the picture, which takes from some hundredths of a second to about a second
// for a large scan that has to be read: it belongs in a worker. Where the scan cannot be
// read the preview stands in. It is nil without a preview.
func (e Exact) Draw(ctx context.Context) (*Deep, error) {
	l := e.Picture.Look
	if l == nil || l.Preview == nil || l.Preview.W == 0 || l.Preview.H == 0 || e.W < 1 || e.H < 1 {
		return nil, nil
	}
	crop := e.Crop
	if crop.Empty() {
		crop = l.Area
	}
	crop = crop.Intersect(image.Rect(0, 0, l.Info.Width, l.Info.Height))
	if crop.Empty() {
		crop = image.Rect(0, 0, l.Info.Width, l.Info.Height)
	}
	d := &Deep{W: e.W, H: e.H}
	if n := 3 * e.W * e.H; cap(e.Room) >= n {
		d.Pix = e.Room[:n]
		clear(d.Pix)
	} else {
		d.Pix = make([]uint16, n)
	}
	f := float64(max(1, l.Preview.Factor))
	has := float64(crop.Dx()) / f
	if e.Open != nil && f > 1 && has < enough*math.Min(float64(e.W), float64(crop.Dx())) {
		err := e.fromScan(ctx, d, crop)
		if err == nil || ctx.Err() != nil {
			return d, ctx.Err()
		}
		d.Stood = err
	}
	e.fromPreview(d, crop, f)
	return d, ctx.Err()
}

// fromPreview draws from the preview. Whole preview pixels inside the crop: a sliver of
// the film's border is worse than a sliver of the picture less.
func (e Exact) fromPreview(d *Deep, crop image.Rectangle, f float64) {
	l := e.Picture.Look
	pv := l.Preview
	x0, y0 := math.Ceil(float64(crop.Min.X)/f), math.Ceil(float64(crop.Min.Y)/f)
	x1, y1 := math.Min(math.Floor(float64(crop.Max.X)/f), float64(pv.W)), math.Min(math.Floor(float64(crop.Max.Y)/f), float64(pv.H))
	if x1 <= x0 || y1 <= y0 {
		x0, y0, x1, y1 = 0, 0, float64(pv.W), float64(pv.H)
	}
	root := d.W > int(x1-x0) // enlarged
	r := newResampler(d.W, d.H, pv.W, pv.H, x0, y0, x1, y1, e.finisher(d, crop, root))
	light := make([]float32, 3*pv.W)
	from, to, _, _ := r.span()
	for y := from; y < to && !r.done(); y++ {
		l.ColourSpace().Linear(light, pv.Pix[3*pv.W*y:3*pv.W*(y+1)])
		if root {
			rooted(light)
		}
		r.take(light)
	}
}

// rooted takes light to its root, in which an enlargement's overshoot at an edge is seen
// as little on its dark side as on its bright one.
func rooted(light []float32) {
	for i, v := range light {
		light[i] = float32(math.Copysign(math.Sqrt(math.Abs(float64(v))), float64(v)))
	}
}

// fromScan draws from the scan's own pixels.
func (e Exact) fromScan(ctx context.Context, d *Deep, crop image.Rectangle) error {
	l := e.Picture.Look
	src, err := e.Open()
	if err != nil {
		return err
	}
	in := src.Info()
	if in.Width != l.Info.Width || in.Height != l.Info.Height {
		return &ChangedError{Path: in.Path}
	}
	root := d.W > crop.Dx()
	r := newResampler(d.W, d.H, in.Width, in.Height, float64(crop.Min.X), float64(crop.Min.Y), float64(crop.Max.X), float64(crop.Max.Y), e.finisher(d, crop, root))
	y0, y1, x0, x1 := r.span()
	light := make([]float32, 3*in.Width)
	space := l.ColourSpace()
	row := func(codes []uint16) {
		part := light[3*x0 : 3*x1]
		space.Linear(part, codes[3*x0:3*x1])
		if root {
			rooted(part)
		}
		r.take(light)
	}
	n := 3 * in.Width
	err = src.Stream(ctx, func(y int, rows []uint16) error {
		for i := 0; i < len(rows)/n && !r.done(); i++ {
			if at := y + i; at >= y0 && at < y1 {
				row(rows[n*i : n*(i+1)])
			}
		}
		if r.done() {
			return errEnough
		}
		return ctx.Err()
	})
	if err != nil && !errors.Is(err, errEnough) {
		var short *scan.TruncatedError
		if !errors.As(err, &short) {
			return err
		}
		// What the file lacks is black, as in the preview.
		clear(light)
		for !r.done() {
			r.take(light)
		}
	}
	return ctx.Err()
}

// finisher returns what corrects a row of light, or of its root, encodes it and lays the
// masks over it.
func (e Exact) finisher(d *Deep, crop image.Rectangle, root bool) func(y int, light []float32) {
	adjust := e.Picture.Adjust
	masks := e.maskRows(d, crop)
	work := make([]float32, 3*d.W)
	return func(y int, light []float32) {
		copy(work, light)
		if root {
			for i, v := range work {
				work[i] = v * float32(math.Abs(float64(v)))
			}
		}
		if adjust != nil && adjust.Linear != nil {
			adjust.Linear(work)
		}
		out := d.Pix[3*d.W*y : 3*d.W*(y+1)]
		e.Space.Encode(out, work)
		if masks != nil {
			masks(y, out)
		}
	}
}

// maskRows returns what lays the masks over a row of codes; nil where none is asked for.
func (e Exact) maskRows(d *Deep, crop image.Rectangle) func(y int, row []uint16) {
	pats := patternsOf(e.Masks, d.W)
	if len(pats) == 0 {
		return nil
	}
	for i := range pats {
		c := &pats[i].colour
		b := e.Space.Byte([3]uint8{uint8(c[0]), uint8(c[1]), uint8(c[2])})
		c[0], c[1], c[2] = uint32(b[0])*257, uint32(b[1])*257, uint32(b[2])*257
	}
	p := e.Picture
	m := newMarks(&p, nil)
	// The level of about one pixel of the page.
	scale := float64(max(1, p.Look.Preview.Factor))
	per := float64(crop.Dx()) / float64(d.W)
	k := 0
	for k+1 < len(m.levels) && 2*scale <= per {
		k, scale = k+1, 2*scale
	}
	level := m.levels[k]
	cols := make([]int, d.W)
	for x := range cols {
		cols[x] = min(max(0, int((float64(crop.Min.X)+(float64(x)+0.5)*per)/scale)), level.w-1)
	}
	perY := float64(crop.Dy()) / float64(d.H)
	return func(y int, row []uint16) {
		at := min(max(0, int((float64(crop.Min.Y)+(float64(y)+0.5)*perY)/scale)), level.h-1)
		flags := level.pix[level.w*at : level.w*(at+1)]
		for i := range pats {
			t := &pats[i]
			alpha := t.alpha[y/t.scale%paint.Period*t.w:]
			for x, c := range cols {
				a := uint32(alpha[x])
				if flags[c]&t.flag == 0 || a == 0 {
					continue
				}
				q := row[3*x : 3*x+3 : 3*x+3]
				for k := range q {
					q[k] = uint16((t.colour[k]*a + uint32(q[k])*(255-a) + 127) / 255)
				}
			}
		}
	}
}

// ExactDetail asks for a detail of the scene in a frame, pixel for pixel, registered as
// the frame is.
type ExactDetail struct {
	Picture Picture // Look, Base, ToThis and Adjust count
	Open    func() (scan.Source, error)
	Centre  image.Point // full-resolution pixel of the base frame
	W, H    int         // pixels, as many as of the base frame
	Space   colour.Display
}

// Draw draws the detail; where the scan cannot be read, or does not reach, it is grey.
func (e ExactDetail) Draw(ctx context.Context) (*Deep, error) {
	p := Picture{Look: e.Picture.Look, Base: e.Picture.Base, ToThis: e.Picture.ToThis, Adjust: e.Picture.Adjust}
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() || e.W < 1 || e.H < 1 {
		return nil, nil
	}
	d := &Deep{W: e.W, H: e.H, Pix: make([]uint16, 3*e.W*e.H)}
	r := CropRequest{Centre: e.Centre, W: e.W, H: e.H, Zoom: 1}
	view := cropView(p, r)
	if rect, step, ok := Wanted(p, view, e.W, e.H); ok && e.Open != nil {
		detail, err := e.read(ctx, p, rect, step)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		p.Detail, d.Stood = detail, err
	}
	for i := range d.Pix {
		d.Pix[i] = 0x3a3a
	}
	s, space := sample(&p, view, e.W, e.H, 1), p.Look.ColourSpace()
	lin := make([]float32, 3*e.W)
	for y := range e.H {
		lo, hi := int(s.in[y].lo), int(s.in[y].hi)
		if lo >= hi {
			continue
		}
		part := lin[:3*(hi-lo)]
		space.Linear(part, s.pix[3*(e.W*y+lo):3*(e.W*y+hi)])
		if p.Adjust != nil && p.Adjust.Linear != nil {
			p.Adjust.Linear(part)
		}
		e.Space.Encode(d.Pix[3*(e.W*y+lo):3*(e.W*y+hi)], part)
	}
	return d, ctx.Err()
}

// read reads the scan's pixels of a detail.
func (e ExactDetail) read(ctx context.Context, p Picture, rect image.Rectangle, step int) (*Detail, error) {
	src, err := e.Open()
	if err != nil {
		return nil, err
	}
	if in := src.Info(); in.Width != p.Look.Info.Width || in.Height != p.Look.Info.Height {
		return nil, &ChangedError{Path: in.Path}
	}
	c := newCutter(p.Look, rect, step)
	if _, held := src.(*scan.Pixels); !held {
		if rr, ok := src.(RegionReader); !ok || !rr.ReadsRegions() {
			return c.fromStream(ctx, src, rect)
		}
	}
	return c.fromRegions(ctx, src, rect)
}
