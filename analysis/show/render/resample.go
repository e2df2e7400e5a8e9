package render

import "math"

// taps are the source pixels of which one output pixel is made.
type taps struct {
	from int
	w    []float32 // sum 1
}

// tapsOf returns how n output pixels are made of the source pixels from lo to hi, which
// may lie between pixels, of size in all. Reduced, each is a tent as wide as the
// reduction: no aliasing, no ringing. Enlarged, it is Catmull and Rom's cubic (1974),
// which passes through the source's pixels.
func tapsOf(n int, lo, hi float64, size int) []taps {
	out := make([]taps, n)
	ratio := (hi - lo) / float64(n)
	reach, kernel := 2.0, cubic
	if ratio >= 1 {
		reach, kernel = ratio, func(x float64) float64 { return math.Max(0, 1-math.Abs(x)/ratio) }
	}
	for i := range out {
		c := lo + (float64(i)+0.5)*ratio - 0.5
		a, b := int(math.Ceil(c-reach)), int(math.Floor(c+reach))
		// Beside the edge stands the edge.
		from, to := min(max(a, 0), size-1), max(min(b, size-1), 0)
		w := make([]float32, to-from+1)
		sum := 0.0
		for k := a; k <= b; k++ {
			v := kernel(float64(k) - c)
			sum += v
			w[min(max(k, from), to)-from] += float32(v)
		}
		for k := range w {
			w[k] /= float32(sum)
		}
		out[i] = taps{from, w}
	}
	return out
}

func cubic(x float64) float64 {
	x = math.Abs(x)
	switch {
	case x < 1:
		return (1.5*x-2.5)*x*x + 1
	case x < 2:
		return ((-0.5*x+2.5)*x-4)*x + 2
	}
	return 0
}

// resampler makes a picture of rows of light that are given from the top, of which it
// keeps no more than an output row needs.
type resampler struct {
	w, h       int
	cols, rows []taps
	out        func(y int, light []float32) // called for each output row, from the top; light is changed after

	ring [][]float32
	next int // output row
	row  int // source row expected
	sum  []float32
}

// newResampler takes rows of a source of srcW x srcH pixels, of which x0..x1, y0..y1 are
// wanted at w x h.
func newResampler(w, h, srcW, srcH int, x0, y0, x1, y1 float64, out func(y int, light []float32)) *resampler {
	r := &resampler{w: w, h: h, cols: tapsOf(w, x0, x1, srcW), rows: tapsOf(h, y0, y1, srcH), out: out, sum: make([]float32, 3*w)}
	n := 1
	for _, t := range r.rows {
		n = max(n, len(t.w))
	}
	r.ring = make([][]float32, n)
	for i := range r.ring {
		r.ring[i] = make([]float32, 3*w)
	}
	r.row = r.rows[0].from
	return r
}

// span returns the source rows that are needed, and the columns.
func (r *resampler) span() (y0, y1, x0, x1 int) {
	last := r.rows[r.h-1]
	lastX := r.cols[r.w-1]
	return r.rows[0].from, last.from + len(last.w), r.cols[0].from, lastX.from + len(lastX.w)
}

// done reports whether all output rows were made.
func (r *resampler) done() bool { return r.next >= r.h }

// take takes the next source row: light of all columns.
func (r *resampler) take(row []float32) {
	if r.done() {
		return
	}
	to := r.ring[r.row%len(r.ring)]
	for i := range r.cols {
		t := &r.cols[i]
		p, w := row[3*t.from:][:3*len(t.w)], t.w
		var a, b, c float32
		for len(w) >= 2 && len(p) >= 6 { // two at a time, in the same order
			a += w[0] * p[0]
			b += w[0] * p[1]
			c += w[0] * p[2]
			a += w[1] * p[3]
			b += w[1] * p[4]
			c += w[1] * p[5]
			w, p = w[2:], p[6:]
		}
		if len(w) > 0 && len(p) >= 3 {
			a += w[0] * p[0]
			b += w[0] * p[1]
			c += w[0] * p[2]
		}
		to[3*i], to[3*i+1], to[3*i+2] = a, b, c
	}
	r.row++
	for r.next < r.h {
		t := &r.rows[r.next]
		if t.from+len(t.w) > r.row {
			return
		}
		r.down(t)
		r.out(r.next, r.sum)
		r.next++
	}
}

// down sums the source rows of an output row, two at a time and in their order.
func (r *resampler) down(t *taps) {
	sum := r.sum
	at := func(k int) []float32 { return r.ring[(t.from+k)%len(r.ring)][:len(sum)] }
	k := 0
	if len(t.w)%2 == 1 {
		w := t.w[0]
		for i, v := range at(0) {
			sum[i] = w * v
		}
		k = 1
	} else {
		clear(sum)
	}
	for ; k+1 < len(t.w); k += 2 {
		w0, w1 := t.w[k], t.w[k+1]
		a, b := at(k), at(k+1)
		b = b[:len(a)]
		for i, v := range a {
			sum[i] = sum[i] + w0*v + w1*b[i]
		}
	}
}
