package response

import "math"

const (
	gridStep     = 0.02 // of LogE
	coverStep    = 0.05 // of LogE: the roll covers a bin with readings enough
	coverLeast   = 10   // readings in a bin
	coverSigma   = 0.04 // of density: less certain parts are not covered
	gammaDeepest = 2.0  // density: 1 % of full scale; deeper, a scan's own black point stretches the curve (common practice, no source)
)

// curve takes the curves out of the fit, on a common grid.
func (r *Result) curve(f *fit, ln line, place [3]float64, from MidGrey, opt Options) {
	scale := ln.per * stopLog // fit units to log10
	k := &Curve{MidGrey: from}
	var cover [3][2]float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for c := range 3 {
		a, b, ok := f.covered(c, coverStep/scale)
		if !ok {
			r.Reason = "The roll covers too few tones for a response in the " + channelName[c] + " channel."
			return
		}
		cover[c] = [2]float64{(a - place[c]) * scale, (b - place[c]) * scale}
		lo, hi = math.Min(lo, cover[c][0]), math.Max(hi, cover[c][1])
	}
	first, last := int(math.Ceil(lo/gridStep)), int(math.Floor(hi/gridStep))
	if last-first < 4 || last-first > 2000 {
		r.Reason = "The roll covers too few tones for a response."
		return
	}
	for i := first; i <= last; i++ {
		k.LogE = append(k.LogE, float64(i)*gridStep)
	}
	share := opt.FlatShare
	if !(share > 0 && share < 1) {
		share = FlatShare
	}
	o, _, p := f.offsets()
	v := make([]float64, p)
	for c := range 3 {
		n := len(k.LogE)
		k.Density[c], k.Sigma[c] = make([]float64, n), make([]float64, n)
		slope := make([]float64, n)
		prev := math.Inf(1)
		for i, x := range k.LogE {
			k.Density[c][i], k.Sigma[c][i], slope[i] = math.NaN(), math.NaN(), math.NaN()
			if x < cover[c][0]-1e-9 || x > cover[c][1]+1e-9 {
				continue
			}
			at := place[c] + x/scale
			u, du := f.g[c].at(at)
			// As the base frame's scan shows it: a scanner's flare is in the codes.
			u, bent, _ := f.seen(u, c, r.Base)
			du *= bent
			per := densityPerWork(u)
			clear(v)
			q, b, _ := f.g[c].basis(at)
			copy(v[o[c]+q:], b[:])
			sd := per * bent * math.Sqrt(f.variance(v))
			s := math.Max(0, per*du/scale)
			gauge := s * x * ln.perSigma
			sigma := math.Sqrt(sd*sd + gauge*gauge + densityFloor*densityFloor)
			if sd > coverSigma {
				continue
			}
			d := math.Min(workDensity(u), prev) // falling, as it must be
			prev = d
			k.Density[c][i], k.Sigma[c][i], slope[i] = d, sigma, s
		}
		if !k.mark(c, slope, share) {
			r.Reason = "The roll covers too few tones for a response in the " + channelName[c] + " channel."
			return
		}
	}
	r.Curve = k
}

// covered returns the part of channel c's curve (fit units) that readings bear out:
// the longest run of bins that have enough, with no gap wider than two bins.
func (f *fit) covered(c int, step float64) (lo, hi float64, ok bool) {
	g := &f.g[c]
	n := int(math.Ceil(g.step*float64(g.intervals())/step)) + 1
	if n <= 0 || n > 100000 {
		return 0, 0, false
	}
	count := make([]int, n)
	m := f.m
	for i := range m.cells {
		x := f.x[i*3+c]
		if math.IsNaN(x) {
			continue
		}
		seen := 0
		for j := range m.frames {
			if m.s[m.index(i, c, j)] > 0 {
				seen++
			}
		}
		if seen < 2 {
			continue
		}
		for j := range m.frames {
			if m.s[m.index(i, c, j)] > 0 {
				if b := int((x + f.e[j] - g.lo) / step); b >= 0 && b < n {
					count[b]++
				}
			}
		}
	}
	best, start, gap := 0, -1, 0
	end := func(b int) { // run start..b
		if start >= 0 && b-start+1 > best {
			best, lo, hi = b-start+1, g.lo+float64(start)*step, g.lo+float64(b+1)*step
		}
	}
	lastFull := 0
	for b := range count {
		if count[b] >= coverLeast {
			if start < 0 {
				start = b
			}
			lastFull, gap = b, 0
			continue
		}
		if gap++; gap > 2 && start >= 0 {
			end(lastFull)
			start = -1
		}
	}
	end(lastFull)
	return lo, hi, best >= 4
}

// mark finds the channel's landmarks from its slopes.
func (k *Curve) mark(c int, slope []float64, share float64) bool {
	lo, hi := k.span(c)
	if hi-lo < 3 {
		return false
	}
	// A hole inside would make the ends mean nothing.
	for i := lo; i <= hi; i++ {
		if math.IsNaN(slope[i]) {
			return false
		}
	}
	ch := &k.Channels[c]
	ch.Covered = [2]float64{k.LogE[lo], k.LogE[hi]}
	top := -1
	for i := lo; i <= hi; i++ {
		if k.Density[c][i] <= gammaDeepest && (top < 0 || slope[i] > slope[top]) {
			top = i
		}
	}
	if top < 0 {
		for i := lo; i <= hi; i++ {
			if top < 0 || slope[i] > slope[top] {
				top = i
			}
		}
	}
	ch.Gamma, ch.GammaAt = slope[top], k.LogE[top]
	if !(ch.Gamma > 0) {
		return false
	}
	walk := func(part float64, dir int) (x float64, open bool) {
		i := top
		for ; i+dir >= lo && i+dir <= hi; i += dir {
			if s := slope[i+dir]; s < part*ch.Gamma {
				t := (slope[i] - part*ch.Gamma) / (slope[i] - s)
				return k.LogE[i] + t*(k.LogE[i+dir]-k.LogE[i]), false
			}
		}
		return k.LogE[i], true
	}
	ch.Straight[0], _ = walk(StraightShare, -1)
	ch.Straight[1], _ = walk(StraightShare, 1)
	ch.Useful[0], ch.UsefulOpen[0] = walk(share, -1)
	ch.Useful[1], ch.UsefulOpen[1] = walk(share, 1)
	ch.UsefulStops = (ch.Useful[1] - ch.Useful[0]) / stopLog
	return true
}
