package courtyard

import (
	"math"

	"stopladder/analysis/demo/valuenoise"
)

// foliage fills an ellipsoid with leaves in clumps, each clump turned outwards.
func foliage(m *mesh, mat int, centre, radii vec, clumps, leaves int, size float64, seed int) []vec {
	r := valuenoise.Rand(uint64(seed)*7919 + 13)
	for range 8 {
		r.Next()
	}
	var centres []vec
	for range clumps {
		// Towards the rim, where leaves find light.
		z := 2*r.Next() - 1
		a := 2 * math.Pi * r.Next()
		q := math.Sqrt(1 - z*z)
		d := vec{q * math.Cos(a), z, q * math.Sin(a)}
		rad := 0.45 + 0.55*math.Cbrt(r.Next())
		c := centre.add(d.mul(radii).scale(rad))
		centres = append(centres, c)
		tone := r.Next()
		spread := size * 3.2
		for range leaves {
			o := vec{r.Next() - 0.5, r.Next() - 0.5, r.Next() - 0.5}.scale(2 * spread * math.Cbrt(r.Next()))
			along := d.add(vec{r.Next() - 0.5, r.Next() - 0.75, r.Next() - 0.5}.scale(2.1))
			up := vec{r.Next() - 0.5, 0.9, r.Next() - 0.5}
			put := m.leaf
			if mat == matDarkLeaf {
				put = m.chip
			}
			put(mat, clamp(0.6*tone+0.5*r.Next(), 0, 1), c.add(o), along, up, size*(0.7+0.6*r.Next()), size*(0.34+0.16*r.Next()))
		}
	}
	return centres
}

func branch(m *mesh, from, to vec, r0, r1 float64, seed int) {
	const n = 7
	var pts []vec
	var rad []float64
	d := to.sub(from)
	for i := range n {
		t := float64(i) / (n - 1)
		w := 0.07 * d.len() * math.Sin(math.Pi*t)
		pts = append(pts, from.add(d.scale(t)).add(vec{w * (2*valuenoise.Unit(seed, i, 1) - 1), 0.10 * d.len() * math.Sin(math.Pi*t), w * (2*valuenoise.Unit(seed, i, 2) - 1)}))
		rad = append(rad, mix(r0, r1, t))
	}
	m.tube(matBark, valuenoise.Unit(seed, 0, 3), 8, pts, rad)
}

// buildTree plants an orange tree at the right, and one out of the picture
// whose shade falls into the foreground.
func buildTree(m *mesh) {
	root := vec{2.34, 0, 0.92}
	fork := vec{2.46, 1.5, 0.88}
	var pts []vec
	var rad []float64
	for i := range 9 {
		t := float64(i) / 8
		p := root.lerp(fork, t).add(vec{0.045 * math.Sin(2*math.Pi*t), 0, 0.03 * math.Sin(math.Pi*t)})
		pts = append(pts, p)
		rad = append(rad, mix(0.095, 0.062, t)+0.05*math.Exp(-9*t))
	}
	m.tube(matBark, 0.6, 14, pts, rad)
	centre, radii := vec{2.74, 2.66, 0.82}, vec{0.98, 0.80, 0.76}
	cs := foliage(m, matLeaf, centre, radii, 125, 110, 0.080, 5)
	m.ball(matBark, 0.6, at(fork), 0.066, 10)
	limbs := make([]vec, 7)
	for i := range limbs {
		a := 2 * math.Pi * float64(i) / 7
		limbs[i] = vec{centre.x + 0.45*math.Cos(a), 2.3 + 0.35*valuenoise.Unit(i, 2, 2), centre.z + 0.4*math.Sin(a)}
		branch(m, fork, limbs[i], 0.05, 0.02, i)
	}
	for i, c := range cs {
		best := limbs[0]
		for _, l := range limbs {
			if c.sub(l).len() < c.sub(best).len() {
				best = l
			}
		}
		branch(m, best, c, 0.014, 0.004, 40+i)
	}
	// Fruit hangs at the rim, towards the light.
	for i := range 34 {
		z, a := 1.3*valuenoise.Unit(i, 3, 3)-0.8, 2*math.Pi*valuenoise.Unit(i, 4, 4)
		q := math.Sqrt(math.Max(0, 1-z*z))
		p := centre.add(vec{q * math.Cos(a) * radii.x, z * radii.y, q * math.Sin(a) * radii.z}.scale(0.93))
		m.ball(matOrange, valuenoise.Unit(i, 5, 5), at(p), 0.042+0.006*valuenoise.Unit(i, 6, 6), 9)
	}
	// Ring of earth round the trunk.
	m.lathe(matStone, 0.5, at(vec{2.34, 0, 0.92}), 36, [2]float64{0.50, 0}, [2]float64{0.50, 0.09}, [2]float64{0.40, 0.09}, [2]float64{0.39, 0.05})
	m.lathe(matSoil, 0.5, at(vec{2.34, 0.05, 0.92}), 24, [2]float64{0.4, 0}, [2]float64{0.2, 0.02}, [2]float64{0, 0.03})
	// Out of the picture.
	foliage(m, matLeaf, vec{5.75, 3.5, 6.1}, vec{1.5, 1.1, 1.3}, 110, 70, 0.10, 6)
}

