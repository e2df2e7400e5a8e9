package response

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/numeric/median"
)

// Gains: what the scanner did to single frames, in stops, and which frames are named for it.

// greatestGain is the greatest gain of a frame, in stops.
func (r *Result) greatestGain() (most float64) {
	for _, g := range r.Scan.Gains {
		most = math.Max(most, math.Max(math.Abs(g.R), math.Max(math.Abs(g.G), math.Abs(g.B))))
	}
	return most
}

// movedErrors is how many errors the channels of a frame must be moved by where what is
// left over is within what its readings may be off by: a base frame that is nearly black
// moves the gains of all others.
const movedErrors = 2

// movedChannels reports whether balanced would, of the gains that labels give, by more
// than movedErrors.
func (r *Result) movedChannels(f *fit, labels []float64) bool {
	r.gains(f, labels)
	moved := r.balanced(f, movedErrors)
	r.Scan.Gains = nil
	return moved
}

// gains are how far each frame's channels lie from where its label puts them on
// the curve.
func (r *Result) gains(f *fit, labels []float64) {
	m := f.m
	shift, unsure := make([][3]float64, m.frames), make([][3]float64, m.frames)
	have := make([]bool, m.frames)
	for j := range m.frames {
		if !f.used[j] || math.IsNaN(labels[j]) {
			continue
		}
		e := (labels[j] - r.line.origin) / r.line.per
		have[j] = true
		for c := range 3 {
			d, own, ok := f.shiftOf(j, c, e)
			have[j] = have[j] && ok
			shift[j][c], unsure[j][c] = d*r.line.per, own*r.line.per
		}
	}
	zero, own := [3]float64{}, [3]float64{}
	if have[r.Base] {
		zero, own = shift[r.Base], unsure[r.Base]
	}
	for j, ok := range have {
		if !ok {
			continue
		}
		g := Gain{Frame: j, R: shift[j][0] - zero[0], G: shift[j][1] - zero[1], B: shift[j][2] - zero[2]}
		for c := range g.error {
			g.error[c] = math.Hypot(unsure[j][c], own[c])
		}
		r.Scan.Gains = append(r.Scan.Gains, g)
	}
}

// shiftOf is the exposure beside e that channel c of frame j shows, and by how much it
// would be off if all its readings erred alike, in fit units.
func (f *fit) shiftOf(j, c int, e float64) (shift, own float64, ok bool) {
	m := f.m
	var v, s []float64
	for i := range m.cells {
		at := m.index(i, c, j)
		x := f.x[i*3+c]
		if m.s[at] <= 0 || math.IsNaN(x) {
			continue
		}
		_, slope := f.g[c].at(x + e)
		if slope < 0.3 {
			continue // a flat part tells no exposure
		}
		if y, ok := f.g[c].find(f.unseen(m.u[at], c, j)); ok {
			v, s = append(v, y-x-e), append(s, m.s[at]/slope)
		}
	}
	return median.Of(v), median.Of(s), len(v) >= 20
}

// balanced reports whether the channels of some frame were moved against each other, in
// a frame that one response leaves unexplained and that shows enough to be believed, by more
// than so many errors. A shift that is alike in all channels is a shutter's or a label's.
func (r *Result) balanced(f *fit, errors float64) bool {
	tells := f.tells()
	if f.fitsNone() {
		return false // gains by such a response say nothing
	}
	for _, g := range r.Scan.Gains {
		if apart, own := g.apart(); apart >= math.Max(neutral, errors*own) && tells[g.Frame] && f.frameMisfit(g.Frame) > misfitBad && overChannels(f.everywhere, g.Frame) > misfitBad {
			return true
		}
	}
	return false
}

// apart is by how much the channels of a gain differ at most, and the error of that.
func (g Gain) apart() (most, own float64) {
	v := [3]float64{g.R, g.G, g.B}
	for a := range v {
		for b := range v {
			if d := v[a] - v[b]; d > most {
				most, own = d, math.Hypot(g.error[a], g.error[b])
			}
		}
	}
	return most, own
}

// within reports whether a gain is, in all channels, nothing but what the readings may be
// off by so many times.
func (g Gain) within(errors float64) bool {
	for c, v := range [3]float64{g.R, g.G, g.B} {
		if math.Abs(v) >= errors*g.error[c] {
			return false
		}
	}
	return true
}

// named are the frames whose gain is at least so many stops in a channel, or that f
// leaves unexplained, with their gains. Frames that are nearly black or nearly blown are
// named where no other is: what chance makes of them would hide the one that differs.
func (r *Result) named(f *fit, least float64) (parts []string) {
	var little []string
	tells := r.fit.tells()
	for _, g := range r.Scan.Gains {
		bad := false
		if f != nil {
			if g.within(movedErrors) {
				continue
			}
			for c := range 3 {
				bad = bad || f.misfit(g.Frame, c) > misfitUnsure
			}
		}
		if g.Frame == r.Base || !bad && math.Max(math.Abs(g.R), math.Max(math.Abs(g.G), math.Abs(g.B))) < least {
			continue
		}
		part := fmt.Sprintf("%s (R %+.2f, G %+.2f, B %+.2f)", r.name(g.Frame), g.R, g.G, g.B)
		if tells[g.Frame] {
			parts = append(parts, part)
		} else {
			little = append(little, part)
		}
	}
	if len(parts) == 0 {
		return little
	}
	return parts
}

// correctedText names the frames that were not scanned as the base frame was: by at
// least so many stops, or left unexplained by f, where not nil.
func (r *Result) correctedText(f *fit, least float64) string {
	parts := r.named(f, least)
	s := "The frames were not scanned alike: the scanner corrected frames one by one"
	if len(parts) == 1 {
		s = "The frames were not scanned alike: one differs from the others"
	}
	if len(parts) > 0 {
		s += ", in stops against the base frame and as far as it can be told: " + strings.Join(parts, ", ")
	}
	return s + ". Readings compare the scanner's corrections as much as the film; ask the lab for scans with fixed settings."
}
