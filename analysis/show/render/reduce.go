package render

import (
	"image"
	"sort"

	"stopladder/analysis/film/measure"
)

// cutter collects rows of a scan into a Detail, reducing them by a whole
// factor. Reduction averages in light, channel by channel, and keeps code
// values, as the preview does, so that the picture does not change its
// brightness when the detail replaces the preview.
type cutter struct {
	d    *Detail
	look *measure.Look

	tone  *[3][]float32
	back  [3]inverse
	sums  []float32
	count []float32 // pixels summed, per value pixel
	hi    []uint32  // of them clipped at the ceiling
	lo    []uint32
	next  int // full-resolution row expected
}

func newCutter(look *measure.Look, r image.Rectangle, step int) *cutter {
	d := &Detail{Rect: r, asked: r, Step: step, W: (r.Dx() + step - 1) / step, H: (r.Dy() + step - 1) / step}
	c := &cutter{d: d, look: look, next: r.Min.Y}
	d.Pix = make([]uint16, 3*d.W*d.H)
	if step == 1 {
		return c
	}
	d.BlownShare, d.BlockedShare = make([]uint8, d.W*d.H), make([]uint8, d.W*d.H)
	c.tone = look.ColourSpace().Tone()
	for k := range c.back {
		c.back[k] = newInverse(c.tone[k])
	}
	c.sums, c.count = make([]float32, 3*d.W), make([]float32, d.W)
	c.hi, c.lo = make([]uint32, d.W), make([]uint32, d.W)
	return c
}

// row takes full-resolution row y: the code values of the columns of d.Rect.
func (c *cutter) row(y int, codes []uint16) {
	d := c.d
	c.next = y + 1
	if d.Step == 1 {
		copy(d.Pix[3*d.W*(y-d.Rect.Min.Y):][:3*d.W], codes)
		return
	}
	n := len(codes) / 3
	for x := 0; x < n; x++ {
		p := codes[3*x : 3*x+3 : 3*x+3]
		i := x / d.Step
		for k, v := range p {
			c.sums[3*i+k] += c.tone[k][min(int(v), len(c.tone[k])-1)]
		}
		c.count[i]++
		f := clipFlags(p, c.look.Ceiling, c.look.Floor)
		c.hi[i] += uint32(f & flagBlown)
		c.lo[i] += uint32(f & flagBlocked / flagBlocked)
	}
	if (c.next-d.Rect.Min.Y)%d.Step == 0 || c.next == d.Rect.Max.Y {
		c.flush((y - d.Rect.Min.Y) / d.Step)
	}
}

func (c *cutter) flush(at int) {
	d := c.d
	for i, n := range c.count {
		if n == 0 {
			continue
		}
		o := at*d.W + i
		for k := 0; k < 3; k++ {
			d.Pix[3*o+k] = c.back[k].code(c.sums[3*i+k] / n)
		}
		d.BlownShare[o] = uint8(255 * float32(c.hi[i]) / n)
		d.BlockedShare[o] = uint8(255 * float32(c.lo[i]) / n)
	}
	clear(c.sums)
	clear(c.count)
	clear(c.hi)
	clear(c.lo)
}

// done returns what was collected; rows that never came (a truncated file) are
// cut off. It is nil when there were none.
func (c *cutter) done() *Detail {
	d := c.d
	if c.next <= d.Rect.Min.Y {
		return nil
	}
	if c.next < d.Rect.Max.Y {
		if d.Step > 1 && (c.next-d.Rect.Min.Y)%d.Step != 0 {
			c.flush((c.next - 1 - d.Rect.Min.Y) / d.Step)
		}
		d.Rect.Max.Y = c.next
		d.H = (d.Rect.Dy() + d.Step - 1) / d.Step
		d.Pix = d.Pix[:3*d.W*d.H]
		if d.Step > 1 {
			d.BlownShare, d.BlockedShare = d.BlownShare[:d.W*d.H], d.BlockedShare[:d.W*d.H]
		}
	}
	return d
}

// inverse finds the code whose light is nearest to a given light.
type inverse struct {
	tone  []float32
	start []int32 // first code at or above k/inverseSteps of light
}

const inverseSteps = 1 << 12

func newInverse(tone []float32) inverse {
	v := inverse{tone: tone, start: make([]int32, inverseSteps+2)}
	c := 0
	for k := range v.start {
		for c < len(tone) && tone[c] < float32(k)/inverseSteps {
			c++
		}
		v.start[k] = int32(c)
	}
	return v
}

func (v inverse) code(light float32) uint16 {
	if !(light > 0) {
		light = 0
	}
	k := min(int(light*inverseSteps), inverseSteps)
	from, to := int(v.start[k]), int(v.start[k+1])
	c := from + sort.Search(to-from, func(i int) bool { return v.tone[from+i] >= light })
	c = min(c, len(v.tone)-1)
	if c > 0 && light-v.tone[c-1] < v.tone[c]-light {
		c--
	}
	return uint16(c)
}
