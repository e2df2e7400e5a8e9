package courtyard

import "math"

type vertex struct{ p, n vec }

type face struct {
	v   [3]int32
	mat int16
	// tone varies things of one material from piece to piece, 0..1.
	tone float32
}

type mesh struct {
	verts []vertex
	faces []face
}

func (m *mesh) vert(p, n vec) int32 {
	m.verts = append(m.verts, vertex{p, n})
	return int32(len(m.verts) - 1)
}

func (m *mesh) face(a, b, c int32, mat int, tone float64) {
	m.faces = append(m.faces, face{[3]int32{a, b, c}, int16(mat), float32(tone)})
}

// flat adds a flat polygon (a fan, so convex) that faces by the right-hand rule.
func (m *mesh) flat(mat int, tone float64, p ...vec) {
	n := p[1].sub(p[0]).cross(p[2].sub(p[0])).unit()
	base := int32(len(m.verts))
	for _, q := range p {
		m.vert(q, n)
	}
	for i := 2; i < len(p); i++ {
		m.face(base, base+int32(i)-1, base+int32(i), mat, tone)
	}
}

// placed is an affine placement: columns of a rotation, and an origin.
type placed struct{ x, y, z, o vec }

func at(o vec) placed { return placed{vec{1, 0, 0}, vec{0, 1, 0}, vec{0, 0, 1}, o} }

func (t placed) point(p vec) vec {
	return t.o.add(t.x.scale(p.x)).add(t.y.scale(p.y)).add(t.z.scale(p.z))
}

func (t placed) dir(p vec) vec {
	return t.x.scale(p.x).add(t.y.scale(p.y)).add(t.z.scale(p.z))
}

// turn rotates about the placement's own upright axis, degrees.
func (t placed) turn(deg float64) placed {
	s, c := math.Sincos(deg * math.Pi / 180)
	return placed{t.x.scale(c).sub(t.z.scale(s)), t.y, t.x.scale(s).add(t.z.scale(c)), t.o}
}

// tip rotates about the placement's own x axis, degrees.
func (t placed) tip(deg float64) placed {
	s, c := math.Sincos(deg * math.Pi / 180)
	return placed{t.x, t.y.scale(c).add(t.z.scale(s)), t.z.scale(c).sub(t.y.scale(s)), t.o}
}

// box adds a box from lo to hi in the placement.
func (m *mesh) box(mat int, tone float64, t placed, lo, hi vec) {
	c := func(x, y, z float64) vec { return t.point(vec{x, y, z}) }
	a, b := lo, hi
	m.flat(mat, tone, c(a.x, a.y, b.z), c(b.x, a.y, b.z), c(b.x, b.y, b.z), c(a.x, b.y, b.z))
	m.flat(mat, tone, c(b.x, a.y, a.z), c(a.x, a.y, a.z), c(a.x, b.y, a.z), c(b.x, b.y, a.z))
	m.flat(mat, tone, c(a.x, a.y, a.z), c(a.x, a.y, b.z), c(a.x, b.y, b.z), c(a.x, b.y, a.z))
	m.flat(mat, tone, c(b.x, a.y, b.z), c(b.x, a.y, a.z), c(b.x, b.y, a.z), c(b.x, b.y, b.z))
	m.flat(mat, tone, c(a.x, b.y, b.z), c(b.x, b.y, b.z), c(b.x, b.y, a.z), c(a.x, b.y, a.z))
	m.flat(mat, tone, c(a.x, a.y, a.z), c(b.x, a.y, a.z), c(b.x, a.y, b.z), c(a.x, a.y, b.z))
}

// lathe turns a profile of (radius, height) pairs about the upright axis.
func (m *mesh) lathe(mat int, tone float64, t placed, segments int, profile ...[2]float64) {
	// The profile is refined with Catmull-Rom so that few points give a curve.
	var pts [][2]float64
	get := func(i int) [2]float64 { return profile[max(0, min(i, len(profile)-1))] }
	const fine = 4
	for i := range len(profile) - 1 {
		for j := range fine {
			u := float64(j) / fine
			var q [2]float64
			for k := range 2 {
				a, b, c, d := get(i - 1)[k], get(i)[k], get(i + 1)[k], get(i + 2)[k]
				q[k] = 0.5 * (2*b + (c-a)*u + (2*a-5*b+4*c-d)*u*u + (3*b-a-3*c+d)*u*u*u)
			}
			q[0] = math.Max(q[0], 0)
			pts = append(pts, q)
		}
	}
	pts = append(pts, profile[len(profile)-1])
	base := int32(len(m.verts))
	for i, p := range pts {
		a, b := pts[max(i-1, 0)], pts[min(i+1, len(pts)-1)]
		nr, ny := b[1]-a[1], a[0]-b[0]
		for s := range segments {
			sin, cos := math.Sincos(2 * math.Pi * float64(s) / float64(segments))
			m.vert(t.point(vec{p[0] * sin, p[1], p[0] * cos}), t.dir(vec{nr * sin, ny, nr * cos}).unit())
		}
	}
	for i := range len(pts) - 1 {
		for s := range segments {
			s2 := (s + 1) % segments
			a, b := base+int32(i*segments+s), base+int32(i*segments+s2)
			c, d := a+int32(segments), b+int32(segments)
			m.face(a, b, d, mat, tone)
			m.face(a, d, c, mat, tone)
		}
	}
}

