// Package latitude finds the measured range of a roll: how many stops under and over
// the base exposure a salvaged frame still holds, and still strains, and which
// criterion ends it (assets/manual/range.md).
//
// Each criterion is a curve over the stops: the roll's own where it is a model (Course),
// else through the readings of the frames, of which lost areas are interpolated as they
// are spread: see scale. The range ends, on each side, where going outward from the
// base the first criterion passes its limit.
package latitude

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/interp"

	"stopladder/analysis/judge/criteria"
)

// Point is one frame: where it stands on the ladder and what its salvage costs.
type Point struct {
	Stop float64 // labelled stop, the axis of the ladder
	// Values are the costs, nil where one could not be measured.
	Values [criteria.Count]*float64
	// StopError is the standard error of the frame's place on the axis, in stops:
	// the difference of label and measured stop, where it was measured. 0: unknown.
	StopError float64
}

// Level is one of the two levels of the range.
type Level int

// The levels.
const (
	Holds Level = iota
	Strains
)

func (l Level) String() string {
	if l == Holds {
		return "holds"
	}
	return "strains"
}

// End is one end of a range.
type End struct {
	// Stop is where the range ends; when Open it is the last frame on this side of
	// which the readings say something, and which still keeps every limit: the range
	// reaches at least so far. Frames further out that could not be compared are
	// Unknown.
	Stop    float64
	Open    bool
	Unknown int
	// By is the criterion that ended it; -1 when Open.
	By criteria.Criterion
	// Uncertainty, in stops, is half the width that holds the end in 95 of 100 cases:
	// how far two standard errors of the criteria and of the frames' places move it. When
	// Open it is how far inside the end might lie all the same.
	Uncertainty float64
}

// Range is the range at one level.
type Range struct {
	Lo, Hi End
	// Reason says why there is no range; "" when there is one.
	Reason string
}

// Suggestion is what the readings say of one frame.
type Suggestion string

// The suggestions are the verdicts of the method; NotSuggested is none, because
// too little was measured.
const (
	NotSuggested Suggestion = ""
	SaysHolds    Suggestion = "holds"
	SaysStrains  Suggestion = "strains"
	SaysBreaks   Suggestion = "breaks"
)

// Verdict is the suggestion for a frame.
type Verdict struct {
	Says Suggestion
	// By are the criteria that passed the next stricter limit: why the frame does
	// not hold, or why it breaks. Empty for one that holds.
	By      []criteria.Criterion
	Missing []criteria.Criterion // could not be measured
}

// Result is the measured range of a roll.
type Result struct {
	Set      criteria.Set
	Holds    Range
	Strains  Range
	Verdicts []Verdict // in the order of the points
	// NotAlike: the scanner corrected the frames one by one, so that costs and range
	// are of film and scanner together. Who measures sets it.
	NotAlike bool
	points   []Point
	curves   [criteria.Count]*Curve
}

// Curve is one criterion over the stops.
type Curve struct {
	lo, hi float64
	f      func(x float64) float64
	err    func(x float64) float64 // standard error
	stops  []float64
	values []float64
}

// At is the criterion's value at a stop; ok is false beyond the frames.
func (c *Curve) At(stop float64) (v float64, ok bool) {
	if c == nil || !(stop >= c.lo-1e-9 && stop <= c.hi+1e-9) {
		return 0, false
	}
	return c.f(math.Max(c.lo, math.Min(c.hi, stop))), true
}

// Error is the standard error of At.
func (c *Curve) Error(stop float64) float64 {
	if c == nil || !(stop >= c.lo-1e-9 && stop <= c.hi+1e-9) {
		return 0
	}
	return c.err(math.Max(c.lo, math.Min(c.hi, stop)))
}

// off is At, worse by so many standard errors.
func (c *Curve) off(k criteria.Criterion, stop, errors float64) (v float64, ok bool) {
	if v, ok = c.At(stop); !ok || errors == 0 {
		return v, ok
	}
	if k.Least() {
		errors = -errors
	}
	return v + errors*c.Error(stop), true
}

