package response

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/median"
)

// Were all frames scanned alike? One response for the whole roll must explain
// every frame: what it leaves over, bin by bin of tone, is the misfit of a frame.
// The limits come from rolls of known truth (see the tests): the worst frame of
// fixed scans leaves up to 0.003 of density and of real camera exposures up to
// 0.008, a single corrected frame 0.05 and more, levelled rolls of three stops and
// more either side 0.023 and more. Levelled rolls of shorter brackets leave less,
// down to nothing, and are known by their pinned quantiles (levels.go).
//
// What the test cannot see: a gain that is equal in all channels and leaves the
// frame within the straight part of the curve looks like another exposure. It is
// then reported as a label that disagrees.
const (
	misfitBad    = 0.018 // density: not scanned alike
	misfitUnsure = 0.012 // density: cannot be told
	misfitBins   = 10    // of tone, per frame and channel
	misfitLeast  = 12    // readings in a bin
	misfitTrim   = 5     // one bin of so many may be off
	lost         = 0.2   // density by which the middle spot of the middle frame is off where no response was found at all
	apartTimes   = 3.0   // by how much a frame's channels stand further apart than those of frames that tell less
	pinnedAlone  = 3     // of six channel ends: levelled whatever the misfit
	pinnedWith   = 2     // of six: levelled when the misfit passes misfitSome as well
	misfitSome   = 0.006 // density
	gainLeast    = 0.1   // stops: smaller gains are not named
	gainsApart   = 0.3   // of a gain: channels of one that follows the exposure differ by less
	gainSure     = 0.5   // stops: greater gains that follow the exposure are off by up to a stop and more, and are not told
	tellsLeast   = 0.6   // of what the roll's middle frame shows: one that shows less, being nearly black or blown, never decides about the roll
	// levelledRate is the change of u per labelled stop under which a roll shows
	// no exposure at all: a slope of 0.3 where even a soft negative's scan has 0.6.
	levelledRate = 0.09
)

// misfit is what one response leaves unexplained of a frame's channel: the RMS
// over bins of tone of the median residual, in density, less what chance makes of
// it; NaN where it cannot be told.
func (f *fit) misfit(j, c int) float64 {
	v := f.bins(j, c, 0.5)
	if v == nil {
		return math.NaN()
	}
	sum := 0.0
	for _, d := range v {
		sum += d
	}
	return math.Sqrt(math.Max(0, sum/float64(len(v))))
}

// spread is misfit as far as it may speak of the scan: without the fifth of the tones
// that is worst, since a gain or a curve of the scanner moves most tones, and what is off
// in a few of them alone is the scene's; and less all that the readings may be off by
// themselves. NaN where it cannot be told.
func (f *fit) spread(j, c int) float64 {
	v := f.bins(j, c, 1)
	if v == nil {
		return math.NaN()
	}
	slices.Sort(v)
	v = v[:len(v)-len(v)/misfitTrim]
	sum := 0.0
	for _, d := range v {
		sum += d
	}
	return math.Sqrt(math.Max(0, sum/float64(len(v))))
}

// blocks is how many parts a picture is cut into along each side.
const blocks = 3

// everywhere is what one response leaves of a frame's channel in the middle one of nine
// parts of the picture, density: what a scanner did to a tone it did wherever it stands,
// while a thing that moved is off where it was and where it went. NaN where too few parts
// tell.
func (f *fit) everywhere(j, c int) float64 {
	m := f.m
	var parts [blocks * blocks][]float64
	hi := image.Pt(1, 1)
	lo := image.Pt(math.MaxInt, math.MaxInt)
	for _, p := range m.at {
		hi, lo = image.Pt(max(hi.X, p.X), max(hi.Y, p.Y)), image.Pt(min(lo.X, p.X), min(lo.Y, p.Y))
	}
	for i := range m.cells {
		at, x := m.index(i, c, j), f.x[i*3+c]
		if m.s[at] <= 0 || math.IsNaN(x) {
			continue
		}
		g, _ := f.g[c].at(x + f.e[j])
		g, _, _ = f.seen(g, c, j)
		k := (m.at[i].Y-lo.Y)*blocks/(hi.Y-lo.Y+1)*blocks + (m.at[i].X-lo.X)*blocks/(hi.X-lo.X+1)
		parts[k] = append(parts[k], math.Abs(m.u[at]-g)*densityPerWork(m.u[at]))
	}
	var v []float64
	for _, p := range parts {
		if len(p) >= misfitLeast {
			v = append(v, median.Of(p))
		}
	}
	if len(v) < blocks {
		return math.NaN()
	}
	return median.Of(v)
}

