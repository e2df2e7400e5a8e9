package measure

import "math"

// Where a pile-up may lie and how wide it may be, as fractions of full scale.
// A scanner's or lab's white below 94 % of the code range was not met (common
// practice, no source); below that a spike is taken for a flat patch of the
// picture. A pile-up is a fact of the file, so it is narrower than any film's
// noise: at most 0.1 % of full scale at the top; at the bottom, where gamma
// encoding spreads noise wider and a film's own black is narrow, a quarter of that.
const (
	pileZone      = 0.06
	pileWidth     = 0.001
	pileWidthLow  = 0.00025
	pileShare     = 1e-4 // of the pixels
	pileMinPixels = 24
	pileAbove     = 0.05 // pixels beyond it, of those in it
	pileStep      = 8    // times as dense as the codes before it
	coarseStep    = 3    // times the code before it, in data of up to 10 bits or so
)

// findCodeRange finds the codes at which the area's histogram piles up.
func findCodeRange(h *Histogram, d depth) CodeRange {
	var lim CodeRange
	var hi, lo [3]int
	var hiFrom, loFrom [3]EndFrom
	for c := range 3 {
		hi[c], hiFrom[c] = findCeiling(h.Counts[c], d, h.Pixels)
		lo[c], loFrom[c] = findFloor(h.Counts[c], d, h.Pixels)
	}
	lim.Ceiling, lim.CeilingFrom = RGB[int]{hi[0], hi[1], hi[2]}, RGB[EndFrom]{hiFrom[0], hiFrom[1], hiFrom[2]}
	lim.Floor, lim.FloorFrom = RGB[int]{lo[0], lo[1], lo[2]}, RGB[EndFrom]{loFrom[0], loFrom[1], loFrom[2]}
	return lim
}

func findCeiling(counts []uint64, d depth, pixels uint64) (int, EndFrom) {
	top := len(counts) - 1
	if at, ok := pileUp(counts, d, pixels, pileWidth); ok && at < top {
		return at, EndPileUp
	}
	if float64(counts[top]) >= pileShare*float64(pixels) && counts[top] >= pileMinPixels {
		return top, EndPileUp
	}
	if d.top < top {
		return d.top, EndContainer
	}
	return top, EndDefault
}

func findFloor(counts []uint64, d depth, pixels uint64) (int, EndFrom) {
	top := len(counts) - 1
	mirror := make([]uint64, len(counts))
	for i, n := range counts {
		mirror[top-i] = n
	}
	if at, ok := pileUp(mirror, d, pixels, pileWidthLow); ok && at < top {
		return top - at, EndPileUp
	}
	if float64(counts[0]) >= pileShare*float64(pixels) && counts[0] >= pileMinPixels {
		return 0, EndPileUp
	}
	return 0, EndDefault
}

// pileUp looks for the pile-up at the upper end of counts and returns its lower
// edge. Four things must hold: the pile is the last of the histogram (hardly a
// pixel beyond it), it is narrow, it is much denser than the codes before it,
// and there is picture before it. The last one keeps a noise-free flat patch,
// the brightest of a chart, from passing for a ceiling.
func pileUp(counts []uint64, d depth, pixels uint64, width float64) (int, bool) {
	top := len(counts) - 1
	quantum := 1 << max(0, bitsOf(top)-d.bits)
	zone := int(float64(top) * (1 - pileZone))
	// Coarse data (up to 10 bits or so) has no codes to show a smear apart from
	// a sky of little noise: there only a single code is believed.
	maxHalf := int(math.Round(float64(top) * width))
	coarse := maxHalf < 4*quantum

	mode, peak := 0, uint64(0)
	for v := top; v >= zone; v-- {
		if counts[v] > peak {
			mode, peak = v, counts[v]
		}
	}
	if peak == 0 {
		return 0, false
	}
	// The half width: where the smear has fallen to a tenth, seen through
	// windows of a few quanta so that a comb does not stop it.
	half := 0
	for {
		edge := mode + half + quantum
		if edge > top || sum(counts, edge, edge+quantum-1) < (sum(counts, mode, mode+quantum-1)+9)/10 {
			break
		}
		if half += quantum; coarse || half >= maxHalf {
			return 0, false
		}
	}
	if half > 0 {
		// A tenth of a Gaussian is at 2.1 sigma; three sigma hold the pile.
		half = half*3/2 + quantum
	}
	lo := max(zone, mode-half)
	hi := min(top, mode+half)
	in := sum(counts, lo, hi)
	above := sum(counts, hi+1, top)
	if in < pileMinPixels || float64(in) < pileShare*float64(pixels) || float64(above) > pileAbove*float64(in) {
		return 0, false
	}
	// Codes before the pile, over a stretch of 2 % of full scale.
	stretch := max(4*quantum, top/50)
	from := max(0, lo-quantum-stretch)
	below := sum(counts, from, lo-quantum-1)
	if float64(below) < math.Max(16, 1e-5*float64(pixels)) {
		return 0, false
	}
	density := float64(below) / float64(lo-quantum-from)
	if coarse {
		// One code holds as many tones as 256 of fine data: a pile stands less
		// high over a highlight's shoulder, but ends as abruptly.
		ends := 100*above <= in && in >= coarseStep*sum(counts, lo-quantum, lo-1)
		return lo, ends && float64(in) >= 2*density*float64(quantum)
	}
	return lo, float64(in) >= pileStep*density*float64(hi-lo+quantum)
}

func sum(counts []uint64, lo, hi int) (s uint64) {
	for v := max(0, lo); v <= hi && v < len(counts); v++ {
		s += counts[v]
	}
	return s
}

