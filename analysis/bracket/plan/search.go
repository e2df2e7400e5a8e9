package plan

import (
	"math"
	"slices"

	"stopladder/analysis/bracket/exposure"
)

// alike is the difference in stops that no mechanical shutter repeats: of settings
// so near to the wanted exposure, the one that holds more is taken.
const alike = 0.05

// little is the deviation up to which, when both may vary, what is held stays: the
// real stop is known all the same, and a change of aperture costs more (design
// choice).
const little = 0.1

// search finds the settings of a bracket.
type search struct {
	r                Request
	times, apertures []Mark
	ev               float64          // of the base exposure
	from             float64          // the EV that stops count from: the base exposure, then the base frame's
	lengthen         exposure.Failure // what times are lengthened by; the zero value where they are not
	heldA, heldT     *Mark            // what the request holds, as the camera has it
	all              []choice
}

// held looks for what is to be held among the camera's marks.
func (s *search) held() (es Errors) {
	if m := s.r.HoldAperture; m != nil {
		c, ok := find(s.apertures, *m)
		if !ok {
			es.add(FieldHold, "%s does not stop at %s: hold an aperture from %s that the lens has", quote(s.r.Camera.Name), m.Number(), span(s.apertures, Mark.Number))
		}
		s.heldA = &c
	}
	if m := s.r.HoldTime; m != nil {
		c, ok := find(s.times, *m)
		if !ok && s.r.Camera.Bulb && m.Exact > s.times[0].Exact {
			c, ok = byWatch(m.Nominal)
		}
		if !ok {
			es.add(FieldHold, "%s has no shutter time of %s: hold a time from %s that the shutter has", quote(s.r.Camera.Name), m.Seconds(), span(s.times, Mark.Seconds))
		}
		s.heldT = &c
	}
	return es
}

// off returns how much more than stop a setting gives, in stops over the exposure that
// stops count from.
func (s *search) off(stop float64, a, t Mark) float64 {
	return given(s.from, a, t, s.lengthen) - stop
}

// onB returns the time by watch that fits a stop at an aperture, where the shutter's
// own times end before it.
func (s *search) onB(stop float64, a Mark) (Mark, bool) {
	if !s.r.Camera.Bulb {
		return Mark{}, false
	}
	m, ok := byWatch(s.lengthen.Corrected(math.Exp2(exposure.Av(a.Exact) - s.from + stop)))
	return m, ok && m.Exact > s.times[0].Exact
}

// frame finds the setting of one stop. Of those within alike of the nearest (and,
// when both vary, within little of the stop) it takes the one that leaves what is
// held least.
func (s *search) frame(stop float64, apertures []Mark, heldT *Mark, leaves func(a, t Mark) float64) Frame {
	s.all = s.all[:0]
	nearest, over, under := math.Inf(1), false, false
	for i := range apertures {
		a := &apertures[i]
		times, watch := s.times, Mark{}
		if heldT != nil {
			times = []Mark{*heldT}
		} else if m, ok := s.onB(stop, *a); ok {
			watch = m
		}
		for j := range times {
			s.all = append(s.all, choice{a: a, t: &times[j]})
		}
		if watch.Watch {
			s.all = append(s.all, choice{a: a, t: &watch})
		}
	}
	for i := range s.all {
		c := &s.all[i]
		c.off = s.off(stop, *c.a, *c.t)
		nearest = min(nearest, math.Abs(c.off))
		over, under = over || c.off >= 0, under || c.off <= 0
	}
	enough := nearest + alike
	if s.r.Vary == Both {
		enough = max(enough, little)
	}
	var best choice
	found, least := false, 0.0
	for _, c := range s.all {
		if math.Abs(c.off) > enough {
			continue
		}
		l := leaves(*c.a, *c.t)
		if !found || l < least || l == least && math.Abs(c.off) < math.Abs(best.off) {
			best, least, found = c, l, true
		}
	}
	f := Frame{Stop: stop, Time: *best.t, Aperture: *best.a, Deviation: tidy(best.off), EV: exposure.EV(best.a.Exact, best.t.Exact)}
	f.Loss = s.r.Failure.Loss(best.t.Exact)
	// Within the range the settings lie on both sides; when all lie on one side, and
	// none near, the camera ends before the frame.
	f.Short = math.Abs(best.off) > 1.0/6 && (!over || !under)
	return f
}

