package register

import (
	"cmp"
	"context"
	"image"
	"math"
	"slices"
)

// blocks is the grid on which the pictures are laid to judge how well their
// parts agree; each block is free to be lighter or darker by a constant.
const blocks = 16

// aligner carries one level of a pair through Gauss-Newton steps.
//
// Frame a is taken through a rising tone curve T fitted to the pair, so that
// it should look like frame b: T(a(p)) = b(W(p)). The steps minimise the
// weighted squares of the difference, weights being one over the variance found
// about T at each tone, and less for outliers (Cauchy). The gradient is the mean
// of both pictures' (second-order minimisation, Benhimane & Malis 2004); the
// Hessian is the product of one picture's gradient with the other's, whose noise
// is independent, so that grain does not pass for structure. Sampling b and
// softening T(a) by the same cubic B-spline keeps the comparison even at every
// sub-pixel phase. (Formulas from memory of the literature; checked by tests.)
type aligner struct {
	a, b *level
	t    *tones
	c    curve
	bent []float32 // T(a)
	u    []float32 // the same, softened
	v    []float32 // b on a's grid
	use  []bool
	step []uint16
	grid grid
}

// grid is where the blocks lie, in pixels of a.
type grid struct {
	box    image.Rectangle
	nx, ny int
	share  float64 // narrowed: the share of the whole picture that both show, else 0
}

func newAligner(a, b *level, s *scratch) *aligner {
	n := a.w * a.h
	s.grow(n)
	return &aligner{
		a: a, b: b, t: newTones(a.soft, a.ok), u: s.u[:n], v: s.v[:n], bent: s.bent[:n], use: s.use[:n], step: s.step[:n],
		grid: grid{box: image.Rect(0, 0, a.w, a.h), nx: blocks, ny: blocks},
	}
}

// scratch is memory that one goroutine uses again and again.
type scratch struct {
	u, v, bent []float32
	use        []bool
	step       []uint16
}

func (s *scratch) grow(n int) {
	if len(s.u) < n {
		s.u, s.v, s.bent = make([]float32, n), make([]float32, n), make([]float32, n)
		s.use, s.step = make([]bool, n), make([]uint16, n)
	}
}

// sums are what one block says.
type sums struct {
	n, e   float64
	ju, jv [4]float64
	h      [16]float64 // ju jv', symmetrised
	g      [4]float64
	uu, vv [3]float64 // xx, xy, yy of each picture's own gradients
}

// fitness is what a pair says at one pose.
type fitness struct {
	h      [16]float64   // information, parameters in pixels (turn and grow times radius)
	hs     [4]float64    // diagonal of both pictures' gradients, noise included
	g      [4]float64    // slope
	parts  [][4]float64  // the blocks' slopes
	info   [][16]float64 // the blocks' information
	where  []int         // the blocks' places in the grid
	uu, vv [3]float64    // the pictures' own gradients: xx, xy, yy
	corr   float64       // correlation of the gradients, -1..1
	z      float64       // that correlation over its standard error from the blocks
	count  float64       // effective number of blocks
	share  float64       // share of a's picture that both show
}

const splinePhases = 512

var splineTable = func() (t [splinePhases + 1][4]float32) {
	for i := range t {
		f := float64(i) / splinePhases
		g := 1 - f
		t[i] = [4]float32{
			float32(g * g * g / 6), float32((3*f*f*f - 6*f*f + 4) / 6),
			float32((3*g*g*g - 6*g*g + 4) / 6), float32(f * f * f / 6),
		}
	}
	return t
}()

// sample places b on a's grid by pose p (level pixels, about the centres).
func (al *aligner) sample(p pose) {
	a, b := al.a, al.b
	ma, mb := p.ab()
	w, h := b.w, b.h
	for y := range a.h {
		yc := float64(y) + 0.5 - a.cy
		// The centre of pixel i of b lies at i+0.5.
		x0 := ma*(0.5-a.cx) + mb*yc + p.x + b.cx - 0.5
		y0 := -mb*(0.5-a.cx) + ma*yc + p.y + b.cy - 0.5
		row := y * a.w
		for x := range a.w {
			i := row + x
			bx, by := x0+ma*float64(x), y0-mb*float64(x)
			al.use[i] = false
			al.v[i] = 0
			if !(bx >= 1 && by >= 1 && bx < float64(w-2) && by < float64(h-2)) {
				continue
			}
			ix, iy := int(bx), int(by)
			k := &splineTable[int((bx-float64(ix))*splinePhases+0.5)]
			m := &splineTable[int((by-float64(iy))*splinePhases+0.5)]
			o := (iy-1)*w + ix - 1
			r0, r1, r2, r3 := b.v[o:o+4], b.v[o+w:o+w+4], b.v[o+2*w:o+2*w+4], b.v[o+3*w:o+3*w+4]
			al.v[i] = m[0]*(k[0]*r0[0]+k[1]*r0[1]+k[2]*r0[2]+k[3]*r0[3]) +
				m[1]*(k[0]*r1[0]+k[1]*r1[1]+k[2]*r1[2]+k[3]*r1[3]) +
				m[2]*(k[0]*r2[0]+k[1]*r2[1]+k[2]*r2[2]+k[3]*r2[3]) +
				m[3]*(k[0]*r3[0]+k[1]*r3[1]+k[2]*r3[2]+k[3]*r3[3])
			al.use[i] = (a.ok == nil || a.ok[i]) && (b.ok == nil || b.ok[int(by+0.5)*w+int(bx+0.5)])
		}
	}
}

