package response

import "math"

// A scan that is levelled frame by frame brings some low and some high quantile of
// every frame to the same codes. Under fixed settings the codes of a quantile
// spread over the frames the less the further out it lies, for the curve flattens
// towards both ends; a spread that is least in between, at both ends of the scale,
// is the mark of levels.
var levelQuantiles = [...]float64{0.0002, 0.0005, 0.001, 0.002, 0.003, 0.005, 0.0075, 0.01, 0.02, 0.03, 0.05}

const (
	levelInset  = 0.03  // of the image area's sides: remains of a border stay out
	levelSpread = 0.018 // of full scale: a pinned quantile spreads less
	levelDip    = 0.008 // of full scale: and less by this than quantiles further out and further in
	levelTimes  = 2.2   // and by this factor
)

// pinned counts the channels whose quantiles are pinned at the dark and at the
// light end.
func (r *Result) pinned(used []bool) (pin [2]int) {
	var codes [][2][3][len(levelQuantiles)]float64
	for j, ok := range used {
		if ok {
			q, good := quantiles(&r.in[j])
			if !good {
				return
			}
			codes = append(codes, q)
		}
	}
	if len(codes) < framesLeast {
		return
	}
	for end := range 2 {
		for c := range 3 {
			var spread [len(levelQuantiles)]float64
			least := 0
			for k := range spread {
				lo, hi := math.Inf(1), math.Inf(-1)
				for j := range codes {
					lo, hi = math.Min(lo, codes[j][end][c][k]), math.Max(hi, codes[j][end][c][k])
				}
				spread[k] = hi - lo
				if spread[k] < spread[least] {
					least = k
				}
			}
			out, in := 0.0, 0.0
			for k, s := range spread {
				if k < least {
					out = math.Max(out, s)
				} else {
					in = math.Max(in, s)
				}
			}
			s := spread[least]
			side := math.Min(out, in)
			if s < levelSpread && side > s+levelDip && side > levelTimes*s {
				pin[end]++
			}
		}
	}
	return pin
}

// quantiles of a frame's codes, of full scale, at the dark and the light end.
func quantiles(f *Frame) (q [2][3][len(levelQuantiles)]float64, ok bool) {
	l := f.Look
	area := previewArea(l)
	area.Min.X += int(levelInset * float64(area.Dx()))
	area.Max.X -= int(levelInset * float64(area.Dx()))
	area.Min.Y += int(levelInset * float64(area.Dy()))
	area.Max.Y -= int(levelInset * float64(area.Dy()))
	if area.Dx() < 20 || area.Dy() < 20 {
		return q, false
	}
	top := l.Space.Max()
	counts := make([]int32, 3*(top+1))
	n := 0
	for y := area.Min.Y; y < area.Max.Y; y++ {
		row := l.Preview.Pix[3*(y*l.Preview.W+area.Min.X) : 3*(y*l.Preview.W+area.Max.X)]
		for i := 0; i+2 < len(row); i += 3 {
			counts[3*int(row[i])]++
			counts[3*int(row[i+1])+1]++
			counts[3*int(row[i+2])+2]++
			n++
		}
	}
	for c := range 3 {
		sum, k := 0, 0
		for code := 0; code <= top && k < len(levelQuantiles); code++ {
			sum += int(counts[3*code+c])
			for k < len(levelQuantiles) && float64(sum) > levelQuantiles[k]*float64(n) {
				q[0][c][k] = float64(code) / float64(top)
				k++
			}
		}
		sum, k = 0, 0
		for code := top; code >= 0 && k < len(levelQuantiles); code-- {
			sum += int(counts[3*code+c])
			for k < len(levelQuantiles) && float64(sum) > levelQuantiles[k]*float64(n) {
				q[1][c][k] = float64(code) / float64(top)
				k++
			}
		}
	}
	return q, true
}
