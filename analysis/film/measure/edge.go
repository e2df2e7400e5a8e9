package measure

import (
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
)

// candidate is the best straight edge that a side shows.
type candidate struct {
	ok      bool
	line    edgeLine
	seen    float64 // share of the segments along the picture that lie on the line
	clean   float64 // share of the segments without an edge before the line
	blur    float64 // how far inside the line the picture's own level begins
	level   [3]float32
	uniform bool // the strip at the start is of one level along the side
}

// step is an edge in the profile of one segment.
type step struct{ at, blur float64 }

// maxSteps are kept per segment, so that lettering on the rebate or dust does
// not hide the edge behind it.
const maxSteps = 4

// search looks for a border at side d from the line found so far inwards.
func (s *searcher) search(d side) candidate {
	along, across := s.h, s.w
	if !d.upright() {
		along, across = s.w, s.h
	}
	k := min(max(along/16, 8), 64)
	deep := int(areaDepthAll * float64(across))
	if !s.placed[d] {
		deep = int(areaDepth * float64(across))
	}
	starts := make([]int, k)
	profiles := make([][]([3]float32), k)
	mids := make([]float64, k)
	for i := range k {
		t0, t1 := i*along/k, (i+1)*along/k
		mids[i] = float64(t0+t1) / 2
		starts[i] = 1
		if s.placed[d] {
			starts[i] = int(math.Ceil(s.lines[d].depth(mids[i]) + s.blur[d] + 1.5))
		}
		profiles[i] = s.profileOf(d, i, k, t0, t1, starts[i], min(deep+8, across))
	}
	var c candidate
	c.level, c.uniform = stripLevel(profiles)
	if !c.uniform {
		return c
	}
	noise := profileNoise(profiles)
	steps := make([][]step, k)
	for i := range steps {
		steps[i] = findSteps(profiles[i], starts[i], max(areaStep, 6*noise))
	}
	// Only the segments beside picture can show an edge: those within the
	// borders of the neighbouring sides, as far as these are known, count.
	c.fit(steps, mids, starts)
	return c
}

// profileOf returns profile for the segment i of k, averaged once and kept for the
// layers that follow.
func (s *searcher) profileOf(d side, i, k, t0, t1, from, to int) [][3]float32 {
	if s.kept[d] == nil {
		s.kept[d] = make([][][3]float32, k)
	}
	if have := len(s.kept[d][i]); have < to {
		s.kept[d][i] = append(s.kept[d][i], s.profile(d, t0, t1, have, to)...)
	}
	if from >= to {
		return nil
	}
	return s.kept[d][i][from:to]
}

// profile averages the levels over the segment t0..t1 for depths from..to.
func (s *searcher) profile(d side, t0, t1, from, to int) [][3]float32 {
	if from >= to {
		return nil
	}
	out := make([][3]float32, to-from)
	n := float32(t1 - t0)
	pix, w := s.p.Pix, s.p.W
	if d.upright() { // row by row, as memory has them
		at, step := from, 1
		if d == right {
			at, step = s.w-1-from, -1
		}
		for t := t0; t < t1; t++ {
			q := 3 * (t*w + at)
			for i := range out {
				p, o := pix[q:q+3:q+3], &out[i]
				o[0] += s.lut[0][p[0]]
				o[1] += s.lut[1][p[1]]
				o[2] += s.lut[2][p[2]]
				q += 3 * step
			}
		}
		for i := range out {
			for c := range out[i] {
				out[i][c] /= n
			}
		}
		return out
	}
	for i := range out {
		depth := from + i
		at := depth*w + t0
		if d == bottom {
			at = (s.h-1-depth)*w + t0
		}
		var r, g, b float32
		for range t1 - t0 {
			q := pix[3*at : 3*at+3 : 3*at+3]
			r += s.lut[0][q[0]]
			g += s.lut[1][q[1]]
			b += s.lut[2][q[2]]
			at++
		}
		out[i] = [3]float32{r / n, g / n, b / n}
	}
	return out
}

// stripLevel returns the median level of the first three depths and whether three
// quarters of the segments have it.
func stripLevel(profiles [][][3]float32) (level [3]float32, uniform bool) {
	var starts [][3]float32
	for _, p := range profiles {
		if len(p) < 3 {
			continue
		}
		starts = append(starts, meanLevel(p, 0, 3))
	}
	if len(starts) == 0 {
		return level, false
	}
	v := make([]float32, len(starts))
	for c := range 3 {
		for i := range starts {
			v[i] = starts[i][c]
		}
		level[c] = median.Upper(v)
	}
	n := 0
	for _, p := range starts {
		if levelGap(p, level) <= areaUniform {
			n++
		}
	}
	return level, 4*n >= 3*len(profiles)
}

// meanLevel averages p[lo:hi], cut to what is there.
func meanLevel(p [][3]float32, lo, hi int) (m [3]float32) {
	lo, hi = max(lo, 0), min(hi, len(p))
	if lo >= hi {
		return p[min(max(lo, 0), len(p)-1)]
	}
	for _, v := range p[lo:hi] {
		for c := range m {
			m[c] += v[c]
		}
	}
	for c := range m {
		m[c] /= float32(hi - lo)
	}
	return m
}

// profileNoise returns the noise of a border's profile: the median step between
// neighbouring depths of its first few, over all segments.
func profileNoise(profiles [][][3]float32) float64 {
	var d []float32
	for _, p := range profiles {
		for i := 1; i < min(4, len(p)); i++ {
			d = append(d, levelGap(p[i], p[i-1]))
		}
	}
	if len(d) == 0 {
		return 0
	}
	// The median of |difference of two| of Gaussian noise is 0.954 sigma.
	return float64(median.Upper(d)) / 0.954
}

