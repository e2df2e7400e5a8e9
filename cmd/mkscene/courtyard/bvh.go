package courtyard

import (
	"math"
	"slices"
)

// tri is a triangle ready for Moeller & Trumbore's test (J. Graphics Tools
// 2(1), 1997): one corner and two edges.
type tri struct {
	p, e1, e2 [3]float32
	src       int32 // index into mesh.faces
}

type node struct {
	b     [2][4]float32 // lower and upper corner (the fourth is padding)
	first int32         // leaf: first triangle; inner: left child (right = left+1)
	count int32         // 0: inner
}

// bvh is a bounding volume hierarchy built by binned surface area heuristic.
type bvh struct {
	nodes []node
	tris  []tri
}

type buildRef struct {
	lo, hi, mid [3]float32
	t           tri
}

func buildBVH(m *mesh) *bvh {
	refs := make([]buildRef, len(m.faces))
	for i, f := range m.faces {
		a, b, c := m.verts[f.v[0]].p, m.verts[f.v[1]].p, m.verts[f.v[2]].p
		r := &refs[i]
		e1, e2 := b.sub(a), c.sub(a)
		r.t = tri{p: f3(a), e1: f3(e1), e2: f3(e2), src: int32(i)}
		fa, fb, fc := f3(a), f3(b), f3(c)
		for k := range 3 {
			r.lo[k] = min(fa[k], fb[k], fc[k]) - 1e-5
			r.hi[k] = max(fa[k], fb[k], fc[k]) + 1e-5
			r.mid[k] = (r.lo[k] + r.hi[k]) / 2
		}
	}
	b := &bvh{nodes: make([]node, 1, 2*len(refs))}
	b.split(0, refs, 0)
	b.tris = make([]tri, len(refs))
	for i := range refs {
		b.tris[i] = refs[i].t
	}
	return b
}

func f3(v vec) [3]float32 { return [3]float32{float32(v.x), float32(v.y), float32(v.z)} }

func area(lo, hi [3]float32) float32 {
	x, y, z := hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2]
	return x*y + y*z + z*x
}

func grow(lo, hi *[3]float32, l, h [3]float32) {
	for k := range 3 {
		lo[k] = min(lo[k], l[k])
		hi[k] = max(hi[k], h[k])
	}
}

func (b *bvh) split(at int, refs []buildRef, first int) {
	inf := float32(math.Inf(1))
	lo, hi := [3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}
	clo, chi := lo, hi
	for i := range refs {
		grow(&lo, &hi, refs[i].lo, refs[i].hi)
		grow(&clo, &chi, refs[i].mid, refs[i].mid)
	}
	b.nodes[at] = node{first: int32(first), count: int32(len(refs))}
	copy(b.nodes[at].b[0][:], lo[:])
	copy(b.nodes[at].b[1][:], hi[:])
	if len(refs) <= 2 {
		return
	}
	const bins = 16
	best, axis, cut := float32(len(refs))*area(lo, hi), -1, 0
	for k := range 3 {
		if chi[k]-clo[k] < 1e-7 {
			continue
		}
		var n [bins]int
		var l, h [bins][3]float32
		for i := range l {
			l[i], h[i] = [3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}
		}
		s := bins * 0.9999 / (chi[k] - clo[k])
		for i := range refs {
			j := int((refs[i].mid[k] - clo[k]) * s)
			n[j]++
			grow(&l[j], &h[j], refs[i].lo, refs[i].hi)
		}
		var right [bins]float32
		rl, rh, rn := [3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}, 0
		for j := bins - 1; j > 0; j-- {
			grow(&rl, &rh, l[j], h[j])
			rn += n[j]
			right[j] = float32(rn) * area(rl, rh)
			if rn == 0 {
				right[j] = 0
			}
		}
		ll, lh, ln := [3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}, 0
		for j := range bins - 1 {
			grow(&ll, &lh, l[j], h[j])
			ln += n[j]
			if ln == 0 || ln == len(refs) {
				continue
			}
			if c := float32(ln)*area(ll, lh) + right[j+1] + area(lo, hi); c < best {
				best, axis, cut = c, k, j
			}
		}
	}
	if axis < 0 {
		if len(refs) <= 8 {
			return
		}
		axis, cut = 0, -1
	}
	m := 0
	if cut >= 0 {
		s := bins * 0.9999 / (chi[axis] - clo[axis])
		for i := range refs {
			if int((refs[i].mid[axis]-clo[axis])*s) <= cut {
				refs[i], refs[m] = refs[m], refs[i]
				m++
			}
		}
	} else {
		for k := range 3 {
			if chi[k]-clo[k] > chi[axis]-clo[axis] {
				axis = k
			}
		}
		slices.SortStableFunc(refs, func(a, b buildRef) int {
			switch {
			case a.mid[axis] < b.mid[axis]:
				return -1
			case a.mid[axis] > b.mid[axis]:
				return 1
			}
			return 0
		})
		m = len(refs) / 2
	}
	left := len(b.nodes)
	b.nodes = append(b.nodes, node{}, node{})
	b.nodes[at].first, b.nodes[at].count = int32(left), 0
	b.split(left, refs[:m], first)
	b.split(left+1, refs[m:], first+m)
}

