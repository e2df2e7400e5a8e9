package courtyard

import (
	"math"

	"stopladder/analysis/demo/valuenoise"
)

// greySteps are the reflectances of the grey scale: half-stop steps from 0.72,
// two stops over the card, to 0.0225, three stops under it.
func greySteps() []float64 {
	s := make([]float64, 11)
	for i := range s {
		s[i] = 0.72 * math.Exp2(-0.5*float64(i))
	}
	return s
}

const cardGrey = 0.18

// buildCourtyard builds the scene. Metres; x to the right along the white wall,
// y up, z out of the wall towards the camera.
func buildCourtyard() *world {
	w := &world{mats: makeMaterials()}
	w.cam = courtyardCamera()
	m := &w.m
	buildWalls(m)
	buildRoom(m)
	buildRoofs(m)
	buildShutters(m)
	buildTree(m)
	buildClimber(m)
	buildPots(m)
	buildBench(m)
	buildBackdrop(m)
	w.buildCard()
	w.sky = newSkyTable()
	w.bvh = buildBVH(m)
	w.balance(cardCentre, vec{0, 0, 1})
	return w
}

func courtyardCamera() camera {
	s, c := math.Sincos(9.0 * math.Pi / 180)
	return camera{eye: vec{0.92, 1.55, 7.5}, forward: vec{-s, 0, -c}, right: vec{c, 0, -s}, half: 0.415, rise: 0.43}
}

// The arch in the white wall.
const (
	archL, archR = -1.52, -0.32
	archMid      = (archL + archR) / 2
	archRad      = (archR - archL) / 2
	archSpring   = 1.62
	wallTop      = 3.02
	wallDepth    = 0.72
	wingX        = -2.35
	wingTop      = 3.95
)

func archPoint(r, deg, z float64) vec {
	s, c := math.Sincos(deg * math.Pi / 180)
	return vec{archMid + r*c, archSpring + r*s, z}
}

func buildWalls(m *mesh) {
	// Paving, to well behind the camera so that its light comes back right.
	m.flat(matPaving, 0.5, vec{-9, 0, 16}, vec{14, 0, 16}, vec{14, 0, 0}, vec{-9, 0, 0})
	// White wall around the arch, front and back.
	for _, z := range []float64{0, -wallDepth} {
		mat := matPlaster
		if z < 0 {
			mat = matRoomWall
		}
		quad := func(x0, y0, x1, y1 float64) {
			if z == 0 {
				m.flat(mat, 0.5, vec{x0, y0, z}, vec{x1, y0, z}, vec{x1, y1, z}, vec{x0, y1, z})
			} else {
				m.flat(mat, 0.5, vec{x1, y0, z}, vec{x0, y0, z}, vec{x0, y1, z}, vec{x1, y1, z})
			}
		}
		quad(wingX-0.5, 0, archL, wallTop)
		quad(archR, 0, 7, wallTop)
		const n = 32
		for i := range n {
			a, b := archPoint(archRad, 180*float64(i)/n, z), archPoint(archRad, 180*float64(i+1)/n, z)
			at, bt := vec{a.x, wallTop, z}, vec{b.x, wallTop, z}
			if z == 0 {
				m.flat(mat, 0.5, b, a, at, bt)
			} else {
				m.flat(mat, 0.5, a, b, bt, at)
			}
		}
	}
	// Reveal of the arch.
	m.flat(matPlaster, 0.5, vec{archL, 0, 0}, vec{archL, 0, -wallDepth}, vec{archL, archSpring, -wallDepth}, vec{archL, archSpring, 0})
	m.flat(matPlaster, 0.5, vec{archR, 0, -wallDepth}, vec{archR, 0, 0}, vec{archR, archSpring, 0}, vec{archR, archSpring, -wallDepth})
	const n = 32
	for i := range n {
		a, b := 180*float64(i)/n, 180*float64(i+1)/n
		m.flat(matPlaster, 0.5, archPoint(archRad, a, 0), archPoint(archRad, b, 0), archPoint(archRad, b, -wallDepth), archPoint(archRad, a, -wallDepth))
	}
	// Stone surround: jamb blocks and voussoirs, a little proud of the plaster.
	block := func(tone float64, p [4]vec) {
		d := vec{0, 0, 0.035}
		q := [4]vec{p[0].add(d), p[1].add(d), p[2].add(d), p[3].add(d)}
		m.flat(matStone, tone, q[0], q[1], q[2], q[3])
		for i := range 4 {
			j := (i + 1) % 4
			m.flat(matStone, tone, p[i], p[j], q[j], q[i])
		}
	}
	const gap = 0.006
	for side := range 2 {
		y := 0.0
		for i := 0; y < archSpring-0.05; i++ {
			h := math.Min(0.27+0.08*valuenoise.Unit(i, side, 1), archSpring-y)
			if archSpring-y-h < 0.15 {
				h = archSpring - y
			}
			wd := 0.17 + 0.07*float64((i+side)%2)
			x0, x1 := archL-wd, archL
			if side == 1 {
				x0, x1 = archR, archR+wd
			}
			block(valuenoise.Unit(i, side, 2), [4]vec{{x0, y + gap, 0}, {x1, y + gap, 0}, {x1, y + h - gap, 0}, {x0, y + h - gap, 0}})
			y += h
		}
	}
	const stones = 13
	for i := range stones {
		a, b := 180*float64(i)/stones+0.5, 180*float64(i+1)/stones-0.5
		r := archRad + 0.2
		if i == stones/2 {
			r += 0.06
		}
		block(valuenoise.Unit(i, 7, 2), [4]vec{archPoint(archRad, b, 0), archPoint(archRad, a, 0), archPoint(r, a, 0), archPoint(r, b, 0)})
	}
	// Threshold and a kerb of stone along the wall.
	m.box(matStone, 0.4, at(vec{}), vec{archL, -0.1, -wallDepth}, vec{archR, 0.03, 0.12})
	for i := range 16 {
		x := archR + 0.02 + 0.48*float64(i)
		m.box(matKerb, valuenoise.Unit(i, 4, 4), at(vec{}), vec{x, -0.1, 0}, vec{x + 0.47, 0.055 + 0.01*valuenoise.Unit(i, 5, 4), 0.19})
	}
	m.box(matKerb, 0.6, at(vec{}), vec{wingX, -0.1, 0}, vec{archL - 0.02, 0.06, 0.19})
	// The ochre wing at the left, with its window's opening as a dark recess.
	m.box(matOchre, 0.5, at(vec{}), vec{wingX - 4, 0, -0.5}, vec{wingX, wingTop, 9})
	// Back of the wall, seen by the sky only.
	m.flat(matPlaster, 0.5, vec{7, 0, -wallDepth - 3.6}, vec{wingX - 0.5, 0, -wallDepth - 3.6}, vec{wingX - 0.5, 2.6, -wallDepth - 3.6}, vec{7, 2.6, -wallDepth - 3.6})
	// A wall and foliage behind the camera keep the light of a closed court.
	m.box(matPlaster, 0.5, at(vec{}), vec{-9, 0, 15.5}, vec{14, 2.4, 16})
}