// findSteps lists the first steps of a profile, positions with a fraction:
// where the level is half way. A step is a place where the difference between
// the means before and after is greater than anywhere near: the glow of a
// bright picture in a black border rises towards the edge and so is no step of
// its own.
func findSteps(p [][3]float32, start int, threshold float64) []step {
	const reach = 5
	if len(p) < 8 {
		return nil
	}
	means := make([][3]float32, len(p)) // of three depths: i-2, i-1 and i
	for i := range means {
		means[i] = meanLevel(p, i-2, i+1)
	}
	gaps := make([]float64, len(p))
	for i := 2; i < len(p)-4; i++ { // between depths i-1 and i
		gaps[i] = float64(levelGap(means[max(i-2, 0)], means[i+3]))
	}
	var out []step
	for i := 2; i < len(p)-4 && len(out) < maxSteps; i++ {
		g := gaps[i]
		if g < threshold || g < slices.Max(gaps[max(i-reach, 0):min(i+reach+1, len(gaps))]) {
			continue
		}
		out = append(out, halfWay(p, i, start))
		i += reach
	}
	return out
}

// halfWay refines the step near index i.
func halfWay(p [][3]float32, i, start int) step {
	before, after := meanLevel(p, i-6, i-3), meanLevel(p, i+3, i+6)
	c, most := 0, float32(-1)
	for k := range 3 {
		if d := float32(math.Abs(float64(after[k] - before[k]))); d > most {
			c, most = k, d
		}
	}
	cross := func(share float32) float64 {
		want := before[c] + share*(after[c]-before[c])
		for j := max(i-5, 0); j+1 < min(i+7, len(p)); j++ {
			a, b := p[j][c]-want, p[j+1][c]-want
			if after[c] < before[c] {
				a, b = -a, -b
			}
			if a < 0 && b >= 0 {
				// Depth j covers [j, j+1): its value stands at j + 0.5.
				return float64(j) + 0.5 + float64(a/(a-b))
			}
		}
		return float64(i)
	}
	at := cross(0.5)
	return step{at: float64(start) + at, blur: math.Min(math.Max(cross(0.9)-at, 0), 4)}
}

// fit finds the line that most segments' steps lie on, of those that hardly a
// segment has a step before.
func (c *candidate) fit(steps [][]step, mids []float64, starts []int) {
	k := len(steps)
	bestScore := 0.0
	var best edgeLine
	for i := 0; i < k; i++ {
		for j := i + max(k/4, 2); j < k; j++ {
			for _, a := range steps[i] {
				for _, b := range steps[j] {
					l := edgeLine{slope: (b.at - a.at) / (mids[j] - mids[i])}
					if math.Abs(l.slope) > areaMaxSlope {
						continue
					}
					l.at = a.at - l.slope*mids[i]
					on, early, span := onLine(l, steps, mids, bestScore)
					if 10*early > 3*k || span < k/2 {
						continue
					}
					if score := float64(on) - 0.5*float64(early) - 1e-6*l.at; score > bestScore {
						bestScore, best = score, l
					}
				}
			}
		}
	}
	if bestScore == 0 {
		return
	}
	// Least squares through what lies on it.
	for range 2 {
		var n, st, sd, stt, std float64
		for i := range steps {
			if e, ok := nearest(best, steps[i], mids[i]); ok {
				n, st, sd, stt, std = n+1, st+mids[i], sd+e.at, stt+mids[i]*mids[i], std+mids[i]*e.at
			}
		}
		if det := n*stt - st*st; det > 0 {
			best.slope = (n*std - st*sd) / det
			best.at = (sd - best.slope*st) / n
		}
	}
	on, early, _ := onLine(best, steps, mids, 0)
	var blurs []float64
	firstOn, lastOn := -1, 0
	for i := range steps {
		if e, ok := nearest(best, steps[i], mids[i]); ok {
			blurs = append(blurs, e.blur)
			if firstOn < 0 {
				firstOn = i
			}
			lastOn = i
		}
	}
	if len(blurs) == 0 {
		return
	}
	c.line, c.blur = best, median.Upper(blurs)
	c.clean = 1 - float64(early)/float64(k)
	// The ends of a side lie in the neighbouring borders and show no edge:
	// what counts is the stretch over which the edge is seen, when that is
	// most of the side.
	stretch := max(lastOn-firstOn+1, (k*7+9)/10)
	c.seen = float64(on) / float64(stretch)
	c.ok = c.seen >= 0.4 && c.clean >= 0.7
}

func nearest(l edgeLine, s []step, t float64) (step, bool) {
	for _, e := range s {
		if math.Abs(e.at-l.depth(t)) <= areaNear {
			return e, true
		}
	}
	return step{}, false
}

// onLine counts the segments with a step on the line, those with a step before
// it, and how many segments the ones on it span. It gives up, with a span of 0,
// when the rest of the segments cannot bring the line to the score to beat.
func onLine(l edgeLine, steps [][]step, mids []float64, beat float64) (on, early, span int) {
	first, last := -1, -1
	for i, s := range steps {
		if float64(on+len(steps)-i)-0.5*float64(early) < beat-0.01 {
			return on, early, 0
		}
		if len(s) == 0 {
			continue
		}
		depth := l.depth(mids[i])
		if s[0].at < depth-areaNear {
			early++
		}
		for _, e := range s {
			if math.Abs(e.at-depth) <= areaNear {
				on++
				if first < 0 {
					first = i
				}
				last = i
				break
			}
		}
	}
	if first >= 0 {
		span = last - first + 1
	}
	return on, early, span
}