// bins are the squares of the median residuals of a frame's channel in bins of tone, in
// density, less what chance makes of them and the share own of what the readings may be
// off by, all alike. nil: too few to tell a curve from a point.
func (f *fit) bins(j, c int, own float64) (out []float64) {
	type reading struct{ u, r, s float64 }
	var v []reading
	m := f.m
	deepest := toWork(math.Pow(10, -gammaDeepest)) // deeper, profiles and black points rule
	for i := range m.cells {
		at := m.index(i, c, j)
		x := f.x[i*3+c]
		if m.s[at] <= 0 || math.IsNaN(x) || m.u[at] < deepest {
			continue
		}
		g, _ := f.g[c].at(x + f.e[j])
		g, _, _ = f.seen(g, c, j)
		per := densityPerWork(m.u[at])
		v = append(v, reading{m.u[at], (m.u[at] - g) * per, m.s[at] * per})
	}
	slices.SortFunc(v, func(a, b reading) int { return cmp.Compare(a.u, b.u) })
	bins := min(misfitBins, len(v)/misfitLeast)
	if bins < 4 {
		return nil
	}
	for b := range bins {
		q := v[b*len(v)/bins : (b+1)*len(v)/bins]
		r, alike := make([]float64, len(q)), 0.0
		for i := range q {
			r[i] = q[i].r
			alike += own * q[i].s / float64(len(q))
		}
		d := median.Of(r)
		for i := range r {
			r[i] = math.Abs(r[i] - d)
		}
		// Variance of a median of normal values: pi/2 sigma^2/n.
		sigma := median.Of(r) / 0.6745
		// Uneven cells may all err alike.
		out = append(out, d*d-math.Pi/2*sigma*sigma/float64(len(q))-alike*alike)
	}
	return out
}

// frameMisfit is the RMS of a frame's channels, NaN where none can be told.
func (f *fit) frameMisfit(j int) float64 { return overChannels(f.misfit, j) }

