package courtyard

import (
	"math"
	"sync"

	"stopladder/analysis/demo/valuenoise"
)

// surface is what a material says about one point.
type surface struct {
	albedo  vec     // diffuse reflectance
	through vec     // diffuse transmittance (leaves, petals)
	coat    float64 // specular reflectance at normal incidence, 0 for none
	rough   float64 // roughness of the coat, 0..1
}

// material describes a surface at a point: n is the geometric normal, tone the
// piece's own number 0..1. height, where not nil, is a relief in metres.
type material struct {
	at     func(p, n vec, tone float64) surface
	height func(p, n vec, tone float64) float64
	step   float64 // metres over which the relief is felt
	// mean, where not black, is the albedo that indirect light meets: texture
	// does not show in it and would cost most of the time.
	mean vec
}

// world is a built scene.
type world struct {
	m    mesh
	mats []material
	bvh  *bvh
	sky  *skyTable
	cam  camera
	gain vec // to the 0.18 of the sunlit grey card
}

// camera is a view camera: the film stands upright, and the lens is shifted so
// that verticals stay parallel.
type camera struct {
	eye     vec
	forward vec
	right   vec
	half    float64 // tangent of half the horizontal field
	rise    float64 // horizon's height over the bottom, 0..1 of the picture
}

func (c *camera) ray(u, v, aspect float64) vec {
	x := (2*u - 1) * c.half
	y := (1 - c.rise - v) * 2 * c.half / aspect
	return c.forward.add(c.right.scale(x)).add(vec{0, y, 0}).unit()
}

func cosine(n vec, u1, u2 float64) vec {
	t, b := n.frame()
	r := math.Sqrt(u1)
	s, c := math.Sincos(2 * math.Pi * u2)
	return t.scale(r * c).add(b.scale(r * s)).add(n.scale(math.Sqrt(math.Max(0, 1-u1)))).unit()
}

func towardsSun(u1, u2 float64) vec {
	t, b := sunDir.frame()
	r := sunAngle * math.Sqrt(u1)
	s, c := math.Sincos(2 * math.Pi * u2)
	return sunDir.add(t.scale(r * c)).add(b.scale(r * s)).unit()
}

// point is one surface point on a path.
type point struct {
	surface
	p, n, g vec // place, shading normal, geometric normal, both towards the viewer
	t       float64
}

func (w *world) find(o, d vec, relief bool) (point, bool) {
	r := newRay(o, d)
	c, ok := w.bvh.nearest(&r)
	if !ok {
		return point{}, false
	}
	f := &w.m.faces[c.face]
	a, b, e := &w.m.verts[f.v[0]], &w.m.verts[f.v[1]], &w.m.verts[f.v[2]]
	g := b.p.sub(a.p).cross(e.p.sub(a.p)).unit()
	u, v := float64(c.u), float64(c.v)
	n := a.n.scale(1 - u - v).add(b.n.scale(u)).add(e.n.scale(v)).unit()
	if g.dot(d) > 0 {
		g = g.scale(-1)
	}
	if n.dot(g) < 0 {
		n = n.scale(-1)
	}
	p := o.add(d.scale(float64(c.t)))
	mat := &w.mats[f.mat]
	tone := float64(f.tone)
	pt := point{p: p, n: n, g: g, t: float64(c.t)}
	if !relief && mat.mean != (vec{}) {
		pt.albedo = mat.mean
		return pt, true
	}
	pt.surface = mat.at(p, n, tone)
	if relief && mat.height != nil {
		t, s := n.frame()
		h := mat.height(p, n, tone)
		ht := mat.height(p.add(t.scale(mat.step)), n, tone)
		hs := mat.height(p.add(s.scale(mat.step)), n, tone)
		pt.n = n.sub(t.scale((ht - h) / mat.step)).sub(s.scale((hs - h) / mat.step)).unit()
		if pt.n.dot(g) < 0.02 {
			pt.n = pt.n.add(g.scale(0.02 - pt.n.dot(g))).unit()
		}
	}
	return pt, true
}

