package render

import (
	"image"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"

	"golang.org/x/image/math/f64"
)

// codes are a preview's code values and their halvings in light, made as they
// are asked for. They are safe for concurrent use.
type codes struct {
	look   *measure.Look
	mu     sync.Mutex
	levels []codeLevel
}

type codeLevel struct {
	w, h int
	pix  []uint16 // 3*w*h
}

func newCodes(look *measure.Look) *codes {
	pv := look.Preview
	return &codes{look: look, levels: []codeLevel{{pv.W, pv.H, pv.Pix}}}
}

func (c *codes) level(k int) codeLevel {
	c.mu.Lock()
	defer c.mu.Unlock()
	for len(c.levels) <= k {
		c.levels = append(c.levels, c.levels[len(c.levels)-1].half(c.look))
	}
	return c.levels[k]
}

// half reduces by two in light, channel by channel, as previews are made; a last
// odd column or row is averaged with itself.
func (l codeLevel) half(look *measure.Look) codeLevel {
	o := codeLevel{w: (l.w + 1) / 2, h: (l.h + 1) / 2}
	o.pix = make([]uint16, 3*o.w*o.h)
	tone := look.ColourSpace().Tone()
	var back [3]inverse
	for k := range back {
		back[k] = newInverse(tone[k])
	}
	parallel.Bands(o.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			a := l.pix[3*l.w*2*y:]
			b := a
			if 2*y+1 < l.h {
				b = l.pix[3*l.w*(2*y+1):]
			}
			out := o.pix[3*o.w*y : 3*o.w*(y+1)]
			for x := range o.w {
				i, j := 6*x, 3*min(2*x+1, l.w-1)
				for k := range 3 {
					t := tone[k]
					light := lightAt(t, a[i+k]) + lightAt(t, a[j+k]) + lightAt(t, b[i+k]) + lightAt(t, b[j+k])
					out[3*x+k] = back[k].code(light / 4)
				}
			}
		}
	})
	return o
}

func lightAt(t []float32, code uint16) float32 { return t[min(int(code), len(t)-1)] }

// samples are the code values of a picture at every device pixel of a view.
// They do not change after they were taken.
type samples struct {
	w, h     int
	pix      []uint16 // 3*w*h; of rows only what lies in the spans
	in, area []run    // per row: where the scan is, and where it is measured
}

// run is a part [lo, hi) of a row.
type run struct{ lo, hi int32 }

func (a run) meet(b run) run {
	r := run{max(a.lo, b.lo), min(a.hi, b.hi)}
	r.hi = max(r.lo, r.hi)
	return r
}

// sample takes a picture's code values at the device pixels of a view: from the
// detail where that covers all that is in sight and is finer, else from the
// preview. Pixels are interpolated where Render would do so. Only every step-th
// row is taken.
func sample(p *Picture, v View, w, h, step int) *samples {
	s := &samples{w: w, h: h, in: make([]run, h), area: make([]run, h)}
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() {
		return s
	}
	toFrame, port := p.deviceMap(v, w, h)
	src, l := p.codesFor(toFrame, port)
	nearest := filesOwn(toFrame, l.scale)
	s.pix = make([]uint16, 3*w*h)
	parallel.Bands((h+step-1)/step, func(y0, y1 int) {
		for y := y0 * step; y < min(y1*step, h); y += step {
			st := l.stepsOf(y)
			lo, hi := st.within(w, l.in)
			s.in[y] = run{int32(lo), int32(hi)}
			alo, ahi := st.within(w, l.marked)
			s.area[y] = run{int32(alo), int32(ahi)}
			src.run(s.pix[3*w*y:3*w*(y+1)], st, w, lo, hi, nearest)
		}
	})
	return s
}

// codesFor returns the code values that serve a view, and where they lie in it.
func (p *Picture) codesFor(toFrame f64.Aff3, port Port) (codeLevel, layer) {
	per := pixelsPerDevice(toFrame)
	scale := float64(max(1, p.Look.Preview.Factor))
	frame := image.Rect(0, 0, p.Look.Info.Width, p.Look.Info.Height)
	if d := p.Detail; p.detailShows(per) && visible(toFrame, port).Intersect(frame).In(d.Rect) {
		return codeLevel{d.W, d.H, d.Pix}, newLayer(toFrame, d.Rect.Intersect(frame), d.Rect.Min, float64(d.Step), p.Look.Area)
	}
	k := 0
	for k < maxHalvings(p.Look.Preview) && 2*scale <= per*nearOne {
		k, scale = k+1, 2*scale
	}
	return p.codesOfLook().level(k), newLayer(toFrame, frame, image.Point{}, scale, p.Look.Area)
}

// codesOfLook returns the code values that p holds, or new ones.
func (p *Picture) codesOfLook() *codes {
	if p.codes == nil || p.codes.look != p.Look {
		return newCodes(p.Look)
	}
	return p.codes
}

// WarmCodes makes ready what PrepareCodes leaves to the first picture of a view:
// some hundredths of a second for a view that is smaller than half the preview.
func (p *Picture) WarmCodes(v View, w, h int) {
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() {
		return
	}
	toFrame, port := p.deviceMap(v, w, h)
	p.codesFor(toFrame, port)
}

func maxHalvings(pv *measure.Preview) (n int) {
	for w, h := pv.W, pv.H; w > 64 && h > 64; w, h = (w+1)/2, (h+1)/2 {
		n++
	}
	return n
}