func buildRoom(m *mesh) {
	x0, x1, z0, z1, top := -3.9, 1.3, -wallDepth-3.4, -wallDepth, 2.7
	m.flat(matRoomFloor, 0.5, vec{x0, 0.02, z1}, vec{x1, 0.02, z1}, vec{x1, 0.02, z0}, vec{x0, 0.02, z0})
	m.flat(matRoomWall, 0.5, vec{x0, 0, z0}, vec{x1, 0, z0}, vec{x1, top, z0}, vec{x0, top, z0})
	m.flat(matRoomWall, 0.5, vec{x0, 0, z1}, vec{x0, 0, z0}, vec{x0, top, z0}, vec{x0, top, z1})
	m.flat(matRoomWall, 0.5, vec{x1, 0, z0}, vec{x1, 0, z1}, vec{x1, top, z1}, vec{x1, top, z0})
	m.flat(matBeam, 0.5, vec{x0, top, z1}, vec{x0, top, z0}, vec{x1, top, z0}, vec{x1, top, z1})
	// A roof over it, so that no light leaks in.
	m.box(matTile, 0.4, at(vec{}), vec{wingX - 1, top + 0.02, z0 - 0.4}, vec{7, top + 0.1, z1 + 0.7})
	for i := range 7 {
		z := z1 - 0.3 - 0.5*float64(i)
		m.box(matBeam, valuenoise.Unit(i, 1, 9), at(vec{}), vec{x0, top - 0.16, z - 0.07}, vec{x1, top, z + 0.07})
	}
	buildChair(m, at(vec{-1.30, 0.02, -1.62}).turn(24))
	// A round table with a jug and two oranges.
	t := at(vec{-1.98, 0.02, -2.95})
	m.lathe(matWood, 0.6, t, 28, [2]float64{0.0, 0.72}, [2]float64{0.40, 0.72}, [2]float64{0.42, 0.735}, [2]float64{0.40, 0.755}, [2]float64{0, 0.755})
	m.lathe(matWood, 0.4, t, 16, [2]float64{0.24, 0}, [2]float64{0.22, 0.04}, [2]float64{0.05, 0.10}, [2]float64{0.045, 0.4}, [2]float64{0.07, 0.5}, [2]float64{0.05, 0.72})
	jug := at(vec{-2.0, 0.775, -2.95}).turn(-35)
	m.lathe(matWhiteGlaze, 0.5, jug, 28, [2]float64{0.0, 0}, [2]float64{0.075, 0.0}, [2]float64{0.125, 0.09}, [2]float64{0.135, 0.17}, [2]float64{0.085, 0.27}, [2]float64{0.062, 0.32}, [2]float64{0.082, 0.38}, [2]float64{0.075, 0.38}, [2]float64{0.05, 0.31}, [2]float64{0, 0.29})
	var hp []vec
	var hr []float64
	for i := range 13 {
		a := math.Pi * float64(i) / 12
		hp = append(hp, jug.point(vec{0.07 + 0.12*math.Sin(a), 0.33 - 0.20*(1-math.Cos(a))/2 - 0.02, 0}))
		hr = append(hr, 0.013)
	}
	m.tube(matWhiteGlaze, 0.5, 10, hp, hr)
	m.ball(matOrange, 0.5, at(vec{-1.77, 0.815, -2.86}), 0.042, 10)
	m.ball(matOrange, 0.8, at(vec{-1.69, 0.815, -2.94}), 0.041, 10)
	// A shelf with plates on the back wall.
	m.box(matWood, 0.3, at(vec{}), vec{-2.55, 1.42, z0}, vec{-1.35, 1.45, z0 + 0.16})
	for i := range 4 {
		p := at(vec{-2.38 + 0.29*float64(i), 1.57, z0 + 0.06}).tip(80)
		m.lathe(matWhiteGlaze, 0.5, p, 24, [2]float64{0, 0}, [2]float64{0.07, 0}, [2]float64{0.115, 0.018}, [2]float64{0.115, 0.024}, [2]float64{0.07, 0.006}, [2]float64{0, 0.006})
	}
	// A framed picture above.
	m.box(matBeam, 0.8, at(vec{}), vec{-2.2, 1.80, z0}, vec{-1.70, 2.16, z0 + 0.03})
	m.box(matCushion, 0.5, at(vec{}), vec{-2.16, 1.84, z0 + 0.03}, vec{-1.74, 2.12, z0 + 0.035})
}

