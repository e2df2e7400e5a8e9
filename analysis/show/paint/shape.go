package paint

import (
	"image"
	"image/color"
	"math"
)

// Pt is a position in device pixels.
type Pt struct{ X, Y float64 }

// path is drawn between begin and end; positions are taken relative to the box.
type path struct {
	c   *Canvas
	box image.Rectangle
}

// begin prepares the rasterizer for a shape that lies inside the given bounds.
func (c *Canvas) begin(x0, y0, x1, y1 float64) (path, bool) {
	if !(x1 >= x0 && y1 >= y0) || math.IsInf(x1-x0, 0) || math.IsInf(y1-y0, 0) {
		return path{}, false
	}
	lim := func(v float64) int { return int(math.Max(-1e6, math.Min(1e6, v))) }
	box := image.Rect(lim(math.Floor(x0)), lim(math.Floor(y0)), lim(math.Ceil(x1))+1, lim(math.Ceil(y1))+1)
	box = box.Intersect(c.clip)
	if box.Empty() {
		return path{}, false
	}
	c.rast.Reset(box.Dx(), box.Dy())
	return path{c, box}, true
}

func (p path) rel(a Pt) (float32, float32) {
	return float32(a.X - float64(p.box.Min.X)), float32(a.Y - float64(p.box.Min.Y))
}

func (p path) move(a Pt) { x, y := p.rel(a); p.c.rast.MoveTo(x, y) }
func (p path) line(a Pt) { x, y := p.rel(a); p.c.rast.LineTo(x, y) }
func (p path) end(col color.NRGBA) {
	p.c.rast.Draw(p.c.Img, p.box, image.NewUniform(col), image.Point{})
}

func finite(pts []Pt) bool {
	for _, p := range pts {
		if math.IsNaN(p.X+p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) {
			return false
		}
	}
	return true
}

func bounds(pts []Pt) (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = pts[0].X, pts[0].Y, pts[0].X, pts[0].Y
	for _, p := range pts[1:] {
		x0, x1 = math.Min(x0, p.X), math.Max(x1, p.X)
		y0, y1 = math.Min(y0, p.Y), math.Max(y1, p.Y)
	}
	return
}

// Area fills the closed polygon through pts. Fewer than three points, or points
// that are not finite, draw nothing.
func (c *Canvas) Area(pts []Pt, col color.NRGBA) {
	if len(pts) < 3 || !finite(pts) {
		return
	}
	p, ok := c.begin(bounds(pts))
	if !ok {
		return
	}
	p.move(pts[0])
	for _, q := range pts[1:] {
		p.line(q)
	}
	c.rast.ClosePath()
	p.end(col)
}

// Line draws an anti-aliased line; width in units.
func (c *Canvas) Line(x0, y0, x1, y1, width float64, col color.NRGBA) {
	c.Polyline([]Pt{{x0, y0}, {x1, y1}}, width, col)
}

// Polyline draws anti-aliased joined segments with mitred corners (round where
// the line turns back) and flat ends;
// width in units. Points that are not finite break the line.
func (c *Canvas) Polyline(pts []Pt, width float64, col color.NRGBA) {
	for len(pts) > 0 {
		n := 0
		for n < len(pts) && finite(pts[n:n+1]) {
			n++
		}
		c.stroke(pts[:n], width, col)
		pts = pts[min(n+1, len(pts)):]
	}
}

func (c *Canvas) stroke(pts []Pt, width float64, col color.NRGBA) {
	if len(pts) < 2 {
		return
	}
	h := math.Max(c.U(width), 0.5) / 2
	x0, y0, x1, y1 := bounds(pts)
	p, ok := c.begin(x0-h, y0-h, x1+h, y1+h)
	if !ok {
		return
	}
	// The outline is one closed shape: the rasterizer adds coverage up, so pieces
	// that overlap along an edge would draw it too heavy. Only at sharp corners
	// does the outline end and begin again, with a round join over the two.
	run := pts[:0:0]
	for _, q := range pts {
		if len(run) == 0 || q != run[len(run)-1] {
			run = append(run, q)
		}
	}
	for len(run) >= 2 {
		n := 2
		for n < len(run) && !sharp(run[n-2], run[n-1], run[n]) {
			n++
		}
		p.outline(run[:n], h)
		if n == len(run) {
			break
		}
		p.disc(run[n-1], h)
		run = run[n-1:]
	}
	p.end(col)
}