// Curve is the curve of a criterion, nil where no frame has a reading.
func (r *Result) Curve(c criteria.Criterion) *Curve { return r.curves[c] }

// scale spreads a criterion so that its curve is closer to straight between whole
// stops, and back. Lost areas begin at nothing and then grow with the share of the
// scene that crosses the film's end: their root is closer to a line.
func scale(c criteria.Criterion) (to, from func(v float64) float64) {
	if c == criteria.LostArea {
		return func(v float64) float64 { return math.Sqrt(math.Max(v, 0)) }, func(v float64) float64 { return v * v }
	}
	same := func(v float64) float64 { return v }
	return same, same
}

// newCurve joins readings by a monotone cubic (Fritsch & Butland, SIAM J. Sci.
// Stat. Comput. 5(2), 1984): it is exact at every reading and never leaves the
// span of the two next to it. Readings at one stop are averaged.
func newCurve(c criteria.Criterion, stops, values []float64) *Curve {
	to, from := scale(c)
	k := &Curve{}
	for i := 0; i < len(stops); {
		j, sum := i, 0.0
		for ; j < len(stops) && stops[j]-stops[i] < 1e-6; j++ {
			sum += values[j]
		}
		k.stops = append(k.stops, stops[i])
		k.values = append(k.values, sum/float64(j-i))
		i = j
	}
	n := len(k.stops)
	k.lo, k.hi = k.stops[0], k.stops[n-1]
	if n == 1 {
		v := k.values[0]
		k.f = func(float64) float64 { return v }
		k.err = func(float64) float64 { return 0 }
		return k
	}
	spread := make([]float64, n)
	for i, v := range k.values {
		spread[i] = to(v)
	}
	var fb interp.FritschButland
	var line, straight interp.PiecewiseLinear
	line.Fit(k.stops, spread) // at least two stops that rise: no error
	straight.Fit(k.stops, k.values)
	var p interp.Predictor = &line
	if n > 2 && fb.Fit(k.stops, spread) == nil {
		p = &fb
	}
	k.f = func(x float64) float64 { return from(p.Predict(x)) }
	// Readings may be joined in more ways than one, and losses may rise straight from one
	// to the next; that each may itself be off by a tenth has no better source than what
	// such readings were off by on simulated rolls.
	k.err = func(x float64) float64 {
		v := k.f(x)
		return math.Hypot(math.Max(math.Abs(v-from(line.Predict(x))), math.Abs(v-straight.Predict(x))), 0.1*math.Abs(v))
	}
	return k
}

// Course is what the criteria are at many stops, as the roll says that is a model.
type Course struct {
	Stops  []float64                 // labelled, rising
	Values [criteria.Count][]float64 // NaN: not known
	Errors [criteria.Count][]float64 // standard errors
}

// curve is that of a criterion about the base; nil where it is not known there.
func (o *Course) curve(c criteria.Criterion, base float64) *Curve {
	x, v := o.Stops, o.Values[c]
	at := sort.SearchFloat64s(x, base-1e-9)
	if at >= len(x) || v[at] != v[at] {
		return nil
	}
	lo, hi := at, at
	for lo > 0 && v[lo-1] == v[lo-1] {
		lo--
	}
	for hi+1 < len(x) && v[hi+1] == v[hi+1] {
		hi++
	}
	k := &Curve{lo: x[lo], hi: x[hi], stops: x[lo : hi+1], values: v[lo : hi+1]}
	e := o.Errors[c][lo : hi+1]
	if lo == hi {
		k.f, k.err = func(float64) float64 { return v[lo] }, func(float64) float64 { return e[0] }
		return k
	}
	var f interp.FritschButland
	var g interp.PiecewiseLinear
	g.Fit(k.stops, e)
	k.err = g.Predict
	if len(k.stops) == 2 || f.Fit(k.stops, k.values) != nil {
		var h interp.PiecewiseLinear
		h.Fit(k.stops, k.values)
		k.f = h.Predict
		return k
	}
	k.f = f.Predict
	return k
}