// buildClimber lets a magenta climber grow up the corner and over the arch.
func buildClimber(m *mesh) {
	r := valuenoise.Rand(991)
	stem := func(pts []vec, r0 float64) {
		var fine []vec
		var rad []float64
		for i := range len(pts) - 1 {
			for j := range 6 {
				t := float64(j) / 6
				fine = append(fine, pts[i].lerp(pts[i+1], t).add(vec{0.02 * math.Sin(9*t+float64(i)), 0, 0.012}))
				rad = append(rad, r0*(1-0.12*float64(i)))
			}
		}
		m.tube(matBark, 0.4, 7, fine, rad)
	}
	path := []vec{{-2.18, 0, 0.16}, {-2.12, 0.9, 0.1}, {-2.15, 1.7, 0.09}, {-1.98, 2.35, 0.1}, {-1.5, 2.66, 0.11}, {-0.8, 2.78, 0.11}, {-0.1, 2.80, 0.1}, {0.35, 2.72, 0.1}}
	stem(path, 0.026)
	stem([]vec{{-2.12, 0.9, 0.1}, {-1.98, 1.6, 0.09}, {-1.85, 2.3, 0.1}, {-1.9, 2.8, 0.1}}, 0.014)
	// Masses along the stem, thicker at the corner.
	add := func(c vec, s float64, n int) {
		for range n {
			o := vec{(r.Next() - 0.5) * 2 * s, (r.Next() - 0.5) * 1.5 * s, r.Next() * 0.55 * s}
			p := c.add(o)
			p.z = math.Max(p.z, 0.03)
			along := vec{r.Next() - 0.5, r.Next() - 0.7, 0.55 * r.Next()}
			up := vec{r.Next() - 0.5, 0.5, 0.9}
			if r.Next() < 0.54 {
				// A flower is three bracts.
				for k := range 3 {
					a := 2 * math.Pi * (float64(k)/3 + r.Next()*0.1)
					m.leaf(matPetal, r.Next(), p, along.unit().scale(0.5).add(vec{math.Cos(a), math.Sin(a), 0.35}), up, 0.034+0.012*r.Next(), 0.030)
				}
			} else {
				m.leaf(matLeaf, r.Next()*0.8, p, along, up, 0.055+0.03*r.Next(), 0.034)
			}
		}
	}
	for i := range len(path) - 1 {
		if i == 0 {
			continue
		}
		for j := range 5 {
			t := float64(j) / 5
			c := path[i].lerp(path[i+1], t)
			s := 0.19 - 0.014*float64(i)
			add(c.add(vec{0.1 * (r.Next() - 0.5), 0.08 * (r.Next() - 0.5), 0}), s*(0.8+0.5*r.Next()), 160)
		}
	}
	for range 9 {
		add(vec{-2.05 + 0.28*(r.Next()-0.5), 1.75 + 0.95*r.Next(), 0.1}, 0.2, 190)
	}
	// Sprays that hang free.
	for i := range 7 {
		c := path[4+i%4]
		for k := range 5 {
			add(c.add(vec{0.25 * (r.Next() - 0.5), -0.07 * float64(k), 0.05 + 0.02*float64(k)}), 0.055, 26)
		}
	}
}

// pot profiles: radius, height.
func pot(m *mesh, mat int, tone float64, o vec, r, h float64) {
	m.lathe(mat, tone, at(o), 36,
		[2]float64{0, 0}, [2]float64{0.62 * r, 0}, [2]float64{0.70 * r, 0.10 * h}, [2]float64{0.90 * r, 0.72 * h},
		[2]float64{0.93 * r, 0.80 * h}, [2]float64{1.04 * r, 0.83 * h}, [2]float64{1.06 * r, 0.97 * h}, [2]float64{1.0 * r, h},
		[2]float64{0.90 * r, 0.985 * h}, [2]float64{0.88 * r, 0.88 * h})
	m.lathe(matSoil, 0.5, at(o.add(vec{0, 0.88 * h, 0})), 24, [2]float64{0.89 * r, 0}, [2]float64{0.4 * r, 0.02}, [2]float64{0, 0.03})
}

