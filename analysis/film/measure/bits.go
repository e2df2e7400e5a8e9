package measure

import (
	"math"
	"slices"
)

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

// curvedBits looks at the gap from each code in use to the next one, as the
// median pixel sees it: 1 for data of full precision, about 256 for 8-bit data
// that went through a curve into 16 bits. Codes of fewer than 20 pixels have
// gaps by chance and do not count; fewer than 32 codes may as well be a chart of
// flat patches and prove nothing.
func curvedBits(h *Histogram, c, container int) int {
	const dense, levels = 20, 32
	var small [1024]uint64     // pixels by gap
	weight := map[int]uint64{} // the same for larger gaps
	var total, all uint64
	used, next := 0, -1
	for v := h.Max; v >= 0; v-- {
		n := h.Counts[c][v]
		if n == 0 {
			continue
		}
		all += n
		if n >= dense && next > 0 {
			if gap := next - v; gap < len(small) {
				small[gap] += n
			} else {
				weight[gap] += n
			}
			total += n
		}
		used++
		next = v
	}
	if used < levels || 2*total < all {
		return container
	}
	for g, n := range small {
		if n > 0 {
			weight[g] = n
		}
	}
	gaps := make([]int, 0, len(weight))
	for g := range weight {
		gaps = append(gaps, g)
	}
	slices.Sort(gaps)
	var sum uint64
	for _, g := range gaps {
		if sum += weight[g]; 2*sum >= total {
			return max(1, container-int(math.Round(math.Log2(float64(g)))))
		}
	}
	return container
}

// CodesPerStop counts the green code values that are in use in the image area,
// stop by stop below the white of the scan: entry k is what lies less than k+1
// and at least k stops under it, white itself left out. Few codes in a dark stop are what a lift of the shadows
// tears apart. It has n entries.
func (l *Look) CodesPerStop(n int) []int {
	out := make([]int, n)
	tone := l.Space.Tone()[1]
	counts := l.Hist.Channel(1)
	if len(counts) > len(tone) || len(tone) == 0 {
		return out
	}
	white := tone[len(tone)-1]
	for code, count := range counts {
		v := tone[code]
		if count == 0 || v >= white {
			continue
		}
		for k, above := 0, white/2; k < n; k, above = k+1, above/2 {
			if v > above {
				out[k]++
				break
			}
		}
	}
	return out
}
