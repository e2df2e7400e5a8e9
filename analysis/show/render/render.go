package render

import (
	"encoding/binary"
	"image"
	"math"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/show/paint"

	"golang.org/x/image/math/f64"
)

// Surround is the neutral grey #3A3A3A around the picture, as uint32 in the
// order of image.RGBA. A coloured surround would spoil the judgement of colour
// (ISO 3664 asks for a neutral one).
const Surround = opaque | 0x3a3a3a

// Overlay says which masks are blended over the picture.
type Overlay struct {
	Blown, Blocked, Noisy, Lost, Dust bool
	Scale                             float64 // device pixels per unit of the patterns, rounded to whole; 0 is 1
}

func put(p []uint8, v uint32) { binary.LittleEndian.PutUint32(p, v) }

// Render draws the visible part of p into the whole of dst. Masks are laid over
// the image area only, since only that is measured; the film border and the
// rest of the scan are shown as they are when the view reaches there. A picture
// without a look leaves the surround alone. An unprepared picture is prepared
// on the way, which is slow.
func Render(dst *image.RGBA, p Picture, v View, o Overlay) { picture(dst, p, v, o, false) }

// Draft does what Render does, with the nearest pixel everywhere, for views in motion.
// Where a correction made by PerChannel is drawn that would save little, and make the
// picture flicker while a slide is dragged: there it is Render.
func Draft(dst *image.RGBA, p Picture, v View, o Overlay) { picture(dst, p, v, o, true) }

func picture(dst *image.RGBA, p Picture, v View, o Overlay, draft bool) {
	b := dst.Bounds()
	if b.Empty() {
		return
	}
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() {
		parallel.Bands(b.Dy(), func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				fill(line(dst, y), 0, b.Dx(), p.surround())
			}
		})
		return
	}
	if !p.Ready() {
		p.Prepare(nil)
	}
	draft = draft && !p.live()
	toFrame, port := p.deviceMap(v, b.Dx(), b.Dy())
	ls := layers(&p, toFrame, port, draft)
	pats := patternsOf(o, port.W)
	straight := straight(toFrame)
	for i := range ls {
		if straight {
			ls[i].tabulate(port.W, port.H)
		}
	}
	parallel.Bands(port.H, func(y0, y1 int) {
		flags := make([]uint8, port.W)
		var buf rowBuf
		for y := y0; y < y1; y++ {
			row := line(dst, y)
			clear(flags)
			if len(ls) == 0 || !ls[0].fills {
				fill(row, 0, port.W, p.surround())
			}
			for i := range ls {
				if straight {
					ls[i].straightRow(row, flags, &buf, y, len(pats) > 0)
				} else {
					ls[i].turnedRow(row, flags, &buf, y, len(pats) > 0)
				}
			}
			lay(pats, row, flags, y)
		}
	})
}

func line(dst *image.RGBA, y int) []uint8 {
	b := dst.Bounds()
	o := dst.PixOffset(b.Min.X, b.Min.Y+y)
	return dst.Pix[o : o+4*b.Dx() : o+4*b.Dx()]
}

func fill(row []uint8, from, to int, grey uint32) {
	for x := from; x < to; x++ {
		put(row[4*x:], grey)
	}
}

// surround returns the grey around the picture.
func (p *Picture) surround() uint32 {
	if p.Surround == 0 {
		return Surround
	}
	return opaque | uint32(p.Surround)*0x010101
}

// pixelsPerDevice returns how many frame pixels a device pixel spans: the longer of
// its two sides.
func pixelsPerDevice(m f64.Aff3) float64 {
	return math.Max(math.Hypot(m[0], m[3]), math.Hypot(m[1], m[4]))
}

// nearOne admits the float noise of a view at exactly 1:1.
const nearOne = 1 + 1e-6