// normal returns the unit vector a quarter turn from a to b.
func normal(a, b Pt) Pt {
	l := math.Hypot(b.X-a.X, b.Y-a.Y)
	return Pt{-(b.Y - a.Y) / l, (b.X - a.X) / l}
}

// sharp reports whether the line turns by more than 90 degrees at b.
func sharp(a, b, d Pt) bool {
	m, n := normal(a, b), normal(b, d)
	return m.X*n.X+m.Y*n.Y < 0
}

// outline adds the outline of a stroke of half width h with mitred corners.
func (p path) outline(pts []Pt, h float64) {
	n := len(pts)
	off := make([]Pt, n) // from each point to the edge on its left
	for i := range pts {
		switch {
		case i == 0:
			m := normal(pts[0], pts[1])
			off[i] = Pt{m.X * h, m.Y * h}
		case i == n-1:
			m := normal(pts[n-2], pts[n-1])
			off[i] = Pt{m.X * h, m.Y * h}
		default:
			a, b := normal(pts[i-1], pts[i]), normal(pts[i], pts[i+1])
			k := h / (1 + a.X*b.X + a.Y*b.Y)
			off[i] = Pt{(a.X + b.X) * k, (a.Y + b.Y) * k}
		}
	}
	p.move(Pt{pts[0].X - off[0].X, pts[0].Y - off[0].Y})
	for i := 1; i < n; i++ {
		p.line(Pt{pts[i].X - off[i].X, pts[i].Y - off[i].Y})
	}
	for i := n - 1; i >= 0; i-- {
		p.line(Pt{pts[i].X + off[i].X, pts[i].Y + off[i].Y})
	}
	p.c.rast.ClosePath()
}

// arc adds points along a circle from angle a0 to a1 (radians, clockwise on the
// picture), to a fiftieth of a pixel; the rasterizer's own curves are coarser.
func (p path) arc(o Pt, r, a0, a1 float64, first bool) {
	n := 8
	if r > 0.1 {
		n = max(3, int(math.Ceil(math.Abs(a1-a0)/(2*math.Acos(1-math.Min(1, 0.02/r))))))
	}
	for i := 0; i <= min(n, 4096); i++ {
		a := a0 + (a1-a0)*float64(i)/float64(n)
		q := Pt{o.X + r*math.Cos(a), o.Y + r*math.Sin(a)}
		if first && i == 0 {
			p.move(q)
		} else {
			p.line(q)
		}
	}
}

func (p path) disc(o Pt, r float64) {
	p.arc(o, r, 0, 2*math.Pi, true)
	p.c.rast.ClosePath()
}

func (p path) hole(o Pt, r float64) {
	p.arc(o, r, 2*math.Pi, 0, true)
	p.c.rast.ClosePath()
}

// Disc fills a circle; the radius is device pixels.
func (c *Canvas) Disc(x, y, r float64, col color.NRGBA) {
	if p, ok := c.begin(x-r, y-r, x+r, y+r); ok && r > 0 {
		p.disc(Pt{x, y}, r)
		p.end(col)
	}
}

// Ring draws a circle line inside radius r (device pixels); width in units.
func (c *Canvas) Ring(x, y, r, width float64, col color.NRGBA) {
	if p, ok := c.begin(x-r, y-r, x+r, y+r); ok && r > 0 {
		p.disc(Pt{x, y}, r)
		if in := r - c.U(width); in > 0 {
			p.hole(Pt{x, y}, in)
		}
		p.end(col)
	}
}

// RoundRect fills r with rounded corners; radius in units.
func (c *Canvas) RoundRect(r image.Rectangle, radius float64, col color.NRGBA) {
	x0, y0, x1, y1 := float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)
	q := math.Min(c.U(radius), math.Min(x1-x0, y1-y0)/2)
	if q < 1 {
		c.Fill(r, col)
		return
	}
	p, ok := c.begin(x0, y0, x1, y1)
	if !ok {
		return
	}
	p.arc(Pt{x0 + q, y0 + q}, q, math.Pi, 1.5*math.Pi, true)
	p.arc(Pt{x1 - q, y0 + q}, q, 1.5*math.Pi, 2*math.Pi, false)
	p.arc(Pt{x1 - q, y1 - q}, q, 0, 0.5*math.Pi, false)
	p.arc(Pt{x0 + q, y1 - q}, q, 0.5*math.Pi, math.Pi, false)
	c.rast.ClosePath()
	p.end(col)
}