type ray struct {
	o, d [3]float32
	inv  [3]float32
	neg  [3]uint8 // 1 where the direction is negative: the far corner comes first
}

func newRay(o, d vec) ray {
	r := ray{o: f3(o), d: f3(d)}
	for k := range 3 {
		v := r.d[k]
		if v > -1e-12 && v < 1e-12 {
			v = 1e-12
		}
		r.inv[k] = 1 / v
		if v < 0 {
			r.neg[k] = 1
		}
	}
	return r
}

// enter is the distance at which a ray enters the box, MaxFloat32 for a miss.
func (n *node) enter(r *ray, far float32) float32 {
	i, j, k := r.neg[0]&1, r.neg[1]&1, r.neg[2]&1
	t0 := (n.b[i][0] - r.o[0]) * r.inv[0]
	t1 := (n.b[i^1][0] - r.o[0]) * r.inv[0]
	if a := (n.b[j][1] - r.o[1]) * r.inv[1]; a > t0 {
		t0 = a
	}
	if b := (n.b[j^1][1] - r.o[1]) * r.inv[1]; b < t1 {
		t1 = b
	}
	if a := (n.b[k][2] - r.o[2]) * r.inv[2]; a > t0 {
		t0 = a
	}
	if b := (n.b[k^1][2] - r.o[2]) * r.inv[2]; b < t1 {
		t1 = b
	}
	if t0 > t1 || t1 < 0 || t0 > far {
		return math.MaxFloat32
	}
	return t0
}

func (t *tri) hit(r *ray, far float32) (dist, u, v float32, ok bool) {
	px := r.d[1]*t.e2[2] - r.d[2]*t.e2[1]
	py := r.d[2]*t.e2[0] - r.d[0]*t.e2[2]
	pz := r.d[0]*t.e2[1] - r.d[1]*t.e2[0]
	det := t.e1[0]*px + t.e1[1]*py + t.e1[2]*pz
	if det > -1e-14 && det < 1e-14 {
		return
	}
	inv := 1 / det
	sx, sy, sz := r.o[0]-t.p[0], r.o[1]-t.p[1], r.o[2]-t.p[2]
	u = (sx*px + sy*py + sz*pz) * inv
	if u < 0 || u > 1 {
		return
	}
	qx := sy*t.e1[2] - sz*t.e1[1]
	qy := sz*t.e1[0] - sx*t.e1[2]
	qz := sx*t.e1[1] - sy*t.e1[0]
	v = (r.d[0]*qx + r.d[1]*qy + r.d[2]*qz) * inv
	if v < 0 || u+v > 1 {
		return
	}
	dist = (t.e2[0]*qx + t.e2[1]*qy + t.e2[2]*qz) * inv
	return dist, u, v, dist > 1e-5 && dist < far
}

type contact struct {
	t, u, v float32
	face    int32
}

// nearest finds the first triangle along the ray.
func (b *bvh) nearest(r *ray) (c contact, ok bool) {
	c.t = math.MaxFloat32
	var stack [64]int32
	var enters [64]float32
	sp := 0
	if b.nodes[0].enter(r, c.t) == math.MaxFloat32 {
		return c, false
	}
	at := int32(0)
	for {
		n := &b.nodes[at]
		if n.count > 0 {
			for i := n.first; i < n.first+n.count; i++ {
				if d, u, v, hit := b.tris[i].hit(r, c.t); hit {
					c = contact{d, u, v, b.tris[i].src}
					ok = true
				}
			}
		} else {
			l, rr := n.first, n.first+1
			dl, dr := b.nodes[l].enter(r, c.t), b.nodes[rr].enter(r, c.t)
			if dl > dr {
				l, rr, dl, dr = rr, l, dr, dl
			}
			if dl != math.MaxFloat32 {
				if dr != math.MaxFloat32 {
					stack[sp], enters[sp] = rr, dr
					sp++
				}
				at = l
				continue
			}
		}
		for {
			if sp == 0 {
				return c, ok
			}
			sp--
			at = stack[sp]
			if enters[sp] < c.t {
				break
			}
		}
	}
}

// blocked says whether anything stands along the ray.
func (b *bvh) blocked(r *ray) bool {
	var stack [64]int32
	sp := 1
	for sp > 0 {
		sp--
		n := &b.nodes[stack[sp]]
		if n.enter(r, math.MaxFloat32) == math.MaxFloat32 {
			continue
		}
		if n.count > 0 {
			for i := n.first; i < n.first+n.count; i++ {
				if _, _, _, hit := b.tris[i].hit(r, math.MaxFloat32); hit {
					return true
				}
			}
			continue
		}
		stack[sp], stack[sp+1] = n.first, n.first+1
		sp += 2
	}
	return false
}
