package response

import (
	"context"
	"errors"
	"fmt"
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
)

// framesLeast is how many labelled frames a measured stop needs: of two, the
// second's label alone gives the scale, and nothing is left to measure.
const framesLeast = 3

// Errors that no statistics of a roll can show, from simulated rolls with known
// truth: in stops of a measured stop, in density of a curve.
const (
	stopFloor    = 0.006
	densityFloor = 0.004
)

// Fit measures the roll. base is the index of the base frame. An error is ctx's
// or says that the arguments make no roll; what the roll cannot tell is not an
// error but a Reason in the Result.
func Fit(ctx context.Context, frames []Frame, base int, opt Options) (*Result, error) {
	if base < 0 || base >= len(frames) {
		return nil, errors.New("the roll has no base frame; choose one")
	}
	r := &Result{Base: base, Frames: make([]Reading, len(frames)), in: frames}
	frames = r.checked(frames)
	r.depthFindings(frames)
	if why := unfit(frames[base]); why != "" {
		r.none("The base frame cannot be compared (" + why + ").")
		return r, ctx.Err()
	}
	if len(frames) < 2 {
		r.none("One frame alone shows neither its exposure nor the film's response; add more frames of the scene.")
		return r, ctx.Err()
	}
	progress := func(float64) {}
	if opt.Progress != nil {
		progress = opt.Progress
	}
	all, err := readCells(ctx, frames, base, opt.Workers, func(d float64) { progress(0.5 * d) })
	if err != nil {
		return nil, err
	}
	most := cellsKept
	if len(frames) > 8 {
		most = max(800, cellsKept*8/len(frames)) // the cost goes with cells x frames
	}
	m := all.pick(most)
	if err := r.solve(ctx, m, frames, opt); err != nil {
		return nil, err
	}
	progress(1)
	return r, ctx.Err()
}

// none leaves every reading without a figure.
func (r *Result) none(why string) {
	r.Reason = why
	r.Scan.Reason = why
	for j := range r.Frames {
		if r.Frames[j].Reason == "" {
			r.Frames[j].Reason = why
		}
	}
}

// unfit returns why a frame cannot take part; "" when it can.
func unfit(f Frame) string {
	l := f.Look
	switch {
	case l == nil || l.Preview == nil || l.Space == nil:
		return "it was not read"
	case f.Unregistered:
		return "it could not be registered"
	case l.Preview.W <= 0 || l.Preview.H <= 0 || len(l.Preview.Pix) < 3*l.Preview.W*l.Preview.H:
		return "its preview is damaged"
	case len(l.BlownShare) < l.Preview.W*l.Preview.H || len(l.BlockedShare) < l.Preview.W*l.Preview.H:
		return "its clipped pixels were not counted"
	}
	top := l.Space.Max()
	for _, v := range l.Preview.Pix[:3*l.Preview.W*l.Preview.H] {
		if int(v) > top {
			return "its codes do not fit its profile"
		}
	}
	for _, v := range f.Map {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return "its registration is no number"
		}
	}
	if math.Abs(f.Map[0]*f.Map[4]-f.Map[1]*f.Map[3]) < 1e-6 {
		return "its registration folds the picture"
	}
	return ""
}

// checked marks frames that cannot take part, with the reason.
func (r *Result) checked(frames []Frame) []Frame {
	out := make([]Frame, len(frames))
	copy(out, frames)
	for j := range out {
		if why := unfit(out[j]); why != "" {
			out[j].Unregistered = true
			r.Frames[j].Reason = "This frame takes no part in the measurement: " + why + "."
		}
		if math.IsNaN(out[j].Stop) || math.IsInf(out[j].Stop, 0) || math.Abs(out[j].Stop) > 30 {
			out[j].StopKnown = false
		}
	}
	// The base's own pixels are where they are.
	out[r.Base].Map = affine.Identity
	return out
}