func buildPots(m *mesh) {
	// A clipped bush in the corner.
	pot(m, matTerracotta, 0.3, vec{-1.92, 0, 0.92}, 0.25, 0.42)
	foliage(m, matDarkLeaf, vec{-1.92, 0.80, 0.92}, vec{0.33, 0.36, 0.33}, 130, 60, 0.040, 11)
	// Red flowers.
	pot(m, matTerracotta, 0.8, vec{-1.52, 0, 1.38}, 0.17, 0.27)
	cs := foliage(m, matLeaf, vec{-1.52, 0.40, 1.38}, vec{0.21, 0.14, 0.21}, 60, 26, 0.046, 12)
	r := valuenoise.Rand(5)
	for i, c := range cs {
		if i%3 != 0 {
			continue
		}
		head := vec{c.x, math.Max(c.y, 0.45) + 0.08 + 0.06*r.Next(), c.z}
		for range 26 {
			d := vec{r.Next() - 0.5, r.Next() - 0.3, r.Next() - 0.5}
			m.leaf(matCushion, 0.5, head.add(d.scale(0.05)), d, vec{0, 1, 0.2}, 0.026, 0.022)
		}
	}
	// Blades of an agave in a low bowl, on the bench's end.
	pot(m, matTerracotta, 0.55, vec{1.86, 0.45, 0.24}, 0.13, 0.17)
	for i := range 26 {
		a := 2.399963 * float64(i)
		lean := 0.35 + 0.75*float64(i)/26
		d := vec{math.Cos(a) * (1.25 - lean), lean, math.Sin(a) * (1.25 - lean)}
		blade(m, vec{1.86, 0.60, 0.24}, d.unit(), 0.24+0.09*valuenoise.Unit(i, 1, 61), 0.036, valuenoise.Unit(i, 2, 61))
	}
	// A tall blue jar in the sun, and a small one beside it.
	m.lathe(matBlueGlaze, 0.5, at(vec{0.02, 0, 0.60}), 44, [2]float64{0, 0}, [2]float64{0.13, 0}, [2]float64{0.20, 0.16}, [2]float64{0.245, 0.36}, [2]float64{0.20, 0.56}, [2]float64{0.115, 0.68}, [2]float64{0.105, 0.72}, [2]float64{0.14, 0.76}, [2]float64{0.13, 0.775}, [2]float64{0.09, 0.73}, [2]float64{0.09, 0.5})
	// Pot with a small lemon bush, right edge.
	pot(m, matTerracotta, 0.4, vec{1.98, 0, 2.15}, 0.20, 0.31)
	foliage(m, matLeaf, vec{1.98, 0.60, 2.15}, vec{0.26, 0.25, 0.26}, 75, 34, 0.058, 14)
	for i := range 9 {
		a := 2 * math.Pi * valuenoise.Unit(i, 8, 62)
		m.ball(matLemon, valuenoise.Unit(i, 9, 62), at(vec{1.98 + 0.25*math.Cos(a), 0.48 + 0.25*valuenoise.Unit(i, 1, 63), 2.15 + 0.25*math.Sin(a)}), 0.033, 9)
	}
}

// blade adds a stiff, hollowed leaf that tapers to a point.
func blade(m *mesh, root, d vec, length, width, tone float64) {
	side := d.cross(vec{0, 1, 0.01}).unit()
	const n = 6
	var prev [3]int32
	for i := range n + 1 {
		t := float64(i) / n
		c := root.add(d.scale(length * t)).add(vec{0, -0.05 * t * t, 0})
		wd := width * (1 - t) * (0.75 + 0.9*t)
		up := side.cross(d).unit()
		if up.y < 0 {
			up = up.scale(-1)
		}
		l := m.vert(c.add(side.scale(wd)).add(up.scale(0.35*wd)), up.sub(side.scale(0.5)).unit())
		k := m.vert(c, up)
		r := m.vert(c.sub(side.scale(wd)).add(up.scale(0.35*wd)), up.add(side.scale(0.5)).unit())
		if i > 0 {
			m.face(prev[0], prev[1], k, matLeaf, tone*0.6)
			m.face(prev[0], k, l, matLeaf, tone*0.6)
			m.face(prev[1], prev[2], r, matLeaf, tone*0.6)
			m.face(prev[1], r, k, matLeaf, tone*0.6)
		}
		prev = [3]int32{l, k, r}
	}
}