// Measure finds the range. points may come in any order; base is the index of the
// base frame in them. course, where not nil, is what the criteria are between the
// points: the curves are then its own.
func Measure(points []Point, base int, set criteria.Set, course *Course) *Result {
	r := &Result{Set: set, points: points}
	if base < 0 || base >= len(points) {
		why := "There is no base frame, so nothing can be held against it."
		r.Holds.Reason, r.Strains.Reason = why, why
		r.Verdicts = make([]Verdict, len(points))
		return r
	}
	order := make([]int, 0, len(points))
	for i, p := range points {
		if !math.IsNaN(p.Stop) && !math.IsInf(p.Stop, 0) {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return points[order[a]].Stop < points[order[b]].Stop })
	for _, c := range criteria.All() {
		if course != nil {
			r.curves[c] = course.curve(c, points[base].Stop)
			continue
		}
		var x, y []float64
		for _, i := range order {
			if v := points[i].Values[c]; v != nil && !math.IsNaN(*v) && !math.IsInf(*v, 0) {
				x, y = append(x, points[i].Stop), append(y, *v)
			}
		}
		if len(x) > 0 {
			r.curves[c] = newCurve(c, x, y)
		}
	}
	for _, p := range points {
		r.Verdicts = append(r.Verdicts, r.verdict(p))
	}
	if !r.others(base) {
		why := "No frame but the base could be compared, so there is no range to measure: open the whole bracket."
		if len(points) > 1 { // it is open
			why = "No frame but the base could be compared, so there is no range to measure; the notes of the others say why."
		}
		r.Holds.Reason, r.Strains.Reason = why, why
		return r
	}
	at := points[base].Stop
	r.Holds = r.find(at, Holds)
	r.Strains = r.find(at, Strains)
	return r
}

// Refuse is the result for a roll that there is no range of, and no suggestion for
// its n frames.
func Refuse(n int, set criteria.Set, why string) *Result {
	return &Result{Set: set, Holds: Range{Reason: why}, Strains: Range{Reason: why}, Verdicts: make([]Verdict, n)}
}

// others says that a frame at another stop than the base frame's has a reading.
func (r *Result) others(base int) bool {
	for _, p := range r.points {
		for _, v := range p.Values {
			if v != nil && !math.IsNaN(p.Stop) && p.Stop != r.points[base].Stop {
				return true
			}
		}
	}
	return false
}

func (r *Result) limit(c criteria.Criterion, l Level) float64 {
	if l == Holds {
		return r.Set.Limits[c].Holds
	}
	return r.Set.Limits[c].Strains
}

// verdict is what one frame's own readings say.
func (r *Result) verdict(p Point) Verdict {
	var v Verdict
	var broken, strained []criteria.Criterion
	for _, c := range criteria.All() {
		switch x := p.Values[c]; {
		case x == nil || math.IsNaN(*x):
			v.Missing = append(v.Missing, c)
		case !c.Within(*x, r.Set.Limits[c].Strains):
			broken = append(broken, c)
		case !c.Within(*x, r.Set.Limits[c].Holds):
			strained = append(strained, c)
		}
	}
	switch {
	case len(broken) > 0: // whatever else could not be measured
		v.Says, v.By = SaysBreaks, broken
	case len(v.Missing) == int(criteria.Count):
	case slices.Contains(v.Missing, criteria.LostArea) || slices.Contains(v.Missing, criteria.DeltaE):
		// A frame that lost much has little left to compare: without these two
		// nothing good can be said of it.
	case len(strained) > 0:
		v.Says, v.By = SaysStrains, strained
	default:
		v.Says = SaysHolds
	}
	return v
}

// step is the grain in stops of the search for a crossing, before it is bisected.
const step = 1.0 / 64

