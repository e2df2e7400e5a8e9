package response

import (
	"cmp"
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
)

// Labels fix the scale of the exposures, and the base frame their origin.
const (
	// shutterSigma is what is believed of labels before the roll speaks: mechanical
	// shutters are commonly off by up to a third of a stop (from memory);
	// a quarter of that as standard deviation, worth two frames.
	shutterSigma  = 0.08
	shutterWorth  = 2.0
	labelScaleMin = 0.08 // stops: the robust scale of labels' errors is no less, so that a label counts until it is off by a third
	baseOff       = 0.25 // stops: a base frame further from the labels' line gives no origin
)

// line says how exposures in fit units become stops: stop = origin + per*e.
type line struct {
	per, origin float64
	perSigma    float64 // standard error of per over per
	originSigma float64 // stops
	baseOff     bool    // the origin comes from the labels, not from the base frame
	sigma       float64 // of labels about the line, stops
	flat        float64 // u per stop at startSlope: how much pictures differ per labelled stop
}

// labelLine fits the line. e and labels (stops, NaN: none) are per frame, and so is by how
// much each e may be off (nil: not known): a frame that is nearly black or blown counts by
// what it tells. Frames with ok false are left out. It is false
// when fewer than two different labels are known, or all exposures are equal.
func labelLine(e, labels []float64, unsure []float64, ok []bool, base int) (l line, good bool) {
	var at []int
	for j := range e {
		if ok[j] && !math.IsNaN(labels[j]) {
			at = append(at, j)
		}
	}
	ePer, found := leastMedian(e, labels, at)
	if !found {
		if ePer, found = theilSen(e, labels, at); !found {
			return l, false
		}
	}
	l.flat = ePer * startSlope
	if !(ePer > 1e-6) {
		return l, false
	}
	l.per = 1 / ePer
	res := make([]float64, len(at))
	for i, j := range at {
		res[i] = labels[j] - l.per*e[j]
	}
	l.origin = median.Of(res)
	worth := func(j int, s float64) float64 {
		if unsure == nil {
			return 1
		}
		own := math.Max(s, unsure[j]*l.per) // less than labels are off by weighs nothing
		return s * s / (own * own)
	}
	// Iteratively reweighted (Tukey's bisquare) line through the labels.
	for range 30 {
		s := l.spreadAbout(e, labels, at)
		var sw, se, sl, see, sel float64
		for _, j := range at {
			w := bisquare((labels[j]-l.origin-l.per*e[j])/(4*s)) * worth(j, s)
			sw += w
			se += w * e[j]
			sl += w * labels[j]
			see += w * e[j] * e[j]
			sel += w * e[j] * labels[j]
		}
		d := sw*see - se*se
		if !(d > 1e-12) {
			break
		}
		l.per, l.origin = (sw*sel-se*sl)/d, (see*sl-se*sel)/d
	}
	if !(l.per > 0) {
		return l, false
	}
	baseStop := 0.0
	if !math.IsNaN(labels[base]) {
		baseStop = labels[base]
	}
	l.baseOff = len(at) > 3 && !math.IsNaN(labels[base]) && math.Abs(baseStop-l.origin-l.per*e[base]) > baseOff
	if !l.baseOff {
		for range 30 {
			s := l.spreadAbout(e, labels, at)
			var num, den float64
			for _, j := range at {
				w := bisquare((labels[j]-l.origin-l.per*e[j])/(4*s)) * worth(j, s)
				d := e[j] - e[base]
				num += w * d * (labels[j] - baseStop)
				den += w * d * d
			}
			if !(den > 1e-12) {
				break
			}
			l.per = num / den
			l.origin = baseStop - l.per*e[base]
		}
	}
	if !(l.per > 0) {
		return l, false
	}
	// What the labels' own errors make of scale and origin.
	sw, se, see, rr := 0.0, 0.0, 0.0, 0.0
	s := l.spreadAbout(e, labels, at)
	for _, j := range at {
		r := labels[j] - l.origin - l.per*e[j]
		w := bisquare(r/(4*s)) * worth(j, s)
		d := l.per * (e[j] - e[base])
		sw += w
		se += w * d
		see += w * d * d
		rr += w * r * r
	}
	l.sigma = math.Sqrt((shutterWorth*shutterSigma*shutterSigma + rr) / (shutterWorth + math.Max(0, sw-1)))
	if l.baseOff && sw > 1 {
		v := see - se*se/sw
		l.perSigma = l.sigma / math.Sqrt(math.Max(v, 1e-6))
		l.originSigma = l.sigma / math.Sqrt(sw)
	} else {
		l.perSigma = l.sigma / math.Sqrt(math.Max(see, 1e-6))
	}
	return l, true
}

