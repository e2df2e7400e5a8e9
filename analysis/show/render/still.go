package render

import (
	"context"
	"image"
	"math"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"
)

// Still is what a view shows of a frame in code values at device size, made for pictures
// that are looked at for long: a device pixel that covers several pixels of the scan is
// their mean in light, where Render for its speed takes the nearest four. It holds 6 bytes
// a device pixel.
type Still struct {
	pic Picture
	s   *samples
}

// NewStill takes the code values that a view shows of p. Masks are not drawn.
func NewStill(p Picture, v View, w, h int) *Still {
	p.PrepareCodes(nil)
	return &Still{pic: p, s: fine(&p, v, w, h)}
}

// ReadDetail reads the full-resolution code values that make a view of p sharper than the
// preview is; nil where the preview is enough. The source is closed to others meanwhile.
func ReadDetail(ctx context.Context, open func() (scan.Source, error), p Picture, v View, w, h int) (*Detail, error) {
	r, step, ok := Wanted(p, v, w, h)
	if !ok {
		return nil, nil
	}
	l := p.Look
	r = r.Inset(-2 * step).Intersect(image.Rect(0, 0, l.Info.Width, l.Info.Height)) // for the interpolation
	asked := r
	if l.MissingRows > 0 && r.Overlaps(l.There) {
		r = r.Intersect(l.There)
	}
	src, err := open()
	if err != nil {
		return nil, err
	}
	if in := src.Info(); in.Width != l.Info.Width || in.Height != l.Info.Height {
		return nil, &ChangedError{Path: in.Path}
	}
	c := newCutter(l, r, step)
	c.d.asked = asked
	_, held := src.(*scan.Pixels)
	if rr, ok := src.(RegionReader); held || ok && rr.ReadsRegions() {
		return c.fromRegions(ctx, src, r)
	}
	return c.fromStream(ctx, src, r)
}

// Draw draws the frame into the whole of dst, which has the size of the still, with a
// correction; nil is as scanned.
func (s *Still) Draw(dst *image.RGBA, adjust *Correction) {
	w, h := s.s.w, s.s.h
	if s.pic.Look == nil || s.s.pix == nil {
		parallel.Bands(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				fill(line(dst, y), 0, w, s.pic.surround())
			}
		})
		return
	}
	space := s.pic.Look.ColourSpace()
	parallel.Bands(h, func(y0, y1 int) {
		lin := make([]float32, 3*w)
		for y := y0; y < y1; y++ {
			row, in := line(dst, y), s.s.in[y]
			lo, hi := int(in.lo), int(in.hi)
			fill(row, 0, lo, s.pic.surround())
			fill(row, hi, w, s.pic.surround())
			codes := s.s.pix[3*(w*y+lo) : 3*(w*y+hi)]
			if adjust == nil || adjust.Linear == nil {
				space.RGBA(row[4*lo:4*hi], codes)
				continue
			}
			space.Linear(lin[:len(codes)], codes)
			adjust.rgba(row[4*lo:4*hi], lin[:len(codes)])
		}
	})
}

// DrawBetween draws the picture between two frames into the whole of dst, by the tables of
// package between, with a correction of the result. Both stills are of one view.
func DrawBetween(dst *image.RGBA, lower, upper *Still, lowerTable, upperTable *[3][]uint32, adjust *Correction) {
	b := &Between{Lower: lower.pic, Upper: upper.pic, LowerTable: lowerTable, UpperTable: upperTable}
	b.Lower.Adjust = adjust
	m := newMixer(b)
	w := lower.s.w
	parallel.Bands(lower.s.h, func(y0, y1 int) {
		buf := &mixBuf{codes: make([]uint16, 3*w), bytes: make([]uint8, 4*w), light: make([]float32, 3*w)}
		for y := y0; y < y1; y++ {
			m.row(line(dst, y), buf, nil, lower.s, upper.s, y, 1, false)
		}
	})
}

