package measure

import (
	"math"

	"stopladder/analysis/numeric/parallel"
)

// Levels of brightness that NoiseBase tells apart: eighths of a power of two, by
// the leading bits of a float32, from 2^-24 to 2^8.
const (
	baseShift = 20
	baseFirst = (127 - 24) << (23 - baseShift)
	baseCount = 256
)

func baseLevel(y float32) uint8 {
	return uint8(min(max(int(math.Float32bits(y)>>baseShift)-baseFirst, 0), baseCount-1))
}

// NoisyAt marks what is Noisy at a limit in L* units, for the judge who changes it,
// and through a tone correction of the frame that was brought to the base frame's
// brightness (a shadow lift): tone takes luminance, white = 1, to what is shown; nil
// shows it as it is, and then at r.NoiseLimit this is exactly r.Noisy. The first
// result has 255 for every Noisy preview pixel and 0 for others; it is nil where
// noise is not known. The second is the fraction 0..1 of the image area, nil where
// r.Noisy is. A frame of 3 million preview pixels takes some milliseconds.
//
// Noise of a relative height s at luminance Y is Y' dL*/dY'(Y') x dlnY'/dlnY x s in
// L* units after Y became Y': lifting raises Y', and where it flattens the scale of
// tones it takes a part of the noise away with it.
func (r *Relation) NoisyAt(limit float64, tone func(y float64) float64) ([]uint8, *float64) {
	return r.noisy(limit, tone, true)
}

// NoisyFraction is the fraction of NoisyAt without its mask.
func (r *Relation) NoisyFraction(limit float64, tone func(y float64) float64) *float64 {
	_, f := r.noisy(limit, tone, false)
	return f
}

// NoisyNear is NoisyFraction from a histogram, for every step of a drag: within
// a thousandth of the area or a hundredth of its value, in some hundredths of a
// millisecond.
func (r *Relation) NoisyNear(limit float64, tone func(y float64) float64) *float64 {
	if r.Noisy == nil || tone == nil && limit == r.NoiseLimit {
		return r.Noisy
	}
	if r.noise == nil {
		return nil
	}
	sum := 0.0
	for k, l := range noisyLimits(limit, tone) {
		at := noiseBin(l)
		row := r.noise[k*histBins : (k+1)*histBins]
		i := int(at)
		if i >= histBins {
			continue
		}
		sum += (1 - (at - float64(i))) * float64(row[i])
		for _, n := range row[i+1:] {
			sum += float64(n)
		}
	}
	f := sum / float64(max(1, r.pixels))
	return &f
}

// The histogram of NoiseL by level of the base frame: 20 bins a power of two, from
// 2^-5 L*; the first and the last hold what is beyond.
const histBins, binsPerOctave, binOrigin = 256, 20, 5

func noiseBin(l float32) float64 {
	if !(l > 0) {
		return 0
	}
	return math.Max(0, math.Min(histBins, binsPerOctave*(math.Log2(float64(l))+binOrigin)))
}

// countNoise fills the histogram.
func (r *Relation) countNoise() {
	r.noise = make([]uint32, baseCount*histBins)
	// Cells of leading bits, 128 a power of two, know their bin.
	const shift = 16
	bins := make([]uint8, 1<<(31-shift))
	for i := range bins {
		bins[i] = uint8(min(noiseBin(math.Float32frombits(uint32(2*i+1)<<(shift-1))), histBins-1))
	}
	for i, v := range r.NoiseL {
		if v == v {
			r.noise[int(r.NoiseBase[i])*histBins+int(bins[math.Float32bits(v)>>shift])]++
		}
	}
}

func (r *Relation) noisy(limit float64, tone func(y float64) float64, mask bool) ([]uint8, *float64) {
	n := len(r.NoiseL)
	if n == 0 || len(r.NoiseBase) != n {
		return nil, nil
	}
	limits := noisyLimits(limit, tone)
	var out []uint8
	if mask {
		out = make([]uint8, n)
	}
	const part = 1 << 16
	counts := make([]int, (n+part-1)/part)
	parallel.Bands(len(counts), func(lo, hi int) {
		for k := lo; k < hi; k++ {
			from, to := k*part, min((k+1)*part, n)
			level := r.NoiseBase[from:to]
			c := 0
			// Floats that are not negative compare as their bits do, which takes no
			// branch; but for NaN, whose bits are above those of infinity: what is
			// unknown is not noisy.
			for i, v := range r.NoiseL[from:to] {
				b := int32(math.Float32bits(v))
				over := (int32(math.Float32bits(limits[level[i]])) - b) >> 31 & ((b - infinity - 1) >> 31)
				c -= int(over)
				if mask {
					out[from+i] = uint8(over)
				}
			}
			counts[k] = c
		}
	})
	if r.Noisy == nil {
		return out, nil
	}
	sum := 0
	for _, c := range counts {
		sum += c
	}
	f := float64(sum) / float64(max(1, r.pixels))
	return out, &f
}

const infinity = 0x7F800000 // as a float32's bits

// noisyLimits is the limit, by level of the base frame, that noise without a tone
// correction must pass so as to pass limit with it.
func noisyLimits(limit float64, tone func(y float64) float64) *[baseCount]float32 {
	t := new([baseCount]float32)
	for k := range t {
		t[k] = float32(limit)
		if tone == nil {
			continue
		}
		edge := func(k int) float64 {
			return float64(math.Float32frombits(uint32(baseFirst+k) << baseShift))
		}
		shown := func(y float64) float64 { return math.Min(tone(y), 1) }
		lo, hi := edge(k), edge(k+1)
		mid := (lo + hi) / 2
		a, b, m := shown(lo), shown(hi), shown(mid)
		if !(a > 0) || !(m > 0) { // black shows no noise
			t[k] = float32(math.Inf(1))
			continue
		}
		slope := math.Log(b/a) / math.Log(hi/lo)
		factor := float64(lightnessSlope(float32(m))) * slope / float64(lightnessSlope(float32(mid)))
		if t[k] = float32(limit / factor); !(factor > 0) {
			t[k] = float32(math.Inf(1))
		}
	}
	return t
}

// Under returns the relation with another limit for what counts as Noisy, L* units;
// r itself where the limit is the same. The noise is not measured again.
func (r *Relation) Under(limit float64) *Relation {
	if r.NoiseLimit == limit {
		return r
	}
	n := *r // what others hold stays as it was
	n.NoiseLimit = limit
	if n.Noisy != nil {
		n.Noisy = n.NoisyFraction(limit, nil)
		n.NoisyError = n.noisyError()
	}
	return &n
}