func buildChair(m *mesh, t placed) {
	leg := func(x, z, h, lean float64) {
		m.tube(matWood, 0.7, 8, []vec{t.point(vec{x, 0, z}), t.point(vec{x, 0.45, z}), t.point(vec{x, h, z + lean})}, []float64{0.019, 0.021, 0.017})
	}
	leg(-0.2, 0.2, 0.47, 0)
	leg(0.2, 0.2, 0.47, 0)
	leg(-0.2, -0.2, 1.0, -0.08)
	leg(0.2, -0.2, 1.0, -0.08)
	m.box(matCushion, 0.5, t, vec{-0.21, 0.45, -0.2}, vec{0.21, 0.50, 0.21})
	for _, y := range []float64{0.62, 0.76, 0.90} {
		z := -0.2 - 0.08*(y-0.45)/0.55
		m.box(matWood, 0.8, t, vec{-0.2, y, z - 0.012}, vec{0.2, y + 0.07, z + 0.012})
	}
	rung := func(a, b vec) { m.tube(matWood, 0.5, 6, []vec{t.point(a), t.point(b)}, []float64{0.012, 0.012}) }
	rung(vec{-0.2, 0.17, 0.2}, vec{0.2, 0.17, 0.2})
	rung(vec{-0.2, 0.22, -0.2}, vec{-0.2, 0.22, 0.2})
	rung(vec{0.2, 0.22, -0.2}, vec{0.2, 0.22, 0.2})
}

// barrel adds one course of half-round roof tiles running down from the ridge.
func barrel(m *mesh, t placed, n int, pitch, length float64, seed int) {
	for i := range n {
		x := (float64(i) + 0.5) * pitch
		tone := valuenoise.Unit(i, seed, 21)
		jig := 0.012 * (valuenoise.Unit(i, seed, 22) - 0.5)
		for k := range 2 {
			// Channels below, covers above.
			r, up, off := pitch*0.52, 0.0, 0.0
			if k == 0 {
				up, off = -1, pitch/2
			} else {
				up = 1
			}
			const seg = 8
			var prev [2]vec
			var prevN vec
			for s := range seg + 1 {
				sn, cs := math.Sincos(math.Pi * float64(s) / seg)
				nrm := t.dir(vec{-cs, up * sn, 0})
				p0 := t.point(vec{x + off - r*0.86*cs, up*r*0.7*sn + 0.02*up, jig})
				p1 := t.point(vec{x + off - r*cs, up*r*0.7*sn + 0.02*up, length + jig})
				if s > 0 {
					a, b := m.vert(prev[0], prevN), m.vert(prev[1], prevN)
					c, d := m.vert(p0, nrm), m.vert(p1, nrm)
					m.face(a, b, d, matTile, tone)
					m.face(a, d, c, matTile, tone)
					// The tile's own thickness at its lower edge.
					in := t.dir(vec{cs, -up * sn, 0}).scale(0.014)
					e, f := m.vert(prev[1].add(in), t.z), m.vert(p1.add(in), t.z)
					g, h := m.vert(prev[1], t.z), m.vert(p1, t.z)
					m.face(g, e, f, matTile, tone*0.8)
					m.face(g, f, h, matTile, tone*0.8)
				}
				prev, prevN = [2]vec{p0, p1}, nrm
			}
		}
	}
}