// littleMore is how many pixels of what is sampled a device pixel may span and still be
// taken from the nearest four alone.
const littleMore = 1.05

// fine does what sample does, with four samples a device pixel where that spans more than
// one pixel of what is sampled, averaged in light.
func fine(p *Picture, v View, w, h int) *samples {
	s := &samples{w: w, h: h, in: make([]run, h), area: make([]run, h)}
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() {
		return s
	}
	m, port := p.deviceMap(v, w, h)
	src, l := p.codesFor(m, port)
	s.pix = make([]uint16, 3*w*h)
	per := pixelsPerDevice(m) / l.scale
	if per <= littleMore {
		own := straight(m) && math.Abs(per-1) <= nearOne-1 // pixel for pixel
		parallel.Bands(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				st := l.stepsOf(y)
				lo, hi := st.within(w, l.in)
				s.in[y] = run{int32(lo), int32(hi)}
				alo, ahi := st.within(w, l.marked)
				s.area[y] = run{int32(alo), int32(ahi)}
				src.run(s.pix[3*w*y:3*w*(y+1)], st, w, lo, hi, own)
			}
		})
		return s
	}
	twice := l
	twice.toFrame = affine.After(m, f64.Aff3{0.5, 0, 0, 0, 0.5, 0})
	back := newRoots(p.Look)
	parallel.Bands(h, func(y0, y1 int) {
		var two [2][]uint16
		for i := range two {
			two[i] = make([]uint16, 6*w)
		}
		for y := y0; y < y1; y++ {
			var in, area run
			for i := range two {
				st := twice.stepsOf(2*y + i)
				lo, hi := st.within(2*w, l.in)
				src.run(two[i], st, 2*w, lo, hi, false)
				alo, ahi := st.within(2*w, l.marked)
				a, b := halved(lo, hi), halved(alo, ahi)
				if i == 0 {
					in, area = a, b
				} else {
					in, area = in.meet(a), area.meet(b)
				}
			}
			s.in[y], s.area[y] = in, area
			lo, hi := int(in.lo), int(in.hi)
			back.means(s.pix[3*(w*y+lo):3*(w*y+hi)], two[0][6*lo:6*hi], two[1][6*lo:6*hi])
		}
	})
	return s
}

// halved returns the whole pixels in a run of half pixels.
func halved(lo, hi int) run {
	a, b := int32((lo+1)/2), int32(hi/2)
	return run{a, max(a, b)}
}

// roots takes codes to light and back, the way back by the root of light, which spreads
// what an eye tells apart as codes do.
type roots struct {
	light [3]*[1 << 16]float32
	code  [3]*[1 << 16]uint16
}

func newRoots(look *measure.Look) *roots {
	r := &roots{}
	tone := look.ColourSpace().Tone()
	for k := range 3 {
		r.light[k], r.code[k] = new([1 << 16]float32), new([1 << 16]uint16)
		inv := newInverse(tone[k])
		parallel.Bands(1<<16, func(from, to int) {
			for i := from; i < to; i++ {
				r.light[k][i] = lightAt(tone[k], uint16(i))
				v := float32(i) / (1<<16 - 1)
				r.code[k][i] = inv.code(v * v)
			}
		})
	}
	return r
}

// means writes the means of two by two pixels of a and b, rows twice as long as out.
func (r *roots) means(out, a, b []uint16) {
	for len(out) >= 3 && len(a) >= 6 && len(b) >= 6 {
		for k := range 3 {
			p, q, s, t := a[k], a[3+k], b[k], b[3+k]
			if p == q && p == s && p == t {
				out[k] = p
				continue
			}
			t4 := r.light[k]
			mean := (t4[p] + t4[q] + t4[s] + t4[t]) / 4
			i := int(math.Sqrt(float64(max(mean, 0)))*(1<<16-1) + 0.5)
			out[k] = r.code[k][min(i, 1<<16-1)]
		}
		out, a, b = out[3:], a[6:], b[6:]
	}
}