// find is the range at one level.
func (r *Result) find(base float64, l Level) Range {
	some := false
	for _, c := range criteria.All() {
		k := r.curves[c]
		if k == nil {
			continue
		}
		if v, ok := k.At(base); ok {
			some = true
			if !c.Within(v, r.limit(c, l)) {
				return Range{Reason: "The base frame itself does not keep the limit of " + c.Word() + ": it has " + c.Words(v) +
					", and the limit is " + c.Words(r.limit(c, l)) + "."}
			}
		}
	}
	if !some {
		return Range{Reason: "Nothing was measured that could be held against the criteria."}
	}
	return Range{Lo: r.end(base, -1, l), Hi: r.end(base, +1, l)}
}

// end goes outward from the base until the first criterion passes its limit.
func (r *Result) end(base float64, way float64, l Level) End {
	// A criterion may end the range on a frame of which little else is known; but that
	// nothing ended it is said as far as frames are known.
	last, known := base, base
	for i, p := range r.points {
		if (p.Stop-base)*way > (last-base)*way && slices.ContainsFunc(p.Values[:], func(v *float64) bool { return v != nil }) {
			last = p.Stop
		}
		if (p.Stop-base)*way > (known-base)*way && r.Verdicts[i].Says != NotSuggested {
			known = p.Stop
		}
	}
	// first returns where the first criterion passes, each off by so many of its errors.
	first := func(errors float64) End {
		e := End{Stop: last, Open: true, By: -1}
		for _, c := range criteria.All() {
			if x, ok := r.crossing(c, base, last, l, errors); ok && ((x-base)*way < (e.Stop-base)*way || e.Open && (x-base)*way <= (e.Stop-base)*way) {
				e = End{Stop: x, By: c}
			}
		}
		return e
	}
	e := first(0)
	in, out := first(covers), first(-covers)
	if e.Open {
		e.Stop = known
		for _, p := range r.points {
			if (p.Stop-known)*way > 1e-9 {
				e.Unknown++
			}
		}
	}
	e.Uncertainty = math.Max(math.Max(0, (e.Stop-in.Stop)*way), math.Max(0, (out.Stop-e.Stop)*way))
	if !e.Open {
		e.Uncertainty = math.Hypot(math.Max(e.Uncertainty, 0.01), covers*r.placeError(e.Stop))
	}
	return e
}

// covers is how many standard errors to both sides hold 95 of 100 cases, about.
const covers = 2

// crossing is the first stop between base and last at which the curve of a criterion,
// off by so many of its standard errors to the worse, no longer keeps its limit.
func (r *Result) crossing(c criteria.Criterion, base, last float64, l Level, errors float64) (float64, bool) {
	k := r.curves[c]
	if k == nil || last == base {
		return 0, false
	}
	limit := r.limit(c, l)
	n := int(math.Ceil(math.Abs(last-base)/step)) + 1
	was := base
	for i := range n + 1 {
		x := base + (last-base)*float64(i)/float64(n)
		v, ok := k.off(c, x, errors)
		if !ok {
			continue
		}
		if c.Within(v, limit) {
			was = x
			continue
		}
		if i == 0 {
			return x, true
		}
		in, out := was, x
		for range 40 {
			m := (in + out) / 2
			if v, ok := k.off(c, m, errors); ok && !c.Within(v, limit) {
				out = m
			} else {
				in = m
			}
		}
		return out, true
	}
	return 0, false
}

// neighbours are the frames on both sides of a stop, -1 for none.
func (r *Result) neighbours(stop float64) (lower, upper int) {
	lower, upper = -1, -1
	for i, p := range r.points {
		if p.Stop <= stop && (lower < 0 || p.Stop > r.points[lower].Stop) {
			lower = i
		}
		if p.Stop >= stop && (upper < 0 || p.Stop < r.points[upper].Stop) {
			upper = i
		}
	}
	return
}

// placeError is the greater error of the places of the two frames about a stop.
func (r *Result) placeError(stop float64) (e float64) {
	a, b := r.neighbours(stop)
	for _, i := range []int{a, b} {
		if i >= 0 {
			e = math.Max(e, r.points[i].StopError)
		}
	}
	return e
}

// Hundredths rounds a stop as it is reported.
func Hundredths(stop float64) float64 {
	v := math.Round(stop*100) / 100
	if v == 0 {
		return 0 // not -0
	}
	return v
}