func buildRoofs(m *mesh) {
	// Coping of the white wall: a brick course, then tiles to the front.
	m.box(matKerb, 0.5, at(vec{}), vec{wingX, wallTop - 0.02, -wallDepth}, vec{7, wallTop + 0.04, 0.05})
	t := at(vec{wingX - 0.02, wallTop + 0.30, -0.42}).tip(25)
	barrel(m, t, 50, 0.185, 0.36, 1)
	barrel(m, placed{t.x, t.y, t.z, t.o.add(t.z.scale(0.30)).sub(t.y.scale(0.018))}, 50, 0.185, 0.36, 2)
	m.box(matTile, 0.5, at(vec{}), vec{wingX, wallTop + 0.04, -wallDepth}, vec{7, wallTop + 0.17, -0.1})
	// Eave of the wing: rafters and tiles.
	w := placed{vec{0, 0, -1}, vec{0, 1, 0}, vec{1, 0, 0}, vec{wingX - 0.55, wingTop + 0.28, 9}}.tip(20)
	barrel(m, w, 52, 0.185, 0.5, 3)
	barrel(m, placed{w.x, w.y, w.z, w.o.add(w.z.scale(0.42)).sub(w.y.scale(0.02))}, 52, 0.185, 0.5, 4)
	m.box(matBeam, 0.9, w, vec{0, -0.11, -0.4}, vec{9.6, -0.075, 0.86})
	for i := range 16 {
		m.box(matBeam, valuenoise.Unit(i, 3, 31), w, vec{0.3 + 0.6*float64(i), -0.21, -0.4}, vec{0.39 + 0.6*float64(i), -0.11, 0.84})
	}
}

func buildShutters(m *mesh) {
	// A window in the wing with two louvred shutters, one a little open.
	y0, y1, z0, z1 := 1.28, 2.52, 0.62, 1.42
	m.box(matIron, 0.3, at(vec{}), vec{wingX - 0.02, y0, z0}, vec{wingX + 0.004, y1, z1})
	m.box(matStone, 0.7, at(vec{}), vec{wingX - 0.02, y0 - 0.09, z0 - 0.12}, vec{wingX + 0.09, y0, z1 + 0.12})
	m.box(matStone, 0.6, at(vec{}), vec{wingX - 0.02, y1, z0 - 0.1}, vec{wingX + 0.03, y1 + 0.12, z1 + 0.1})
	m.box(matStone, 0.5, at(vec{}), vec{wingX - 0.02, y0, z0 - 0.1}, vec{wingX + 0.03, y1, z0})
	m.box(matStone, 0.5, at(vec{}), vec{wingX - 0.02, y0, z1}, vec{wingX + 0.03, y1, z1 + 0.1})
	leafW := (z1 - z0) / 2
	shutter := func(t placed) {
		const f = 0.05
		h := y1 - y0
		m.box(matShutter, 0.5, t, vec{0, 0, 0}, vec{f, h, 0.03})
		m.box(matShutter, 0.5, t, vec{leafW - f, 0, 0}, vec{leafW, h, 0.03})
		m.box(matShutter, 0.5, t, vec{f, 0, 0}, vec{leafW - f, f, 0.03})
		m.box(matShutter, 0.5, t, vec{f, h - f, 0}, vec{leafW - f, h, 0.03})
		m.box(matShutter, 0.5, t, vec{f, h/2 - f/2, 0}, vec{leafW - f, h/2 + f/2, 0.03})
		for i := range 26 {
			y := f + 0.02 + float64(i)*(h-2*f-0.03)/26
			q := t
			q.o = t.point(vec{0, y, 0.015})
			m.box(matShutter, valuenoise.Unit(i, 2, 41), q.tip(35), vec{f, -0.003, -0.018}, vec{leafW - f, 0.003, 0.018})
		}
	}
	// Hinged at z1 (near side, open by 25 degrees) and at z0 (closed).
	shutter(placed{vec{0, 0, -1}, vec{0, 1, 0}, vec{1, 0, 0}, vec{wingX + 0.032, y0, z1}}.turn(-28))
	shutter(placed{vec{0, 0, -1}, vec{0, 1, 0}, vec{1, 0, 0}, vec{wingX + 0.032, y0, z0 + leafW}})
}