func (r *Result) solve(ctx context.Context, m *samples, frames []Frame, opt Options) error {
	used := m.used()
	n := 0
	for j, ok := range used {
		if ok {
			n++
		} else if r.Frames[j].Reason == "" {
			r.Frames[j].Reason = "This frame shows too few unclipped areas in common with the others to be measured."
		}
	}
	if n < 2 || !used[r.Base] {
		r.none("The frames have too few unclipped areas of the scene in common.")
		return ctx.Err()
	}
	for k := range m.s {
		if !used[k%m.frames] {
			m.s[k] = 0
		}
	}
	s, ok := firstGuess(ctx, m, r.Base)
	if err := ctx.Err(); err != nil {
		return err
	}
	if !ok {
		r.none("The frames have too few tones in common for a response.")
		return nil
	}
	labels, log := make([]float64, len(frames)), make([]float64, len(frames))
	known := 0
	for j, f := range frames {
		labels[j] = math.NaN()
		if f.StopKnown && used[j] {
			labels[j] = f.Stop
			known++
		}
	}
	r.findRepeated(m, labels)
	ln, ok := labelLine(s.e, labels, nil, used, r.Base)
	if ln.flat < -levelledRate && known > 1 {
		r.reversed()
		return nil
	}
	if !ok || ln.flat < levelledRate {
		if known >= framesLeast && spanOf(labels) >= 0.9 {
			r.levelled()
			return nil
		}
		if spanOf(labels) > 0 {
			r.none("The labelled frames hardly differ in brightness, so their labels do not tell the scale of the exposures: a wider bracket would.")
			return nil
		}
		r.none("The labels do not tell the scale of the exposures: at least two frames with different stops are needed.")
		return nil
	}
	k := ln.per * stopLog
	at := labels[r.Base]
	if math.IsNaN(at) {
		at = 0
	}
	for j := range s.e {
		s.e[j] *= k
		log[j] = (labels[j] - at) * stopLog
	}
	for i := range s.x {
		s.x[i] *= k
	}
	f := newFit(m, r.Base, log, s)
	f.used = used
	if !f.run(ctx, opt.Workers) {
		if err := ctx.Err(); err != nil {
			return err
		}
		r.none("No response explains the frames.")
		return nil
	}
	if ln, ok = labelLine(f.e, labels, f.unsure(), used, r.Base); !ok {
		r.none("The exposures that the pictures show do not follow the labels at all.")
		return nil
	}
	return r.take(ctx, f, ln, frames, labels, known, opt)
}

// take turns the fit into readings.
func (r *Result) take(ctx context.Context, f *fit, ln line, frames []Frame, labels []float64, known int, opt Options) error {
	plain := f
	flared, gained, err := f.explain(ctx, opt.Workers)
	if err != nil {
		return err
	}
	if flared != nil {
		if l, ok := labelLine(flared.e, labels, flared.unsure(), f.used, r.Base); ok {
			f, ln = flared, l
			gained = nil
		}
	}
	r.fit, r.line = f, ln
	stop := make([]float64, len(frames))
	for j := range frames {
		stop[j] = ln.origin + ln.per*f.e[j]
	}
	place, from := r.origin(f, stop, frames, opt)
	if !f.finish(ctx, opt.Workers, place) {
		if err := ctx.Err(); err != nil {
			return err
		}
		r.none("The response that was found is not certain enough to be used.")
		return nil
	}
	r.judgeScan(f, plain, gained, labels, stop)
	if r.Scan.Fixed != nil && !*r.Scan.Fixed {
		why := "The frames were not scanned alike, so the exposure cannot be read from the pictures."
		r.Reason = why
		for j := range r.Frames {
			if r.Frames[j].Reason == "" {
				r.Frames[j].Reason = why
			}
		}
		r.labelFindings(frames, r.likeLabels(plain, stop), make([]float64, len(frames)))
		return ctx.Err()
	}
	if r.Scan.Fixed == nil && f.fitsNone() {
		r.Reason = "No response explains the frames, so the exposure cannot be read from the pictures."
		for j := range r.Frames {
			if r.Frames[j].Reason == "" {
				r.Frames[j].Reason = r.Reason
			}
		}
		return ctx.Err()
	}
	_, fo, p := f.offsets()
	sigmas := make([]float64, len(frames))
	drift := drifts(stop, labels)
	for j := range frames {
		q := &r.Frames[j]
		switch {
		case q.Reason != "":
		case known < framesLeast:
			q.Reason = "Two labelled frames give the scale alone; a stop can be measured from three on."
		default:
			v := make([]float64, p)
			v[fo+j] = 1
			data := ln.per * math.Sqrt(f.variance(v))
			d := stop[j] - stop[r.Base]
			// What one response leaves of the frame may be taken for exposure.
			bent := f.inExposure(j) * ln.per
			// Where labels and pictures part along the bracket, either may be wrong.
			parted := drift[j]
			sigma := math.Sqrt(data*data + bent*bent + parted*parted + stopFloor*stopFloor + d*d*ln.perSigma*ln.perSigma + ln.originSigma*ln.originSigma)
			if j == r.Base && !ln.baseOff {
				sigma = 0
			}
			s := stop[j]
			q.MeasuredStop, q.MeasuredStopError = &s, &sigma
			sigmas[j] = sigma
		}
	}
	r.curve(f, ln, place, from, opt)
	for j := range frames {
		if r.Frames[j].MeasuredStop == nil {
			stop[j] = math.NaN()
		}
	}
	r.labelFindings(frames, stop, sigmas)
	r.countFlat()
	return ctx.Err()
}