func overChannels(of func(j, c int) float64, j int) float64 {
	sum, n := 0.0, 0.0
	for c := range 3 {
		if d := of(j, c); !math.IsNaN(d) {
			sum += d * d
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return math.Sqrt(sum / n)
}

// inExposure is the misfit of a frame as an exposure, in fit units: over the mean slope
// of the density at its readings. It is 0 where it cannot be told.
func (f *fit) inExposure(j int) float64 {
	d := f.frameMisfit(j)
	sum, n := 0.0, 0.0
	for i := range f.m.cells {
		for c := range 3 {
			if x := f.x[i*3+c]; f.m.s[f.m.index(i, c, j)] > 0 && !math.IsNaN(x) {
				u, slope := f.g[c].at(x + f.e[j])
				sum, n = sum+slope*densityPerWork(u), n+1
			}
		}
	}
	if !(d > 0 && sum > 0) {
		return 0
	}
	return d * n / sum
}

// signs are what the question whether the frames were scanned alike is answered from.
type signs struct {
	used, off int     // frames; those whose label disagrees with the picture
	ends      int     // of the six of the channels: at one code in every frame
	worst     float64 // misfit, of the frame at worstAt
	worstAt   int
	channel   float64 // what a channel leaves over
}

func (r *Result) signs(f *fit, tells []bool, labels, stop []float64) (s signs) {
	for j, ok := range f.used {
		if !ok {
			continue
		}
		s.used++
		if !math.IsNaN(labels[j]) && math.Abs(labels[j]-stop[j]) > LabelLimit {
			s.off++
		}
		if d := f.frameMisfit(j); d > s.worst && tells[j] {
			s.worst, s.worstAt = d, j
		}
	}
	_, s.channel, _, _ = f.left()
	pin := r.pinned(f.used)
	s.ends = pin[0] + pin[1]
	return s
}

// judgeScan answers the question from the misfits. f is the fit that stands, plain the
// one without a scanner's flare, gained the one with gains where gains explain what
// plain leaves over; nil otherwise.
func (r *Result) judgeScan(f, plain, gained *fit, labels, stop []float64) {
	tells := f.tells()
	s := r.signs(f, tells, labels, stop)
	no, yes := false, true
	switch {
	case s.used < framesLeast:
		r.Scan.Reason = "Two frames can always be explained by one response; from three on it can be told whether they were scanned alike."
	case s.ends >= pinnedAlone || s.ends >= pinnedWith && s.worst > misfitSome:
		r.Scan.Fixed = &no
		r.Scan.Case = StretchedCase
		r.gains(f, labels)
		r.Scan.Reason = fmt.Sprintf("The darkest or lightest part of every frame ends at the same code values, at %d of the 6 ends of the channels: each frame was stretched to the same levels.", s.ends)
		r.Scan.Findings = append(r.Scan.Findings, r.correctedText(f, gainLeast))
	case gained != nil:
		r.judgeGains(s, plain, gained, labels)
	case s.worst <= misfitBad && f.apart() >= 0:
		j := f.apart()
		r.gains(f, labels)
		r.Scan.Fixed, r.Scan.Case = &no, ChannelsCase
		r.Scan.Reason = fmt.Sprintf("The channels of %s are moved against each other by %.3f of density in the middle of its tones, which is not so in frames that show less than it.", r.name(j), f.channelsApart(j))
		r.Scan.Gains = slices.DeleteFunc(r.Scan.Gains, func(g Gain) bool { return g.Frame != j && g.Frame != r.Base })
		r.Scan.Findings = append(r.Scan.Findings, r.correctedText(nil, gainLeast))
	case s.worst > misfitUnsure && f.widest() <= misfitUnsure && !r.movedChannels(f, labels):
		r.Scan.Case = LittleCase
		r.Scan.Fixed = &yes
		r.Scan.Reason = fmt.Sprintf("One response for the roll explains most tones of every frame to %.3f of density, within what the readings are off by. Single tones, or what is nearly black, leave up to %.3f, most in %s: a scanner's correction would move most tones of a frame.", math.Max(f.widest(), explainFrom), s.worst, r.name(s.worstAt))
	case s.worst > misfitBad:
		r.judgeMisfit(s, f, labels)
	case s.worst > misfitUnsure:
		r.Scan.Case = OpenCase
		r.Scan.Reason = fmt.Sprintf("One response for the roll leaves up to %.3f of density unexplained, most in %s: too much to be sure that the frames were scanned alike, too little to say that they were not.", s.worst, r.name(s.worstAt))
	case 2*s.off > s.used:
		r.Scan.Case = MostLabels
		r.Scan.Reason = "One response explains the frames, but most labels disagree with the pictures: either the labels are wrong or the scanner changed the brightness of each frame."
	default:
		r.Scan.Case = FixedCase
		r.Scan.Fixed = &yes
		r.Scan.Reason = fmt.Sprintf("One response for the roll explains all frames to %s of density. A scanner that changed their brightness in step with the exposure, alike in all channels, would look like a film of another contrast.", density(s.worst))
	}
	r.addToVerdict(s, f, tells)
}

// density is a misfit as it is told: chance makes less than none of some, which is no zero.
func density(d float64) string {
	if d < 0.0005 {
		return "less than 0.001"
	}
	return fmt.Sprintf("%.3f", d)
}

// judgeGains answers where a gain of each frame explains what one response leaves over.
func (r *Result) judgeGains(s signs, plain, gained *fit, labels []float64) {
	r.gainsOf(gained, labels)
	few := gained.few(r.Base, 1)
	if s.worst <= misfitBad && s.channel <= misfitBad && !few {
		r.Scan.Case = FollowingCase
		r.Scan.Reason = fmt.Sprintf("One response for the roll leaves %.3f of density unexplained; with a gain for each frame it explains all to %s. Gains that rise or fall with the exposure cannot be told from a film of another contrast, so it cannot be told whether the scanner changed the brightness of the frames.", s.worst, density(gained.worstFrame()))
		r.Scan.Findings = append(r.Scan.Findings, "If the scanner corrected the frames, then by about "+strings.Join(r.named(plain, gainLeast), ", ")+" (stops against the base frame). Ask the lab whether the settings were fixed.")
		return
	}
	no := false
	r.Scan.Fixed = &no
	r.Scan.Case = ChannelsCase
	r.Scan.Reason = fmt.Sprintf("One response for the roll leaves up to %.3f of density unexplained, most in %s; with a gain for each frame it explains them to %s.", s.worst, r.name(s.worstAt), density(gained.worstFrame()))
	least := gainLeast
	left := plain
	if few { // the others are not worth a word beside them, whatever one response leaves of them
		left, least = nil, r.greatestGain()/2
	}
	if gained.steady(gainsApart) && r.greatestGain() > gainSure {
		r.Scan.Gains = nil
		r.Scan.Findings = append(r.Scan.Findings, "The frames were not scanned alike: their brightness was changed along with the exposure, as an automatic exposure does. How far it was changed cannot be told: a film of another contrast takes up a part of it. Readings compare the scanner's corrections as much as the film; ask the lab for scans with fixed settings.")
		return
	}
	r.Scan.Findings = append(r.Scan.Findings, r.correctedText(left, least))
}

// judgeMisfit answers where the frames do not agree and no gain explains it.
func (r *Result) judgeMisfit(s signs, f *fit, labels []float64) {
	r.gains(f, labels)
	if r.balanced(f, 0) {
		no := false
		r.Scan.Fixed, r.Scan.Case = &no, BentCase
		r.Scan.Reason = fmt.Sprintf("One response for the roll leaves up to %.3f of density unexplained (limit %.3f), most in %s.", s.worst, misfitBad, r.name(s.worstAt))
		r.Scan.Findings = append(r.Scan.Findings, r.correctedText(f, gainLeast))
		return
	}
	// No channel was moved against the others, and yet the frames do not agree: the
	// cause is open.
	r.Scan.Gains, r.Scan.Case = nil, OpenCase
	r.Scan.Reason = fmt.Sprintf("One response for the roll leaves up to %.3f of density unexplained, most in %s, but no gain of a frame or a channel that can be read with certainty accounts for it: stray light, things that moved, a response that differs from place to place, or a frame that shows little would look so. Whether the frames were scanned alike cannot be told: look at the frame beside its neighbours, and ask the lab whether the settings were fixed.", s.worst, r.name(s.worstAt))
}

// addToVerdict says of which frames it does not speak, when the base frame stands apart, and
// what stray light was found.
func (r *Result) addToVerdict(s signs, f *fit, tells []bool) {
	fixed := r.Scan.Fixed
	if fixed != nil && *fixed {
		var little []string
		for j, ok := range f.used {
			if ok && (!tells[j] || math.IsNaN(f.frameMisfit(j))) {
				little = append(little, r.name(j))
			}
		}
		if len(little) > 0 {
			r.Scan.Reason += " Of " + list(little) + " that is not told: too little is shown, nearly black or nearly blown."
		}
	}
	if fixed != nil && !*fixed && s.worstAt == r.Base && s.ends < pinnedWith {
		r.Scan.Findings = append(r.Scan.Findings, fmt.Sprintf("It is the base frame itself, %s, that stands apart most; the gains of the others are against it. Choose another base frame or have it scanned again.", r.name(s.worstAt)))
	}
	if f.model == flareModel {
		r.Scan.Case = StrayCase
		v, e := f.flare, f.flareError()
		r.Scan.Flare, r.Scan.FlareError = &v, &e
		r.Scan.Findings = append(r.Scan.Findings, fmt.Sprintf("The scanner laid stray light over its scans: %.2f %% of each scan's mean light (+- %.2f), which lifts the dark tones of light frames more than those of dark ones. It is allowed for in the response and the measured stops.", 100*v, 100*e))
	}
}

// channelsApart is by how much the channels of a frame are moved against each other:
// between the medians of their residuals, density; NaN where a channel shows too little.
func (f *fit) channelsApart(j int) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for c := range 3 {
		var v []float64
		for i := range f.m.cells {
			at, x := f.m.index(i, c, j), f.x[i*3+c]
			if f.m.s[at] <= 0 || math.IsNaN(x) {
				continue
			}
			g, _ := f.g[c].at(x + f.e[j])
			g, _, _ = f.seen(g, c, j)
			v = append(v, (f.m.u[at]-g)*densityPerWork(f.m.u[at]))
		}
		if len(v) < 4*misfitLeast {
			return math.NaN()
		}
		d := median.Of(v)
		lo, hi = math.Min(lo, d), math.Max(hi, d)
	}
	return hi - lo
}

// apart is the frame whose channels are moved against each other where those of frames
// that show less than it are not; -1: none. Uneven spots hide such a shift from the
// misfit, which grants them what they may be off by.
func (f *fit) apart() int {
	told, tells := f.told(), f.tells()
	at, most := -1, 2*misfitBad
	for j, ok := range tells {
		d := f.channelsApart(j)
		if !ok || !(d > most) {
			continue
		}
		less, n := 0.0, 0
		for k, ok := range f.used {
			if e := f.channelsApart(k); ok && told[k] < told[j] && !math.IsNaN(e) {
				less, n = math.Max(less, e), n+1
			}
		}
		if n > 0 && d > apartTimes*less {
			at, most = j, d
		}
	}
	return at
}

// widest is the greatest spread of a frame that tells enough to be believed.
func (f *fit) widest() (worst float64) {
	for j, ok := range f.tells() {
		if d := overChannels(f.spread, j); ok && d > worst {
			worst = d
		}
	}
	return worst
}

// tells reports which frames show enough to decide about the roll.
func (f *fit) tells() []bool {
	out := make([]bool, len(f.used))
	for j, share := range f.shares() {
		out[j] = f.used[j] && share >= tellsLeast
	}
	return out
}

// shares are what each frame shows beside the roll's middle frame.
func (f *fit) shares() []float64 {
	told := f.told()
	var v []float64
	for j, ok := range f.used {
		if ok {
			v = append(v, told[j])
		}
	}
	ordinary := median.Of(v)
	for j := range told {
		told[j] /= ordinary
	}
	return told
}

// unsure is by how much the exposure of each frame may be off by what one response
// leaves of it, in fit units.
func (f *fit) unsure() []float64 {
	out := make([]float64, len(f.used))
	for j, ok := range f.used {
		if ok {
			out[j] = f.inExposure(j)
		}
	}
	return out
}

// fitsNone reports whether the response that was found fits no frame: things that move or
// pictures of different scenes leave that.
func (f *fit) fitsNone() bool {
	var off []float64
	for j, ok := range f.used {
		if d := overChannels(f.everywhere, j); ok && !math.IsNaN(d) {
			off = append(off, d)
		}
	}
	return median.Of(off) > lost
}

// told is the share of the spots that can be read in each frame: little where it is
// nearly black or nearly blown.
func (f *fit) told() []float64 {
	out := make([]float64, f.m.frames)
	for k, s := range f.m.s {
		if s > 0 {
			out[k%f.m.frames] += float64(f.m.frames) / float64(len(f.m.s))
		}
	}
	return out
}

// levelled is the answer for a roll whose frames hardly differ. By how much a scanner would
// have levelled them follows from no contrast of the film that could be known here: on film
// of another making such gains were off by up to 1.3 stops (cmd/truth), so none are told.
func (r *Result) levelled() {
	no := false
	r.Scan.Fixed = &no
	const why = "The frames differ in brightness far less than their labels say: each was brought nearer to one look, or they were exposed nearly alike. Their exposure cannot be read from the pictures."
	r.Scan.Reason, r.Reason, r.Scan.Case = why, why, AlikeCase
	for j := range r.Frames {
		if r.Frames[j].Reason == "" {
			r.Frames[j].Reason = why
		}
	}
	r.Scan.Findings = append(r.Scan.Findings, "Either the scanner brought each frame to one look, or the exposure was hardly changed. By how much cannot be told without the film's own contrast. Hold the log against it, and ask the lab for scans with fixed settings.")
}

// reversed is the answer for a roll whose frames darken as their labels rise.
func (r *Result) reversed() {
	const why = "The frames darken as their stops rise: these are negatives that were not turned positive, or the labels run the wrong way. Have the scans inverted with one setting for all frames, or scanned as positives, or label them anew."
	r.none(why)
	r.Scan.Reversed, r.Scan.Case = true, DarkensCase
	r.Scan.Findings = append(r.Scan.Findings, why)
}

// depthFindings names 8-bit data in 16-bit files.
func (r *Result) depthFindings(frames []Frame) {
	var names []string
	n := 0
	for j, f := range frames {
		if f.Look == nil || f.Look.Info.Bits != 16 {
			continue
		}
		n++
		if b := f.Look.EffectiveBits; b > 0 && b <= 8 {
			names = append(names, r.name(j))
		}
	}
	switch {
	case len(names) == 0:
	case len(names) == n && n > 1:
		r.Scan.Findings = append(r.Scan.Findings, fmt.Sprintf("All %d frames hold 8-bit data in 16-bit files; ask the lab for real 16-bit scans.", n))
	default:
		r.Scan.Findings = append(r.Scan.Findings, fmt.Sprintf("8-bit data in a 16-bit file: %s; ask the lab for a real 16-bit scan.", strings.Join(names, ", ")))
	}
}

// name of a frame in findings: its file and its label.
func (r *Result) name(j int) string {
	f := r.in[j]
	s := ""
	if f.Look != nil && f.Look.Info.Path != "" {
		s = filepath.Base(strings.ReplaceAll(f.Look.Info.Path, "\\", "/"))
	}
	switch {
	case s == "" && f.StopKnown:
		return "the frame at " + stops.Label(f.Stop) + " stops"
	case s == "":
		return fmt.Sprintf("frame %d", j+1)
	}
	return s
}