// tone fits the curve and the scatter about it; false when there is no tone.
func (al *aligner) tone() bool {
	t := al.t
	if t.n < 2 {
		return false
	}
	var n, sx, sy, dev [toneBins]float64
	for i, ok := range al.use {
		s := t.step(al.a.soft[i])
		al.step[i] = uint16(s)
		if ok {
			b := t.bin[s]
			n[b]++
			sx[b] += float64(al.a.soft[i])
			sy[b] += float64(al.v[i])
		}
	}
	if !al.c.fit(n[:], sx[:], sy[:], t) {
		return false
	}
	for i := range al.bent {
		al.bent[i] = al.c.at(t, al.a.v[i])
	}
	soften(al.u, al.bent, al.a.w, al.a.h)
	for i, ok := range al.use {
		if ok {
			dev[t.bin[al.step[i]]] += math.Abs(float64(al.u[i] - al.v[i]))
		}
	}
	var wt [toneBins]float32
	for b := range n {
		// 1.2533 makes a mean deviation a standard deviation; the floor is
		// the rounding of 8-bit codes.
		sd := 1e-3
		if n[b] > 0 {
			sd += 1.2533 * dev[b] / n[b]
		}
		wt[b] = float32(1 / (sd * sd))
	}
	for i := range al.c.weight {
		al.c.weight[i] = wt[t.bin[i]]
	}
	return true
}

// cauchy is the distance in standard deviations at which an outlier has half
// weight.
const cauchy = 2.5

func (al *aligner) weigh() fitness {
	a := al.a
	radius := al.radius()
	g := &al.grid
	acc := make([]sums, g.nx*g.ny)
	shown := 0
	for y := max(g.box.Min.Y, 1); y < min(g.box.Max.Y, a.h-1); y++ {
		yc := float32((float64(y) + 0.5 - a.cy) / radius)
		by := (y - g.box.Min.Y) * g.ny / g.box.Dy()
		for bx := range g.nx {
			lo, hi := max(g.box.Min.X+bx*g.box.Dx()/g.nx, 1), min(g.box.Min.X+(bx+1)*g.box.Dx()/g.nx, a.w-1)
			if hi > lo {
				shown += al.segment(&acc[by*g.nx+bx], y, lo, hi, yc, float32(radius))
			}
		}
	}
	f := fitness{share: g.share}
	if f.share == 0 {
		f.share = float64(shown) / float64(max(al.wanted(), 1))
	}
	f.gather(acc)
	return f
}

// Where a frame is dark but for a lamp, a handful of the picture's blocks holds
// all that both frames show, and from so few nothing can be said about how well
// the parts agree. The blocks are then laid over that place alone, smaller.
const (
	narrowCount = 10.0 // blocks that carry the agreement: fewer are laid anew
	narrowCorr  = 0.5  // correlation of the gradients: less is no place to narrow to
	narrowTrace = 0.8  // of the information that the place must hold
	narrowMost  = 0.5  // of the picture: a larger place would gain nothing
	blockLeast  = 6    // pixels of the level along a block's side: smaller ones share their noise
)

// narrow places the blocks where the structure is; false when they lie well.
func (al *aligner) narrow(f *fitness) bool {
	g := &al.grid
	if g.share > 0 || f.count >= narrowCount || f.corr < narrowCorr {
		return false
	}
	order := make([]int, len(f.where))
	total := 0.0
	for i := range order {
		order[i] = i
		total += math.Max(f.trace(i), 0)
	}
	slices.SortStableFunc(order, func(p, q int) int { return cmp.Compare(f.trace(q), f.trace(p)) })
	var box image.Rectangle
	sum := 0.0
	for _, i := range order {
		if sum >= narrowTrace*total {
			break
		}
		sum += f.trace(i)
		x, y := f.where[i]%g.nx, f.where[i]/g.nx
		box = box.Union(image.Rect(x*al.a.w/g.nx, y*al.a.h/g.ny, (x+1)*al.a.w/g.nx, (y+1)*al.a.h/g.ny))
	}
	// Structure does not end at a block's edge.
	box = box.Inset(-max(al.a.w/g.nx, al.a.h/g.ny) / 2).Intersect(g.box)
	if float64(box.Dx()*box.Dy()) > narrowMost*float64(al.a.w*al.a.h) {
		return false
	}
	laid := grid{box: box, nx: min(blocks, box.Dx()/blockLeast), ny: min(blocks, box.Dy()/blockLeast), share: f.share}
	if laid.nx < 2 || laid.ny < 2 { // too small a place for blocks
		return false
	}
	al.grid = laid
	return true
}