// layers lists what is drawn, lowest first: the preview at its fitting level
// and, where the preview would be magnified, the detail over it.
func layers(p *Picture, toFrame f64.Aff3, port Port, draft bool) []layer {
	per := pixelsPerDevice(toFrame)
	factor := float64(max(1, p.Look.Preview.Factor))
	frame := image.Rect(0, 0, p.Look.Info.Width, p.Look.Info.Height)

	k, scale := 0, factor
	for k+1 < len(p.marks.levels) && 2*scale <= per*nearOne {
		k, scale = k+1, 2*scale
	}
	base := newLayer(toFrame, frame, image.Point{}, scale, p.Look.Area)
	base.w, base.h, base.flags = p.marks.levels[k].w, p.marks.levels[k].h, p.marks.levels[k].pix
	if !p.live() {
		base.pic = p.shown.levels[k]
	}
	base.nearest = draft || filesOwn(toFrame, scale)

	if !p.detailShows(per) {
		if p.live() {
			base.codes = p.codeLayer(p.codesOfLook().level(k))
		}
		return []layer{base}
	}
	d := p.Detail
	ready := d.develop(p.Look, p.Adjust, flatOf(p.Flat))
	top := newLayer(toFrame, d.Rect.Intersect(frame), d.Rect.Min, float64(d.Step), p.Look.Area)
	top.w, top.h, top.flags = d.W, d.H, ready.flags
	if p.live() {
		top.codes = p.codeLayer(codeLevel{d.W, d.H, d.Pix})
	} else {
		top.pic = ready.pic
	}
	top.nearest = draft || filesOwn(toFrame, float64(d.Step))
	// Detail knows Blown and Blocked; Noisy, Lost and Dust are known per preview pixel alone.
	top.keep = flagNoisy | flagLost | flagDust
	if visible(toFrame, port).Intersect(frame).In(d.Rect) {
		base.flagsOnly = true
	} else if p.live() {
		base.codes = p.codeLayer(p.codesOfLook().level(k))
	}
	return []layer{base, top}
}

// detailShows reports whether the detail is finer than the preview in a view where a
// device pixel spans per frame pixels.
func (p *Picture) detailShows(per float64) bool {
	d, factor := p.Detail, float64(max(1, p.Look.Preview.Factor))
	return d != nil && d.Step >= 1 && factor > 1 && per < factor && per <= 2*float64(d.Step)*nearOne
}

// visible returns the part of the frame's plane that the port shows, in whole frame
// pixels, not clipped to the frame.
func visible(toFrame f64.Aff3, port Port) image.Rectangle {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, c := range [4][2]int{{0, 0}, {port.W, 0}, {0, port.H}, {port.W, port.H}} {
		x, y := affine.At(toFrame, float64(c[0]), float64(c[1]))
		x0, x1 = math.Min(x0, x), math.Max(x1, x)
		y0, y1 = math.Min(y0, y), math.Max(y1, y)
	}
	return image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1)))
}

// Wanted returns which full-resolution pixels of p would make the view sharper than
// the preview does: the visible part, and by which whole factor it may be reduced. ok
// is false when the preview is enough or the frame is not in sight.
func Wanted(p Picture, v View, w, h int) (r image.Rectangle, step int, ok bool) {
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() || w <= 0 || h <= 0 {
		return image.Rectangle{}, 0, false
	}
	m, port := p.deviceMap(v, w, h)
	per := pixelsPerDevice(m)
	if p.Look.Preview.Factor <= 1 || per >= float64(p.Look.Preview.Factor)/nearOne {
		return image.Rectangle{}, 0, false
	}
	r = visible(m, port).Intersect(image.Rect(0, 0, p.Look.Info.Width, p.Look.Info.Height))
	return r, max(1, int(per*nearOne)), !r.Empty()
}