// variance of a linear function of the unknowns.
func (f *fit) variance(v []float64) float64 {
	x, ok := solveWith(f.chol, v)
	if !ok {
		return math.NaN()
	}
	s := 0.0
	for i := range v {
		s += v[i] * x[i]
	}
	return math.Max(s, 0)
}

// origin returns where mid-grey lies on each curve, in fit units.
func (r *Result) origin(f *fit, stop []float64, frames []Frame, opt Options) (x [3]float64, from MidGrey) {
	grey := [3]float64{toWork(0.18), toWork(0.18), toWork(0.18)}
	from = MidGreyMetered
	if opt.Grey != nil {
		if l, ok := patchLight(frames[r.Base].Look, opt); ok {
			from = MidGreyPatch
			for c := range l {
				grey[c] = toWork(l[c])
			}
		} else {
			r.note("The grey card lies outside the base frame's image area or is clipped; the base exposure is taken as metered instead.")
		}
	}
	// A base frame whose label is wrong is no metered frame: the one nearest to
	// stop 0 stands in.
	ref, shift := r.Base, 0.0
	if r.line.baseOff && from == MidGreyMetered {
		for j := range stop {
			if f.used[j] && math.Abs(stop[j]) < math.Abs(stop[ref]) {
				ref = j
			}
		}
		shift = stop[ref] / r.line.per
	} else if r.line.baseOff {
		shift = stop[r.Base] / r.line.per
	}
	for c := range 3 {
		v, ok := f.g[c].find(f.unseen(grey[c], c, r.Base))
		if !ok {
			r.note("No frame shows mid-grey in the %s channel; its place on the curve is drawn on from what they show.", channelName[c])
		}
		x[c] = v - shift
	}
	return x, from
}

var channelName = [3]string{"red", "green", "blue"}

func (r *Result) note(format string, a ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, a...)) }

// patchLight returns the mean light of the grey card per channel.
func patchLight(l *measure.Look, opt Options) (mean [3]float64, ok bool) {
	p := max(1, l.Preview.Factor)
	g := opt.Grey.Intersect(l.Area)
	x0, y0 := (g.Min.X+p-1)/p, (g.Min.Y+p-1)/p
	x1, y1 := min(g.Max.X/p, l.Preview.W), min(g.Max.Y/p, l.Preview.H)
	tone := l.Space.Tone()
	n, clipped := 0.0, 0.0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			at := y*l.Preview.W + x
			for c := range 3 {
				mean[c] += float64(tone[c][l.Preview.Pix[3*at+c]])
			}
			n++
			clipped += float64(l.BlownShare[at]) + float64(l.BlockedShare[at])
		}
	}
	if n == 0 || clipped > clipShare*255*n {
		return mean, false
	}
	for c := range mean {
		mean[c] /= n
		if !(mean[c] > 1e-6 && mean[c] < 1.04) {
			return mean, false
		}
	}
	return mean, true
}

func spanOf(v []float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, a := range v {
		if !math.IsNaN(a) {
			lo, hi = math.Min(lo, a), math.Max(hi, a)
		}
	}
	return hi - lo
}
