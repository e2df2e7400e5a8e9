package plan

import (
	"math"
	"slices"
)

// Better returns the offer of an assignment that the measured stops bear out clearly
// better than the labels that the scans have; was is the misfit of the labels, the
// root mean square in stops, as an offer's. labels and measured are parallel to the
// scans, measured from any origin and NaN where not measured. Offers that would leave
// a scan without a frame are not considered: it has its label for a reason. ok is
// false where the labels fit as well as any.
func (a *Assignment) Better(labels, measured []float64) (best *Offer, was float64, ok bool) {
	if len(labels) != len(a.Scans) || len(measured) != len(labels) {
		return nil, 0, false
	}
	o := Offer{Scans: make([]Placed, len(labels))}
	for i := range o.Scans {
		o.Scans[i] = Placed{Known: true, Stop: labels[i]}
	}
	(&matcher{measured: measured}).fit(&o)
	if o.Misfit == nil {
		return nil, 0, false
	}
	was = *o.Misfit
	offers := a.Offers
	if len(offers) > 0 && !slices.ContainsFunc(offers[0].Scans, func(s Placed) bool { return !s.Known }) {
		// Scans that were named in another order than that of the film.
		scans := make([]string, len(a.Scans))
		for i, s := range a.Scans {
			scans[i] = s.Scan
		}
		if o := newMatcher(a.Real, scans, measured).ranked(mappingOf(offers[0].Scans), measured, 1); o != nil {
			offers = append(slices.Clip(offers), *o)
		}
	}
	for k := range offers {
		offer := &offers[k]
		if offer.Misfit == nil || *offer.Misfit+clear >= was || best != nil && *offer.Misfit >= *best.Misfit {
			continue
		}
		other, whole := false, true
		for i, s := range offer.Scans {
			whole = whole && s.Known
			other = other || s.Known && math.Abs(s.Stop-labels[i]) > wrong/2
		}
		if whole && other {
			best = offer
		}
	}
	return best, was, best != nil
}