// FrameAt converts a device position in a w x h buffer to a pixel of the frame;
// ok is false outside the scan.
func FrameAt(p Picture, v View, w, h int, x, y float64) (at image.Point, ok bool) {
	if p.Look == nil || w <= 0 || h <= 0 || p.BaseArea().Empty() {
		return image.Point{}, false
	}
	m, _ := p.deviceMap(v, w, h)
	fx, fy := affine.At(m, x, y)
	if !finite(fx) || !finite(fy) {
		return image.Point{}, false
	}
	at = image.Pt(int(math.Floor(fx)), int(math.Floor(fy)))
	return at, at.In(image.Rect(0, 0, p.Look.Info.Width, p.Look.Info.Height))
}

// pattern is one mask ready to be blended over rows of one width.
type pattern struct {
	flag   uint8
	colour [3]uint32
	alpha  []uint8 // paint.Period rows as wide as the buffer
	w      int
	scale  int
}

func patternsOf(o Overlay, w int) (ps []pattern) {
	scale := max(1, int(math.Round(o.Scale)))
	add := func(on bool, k paint.Kind, strong bool, flag uint8) {
		if !on {
			return
		}
		c := paint.MaskColour(k)
		t := pattern{flag: flag, colour: [3]uint32{uint32(c.R), uint32(c.G), uint32(c.B)}, w: w, scale: scale}
		t.alpha = make([]uint8, paint.Period*w)
		for i := range t.alpha {
			t.alpha[i] = paint.Pattern(k, i%w/scale, i/w, strong)
		}
		ps = append(ps, t)
	}
	add(o.Lost, paint.Lost, true, flagLost)
	add(o.Dust, paint.Dust, true, flagDust)
	add(o.Noisy, paint.Noisy, true, flagNoisy)
	add(o.Blocked, paint.Blocked, true, flagBlocked)
	add(o.Blocked, paint.Blocked, false, flagBlockedFlat)
	add(o.Blown, paint.Blown, true, flagBlown)
	add(o.Blown, paint.Blown, false, flagBlownFlat)
	return ps
}

// lay blends the patterns of all flags that a row has.
func lay(pats []pattern, row, flags []uint8, y int) {
	if len(pats) == 0 {
		return
	}
	var eight uint64
	rest := flags
	for ; len(rest) >= 8; rest = rest[8:] {
		eight |= binary.LittleEndian.Uint64(rest)
	}
	eight |= eight >> 32
	eight |= eight >> 16
	any := uint8(eight | eight>>8)
	for _, f := range rest {
		any |= f
	}
	for i := range pats {
		if t := &pats[i]; any&t.flag != 0 {
			t.blend(row, flags, y)
		}
	}
}

// blend places the pattern over the pixels that bear its flag. Patterns hang on device
// pixels, so that they look alike at any zoom.
func (t *pattern) blend(row, flags []uint8, y int) {
	alpha := t.alpha[y/t.scale%paint.Period*t.w:][:len(flags)]
	eight := uint64(t.flag) * 0x0101010101010101
	x := 0
	for ; x+8 <= len(flags); x += 8 { // most of a picture bears no mask: eight pixels at a look
		if binary.LittleEndian.Uint64(flags[x:])&eight != 0 && binary.LittleEndian.Uint64(alpha[x:]) != 0 {
			t.over(row[4*x:4*x+32], flags[x:x+8], alpha[x:x+8])
		}
	}
	t.over(row[4*x:], flags[x:], alpha[x:])
}

// over blends the pattern over some pixels.
func (t *pattern) over(row, flags, alpha []uint8) {
	alpha = alpha[:len(flags)]
	for x, f := range flags {
		a := uint32(alpha[x])
		if f&t.flag == 0 || a == 0 {
			continue
		}
		p := row[4*x : 4*x+4 : 4*x+4]
		q := 255 - a
		p[0] = uint8((t.colour[0]*a + uint32(p[0])*q + 127) / 255)
		p[1] = uint8((t.colour[1]*a + uint32(p[1])*q + 127) / 255)
		p[2] = uint8((t.colour[2]*a + uint32(p[2])*q + 127) / 255)
	}
}