// Curve draws a function of x over r: ys holds one height (0 bottom, 1 top;
// beyond is cut) per sample, evenly spread over r's width. The area under it is
// filled with fill, the line is width units wide. A fully transparent colour
// leaves its part out. It is much cheaper than Area and Polyline.
func (c *Canvas) Curve(r image.Rectangle, ys []float64, width float64, line, fill color.NRGBA) {
	box := r.Intersect(c.clip)
	if box.Empty() || len(ys) < 2 {
		return
	}
	h := r.Dy()
	at := func(x float64) float64 { // x in pixels from r.Min.X -> y in pixels from r.Min.Y
		t := x / float64(r.Dx()) * float64(len(ys))
		t = math.Max(0, math.Min(float64(len(ys)-1), t-0.5))
		i := int(t)
		v := ys[i]
		if i+1 < len(ys) {
			v += (ys[i+1] - v) * (t - float64(i))
		}
		if !(v > 0) {
			v = 0
		}
		return (1 - math.Min(v, 1)) * float64(h)
	}
	half := math.Max(c.U(width), 0.7) / 2
	const sub = 4
	// reach[k] is how far a pen of that radius reaches up and down k quarters of
	// a pixel beside its centre.
	var reach []float64
	for k := 0; float64(k)/sub <= half; k++ {
		dx := float64(k) / sub
		reach = append(reach, math.Sqrt(half*half-dx*dx))
	}
	n := len(reach) - 1
	if line.A == 0 {
		n = 0
	}
	// The heights at quarter pixels, n more on either side.
	c.tops = c.tops[:0]
	for i := -n; i < sub*box.Dx()+n; i++ {
		c.tops = append(c.tops, at(float64(box.Min.X-r.Min.X)+(float64(i)+0.5)/sub))
	}
	if cap(c.cov) < h+1 {
		c.cov = make([]float32, h+1)
	}
	cov := c.cov[:h]
	for x := box.Min.X; x < box.Max.X; x++ {
		first := (x-box.Min.X)*sub + n
		if fill.A > 0 {
			top := at(float64(x-r.Min.X) + 0.5)
			y := int(top)
			c.dot(x, r.Min.Y+y, fill, 1-(top-float64(y)))
			c.Fill(image.Rect(x, r.Min.Y+y+1, x+1, r.Max.Y), fill)
		}
		if line.A == 0 {
			continue
		}
		lo, hi := h, -1 // rows of cov in use
		for s := first; s < first+sub; s++ {
			a, b := math.Inf(1), math.Inf(-1)
			for k := -n; k <= n; k++ {
				v, q := c.tops[s+k], reach[max(k, -k)]
				a, b = math.Min(a, v-q), math.Max(b, v+q)
			}
			// A line along the floor or the top of the plot is kept whole.
			if b > float64(h) {
				a = math.Max(0, math.Min(a, float64(h)-2*half))
			}
			if a < 0 {
				b = math.Min(float64(h), math.Max(b, 2*half))
			}
			a, b = math.Max(a, 0), math.Min(b, float64(h))
			y0, y1 := int(a), min(h-1, int(math.Ceil(b))-1)
			if hi < 0 {
				lo, hi = y0, y0-1
			}
			for ; lo > y0; lo-- {
				cov[lo-1] = 0
			}
			for ; hi < y1; hi++ {
				cov[hi+1] = 0
			}
			for y := y0; y <= y1; y++ {
				cov[y] += float32(math.Min(b, float64(y+1))-math.Max(a, float64(y))) / sub
			}
		}
		for y := lo; y <= hi; y++ {
			c.dot(x, r.Min.Y+y, line, float64(cov[y]))
		}
	}
}

// dot covers a fraction of one pixel.
func (c *Canvas) dot(x, y int, col color.NRGBA, part float64) {
	if part <= 0 || !(image.Pt(x, y).In(c.clip)) {
		return
	}
	o := c.Img.PixOffset(x, y)
	over(c.Img.Pix[o:o+4:o+4], col, uint32(float64(col.A)*math.Min(part, 1)+0.5))
}