func bitsOf(top int) int {
	n := 0
	for top > 0 {
		top >>= 1
		n++
	}
	return n
}

// atOrBeyond counts a channel's pixels at or above a ceiling, at or below a floor.
func (h *Histogram) atOrBeyond(c, ceiling, floor int) (high, low uint64) {
	return h.sum(c, ceiling, h.Max), h.sum(c, 0, floor)
}

// AgreeCodeRange proposes one ceiling and floor per channel for the roll, because
// they are properties of the scanner and its settings, not of a frame. The
// roll's ceiling is the pile-up of the frame that has most pixels in it, given
// that more frames pile up there than have notable picture beyond it; without
// one, the container's. changed lists the indices whose clip counts differ under them and must be recounted. Entries
// may be nil. Looks of another container depth than the first one's are left
// out, since their codes do not compare.
func AgreeCodeRange(looks []*Look) (lim CodeRange, changed []int) {
	var ref *Look
	var roll []int
	for i, l := range looks {
		if l == nil {
			continue
		}
		if ref == nil {
			ref = l
		}
		if l.Info.Bits == ref.Info.Bits {
			roll = append(roll, i)
		}
	}
	if ref == nil {
		return CodeRange{}, nil
	}
	var hi, lo [3]int
	var hiFrom, loFrom [3]EndFrom
	for c := range 3 {
		hi[c], hiFrom[c] = agreeEnd(looks, roll, c, true)
		lo[c], loFrom[c] = agreeEnd(looks, roll, c, false)
	}
	lim = CodeRange{
		Ceiling: RGB[int]{hi[0], hi[1], hi[2]}, CeilingFrom: RGB[EndFrom]{hiFrom[0], hiFrom[1], hiFrom[2]},
		Floor: RGB[int]{lo[0], lo[1], lo[2]}, FloorFrom: RGB[EndFrom]{loFrom[0], loFrom[1], loFrom[2]},
	}
	for _, i := range roll {
		if looks[i].rangeMatters(lim) {
			changed = append(changed, i)
		}
	}
	return lim, changed
}

// rangeMatters reports whether any count of l would change under lim.
func (l *Look) rangeMatters(lim CodeRange) bool {
	for c := range 3 {
		h1, l1 := l.Hist.atOrBeyond(c, at(l.Ceiling, c), at(l.Floor, c))
		h2, l2 := l.Hist.atOrBeyond(c, at(lim.Ceiling, c), at(lim.Floor, c))
		if h1 != h2 || l1 != l2 {
			return true
		}
	}
	return false
}

// at returns channel c of v.
func at[T any](v RGB[T], c int) T {
	switch c {
	case 0:
		return v.R
	case 1:
		return v.G
	}
	return v.B
}

// agreeEnd finds one channel's ceiling (or floor) for the roll.
func agreeEnd(looks []*Look, roll []int, c int, ceiling bool) (int, EndFrom) {
	limit := func(l *Look) (int, EndFrom) {
		if ceiling {
			return at(l.Ceiling, c), at(l.CeilingFrom, c)
		}
		return at(l.Floor, c), at(l.FloorFrom, c)
	}
	inner := func(a, b int) bool { // a further inside the code range than b
		if ceiling {
			return a < b
		}
		return a > b
	}
	// The container's end, unless a frame holds codes beyond it.
	best, from := looks[roll[0]].end(ceiling), EndDefault
	for _, i := range roll {
		if v, f := limit(looks[i]); f == EndContainer && inner(v, best) && noneBeyond(looks, roll, c, v) {
			best, from = v, f
		}
	}
	// The pile-up of the frame that has most pixels in it shows the code best.
	var most uint64
	for _, i := range roll {
		v, f := limit(looks[i])
		if f != EndPileUp || !believed(looks, roll, c, v, ceiling) {
			continue
		}
		high, low := looks[i].Hist.atOrBeyond(c, v, v)
		if !ceiling {
			high = low
		}
		if high > most {
			best, from, most = v, LimitAgreed, high
		}
	}
	return best, from
}

// noneBeyond: not one pixel of the roll above code v.
func noneBeyond(looks []*Look, roll []int, c, v int) bool {
	for _, i := range roll {
		if h := &looks[i].Hist; h.sum(c, v+1, h.Max) > 0 {
			return false
		}
	}
	return true
}

// end returns the container's own end.
func (l *Look) end(ceiling bool) int {
	if ceiling {
		return l.Hist.Max
	}
	return 0
}

// believed: an end that some frames claim by a pile-up holds for the roll when
// fewer frames have notable picture beyond it, and the smear that an end may
// have, than pile up at it. One frame with a light leak or a number on the holder
// must not make the others' clipping vanish; one frame with a light flat tone must
// not clip the others.
func believed(looks []*Look, roll []int, c, v int, ceiling bool) bool {
	var claim, against int
	for _, i := range roll {
		l := looks[i]
		h := &l.Hist
		slack := 2 * max(1, int(math.Round(float64(h.Max)*pileWidth))) * 3 / 2
		own, from := at(l.Floor, c), at(l.FloorFrom, c)
		var beyond, all uint64
		if ceiling {
			own, from = at(l.Ceiling, c), at(l.CeilingFrom, c)
			beyond, all = h.sum(c, v+slack+1, h.Max), h.sum(c, v, h.Max)
		} else {
			beyond, all = h.sum(c, 0, v-slack-1), h.sum(c, 0, v)
		}
		switch {
		case beyond >= pileMinPixels && float64(beyond) > pileAbove*float64(all):
			against++
		case from == EndPileUp && abs(own-v) <= slack:
			claim++
		}
	}
	return claim > against
}
