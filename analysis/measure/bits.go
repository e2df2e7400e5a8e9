package measure

import "math"

// depth is what the set of occupied codes says about the data's precision.
type depth struct {
	bits int // effective bits, <= container
	top  int // largest code that data of that precision can have
}

// Evidence below which a pattern of codes is not believed: the chance that
// codes of full precision would fit it is less than 2^-evidenceBits.
const evidenceBits = 20

// effectiveDepth reads the precision from the occupied codes, as three common
// ways of widening leave them: shifted up (8-bit data tops out at 0xFF00),
// scaled to full range (n-bit code x max/(2^n-1), which replicating the bits
// equals for 8 in 16), or passed through a curve, where only the number of
// codes in use is left to tell.
func effectiveDepth(h *Histogram, container int) depth {
	full := depth{bits: container, top: h.Max}
	var codes []int // occupied in any channel
	for v := range h.Max + 1 {
		if h.Counts[0][v]|h.Counts[1][v]|h.Counts[2][v] != 0 {
			codes = append(codes, v)
		}
	}
	telling := 0 // 0 and full scale fit every pattern and prove nothing
	for _, v := range codes {
		if v != 0 && v != h.Max {
			telling++
		}
	}
	for n := 1; n < container; n++ {
		if (container-n)*telling < evidenceBits {
			continue
		}
		if allShifted(codes, container-n) {
			return depth{bits: n, top: (1<<n - 1) << (container - n)}
		}
		if allScaled(codes, n, container, h.Max) {
			return depth{bits: n, top: h.Max}
		}
	}
	for c := range h.Counts {
		if n := curvedBits(h, c, container); n < full.bits {
			full.bits = n
		}
	}
	return full
}

func allShifted(codes []int, shift int) bool {
	mask := 1<<shift - 1
	for _, v := range codes {
		if v&mask != 0 {
			return false
		}
	}
	return true
}

// allScaled: every code is what one of the ways to widen n bits to full range
// makes of some k: k*top/(2^n-1) rounded down or to nearest, or the bits of k
// repeated. One way must explain all codes: allowing a mixture would let any
// 16-bit picture pass for 15 bits.
func allScaled(codes []int, n, container, top int) bool {
	levels := 1<<n - 1
	down, near, repeat := true, true, true
	for _, v := range codes {
		k := (v*levels + top - 1) / top
		down = down && v == k*top/levels
		k = (2*v*levels + top) / (2 * top)
		near = near && v == (2*k*top+levels)/(2*levels)
		repeat = repeat && v == repeatBits(v>>(container-n), n, container)
		if !down && !near && !repeat {
			return false
		}
	}
	return true
}

// repeatBits widens the n-bit k to container bits by repeating it.
func repeatBits(k, n, container int) int {
	v := 0
	for s := container - n; s > -n; s -= n {
		if s >= 0 {
			v |= k << s
		} else {
			v |= k >> -s
		}
	}
	return v
}

// curvedBits compares the number of codes in use with the range that they span,
// over the middle 90 % of the pixels, where there are pixels enough (20 a code)
// that an unused code is a gap and not a chance.
func curvedBits(h *Histogram, c, container int) int {
	lo, hi := h.quantile(c, 0.05), h.quantile(c, 0.95)
	span := hi - lo
	if span < 64 || float64(h.Pixels)*0.9 < 20*float64(span) {
		return container
	}
	used := 0
	for v := lo; v < hi; v++ {
		if h.Counts[c][v] != 0 {
			used++
		}
	}
	// Fewer than 32 levels may as well be a chart of flat patches.
	if used < 32 || used*2 > span {
		return container
	}
	return container - int(math.Floor(math.Log2(float64(span)/float64(used))))
}

// quantile is the lowest code at or below which the share q of the pixels lies.
func (h *Histogram) quantile(c int, q float64) int {
	want := uint64(q * float64(h.Pixels))
	var sum uint64
	for v, n := range h.Counts[c] {
		if sum += n; sum > want {
			return v
		}
	}
	return h.Max
}
