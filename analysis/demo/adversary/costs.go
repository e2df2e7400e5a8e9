package adversary

import (
	"math"
	"math/rand/v2"
	"slices"
)

// meanDifference is that of every step-th block under a correction.
func (o *seen) meanDifference(t *[3]*tone, step int) float64 {
	sum, n := 0.0, 0
	for i := 0; i < len(o.base); i += step {
		sum += difference(labOf(o.base[i]), labOf(apply(t, o.frame[i])))
		n++
	}
	return sum / math.Max(1, float64(n))
}

func apply(t *[3]*tone, p [3]float64) [3]float64 {
	for c := range p {
		p[c] = math.Min(1, t[c].at(p[c]))
	}
	return p
}

// gains finds the gain, or the three of them, that leave the least mean difference.
func (o *seen) gains(each bool) *[3]*tone {
	var ratio [3]float64
	for c := range 3 {
		var r []float64
		for i := range o.base {
			r = append(r, math.Log2(o.base[i][c]/math.Max(1e-7, o.frame[i][c])))
		}
		slices.Sort(r)
		if len(r) > 0 {
			ratio[c] = r[len(r)/2]
		}
	}
	if !each {
		ratio = [3]float64{ratio[1], ratio[1], ratio[1]}
	}
	step := max(1, len(o.base)/500)
	cost := func(g [3]float64) float64 {
		t := [3]*tone{gainTone(math.Exp2(g[0])), gainTone(math.Exp2(g[1])), gainTone(math.Exp2(g[2]))}
		return o.meanDifference(&t, step)
	}
	move := func(channels []int, span float64) {
		lo, hi := -span, span
		at := func(d float64) float64 {
			g := ratio
			for _, c := range channels {
				g[c] += d
			}
			return cost(g)
		}
		const golden = 0.6180339887498949
		a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
		fa, fb := at(a), at(b)
		for range 16 {
			if fa < fb {
				hi, b, fb = b, a, fa
				a = hi - golden*(hi-lo)
				fa = at(a)
			} else {
				lo, a, fa = a, b, fb
				b = lo + golden*(hi-lo)
				fb = at(b)
			}
		}
		for _, c := range channels {
			ratio[c] += (lo + hi) / 2
		}
	}
	move([]int{0, 1, 2}, 2)
	if each {
		for _, span := range []float64{0.7, 0.3, 0.1} {
			move([]int{0}, span)
			move([]int{2}, span)
			move([]int{0, 1, 2}, span)
		}
	}
	return &[3]*tone{gainTone(math.Exp2(ratio[0])), gainTone(math.Exp2(ratio[1])), gainTone(math.Exp2(ratio[2]))}
}

// cost measures a correction; noise and contrast where all of it is asked for.
func (o *seen) cost(t *[3]*tone, all bool) Cost {
	nan := math.NaN()
	out := Cost{Lost: nan, DeltaE: nan, P95: nan, Noise: nan, Crossover: nan, Contrast: nan}
	if o.all > 0 {
		out.Lost = float64(o.lost) / float64(o.all)
	}
	ready(t)
	if d := o.differences(t); len(d) >= 60 {
		slices.Sort(d)
		out.DeltaE, out.P95 = d[len(d)/2], d[len(d)*95/100]
	}
	out.Crossover = between(o.whole(o.neutrals()), t)
	if all {
		out.Noise = o.noise(t)
		out.Contrast = o.contrast(t)
	}
	return out
}

// differences are those of the blocks' mean colours after a correction, over what neither
// frame has lost: pixels are corrected, and what is seen of them is averaged.
func (o *seen) differences(t *[3]*tone) []float64 {
	d := make([]float64, len(o.blocks))
	bands(len(o.blocks), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b := o.blocks[i]
			var x, y [3]float64
			k := 0.0
			for p := range b.state {
				if (b.state[p]|o.state[i][p])&(gone|unshown) != 0 {
					continue
				}
				k++
				for c := range 3 {
					x[c] += float64(b.light[3*p+c])
					y[c] += t[c].quick(float64(o.light[i][3*p+c]))
				}
			}
			d[i] = math.NaN()
			if 2*k < float64(len(b.state)) {
				continue
			}
			for c := range 3 {
				x[c], y[c] = x[c]/k, y[c]/k
			}
			d[i] = difference(labOf(x), labOf(y))
		}
	})
	return slices.DeleteFunc(d, math.IsNaN)
}