// trace returns what block i says about the shift.
func (f *fitness) trace(i int) float64 { return f.info[i][0] + f.info[i][5] }

func (al *aligner) wanted() int {
	if al.a.ok == nil {
		return al.a.w * al.a.h
	}
	n := 0
	for _, ok := range al.a.ok {
		if ok {
			n++
		}
	}
	return n
}

// radius scales turn and grow to pixels at the picture's edge.
func (al *aligner) radius() float64 { return float64(max(al.a.w, al.a.h)) / 2 }

// segment adds the pixels lo..hi of row y to a block.
func (al *aligner) segment(s *sums, y, lo, hi int, yc, radius float32) (shown int) {
	w := al.a.w
	row := y * w
	u, v := al.u[row-w:row+2*w], al.v[row-w:row+2*w]
	use, step := al.use[row-w:row+2*w], al.step[row:row+w]
	var n, e0, uxx, uxy, uyy, vxx, vxy, vyy float32
	var ju, jv, g [4]float32
	var h00, h01, h02, h03, h11, h12, h13, h22, h23, h33 float32
	x0 := (0.5 - float32(al.a.cx)) / radius
	ir := 1 / radius
	for x := lo; x < hi; x++ {
		c := w + x
		if !use[c] || !use[c-1] || !use[c+1] || !use[x] || !use[c+w] {
			continue
		}
		shown++
		e := u[c] - v[c]
		iv := al.c.weight[step[x]]
		wt := iv / (1 + e*e*iv*(1/(cauchy*cauchy)))
		ux, uy := (u[c+1]-u[c-1])/2, (u[c+w]-u[x])/2
		vx, vy := (v[c+1]-v[c-1])/2, (v[c+w]-v[x])/2
		xc := x0 + float32(x)*ir
		u2, u3 := ux*yc-uy*xc, ux*xc+uy*yc
		v2, v3 := vx*yc-vy*xc, vx*xc+vy*yc
		wx, wy, w2, w3 := wt*ux, wt*uy, wt*u2, wt*u3
		zx, zy, z2, z3 := wt*vx, wt*vy, wt*v2, wt*v3
		n += wt
		e0 += wt * e
		ju[0] += wx
		ju[1] += wy
		ju[2] += w2
		ju[3] += w3
		jv[0] += zx
		jv[1] += zy
		jv[2] += z2
		jv[3] += z3
		g[0] += (wx + zx) * e
		g[1] += (wy + zy) * e
		g[2] += (w2 + z2) * e
		g[3] += (w3 + z3) * e
		uxx += wx * ux
		uxy += wx * uy
		uyy += wy * uy
		vxx += zx * vx
		vxy += zx * vy
		vyy += zy * vy
		h00 += wx * vx
		h01 += wx*vy + wy*vx
		h02 += wx*v2 + w2*vx
		h03 += wx*v3 + w3*vx
		h11 += wy * vy
		h12 += wy*v2 + w2*vy
		h13 += wy*v3 + w3*vy
		h22 += w2 * v2
		h23 += w2*v3 + w3*v2
		h33 += w3 * v3
	}
	s.n += float64(n)
	s.e += float64(e0)
	for i, v := range [...]float32{uxx, uxy, uyy} {
		s.uu[i] += float64(v)
	}
	for i, v := range [...]float32{vxx, vxy, vyy} {
		s.vv[i] += float64(v)
	}
	for i := range 4 {
		s.ju[i] += float64(ju[i])
		s.jv[i] += float64(jv[i])
		s.g[i] += float64(g[i]) / 2
	}
	for i, v := range [...]float32{2 * h00, h01, h02, h03, h01, 2 * h11, h12, h13, h02, h12, 2 * h22, h23, h03, h13, h23, 2 * h33} {
		s.h[i] += float64(v) / 2
	}
	return shown
}

