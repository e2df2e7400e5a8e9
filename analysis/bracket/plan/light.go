package plan

import "math"

// Spread lays how light pictures are (any rising figure; NaN: not known) on a span
// of stops: a guess that knows their order alone. nil where they do not differ.
func Spread(light []float64, from, to float64) []float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range light {
		if !math.IsNaN(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	if !(hi > lo) {
		return nil
	}
	out := make([]float64, len(light))
	for i, v := range light {
		out[i] = from + (v-lo)/(hi-lo)*(to-from)
	}
	return out
}

// MatchByLight is Match for scans of which is known how light they are, parallel to
// them, and nothing else. Offers come likeliest first, those among them that leave
// out a picture between the frames of the bracket; but how light a picture is decides
// nothing by itself, so that what Match would ask stays a question. Scans of
// negatives that were left negative darken with exposure: both ways are tried.
func MatchByLight(f *File, scans []string, light []float64) (*Assignment, error) {
	a, err := Match(f, scans, nil)
	if err != nil || a.Sure || len(a.Offers) == 0 || len(light) != len(scans) {
		return a, err
	}
	from, to := math.Inf(1), math.Inf(-1)
	for _, e := range a.Real.Exposed {
		if e.Test {
			from, to = math.Min(from, e.Stop), math.Max(to, e.Stop)
		}
	}
	least := math.Inf(1)
	for k, span := range [][2]float64{{from, to}, {to, from}} {
		guess := Spread(light, span[0], span[1])
		if guess == nil {
			return a, nil
		}
		b, err := match(f, scans, guess, true)
		if err != nil {
			return nil, err
		}
		if len(b.Offers) == 0 || b.Offers[0].Misfit == nil || *b.Offers[0].Misfit+float64(k)*clear >= least {
			continue // the second must fit clearly better, for it is the rarer
		}
		least = *b.Offers[0].Misfit
		a.Offers = b.Offers
	}
	for i := range a.Offers { // stops that are guessed are not told
		a.Offers[i].Misfit = nil
		for k := range a.Offers[i].Scans {
			a.Offers[i].Scans[k].Measured, a.Offers[i].Scans[k].Off = nil, nil
		}
	}
	return a, nil
}