// contrast is the ratio of the local RMS contrasts of luminance, over the cells in which
// every channel speaks in both frames.
func (o *seen) contrast(t *[3]*tone) float64 {
	v := o.v
	rows := make([][3]float64, len(o.blocks))
	bands(len(o.blocks), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b := o.blocks[i]
			for q := range 9 {
				var n, x, xx, y, yy float64
				for j := range v.cell {
					for k := range v.cell {
						p := (q/3*v.cell+j)*v.side + q%3*v.cell + k
						if (b.state[p]|o.state[i][p])&(partial|unshown) != 0 {
							continue
						}
						l := o.light[i][3*p : 3*p+3]
						u := luminance32(b.light[3*p:])
						w := luma[0]*t[0].quick(float64(l[0])) + luma[1]*t[1].quick(float64(l[1])) + luma[2]*t[2].quick(float64(l[2]))
						n, x, xx, y, yy = n+1, x+u, xx+u*u, y+w, yy+w*w
					}
				}
				if n < float64(v.cell*v.cell) || x <= 0 || y <= 0 {
					continue
				}
				rows[i][0] += n*xx/(x*x) - 1
				rows[i][1] += n*yy/(y*y) - 1
				rows[i][2]++
			}
		}
	})
	var s [3]float64
	for _, r := range rows {
		for k := range s {
			s[k] += r[k]
		}
	}
	if s[2] < 60 || s[0] <= 0 || s[2] < 0.1*9*float64(len(o.blocks)) {
		return math.NaN()
	}
	return math.Sqrt(math.Max(0, s[1]) / s[0])
}

// noise is that of the shadows after a correction, root mean square; of everything where
// there are few shadows. Single pixels are drawn with their layers' noise.
func (o *seen) noise(t *[3]*tone) float64 {
	v := o.v
	var sum, n, shadows float64
	least := 0.02 * float64(o.all)
	for i, b := range o.blocks {
		for p := range b.state {
			if (b.state[p]|o.state[i][p])&(gone|unshown) == 0 && luminance32(b.light[3*p:]) < mid/2 {
				shadows++
			}
		}
	}
	step := max(1, int(math.Max(shadows, least))/2000)
	k := 0
	rnd := rand.New(rand.NewPCG(9, 9))
	for i, b := range o.blocks {
		for p := range b.state {
			if (b.state[p]|o.state[i][p])&(gone|unshown) != 0 || shadows >= least && luminance32(b.light[3*p:]) >= mid/2 {
				continue
			}
			if k++; k%step != 0 {
				continue
			}
			sd, _ := v.drawn(b.e[3*p:3*p+3], o.s, o.gain, t, 40, rnd)
			sum += sd * sd
			n++
		}
	}
	if n < 10 {
		return math.NaN()
	}
	return math.Sqrt(sum / n)
}

// drawn returns the standard deviations of L* and of luminance, of n draws of a viewing
// pixel with its noise, after a correction.
func (v *view) drawn(e []float32, s float64, gain [3]float64, t *[3]*tone, n int, rnd *rand.Rand) (sdL, sdY float64) {
	m := v.m
	var q, g [3]float64
	for c := range 3 {
		x := e[c] + float32(s)
		q[c], g[c] = float64(m.part[c].at(x)), float64(v.sigma[c].at(x))
	}
	common, own := math.Sqrt(m.film.Alike), math.Sqrt(1-m.film.Alike)
	var l, ll, y, yy float64
	for range n {
		z := rnd.NormFloat64()
		var d [3]float64
		for c := range 3 {
			d[c] = q[c] + g[c]*(common*z+own*rnd.NormFloat64())
		}
		lum := 0.0
		for c := range 3 {
			p := float64(m.light.at(float32(m.off[c]+m.mix[c][0]*d[0]+m.mix[c][1]*d[1]+m.mix[c][2]*d[2])))*gain[c] + v.read*rnd.NormFloat64()
			lum += luma[c] * t[c].quick(clamp(p))
		}
		x := Lightness(lum)
		l, ll, y, yy = l+x, ll+x*x, y+lum, yy+lum*lum
	}
	k := float64(n)
	return math.Sqrt(math.Max(0, ll/k-l*l/k/k) * k / (k - 1)), math.Sqrt(math.Max(0, yy/k-y*y/k/k) * k / (k - 1))
}