// gather takes each block's own brightness out and adds the blocks up.
func (f *fitness) gather(acc []sums) {
	var uv, uv2, trace, trace2 float64
	for i := range acc {
		s := &acc[i]
		if s.n <= 0 {
			continue
		}
		var g [4]float64
		var h [16]float64
		for j := range 4 {
			g[j] = s.g[j] - (s.ju[j]+s.jv[j])/2*s.e/s.n
			f.g[j] += g[j]
			for k := range 4 {
				h[4*j+k] = s.h[4*j+k] - (s.ju[j]*s.jv[k]+s.ju[k]*s.jv[j])/2/s.n
				f.h[4*j+k] += h[4*j+k]
			}
		}
		f.parts = append(f.parts, g)
		f.info = append(f.info, h)
		f.where = append(f.where, i)
		q := h[0] + h[5]
		for j, p := range [3][2]int{{0, 0}, {0, 1}, {1, 1}} {
			f.uu[j] += s.uu[j] - s.ju[p[0]]*s.ju[p[1]]/s.n
			f.vv[j] += s.vv[j] - s.jv[p[0]]*s.jv[p[1]]/s.n
		}
		uv, uv2 = uv+q, uv2+q*q
		t := math.Max(q, 0)
		trace, trace2 = trace+t, trace2+t*t
	}
	uu, vv := f.uu[0]+f.uu[2], f.vv[0]+f.vv[2]
	if uu > 0 && vv > 0 {
		f.corr = uv / math.Sqrt(uu*vv)
	}
	if uv2 > 0 {
		f.z = uv / math.Sqrt(uv2)
	}
	if trace2 > 0 {
		f.count = trace * trace / trace2
	}
	if uv > 0 {
		for i := range f.hs {
			f.hs[i] = f.h[5*i] / uv * (uu + vv) / 2
		}
	}
}

// evaluate reads the pair at a pose; false when there is nothing to compare.
func (al *aligner) evaluate(p pose) (fitness, bool) {
	al.sample(p)
	if !al.tone() {
		return fitness{}, false
	}
	f := al.weigh()
	if al.narrow(&f) {
		f = al.weigh()
	}
	return f, len(f.parts) > 0
}

// run improves p by at most steps steps, until one moves the picture's edge by
// less than still pixels. The fitness is that of the last pose evaluated, which
// the returned pose leaves by less than the last step.
func (al *aligner) run(ctx context.Context, p pose, steps int, still float64) (pose, fitness, bool) {
	var f fitness
	for range steps {
		if ctx.Err() != nil {
			return p, f, false
		}
		var ok bool
		if f, ok = al.evaluate(p); !ok {
			return p, f, false
		}
		d, ok := f.step()
		if !ok {
			return p, f, false
		}
		r := al.radius()
		size := math.Hypot(d[0], d[1]) + math.Hypot(d[2], d[3])
		// A step longer than the structure that it was read from is no more
		// than a direction.
		if size > 3 {
			for i := range d {
				d[i] *= 3 / size
			}
		}
		p = pose{d[0], d[1], d[2] / r, d[3] / r}.then(p)
		if size < still {
			break
		}
	}
	return p, f, true
}

// step solves for the step. Where there is little in common the information is
// damped by what the gradients would give were they all structure.
func (f *fitness) step() (d [4]float64, ok bool) {
	h := f.h
	for i := range 4 {
		h[5*i] += 0.01*math.Abs(f.hs[i]) + 1e-9
	}
	inv, ok := invert(h)
	if !ok {
		return d, false
	}
	for i := range 4 {
		for j := range 4 {
			d[i] += inv[4*i+j] * f.g[j]
		}
		if math.IsNaN(d[i]) || math.IsInf(d[i], 0) {
			return d, false
		}
	}
	return d, true
}

// invert inverts a symmetric positive definite matrix (Cholesky); false when it
// is not.
func invert(m [16]float64) (inv [16]float64, ok bool) {
	var l [16]float64
	for i := range 4 {
		for j := range i + 1 {
			s := m[4*i+j]
			for k := range j {
				s -= l[4*i+k] * l[4*j+k]
			}
			if i == j {
				if !(s > 1e-12*math.Abs(m[5*i])) || s <= 0 {
					return inv, false
				}
				l[5*i] = math.Sqrt(s)
			} else {
				l[4*i+j] = s / l[5*j]
			}
		}
	}
	for c := range 4 {
		var y [4]float64
		for i := range 4 {
			s := 0.0
			if i == c {
				s = 1
			}
			for k := range i {
				s -= l[4*i+k] * y[k]
			}
			y[i] = s / l[5*i]
		}
		for i := 3; i >= 0; i-- {
			s := y[i]
			for k := i + 1; k < 4; k++ {
				s -= l[4*k+i] * inv[4*k+c]
			}
			inv[4*i+c] = s / l[5*i]
		}
	}
	return inv, true
}
