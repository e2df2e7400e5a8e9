package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
)

// Limits of the warnings. Where no source is named they are design choices.
const (
	coarse     = 1.0 / 6 // stops off that are worth a word: half a third
	slow       = 1.0     // seconds; beyond, films lose speed (data sheets; standards: no correction at or below)
	fast       = 1.0 / 1000
	edge       = 1.03 // 1/1000 s is 1/1024 s exactly, and still 1/1000 s
	windOn     = 10.0 // seconds to wind, set and wait between frames
	cloudsMove = 120.0
	smallStop  = 22.0 // f-number from which diffraction softens even large formats (common practice, no source)
	sunlight   = 13.0 // EV at ISO 100 of a subject in sun (common practice, no source)
)

// judge adds what is to be known before the roll.
func (p *Plan) judge(r Request, s search) {
	p.Seconds = windOn * float64(len(p.Frames)-1)
	for _, f := range p.Frames {
		p.Seconds += f.Time.Exact
	}
	for _, check := range []func(Request, search){p.reach, p.accuracy, p.longTimes, p.crossing, p.lens, p.clouds} {
		check(r, s)
	}
	p.caution(r)
	p.assume(r)
}

func (p *Plan) warn(code Code, frames []int, format string, args ...any) {
	p.Warnings = append(p.Warnings, Warning{Code: code, Text: fmt.Sprintf(format, args...), Frames: frames})
}

// which returns the frames that a condition holds for.
func (p *Plan) which(is func(Frame) bool) (out []int) {
	for i, f := range p.Frames {
		if is(f) {
			out = append(out, i)
		}
	}
	return out
}

