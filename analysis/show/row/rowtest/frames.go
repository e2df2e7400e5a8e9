// Package rungtest invents frames for tests of what is drawn: a plausible scene
// seen through a plausible film, so that plots have the shapes that they have in
// earnest. Nothing here is measured, and no test takes a figure from it as true.
package rowtest

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"

	"stopladder/analysis/judge/stops"

	"github.com/lucasb-eyer/go-colorful"
	"stopladder/analysis/film/cast"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/row"
)

// W and H are the size of the invented pictures.
const W, H = 360, 240

// scene returns the light of a courtyard: sky, sunlit wall, doorway in shade, lawn, a
// grey card; 0.18 is mid-grey.
func scene() []float64 {
	rng := rand.New(rand.NewPCG(7, 11))
	px := make([]float64, 3*W*H)
	for y := 0; y < H; y++ {
		for x := 0; x < W; x++ {
			u, v := float64(x)/W, float64(y)/H
			r, g, b := 0.5, 0.48, 0.44 // wall
			r, g, b = r*(0.8+0.3*u), g*(0.8+0.3*u), b*(0.8+0.3*u)
			switch {
			case v < 0.28+0.05*math.Sin(9*u):
				k := 0.9 + 0.9*(0.3-v)
				r, g, b = 0.55*k, 0.72*k, 1.05*k
			case u > 0.1 && u < 0.34 && v > 0.36 && v < 0.9:
				k := 0.012 + 0.02*v
				r, g, b = k*0.9, k, k*1.25
			case v > 0.82:
				r, g, b = 0.07, 0.12, 0.04
			case u > 0.62 && u < 0.74 && v > 0.55 && v < 0.72:
				r, g, b = 0.18, 0.18, 0.18
			case u > 0.78 && v > 0.4 && v < 0.7:
				k := 0.03 * math.Pow(2, math.Floor((u-0.78)/0.044)*1.1)
				r, g, b = k, k, k
			}
			for c, q := range [3]float64{r, g, b} {
				px[3*(y*W+x)+c] = q * math.Exp2(0.35*rng.NormFloat64())
			}
		}
	}
	return px
}

// density returns a reversal-like curve: light to linear output 0..1.
func density(e float64, c int, stop float64) float64 {
	l := math.Log10(math.Max(e, 1e-6)/0.18) + 0.02*float64(c-1)*stop
	d := 3.1/(1+math.Exp(2.3*(l+0.18))) + 0.06
	return math.Pow(10, -d) * 1.16
}

// Frames returns one frame per stop, the first at 0 the base.
func Frames(at ...float64) []*row.Data {
	light := scene()
	space := colour.AssumedSRGB(65535)
	out := make([]*row.Data, len(at))
	base := []float64(nil)
	lab := func(px []float64) (b [measure.Bands]measure.BandReading) {
		for i, at := range [measure.Bands][2]int{{70, 150}, {245, 150}, {180, 30}} {
			o := 3 * (at[1]*W + at[0])
			c := colour.LabOf(px[o], px[o+1], px[o+2])
			b[i] = measure.BandReading{Area: [3]float64{0.24, 0.41, 0.35}[i], L: c.L, A: c.A, B: c.B}
		}
		return
	}
	develop := func(stop float64) []float64 {
		px := make([]float64, len(light))
		for i, v := range light {
			px[i] = density(v*math.Exp2(stop), i%3, stop)
		}
		return px
	}
	base = develop(0)
	ref := lab(base)
	hasBase := false
	for n, stop := range at {
		px := develop(stop)
		d := &row.Data{Stop: stop, State: row.Ready, File: "courtyard_" + stops.Label(stop) + ".tif"}
		d.Base = stop == 0 && !hasBase
		hasBase = hasBase || d.Base
		l := &measure.Look{Space: space, ProfileAssumed: true, Area: image.Rect(140, 100, 6140, 4100), EffectiveBits: 14}
		l.Info = scan.Info{Path: "/scans/" + d.File, Format: "TIFF", Width: 6280, Height: 4200, Bits: 16, Channels: 3, Orientation: 1}
		l.Ceiling, l.Floor = measure.RGB[int]{R: 65535, G: 65535, B: 65535}, measure.RGB[int]{R: 0, G: 0, B: 0}
		d.Thumb = image.NewRGBA(image.Rect(0, 0, W, H))
		for k := range d.Hist {
			d.Hist[k] = make([]float64, row.HistBins)
		}
		var hi, lo [3]float64
		var anyHi, anyLo float64
		const share = 1.0 / (W * H)
		for p := 0; p < W*H; p++ {
			a, z := false, false
			var code [3]uint8
			for k := 0; k < 3; k++ {
				v := px[3*p+k]
				if v >= 0.97 {
					v, a = 1, true
					hi[k] += share
				}
				if v < 0.0012 {
					z = true
					lo[k] += share
				}
				s := math.Max(row.HistLo, math.Log2(v))
				i := min(row.HistBins-1, int((s-row.HistLo)/(row.HistHi-row.HistLo)*row.HistBins))
				d.Hist[k][i] += share
				code[k] = uint8(math.Round(255 * colorful.LinearRgb(v, 0, 0).R))
			}
			if a {
				anyHi += share
			}
			if z {
				anyLo += share
			}
			d.Thumb.SetRGBA(p%W, p/W, color.RGBA{code[0], code[1], code[2], 255})
		}
		l.Blown = measure.Clip{R: hi[0], G: hi[1], B: hi[2], Any: anyHi, All: math.Min(hi[0], math.Min(hi[1], hi[2]))}
		l.Blocked = measure.Clip{R: lo[0], G: lo[1], B: lo[2], Any: anyLo, All: math.Min(lo[0], math.Min(lo[1], lo[2]))}
		l.Mean = measure.RGB[float64]{R: 21034.2 * math.Exp2(stop/3), G: 22011 * math.Exp2(stop/3), B: 23950 * math.Exp2(stop/3)}
		d.Look = l
		d.Floor = measure.RGB[float64]{R: math.Inf(-1), G: math.Inf(-1), B: math.Inf(-1)}
		rel := &measure.Relation{NoiseLimit: measure.NoisyLimit}
		for i, b := range lab(px) {
			b.DL, b.Da, b.Db = b.L-ref[i].L, b.A-ref[i].A, b.B-ref[i].B
			rel.Bands[i] = &b
			d.Casts[i] = &cast.Shift{DA: b.Da, DB: b.Db}
		}
		noisy := math.Max(0, 0.05*(math.Exp2(-stop)-1)) + 0.004
		rel.Noisy = &noisy
		d.Rel = rel
		switch {
		case math.Abs(stop) < 0.6:
			d.Verdict = roll.Holds
		case stop <= 2 && stop >= -1.5:
			d.Verdict, d.Note = roll.Strains, "sky thin, warm light in the wall; the doorway still has its texture"
		default:
			d.Verdict, d.Note = roll.Breaks, "shade is grain"
		}
		d.InRange = stop >= -0.5 && stop <= 1
		out[n] = d
	}
	row.Share(out)
	return out
}