// choice is a setting that a frame could have.
type choice struct {
	a, t *Mark
	off  float64
}

// tidy takes the last bits of a difference of logarithms away.
func tidy(v float64) float64 { return math.Round(v*1e9)/1e9 + 0 }

// best plans the whole bracket: with what is to be held, or with every setting
// that could be, by the cost below.
func (s *search) best(list []float64) *Plan {
	var p *Plan
	least := math.Inf(1)
	try := func(held Mark, heldTime, asked bool) {
		q := s.with(list, held, heldTime)
		if c := q.cost(); c < least {
			p, least = q, c
			p.HeldBy = "chosen"
			if asked {
				p.HeldBy = "asked"
			}
		}
	}
	switch {
	case s.heldA != nil:
		try(*s.heldA, false, true)
	case s.heldT != nil:
		try(*s.heldT, true, true)
	case s.r.Vary == Aperture:
		for _, t := range s.times {
			try(t, true, false)
		}
	default:
		for _, a := range s.apertures {
			try(a, false, false)
		}
	}
	return p
}

// with plans the bracket around one held setting.
func (s *search) with(list []float64, held Mark, heldTime bool) *Plan {
	p := &Plan{EV: s.ev, Held: held.Number()}
	apertures, heldT := s.apertures, (*Mark)(nil)
	leaves := func(a, t Mark) float64 { return 2 * math.Abs(math.Log2(a.Exact/held.Exact)) }
	if heldTime {
		p.Held = held.Seconds()
		leaves = func(a, t Mark) float64 { return math.Abs(math.Log2(t.Exact / held.Exact)) }
	}
	switch {
	case s.r.Vary == Shutter:
		apertures = []Mark{held}
	case s.r.Vary == Aperture:
		heldT = &held
	}
	// The base frame comes as near to the meter as it can; the others stand in steps
	// from the base frame, since the test compares them with it.
	s.from = s.ev
	base := s.frame(0, apertures, heldT, leaves)
	p.BaseOffset = base.Deviation
	s.from -= p.BaseOffset
	base.Deviation = 0
	for _, stop := range list {
		f := base
		if stop != 0 {
			f = s.frame(stop, apertures, heldT, leaves)
		}
		p.Frames = append(p.Frames, f)
	}
	return p
}

// cost compares plans that hold different settings. Its weights are design
// choices: a frame out of reach is worst; then a deviation, squared, a tenth of a
// stop counting 1, and half of that for the base frame's from the meter; crossing 1 s or 1/1000 s, where no bracket of time is clean;
// times outside 1/500 to 1/2 s; leaving what is held; and apertures far from f/8,
// where lenses are rarely at their best (the last three common practice, no source).
func (p *Plan) cost() float64 {
	c := math.Pow(p.BaseOffset/0.1, 2) / 2
	var numbers []float64
	for _, f := range p.Frames {
		if f.Short {
			off := f.Deviation
			if f.Stop == 0 {
				off = p.BaseOffset
			}
			c += 1000 + 100*off*off
		}
		c += math.Pow(f.Deviation/0.1, 2)
		if f.Time.Exact > 1.01 || f.Time.Exact < 1./1100 {
			c += 8
		}
		if f.Time.Exact > 0.51 || f.Time.Exact < 1./520 {
			c += 2
		}
		c += 0.3 * math.Abs(exposure.Av(f.Aperture.Exact)-6)
		numbers = append(numbers, f.Aperture.Exact)
	}
	slices.Sort(numbers)
	return c + float64(len(slices.Compact(numbers))-1)
}