func buildBench(m *mesh) {
	// A whitewashed bench along the wall under the tree.
	m.box(matPlaster, 0.5, at(vec{}), vec{0.98, 0, 0.0}, vec{2.0, 0.40, 0.44})
	m.box(matStone, 0.55, at(vec{}), vec{0.95, 0.40, 0.0}, vec{2.03, 0.45, 0.48})
	// A bowl of lemons.
	b := at(vec{1.52, 0.45, 0.27})
	m.lathe(matWhiteGlaze, 0.5, b, 32, [2]float64{0, 0}, [2]float64{0.06, 0}, [2]float64{0.07, 0.02}, [2]float64{0.135, 0.07}, [2]float64{0.155, 0.105}, [2]float64{0.145, 0.105}, [2]float64{0.11, 0.055}, [2]float64{0, 0.03})
	for i := range 8 {
		a := 2.399963 * float64(i)
		rr, y := 0.075, 0.095
		if i >= 6 {
			rr, y = 0.03, 0.145
		}
		p := b.point(vec{rr * math.Cos(a), y, rr * math.Sin(a)})
		t := placed{vec{1.28, 0, 0}, vec{0, 1, 0}, vec{0, 0, 1}, p}.turn(57 * float64(i))
		m.ball(matLemon, valuenoise.Unit(i, 1, 51), t, 0.036, 10)
	}
	// A striped cushion leaning on the wall.
	c := placed{vec{1, 0, 0}, vec{0, 1, 0}, vec{0, 0, 0.34}, vec{1.20, 0.64, 0.13}}.tip(-4)
	cushion(m, c, 0.20)
}

// cushion is a superellipsoid.
func cushion(m *mesh, t placed, r float64) {
	const n = 22
	pw := func(v float64) float64 { return math.Copysign(math.Pow(math.Abs(v), 0.5), v) }
	base := int32(len(m.verts))
	var pts [(n + 1) * 2 * n]vec
	for i := range n + 1 {
		st, ct := math.Sincos(math.Pi * float64(i) / n)
		for j := range 2 * n {
			sp, cp := math.Sincos(math.Pi * float64(j) / n)
			// Square in front view, thin and round in depth.
			pts[i*2*n+j] = t.point(vec{r * pw(st) * pw(cp), -r * pw(ct) * (1 - 0.0*sp), r * st * sp * 1.1})
			m.vert(pts[i*2*n+j], vec{})
		}
	}
	for i := range n {
		for j := range 2 * n {
			j2 := (j + 1) % (2 * n)
			q := [4]int{i*2*n + j, i*2*n + j2, (i+1)*2*n + j2, (i+1)*2*n + j}
			nn := pts[q[2]].sub(pts[q[0]]).cross(pts[q[3]].sub(pts[q[1]]))
			if nn.dot(pts[q[0]].sub(t.o)) < 0 {
				nn = nn.scale(-1)
			}
			for _, k := range q {
				v := &m.verts[base+int32(k)]
				v.n = v.n.add(nn)
			}
			m.face(base+int32(q[0]), base+int32(q[1]), base+int32(q[2]), matCushion, 0.5)
			m.face(base+int32(q[0]), base+int32(q[2]), base+int32(q[3]), matCushion, 0.5)
		}
	}
	for i := range pts {
		m.verts[base+int32(i)].n = m.verts[base+int32(i)].n.unit()
	}
}

func buildBackdrop(m *mesh) {
	// Cypresses behind the wall.
	for i, c := range []vec{{0.35, 0, -5.2}, {1.15, 0, -6.6}} {
		h := 6.6 - 0.9*float64(i)
		m.tube(matBark, 0.5, 8, []vec{c, c.add(vec{0, h, 0})}, []float64{0.09, 0.02})
		for k := range 30 {
			t := (float64(k) + 0.5) / 30
			y := 0.4 + (h-0.3)*t
			rad := 0.52 * math.Pow(math.Sin(math.Pi*math.Pow(0.06+0.94*(1-t), 0.8)*0.62), 0.9)
			foliage(m, matDarkLeaf, c.add(vec{0, y, 0}), vec{rad, 0.20, rad}, 44, 56, 0.062, 300+40*i+k)
		}
	}
	// A far hill.
	var prev [2]vec
	for i := range 121 {
		x := -60 + float64(i)
		y := 8.5 + 5*valuenoise.Sum(x*0.05, 1, 5, 111) + 0.5*valuenoise.Sum(x*0.9, 2, 3, 112) - 0.03*x
		a, b := vec{x, -2, -60}, vec{x, y, -70}
		if i > 0 {
			m.flat(matHill, 0.5, prev[0], a, b, prev[1])
		}
		prev = [2]vec{a, b}
	}
}