// sun returns the sun's irradiance on a point over pi, from the viewer's side
// and, for thin things, from behind.
func (w *world) sun(pt *point, u1, u2 float64) (front, back float64) {
	s := towardsSun(u1, u2)
	cosN, cosG := pt.n.dot(s), pt.g.dot(s)
	thin := pt.through != vec{}
	if cosG <= 0 && !thin || (cosG > 0 && cosN <= 0) {
		return 0, 0
	}
	side := 1.0
	if cosG < 0 {
		side = -1
	}
	r := newRay(pt.p.add(pt.g.scale(side*2e-4)), s)
	if w.bvh.blocked(&r) {
		return 0, 0
	}
	if side > 0 {
		return cosN / math.Pi, 0
	}
	return 0, math.Abs(cosG) / math.Pi
}

const bounces = 5

// gather follows a path from a point into a direction and returns the light
// that comes back along it.
func (w *world) gather(o, d vec, r *valuenoise.Rand) vec {
	var sum vec
	through := grey(1)
	for k := range bounces {
		pt, ok := w.find(o, d, false)
		if !ok {
			return sum.add(through.mul(w.sky.at(d)))
		}
		f, b := w.sun(&pt, r.Next(), r.Next())
		sum = sum.add(through.mul(pt.albedo.scale(f).add(pt.through.scale(b)).mul(sunE)))
		if k == bounces-1 {
			break
		}
		side := 1.0
		a := pt.albedo
		if pt.through != (vec{}) {
			// Half of the paths go through a thin thing.
			if r.Next() < 0.5 {
				side, a = -1, pt.through
			}
			a = a.scale(2)
		}
		through = through.mul(a)
		if k >= 1 {
			q := clamp(math.Max(through.x, math.Max(through.y, through.z))*4, 0.1, 1)
			if r.Next() > q {
				break
			}
			through = through.scale(1 / q)
		}
		d = cosine(pt.n.scale(side), r.Next(), r.Next())
		if d.dot(pt.g)*side <= 0 {
			break
		}
		o = pt.p.add(pt.g.scale(side * 2e-4))
	}
	return sum
}

// pixel is what the samples of one pixel say, kept apart so that the smooth
// part of the light can be cleaned of noise without touching texture.
type pixel struct {
	direct vec     // sun on diffuse surfaces, gloss and sky: final light
	albedo vec     // mean diffuse colour that the indirect light falls on
	light  vec     // indirect light (sky and bounces) over that colour
	noise  float64 // variance of the mean of light's luminance
	n      vec
	depth  float64
}

func lum(c vec) float64 { return 0.2126*c.x + 0.7152*c.y + 0.0722*c.z }

// r2 is Roberts' two-dimensional additive recurrence (2018), rotated per pixel.
func r2(i int, ox, oy float64) (float64, float64) {
	x, y := ox+0.7548776662466927*float64(i), oy+0.5698402909980532*float64(i)
	return x - math.Floor(x), y - math.Floor(y)
}