// run takes the codes of pixels lo to hi of a row of n device pixels.
func (l codeLevel) run(row []uint16, s steps, n, lo, hi int, nearest bool) {
	if nearest {
		l.nearestRun(row, s, lo, hi)
		return
	}
	c, from, to := s.centred(n, l.w, l.h)
	from, to = min(max(from, lo), hi), min(max(to, lo), hi)
	l.edgeRun(row, c, lo, from)
	l.mixedRun(row, c, from, to)
	l.edgeRun(row, c, to, hi)
}

func (l codeLevel) nearestRun(row []uint16, s steps, lo, hi int) {
	u, v := s.u+int64(lo)*s.du, s.v+int64(lo)*s.dv
	out := row[3*lo : 3*hi]
	for len(out) >= 3 {
		nx, ny := min(int(u>>fixBits), l.w-1), min(int(v>>fixBits), l.h-1)
		o := 3 * (ny*l.w + nx)
		p := l.pix[o : o+3 : o+3]
		out[0], out[1], out[2] = p[0], p[1], p[2]
		out = out[3:]
		u, v = u+s.du, v+s.dv
	}
}

// mixedRun interpolates with weights of 16 bits that add up to 65536, so that
// equal codes stay what they are.
func (l codeLevel) mixedRun(row []uint16, c steps, lo, hi int) {
	pix, stride := l.pix, 3*l.w
	u, v := c.u+int64(lo)*c.du, c.v+int64(lo)*c.dv
	out := row[3*lo : 3*hi]
	for len(out) >= 3 {
		o := int(v>>fixBits)*stride + 3*int(u>>fixBits)
		p, q := pix[o:o+6:o+6], pix[o+stride:o+stride+6:o+stride+6]
		wx, wy := uint32(u>>(fixBits-8))&255, uint32(v>>(fixBits-8))&255
		d := wx * wy
		b, e := wx<<8-d, wy<<8-d
		a := 1<<16 - b - e - d
		const round = 1 << 15
		out[0] = uint16((uint32(p[0])*a + uint32(p[3])*b + uint32(q[0])*e + uint32(q[3])*d + round) >> 16)
		out[1] = uint16((uint32(p[1])*a + uint32(p[4])*b + uint32(q[1])*e + uint32(q[4])*d + round) >> 16)
		out[2] = uint16((uint32(p[2])*a + uint32(p[5])*b + uint32(q[2])*e + uint32(q[5])*d + round) >> 16)
		out = out[3:]
		u, v = u+c.du, v+c.dv
	}
}

func (l codeLevel) edgeRun(row []uint16, c steps, lo, hi int) {
	for x := lo; x < hi; x++ {
		e := c.edge(x, l.w, l.h)
		d := e.wx * e.wy
		b, f := e.wx<<8-d, e.wy<<8-d
		a := 1<<16 - b - f - d
		for k := range 3 {
			at := func(x, y int) uint32 { return uint32(l.pix[3*(y*l.w+x)+k]) }
			row[3*x+k] = uint16((at(e.x0, e.y0)*a + at(e.x1, e.y0)*b + at(e.x0, e.y1)*f + at(e.x1, e.y1)*d + 1<<15) >> 16)
		}
	}
}

// sampleKey is all that samples depend on.
type sampleKey struct {
	look   *measure.Look
	detail *Detail
	toThis f64.Aff3
	base   image.Rectangle
	view   View
	w, h   int
}

// Sampler draws pictures that are computed from two frames: in-between pictures
// and differences. It keeps the code values of frames at the device pixels of
// their last views, so that a new position between two frames, or a nudge of one
// of them, costs only what has changed. It is safe for concurrent use; the zero
// value keeps nothing.
type Sampler struct {
	mu   sync.Mutex
	keep int64
	used int64
	held []*held // least recently used first
}

type held struct {
	key  sampleKey
	step int // rows from one sampled to the next
	once sync.Once
	s    *samples
}

func (h *held) bytes() int64 { return 6 * int64(h.key.w) * int64(h.key.h) }

// NewSampler keeps samples within a budget in bytes. A device pixel of a frame
// costs 6 bytes; the two frames that are being drawn are kept in any case.
func NewSampler(bytes int64) *Sampler { return &Sampler{keep: bytes} }

// Forget drops all that is kept.
func (s *Sampler) Forget() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.held, s.used = nil, 0
}

// of returns samples of at least every step-th row, beginning with the first.
func (s *Sampler) of(p *Picture, v View, w, h, step int) *samples {
	if s == nil || s.keep <= 0 {
		return sample(p, v, w, h, step)
	}
	key := sampleKey{look: p.Look, toThis: p.Map(), base: p.BaseArea(), view: v, w: w, h: h}
	if p.Look != nil && p.Look.Preview != nil {
		m, _ := p.deviceMap(v, w, h)
		if p.detailShows(pixelsPerDevice(m)) {
			key.detail = p.Detail
		}
	}
	e := s.find(key, step)
	e.once.Do(func() { e.s = sample(p, v, w, h, e.step) })
	return e.s
}

func (s *Sampler) find(key sampleKey, step int) *held {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, e := range s.held {
		if e.key == key && step%e.step == 0 {
			copy(s.held[i:], s.held[i+1:])
			s.held[len(s.held)-1] = e
			return e
		}
	}
	e := &held{key: key, step: step}
	s.held = append(s.held, e)
	s.used += e.bytes()
	for len(s.held) > 2 && s.used > s.keep {
		s.used -= s.held[0].bytes()
		s.held[0] = nil
		s.held = s.held[1:]
	}
	return e
}