// theilSen returns the median of e per stop over all pairs, each weighted by its
// stops.
func theilSen(e, labels []float64, at []int) (ePer float64, ok bool) {
	type pair struct{ v, w float64 }
	var pairs []pair
	total := 0.0
	for i, a := range at {
		for _, b := range at[:i] {
			if d := labels[a] - labels[b]; d != 0 {
				pairs = append(pairs, pair{(e[a] - e[b]) / d, math.Abs(d)})
				total += math.Abs(d)
			}
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int { return cmp.Compare(a.v, b.v) })
	sum := 0.0
	for _, p := range pairs {
		if sum += p.w; sum >= total/2 {
			return p.v, true
		}
	}
	return 0, false
}

// leastMedian returns the line through two frames that more than half of all frames
// keep to best (Rousseeuw's least median of squares, over all pairs): it stands even
// when the two ends of a bracket are swapped. It needs five frames, so that the best
// half is more than the two that make the line, and is no answer when the best half
// strays by more than LabelLimit.
func leastMedian(e, labels []float64, at []int) (ePer float64, ok bool) {
	if len(at) < 5 {
		return 0, false
	}
	best := LabelLimit
	v := make([]float64, len(at))
	for i, a := range at {
		for _, b := range at[:i] {
			d, de := labels[a]-labels[b], e[a]-e[b]
			if d == 0 || !(de/d > 1e-6) {
				continue
			}
			per := d / de
			for k, j := range at {
				v[k] = math.Abs(labels[j] - labels[a] - per*(e[j]-e[a]))
			}
			if m := median.Upper(v); m < best {
				best, ePer, ok = m, de/d, true
			}
		}
	}
	return ePer, ok
}

// driftReach is within how many stops frames are neighbours.
const driftReach = 2.5

// drifts are by how much labels and pictures part about each frame, in stops: the mean of
// what its neighbours' labels are beside their measured stops, less what chance makes of
// it. A shutter or a label is off by itself; where neighbours are off alike, light that
// went with the time or a response that the frames do not settle looks the same, and
// neither label nor measured stop is known to be right. The frame itself has no say, nor
// do labels that are off by half a stop.
func drifts(stop, labels []float64) []float64 {
	out := make([]float64, len(stop))
	for j := range stop {
		var sw, sd, s2 float64
		for i := range stop {
			if i == j || math.IsNaN(labels[i]) || math.IsNaN(stop[i]) {
				continue
			}
			d := labels[i] - stop[i]
			w := bisquare((stop[i]-stop[j])/driftReach) * bisquare(d/(1.5*LabelLimit))
			sw, sd, s2 = sw+w, sd+w*d, s2+w*w
		}
		if sw > 0 {
			d := sd / sw
			out[j] = math.Sqrt(math.Max(0, d*d-shutterSigma*shutterSigma*s2/(sw*sw)))
		}
	}
	return out
}

// spreadAbout returns the robust standard deviation of labels about the line.
func (l *line) spreadAbout(e, labels []float64, at []int) float64 {
	v := make([]float64, len(at))
	for i, j := range at {
		v[i] = math.Abs(labels[j] - l.origin - l.per*e[j])
	}
	return math.Max(labelScaleMin, median.Of(v)/0.6745)
}

func bisquare(t float64) float64 {
	if t = 1 - t*t; t > 0 {
		return t * t
	}
	return 0
}