func (w *world) sample(x, y, width, height, samples int) pixel {
	var px pixel
	var rot [8]float64
	for i := range rot {
		rot[i] = valuenoise.Unit(x, y, 1000+i)
	}
	// A step that shares no factor with the sample count pairs the sequences
	// of jitter, sun and bounce in different orders.
	step2, step3 := coprime(samples, 0.381966), coprime(samples, 0.236068)
	aspect := float64(width) / float64(height)
	var s1, s2, hits float64
	var whole vec
	r := valuenoise.Rand(valuenoise.Hash(uint32(x), uint32(y), 77))<<32 | valuenoise.Rand(valuenoise.Hash(uint32(y), uint32(x), 78))
	for i := range samples {
		jx, jy := r2(i, rot[0], rot[1])
		u := (float64(x) + 0.5 + 1.15*(jx-0.5)) / float64(width)
		v := (float64(y) + 0.5 + 1.15*(jy-0.5)) / float64(height)
		d := w.cam.ray(u, v, aspect)
		pt, ok := w.find(w.cam.eye, d, true)
		if !ok {
			px.direct = px.direct.add(sky(d))
			continue
		}
		px.n = px.n.add(pt.n)
		px.depth += pt.t
		hits++
		a, b := r2(i*step2%samples, rot[2], rot[3])
		f, bk := w.sun(&pt, a, b)
		px.direct = px.direct.add(pt.albedo.scale(f).add(pt.through.scale(bk)).mul(sunE))
		if pt.coat > 0 {
			px.direct = px.direct.add(w.gloss(&pt, d, f, &r))
		}
		a, b = r2(i*step3%samples, rot[4], rot[5])
		side, colour := 1.0, pt.albedo
		if pt.through != (vec{}) {
			colour = pt.albedo.add(pt.through)
			if r.Next()*lum(colour) < lum(pt.through) {
				side = -1
			}
		}
		nd := cosine(pt.n.scale(side), a, b)
		var l vec
		if nd.dot(pt.g)*side > 0 {
			l = w.gather(pt.p.add(pt.g.scale(side*2e-4)), nd, &r)
		}
		// Fireflies would survive any number of samples; light this far over
		// the sky's can only be a chance hit of a sun patch.
		if m := math.Max(l.x, math.Max(l.y, l.z)); m > 3 {
			l = l.scale(3 / m)
		}
		px.albedo = px.albedo.add(colour)
		whole = whole.add(colour.mul(l))
		g := lum(l)
		s1 += g
		s2 += g * g
	}
	n := float64(samples)
	px.direct = px.direct.scale(1 / n)
	px.albedo = px.albedo.scale(1 / n)
	whole = whole.scale(1 / n)
	px.light = vec{whole.x / math.Max(px.albedo.x, 1e-6), whole.y / math.Max(px.albedo.y, 1e-6), whole.z / math.Max(px.albedo.z, 1e-6)}
	if hits > 1 {
		px.n = px.n.unit()
		px.depth /= hits
		px.noise = math.Max(s2/hits-(s1/hits)*(s1/hits), 0) / hits
	}
	return px
}

func coprime(n int, share float64) int {
	k := max(1, int(float64(n)*share))
	for gcd(k, n) != 1 {
		k++
	}
	return k
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// gloss is the light off a clear coat: the sun's highlight and one reflected
// ray.
func (w *world) gloss(pt *point, d vec, sunlit float64, r *valuenoise.Rand) vec {
	v := d.scale(-1)
	nv := math.Max(pt.n.dot(v), 0.01)
	// Schlick's approximation of Fresnel reflectance (1994).
	fresnel := func(c float64) float64 { return pt.coat + (1-pt.coat)*math.Pow(1-c, 5) }
	var out vec
	a2 := math.Pow(math.Max(pt.rough, 0.05), 4)
	if sunlit > 0 {
		// GGX normal distribution (Walter et al. 2007); shadowing is left out.
		h := v.add(sunDir).unit()
		nh := pt.n.dot(h)
		den := nh*nh*(a2-1) + 1
		spec := a2 / (math.Pi * den * den) * fresnel(math.Max(h.dot(v), 0)) / (4 * nv)
		out = sunE.scale(math.Min(spec, 12))
	}
	refl := d.add(pt.n.scale(2 * nv))
	if pt.rough > 0 {
		refl = refl.unit().add(cosine(pt.n, r.Next(), r.Next()).scale(pt.rough * pt.rough)).unit()
	}
	if refl.dot(pt.g) <= 0 {
		return out
	}
	l := w.gather(pt.p.add(pt.g.scale(2e-4)), refl, r)
	if m := math.Max(l.x, math.Max(l.y, l.z)); m > 3 {
		l = l.scale(3 / m)
	}
	return out.add(l.scale(fresnel(nv) * (1 - 0.5*pt.rough)))
}

// balance sets the gain by the light on the grey card.
func (w *world) balance(card, n vec) {
	const paths = 6144
	var e vec
	r := valuenoise.Rand(4711)
	pt := point{p: card, n: n, g: n}
	for i := range paths {
		a, b := r2(i, 0.5, 0.5)
		f, _ := w.sun(&pt, a, b)
		e = e.add(sunE.scale(f))
		e = e.add(w.gather(card.add(n.scale(2e-4)), cosine(n, a, b), &r))
	}
	e = e.scale(1.0 / paths)
	w.gain = vec{1 / e.x, 1 / e.y, 1 / e.z}
}

var courtyard = sync.OnceValue(buildCourtyard)