// called names frames by their stops.
func (p *Plan) called(frames []int) string {
	var names []string
	for _, i := range frames {
		if n := stops.Label(p.Frames[i].Stop); !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	if len(names) > 6 {
		names = append(names[:5], fmt.Sprintf("%d more", len(names)-5))
	}
	return list(names)
}

// reach warns of frames that the camera cannot expose, and says what would help.
func (p *Plan) reach(r Request, s search) {
	short := p.which(func(f Frame) bool { return f.Short })
	if len(short) == 0 {
		return
	}
	worst := 0.0
	for _, i := range short {
		d := p.Frames[i].Deviation
		if p.Frames[p.Base()].Short {
			d += p.BaseOffset
		}
		if math.Abs(d) > math.Abs(worst) {
			worst = d
		}
	}
	all := func(q *Plan) bool {
		return !slices.ContainsFunc(q.Frames, func(f Frame) bool { return f.Short })
	}
	more := math.Ceil(math.Abs(worst) - 1e-9)
	by := func(stops float64) bool { // whether other light is enough
		q := s
		q.ev += stops
		return all(q.best(p.list()))
	}
	help := "a shorter bracket or another camera would help"
	if q := p.freely(s, r.Vary); q.Held != p.Held && all(q) {
		help = fmt.Sprintf("holding %s instead reaches all", q.Held)
	} else if r.Vary != Both && all(p.freely(s, Both)) {
		help = "varying both reaches all"
	} else if worst > 0 && by(-more) {
		help = fmt.Sprintf("a filter of %s would help", stopsWord(more))
	} else if worst < 0 && by(more) {
		help = fmt.Sprintf("%s more light, or as much film speed, would help", stopsWord(more))
	}
	p.warn(Outside, short, "The camera does not reach %s: the nearest setting is up to %s off; %s.", p.called(short), stopsWord(math.Abs(worst)), help)
}

// stopsWord writes a distance: "1 stop", "2.3 stops".
func stopsWord(v float64) string {
	t := trimmed(v, 2)
	if t == "1" || v < 1 {
		return t + " stop"
	}
	return t + " stops"
}

// freely returns the same bracket with nothing held by the request.
func (p *Plan) freely(s search, vary Vary) *Plan {
	s.r.Vary, s.heldA, s.heldT = vary, nil, nil
	return s.best(p.list())
}

// list returns the stops of the bracket in the order of exposing.
func (p *Plan) list() []float64 {
	list := make([]float64, len(p.Frames))
	for i, f := range p.Frames {
		list[i] = f.Stop
	}
	return list
}

// worst returns the largest deviation of the frames that the camera reaches.
func (p *Plan) worst() (v float64) {
	for _, f := range p.Frames {
		if !f.Short {
			v = max(v, math.Abs(f.Deviation))
		}
	}
	return v
}

// accuracy warns of frames that are off, and of frames that come out alike.
func (p *Plan) accuracy(r Request, s search) {
	base := p.Frames[p.Base()]
	if math.Abs(p.BaseOffset) > coarse && !base.Short {
		p.warn(BaseOff, nil, "The base frame is %s stop off the metered exposure, the nearest that fits the bracket: stops count from the base frame.", Hundredths(p.BaseOffset))
	}
	off := p.which(func(f Frame) bool { return !f.Short && math.Abs(f.Deviation) > coarse })
	if len(off) > 0 {
		help := ""
		if r.Vary != Both {
			if q := p.freely(s, Both); q.worst() < p.worst()/2 {
				help = fmt.Sprintf("; varying both comes within %s", trimmed(math.Max(q.worst(), 0.01), 2))
			}
		}
		p.warn(Coarse, off, "No setting comes nearer to %s, up to %s stop off: take the real stops as labels%s.", p.called(off), trimmed(p.worst(), 2), help)
	}
	if alikes, frames := p.alikes(); len(alikes) > 0 {
		if len(alikes) > 4 {
			alikes = append(alikes[:3], fmt.Sprintf("%d more", len(alikes)-3))
		}
		help := ""
		if r.Vary != Both {
			if still, _ := p.freely(s, Both).alikes(); len(still) == 0 {
				help = ", or vary both"
			}
		}
		p.warn(Same, frames, "One and the same setting serves two frames (%s): take larger steps%s.", list(alikes), help)
	}
	if r.Step < 0.5+1e-9 && !slices.ContainsFunc(p.Frames, func(f Frame) bool { return f.Time.Tested }) && r.Vary != Aperture {
		// From memory: mechanical shutters are commonly off by up to a third of a stop.
		p.warn(FineSteps, nil, "Steps of %s stop are near the error of a mechanical shutter: trust the measured stops more than these labels.", fraction(r.Step))
	}
}

// alikes names the pairs of frames that one setting serves, with their indices.
func (p *Plan) alikes() (names []string, frames []int) {
	for i, f := range p.Frames {
		for j, g := range p.Frames[:i] {
			if !f.Short && !g.Short && math.Abs(f.Stop-g.Stop) > stops.Near && f.Time.Exact == g.Time.Exact && f.Aperture.Exact == g.Aperture.Exact {
				names = append(names, stops.Label(g.Stop)+" with "+stops.Label(f.Stop))
				frames = append(frames, j, i)
				break
			}
		}
	}
	return names, frames
}

// longTimes warns of reciprocity failure and of times by hand.
func (p *Plan) longTimes(r Request, s search) {
	long := p.which(func(f Frame) bool { return f.Time.Exact > slow*edge || f.Loss > 0.05 })
	if len(long) > 0 {
		worst := slices.MaxFunc(long, func(i, j int) int { return cmpFloat(p.Frames[i].Loss, p.Frames[j].Loss) })
		switch loss := p.Frames[worst].Loss; {
		case !r.Failure.Known():
			p.warn(Long, long, "%s %s longer than 1 s, where film loses speed: look up the correction in the film maker's data sheet and enter it under reciprocity.", p.called(long), isAre(p, long))
		case r.Correct:
			p.warn(Long, long, "The times of %s are lengthened for reciprocity failure, by up to %.1f stops.", p.called(long), loss)
		default:
			f := p.Frames[worst]
			needed := lasting(r.Failure.Corrected(f.Time.Exact))
			from := ""
			if lost := p.Frames[p.Base()].Loss; lost > 0.05 {
				from = fmt.Sprintf("; they count from the base frame, which loses %.1f", lost)
			}
			p.warn(Long, long, "%s %s speed to reciprocity failure, up to %.1f stops: %s would need %s by the figures given, and the real stops have it taken off%s.",
				p.called(long), plural(make([]string, distinct(p, long)), "loses", "lose"), loss, f.Time.Seconds(), needed, from)
		}
		p.warn(Colour, long, "On colour film the three layers fail differently beyond 1 s and give a cast that is not the film's latitude.")
	}
	if hand := p.which(func(f Frame) bool { return f.Time.Watch }); len(hand) > 0 {
		p.warn(ByHand, hand, "%s %s timed by watch on B: write down what it really was.", p.called(hand), isAre(p, hand))
	}
}

func distinct(p *Plan, frames []int) int {
	seen := map[float64]bool{}
	for _, i := range frames {
		seen[p.Frames[i].Stop] = true
	}
	return len(seen)
}

func isAre(p *Plan, frames []int) string {
	if distinct(p, frames) == 1 {
		return "is"
	}
	return "are"
}

// crossing warns of a bracket by time across 1 s or 1/1000 s, and of times where
// shutters are at their worst.
func (p *Plan) crossing(r Request, s search) {
	least, most := math.Inf(1), 0.0
	for _, f := range p.Frames {
		least, most = min(least, f.Time.Exact), max(most, f.Time.Exact)
	}
	if least < slow/edge && most > slow*edge {
		p.warn(Crosses, p.which(func(f Frame) bool { return f.Time.Exact > slow*edge }),
			"The bracket crosses 1 s: beyond it the film itself changes, and this is not a clean test of exposure.")
	}
	if least < fast/edge && most > fast*edge {
		p.warn(Crosses, p.which(func(f Frame) bool { return f.Time.Exact < fast/edge }),
			"The bracket crosses 1/1000 s: beyond it films may lose speed, and this is not a clean test of exposure.")
	}
	odd := p.which(func(f Frame) bool {
		return f.Time.Exact > 0.5*edge && f.Time.Exact <= slow*edge || f.Time.Exact < 1.0/500/(edge*edge) && f.Time.Exact >= fast/edge
	})
	if len(odd) > 0 && most > least*edge {
		p.warn(Unsteady, odd, "%s %s outside 1/500 to 1/2 s, where shutters are most even (common practice, no source).", p.called(odd), isAre(p, odd))
	}
}

// lens warns of what a changing aperture does to the picture.
func (p *Plan) lens(r Request, s search) {
	widest, smallest := math.Inf(1), 0.0
	var wide, small Mark
	for _, f := range p.Frames {
		if f.Aperture.Exact < widest {
			widest, wide = f.Aperture.Exact, f.Aperture
		}
		if f.Aperture.Exact > smallest {
			smallest, small = f.Aperture.Exact, f.Aperture
		}
	}
	if smallest < widest*1.001 {
		return
	}
	changed := p.which(func(f Frame) bool { return f.Aperture.Number() != p.Held && p.Held[0] == 'f' })
	p.warn(Depth, changed, "The aperture changes from %s to %s, and with it depth of field and vignetting: focus on one plane, and judge away from the corners.", wide.Number(), small.Number())
	if smallest >= smallStop {
		p.warn(Diffraction, p.which(func(f Frame) bool { return f.Aperture.Exact >= smallStop }),
			"From f/22 on diffraction softens the picture: sharpness and grain are not comparable with the wider apertures.")
	}
}

func (p *Plan) clouds(r Request, s search) {
	if p.Seconds > cloudsMove {
		p.warn(Clouds, nil, "The bracket takes about %s: under moving clouds or a low sun the light changes, meter again at the end and log it.", lasting(p.Seconds))
	}
}

// lasting writes a duration in the unit that a person would use.
func lasting(seconds float64) string {
	switch {
	case seconds < 90:
		return fmt.Sprintf("%.0f s", math.Max(seconds, 1))
	case seconds <= 3*3600:
		return fmt.Sprintf("%.0f minutes", math.Ceil(seconds/60))
	}
	return trimmed(seconds/3600, 2) + " hours"
}

// Duration writes about how long the bracket takes.
func (p *Plan) Duration() string { return lasting(p.Seconds) }

func (p *Plan) caution(r Request) {
	if r.Meter.Way != Incident && r.Meter.At(100) >= sunlight {
		p.Cautions = append(p.Cautions, "Never meter the sun through a lens with the eye: it blinds.")
	}
	p.Cautions = append(p.Cautions, "The film maker's data sheet goes first: speed, development, long and very short times.")
}

// assume lists what the plan rests on.
func (p *Plan) assume(r Request) {
	add := func(format string, args ...any) { p.Assumptions = append(p.Assumptions, fmt.Sprintf(format, args...)) }
	switch r.Meter.Way {
	case Sunny:
		add("The light was not metered: the rule of thumb for daylight is common practice, no source.")
	case Unsaid:
		add("Whether the meter read incident or reflected light is not said; a reflected reading makes what it was pointed at a mid-grey.")
	case Reflected:
		add("The reflected reading makes what it was pointed at a mid-grey.")
	}
	if strings.HasPrefix(p.Meter, "f/") || strings.Contains(p.Meter, ", f/") {
		add("The meter's marks and the camera's stand for their exact values: 1/125 for 1/128 s, f/11 for f/11.31.")
	} else {
		add("The camera's marks stand for their exact values: 1/125 for 1/128 s, f/11 for f/11.31.")
	}
	if slices.ContainsFunc(p.Frames, func(f Frame) bool { return f.Time.Tested || f.Aperture.Tested }) {
		add("Tested times and apertures are taken as the test of this camera found them.")
	}
	if slices.ContainsFunc(p.Frames, func(f Frame) bool { return f.Aperture.Between != "" || f.Time.Between != "" }) {
		add("Clicks between two marks are taken to divide them evenly.")
	}
	if r.Filter > 0 {
		add("%s stops are taken off the light for filter or bellows: the meter read without them.", trimEV(r.Filter))
	}
	if r.Format.Frames > 0 && r.Format.Name != "" {
		add("%d frames on a roll of %s: common practice, no source; look at your camera's counter.", r.Format.Frames, r.Format.Name)
	}
	if r.Failure.P > 0 {
		add("Reciprocity failure by Tc = Tm^%s over 1 s: no exponent fits widely, the data sheet's table is better.", trimmed(r.Failure.P, 4))
	}
	if p.HeldBy == "chosen" {
		add("%s was chosen: it reaches the bracket with the least deviation, times between 1/500 and 1/2 s first, then near f/8.", p.Held)
	}
	if b := p.BaseOffset; math.Abs(b) >= 0.005 && math.Abs(b) <= coarse {
		add("The base frame is %s stop off the metered exposure.", Hundredths(b))
	}
}