// ball adds a sphere, stretched by the placement's own axes.
func (m *mesh) ball(mat int, tone float64, t placed, r float64, n int) {
	base := int32(len(m.verts))
	for i := range n + 1 {
		st, ct := math.Sincos(math.Pi * float64(i) / float64(n))
		for j := range 2 * n {
			sp, cp := math.Sincos(math.Pi * float64(j) / float64(n))
			d := vec{st * sp, -ct, st * cp}
			m.vert(t.point(d.scale(r)), t.dir(d).unit())
		}
	}
	for i := range n {
		for j := range 2 * n {
			j2 := (j + 1) % (2 * n)
			a, b := base+int32(i*2*n+j), base+int32(i*2*n+j2)
			c, d := a+int32(2*n), b+int32(2*n)
			m.face(a, b, d, mat, tone)
			m.face(a, d, c, mat, tone)
		}
	}
}

// tube follows points with a radius at each.
func (m *mesh) tube(mat int, tone float64, segments int, pts []vec, radii []float64) {
	base := int32(len(m.verts))
	for i, p := range pts {
		d := pts[min(i+1, len(pts)-1)].sub(pts[max(i-1, 0)]).unit()
		x := d.cross(vec{0.31, 0.17, 0.93}).unit()
		y := d.cross(x)
		for s := range segments {
			sin, cos := math.Sincos(2 * math.Pi * float64(s) / float64(segments))
			n := x.scale(cos).add(y.scale(sin))
			m.vert(p.add(n.scale(radii[i])), n)
		}
	}
	for i := range len(pts) - 1 {
		for s := range segments {
			s2 := (s + 1) % segments
			a, b := base+int32(i*segments+s), base+int32(i*segments+s2)
			c, d := a+int32(segments), b+int32(segments)
			m.face(a, b, d, mat, tone)
			m.face(a, d, c, mat, tone)
		}
	}
}

// leaf adds a leaf, folded along the middle rib: two triangles a side.
func (m *mesh) leaf(mat int, tone float64, root, along, up vec, length, width float64) {
	along = along.unit()
	side := along.cross(up).unit()
	n := side.cross(along)
	nl, nr := n.sub(side.scale(0.35)).unit(), n.add(side.scale(0.35)).unit()
	edge := func(t, w, s float64, n2 vec) int32 {
		p := root.add(along.scale(t * length)).add(side.scale(s * w * width / 2)).add(n.scale(0.15*w*width - 0.12*t*t*length))
		return m.vert(p, n2)
	}
	a, b := m.vert(root, n), m.vert(root.add(along.scale(length)).sub(n.scale(0.12*length)), n)
	l1, l2 := edge(0.28, 0.92, 1, nl), edge(0.62, 0.80, 1, nl)
	r1, r2 := edge(0.28, 0.92, -1, nr), edge(0.62, 0.80, -1, nr)
	m.face(a, l2, l1, mat, tone)
	m.face(a, b, l2, mat, tone)
	m.face(a, r1, r2, mat, tone)
	m.face(a, r2, b, mat, tone)
}

// chip adds a cheap leaf of two triangles, for things seen small.
func (m *mesh) chip(mat int, tone float64, root, along, up vec, length, width float64) {
	along = along.unit()
	side := along.cross(up).unit()
	n := side.cross(along)
	mid := root.add(along.scale(0.42 * length)).add(n.scale(0.15 * width))
	a, b := m.vert(root, n), m.vert(root.add(along.scale(length)).sub(n.scale(0.12*length)), n)
	c, d := m.vert(mid.add(side.scale(width/2)), n.sub(side.scale(0.35)).unit()), m.vert(mid.sub(side.scale(width/2)), n.add(side.scale(0.35)).unit())
	m.face(a, b, c, mat, tone)
	m.face(a, d, b, mat, tone)
}
