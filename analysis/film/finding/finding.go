// Package finding writes what a roll's readings come to in two or three sentences,
// as a careful practitioner would: what ends the range on each side, what happens
// a stop beyond, which side forgives more, and how to expose. Everything in them
// comes from the readings, in the figures that are shown elsewhere.
package finding

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
)

// alike is by how much, in stops, the two sides may differ and still be called
// alike: the quarter in which ends are given.
const alike = 0.25

// Sentences returns the finding. They are never empty: where there is no range the
// reason is the finding.
func Sentences(r *latitude.Result) []string {
	if r.Holds.Reason != "" {
		out := []string{r.Holds.Reason}
		if r.Strains.Reason == "" {
			out = append(out, "With work and a visible cost the film is usable from "+from(r.Strains)+" ("+basis(r.Set)+").")
		}
		return out
	}
	who := "The film holds"
	if r.NotAlike {
		who = "Film and scanner together hold"
	}
	out := []string{who + " from " + from(r.Holds) + strains(r) + " (" + basis(r.Set) + ")."}
	var ends []string
	said := false // what an uncertainty means
	for _, side := range []struct {
		word string
		e    latitude.End
		way  float64
	}{{"under", r.Holds.Lo, -1}, {"over", r.Holds.Hi, 1}} {
		ends = append(ends, ended(r, side.word, side.e, side.way, !said))
		said = said || !side.e.Open
	}
	out = append(out, strings.Join(ends, " "))
	if r.NotAlike {
		return append(out, "The frames were not scanned alike, so this is not the film's own latitude, and no advice on exposing follows from it: ask the lab for scans with fixed settings.")
	}
	return append(out, advice(r))
}

// basis returns what the range rests on.
func basis(s criteria.Set) string {
	return "salvaged by " + string(s.Grade) + ", limits: " + s.Title()
}

// within returns the last quarter stop that an end at stop still reaches, seen from
// the base: a tolerance is not rounded up. What is short of a quarter by less than
// 0.02 stop counts as that quarter: no roll is measured better.
func within(stop float64) float64 {
	return math.Copysign(math.Floor(math.Abs(stop)*4+0.08)/4, stop) + 0
}

// end writes an end in quarter stops, as on the ladder.
func end(e latitude.End) string {
	s := "0"
	if q := within(e.Stop); q != 0 {
		s = stops.Label(q)
	}
	if e.Open {
		return "at least " + s
	}
	return s
}

// Span returns a range in quarter stops, "-3/4 to at least +2 stops"; "" where there
// is none.
func Span(g latitude.Range) string {
	if g.Reason != "" {
		return ""
	}
	return from(g)
}

func from(g latitude.Range) string {
	return end(g.Lo) + " to " + end(g.Hi) + " stops"
}

// strains returns how far the film strains, where that is farther than it holds.
func strains(r *latitude.Result) string {
	s := r.Strains
	if s.Reason != "" {
		return ""
	}
	if end(s.Lo) == end(r.Holds.Lo) && end(s.Hi) == end(r.Holds.Hi) {
		return ""
	}
	word := " and strains from "
	if r.NotAlike {
		word = " and strain from "
	}
	return word + end(s.Lo) + " to " + end(s.Hi)
}

// ended returns what ends the range on one side, and what a stop beyond brings.
func ended(r *latitude.Result, word string, e latitude.End, way float64, first bool) string {
	if e.Open {
		switch {
		case e.Stop*way <= 1e-9 && e.Unknown > 0:
			return fmt.Sprintf("No frame %s the base could be compared, so the roll says nothing of that side.", word)
		case e.Unknown > 0:
			return fmt.Sprintf("%s, the last frame that could be compared, at %s, still holds: what lies beyond is not known.", strings.ToUpper(word[:1])+word[1:], stops.Label(e.Stop))
		case e.Stop*way <= 1e-9:
			return fmt.Sprintf("The roll has no frame %s the base, so it says nothing of that side.", word)
		}
		return fmt.Sprintf("%s, the last frame at %s still holds: a wider bracket would tell more.", strings.ToUpper(word[:1])+word[1:], stops.Label(e.Stop))
	}
	c := e.By
	limit := r.Set.Limits[c].Holds
	where := "the " + c.Word() + " passes " + c.Words(limit)
	further := "it is"
	if c.Least() { // the word names the loss, the figure what is kept
		where = "less than " + c.Words(limit) + " of the base frame's contrast is kept"
		further = "it is kept to"
	}
	s := fmt.Sprintf("%s, it ends at %s%s, where %s", strings.ToUpper(word[:1])+word[1:], precise(e.Stop), give(e, first), where)
	if v, ok := r.Curve(c).At(e.Stop + way); ok {
		if c.Words(v) == c.Words(limit) { // no worse than the limit as far as is written
			further = strings.Replace(further, " is", " is still", 1)
		}
		s += fmt.Sprintf("; a stop further %s %s", further, c.Words(v))
		if c.Within(v, limit) { // readings need not get worse all the way
			s += ", within the limit again"
		}
	}
	return s + "."
}

// precise writes an end in hundredths.
func precise(stop float64) string {
	t := fmt.Sprintf("%+.2f", latitude.Hundredths(stop))
	return strings.Replace(t, "-", "\u2212", 1)
}

// give returns by how much an end may be off, and once what that means; "" where that is
// not known.
func give(e latitude.End, first bool) string {
	if !(e.Uncertainty > 0) {
		return ""
	}
	s := fmt.Sprintf(" (\u00b1 %.2f", latitude.Hundredths(e.Uncertainty))
	if first {
		s += " in 95 of 100 cases"
	}
	return s + ")"
}

// advice returns which side forgives more, and what follows for exposing. That one does
// is said where the sides differ by more than their uncertainty; that they are alike
// where they could hardly differ by more than half a stop.
func advice(r *latitude.Result) string {
	lo, hi := r.Holds.Lo, r.Holds.Hi
	under, over := -lo.Stop, hi.Stop
	off := math.Hypot(lo.Uncertainty, hi.Uncertainty)
	least := math.Max(alike, off)
	switch {
	case lo.Open && hi.Open:
		return "Neither side comes to its end in this roll, so nothing is said of which forgives more."
	case over-under > least && !lo.Open:
		return fmt.Sprintf("Overexposure is forgiven more (%s against %s): when in doubt give more light.", far(hi, over), far(lo, under)) + care(lo, under)
	case under-over > least && !hi.Open:
		return fmt.Sprintf("Underexposure is forgiven more (%s against %s): when in doubt give less light.", far(lo, under), far(hi, over)) + care(hi, over)
	case lo.Open || hi.Open:
		return oneOpen(r)
	}
	narrow, less := lo, under
	if over < under {
		narrow, less = hi, over
	}
	sides := far(latitude.End{}, under) + " each"
	if within(under) != within(over) {
		sides = far(latitude.End{}, under) + " under, " + far(latitude.End{}, over) + " over"
	}
	if math.Abs(over-under) <= alike && off <= 2*alike {
		if within(under) == within(over) {
			return "Both sides forgive alike, " + sides + "." + care(narrow, less)
		}
		return "Both sides forgive alike to a quarter of a stop (" + sides + ")." + care(narrow, less)
	}
	return "Which side forgives more this roll cannot tell: they differ by less than their uncertainty (" + sides + ")." + care(narrow, less)
}

// oneOpen is the advice where one side does not come to its end and is not told to be the
// wider one.
func oneOpen(r *latitude.Result) string {
	ends, reached := r.Holds.Lo, r.Holds.Hi.Stop
	if r.Holds.Lo.Open {
		ends, reached = r.Holds.Hi, -r.Holds.Lo.Stop
	}
	if within(reached) <= 0 { // nothing is known of that side, not even that it is the wider
		return "The roll says nothing of one side, so the two are not compared, and no advice follows."
	}
	text := "The roll does not reach the end of one side, so the two are not compared."
	if less := math.Abs(ends.Stop); reached >= less || within(less) < 1 {
		text += care(ends, less)
	}
	return text
}

// far returns a distance from the base in words, in quarter stops.
func far(e latitude.End, stop float64) string {
	s := "less than \u00bc stop"
	if q := within(math.Abs(stop)); q > 0 {
		s = strings.TrimPrefix(stops.Label(q), "+") + " stop"
		if q > 1 {
			s += "s"
		}
	}
	if e.Open {
		s = "at least " + s
	}
	return s
}

// care returns how carefully to meter: from what the side that forgives less does
// certainly forgive, in the quarter stops that the other sentences give.
func care(e latitude.End, less float64) string {
	sure := within(math.Max(0, less-e.Uncertainty))
	tail := ": the narrower side forgives " + far(latitude.End{}, less)
	switch {
	case within(less) <= 0:
		tail = ": the narrower side forgives hardly anything"
	case sure <= 0:
		tail += ", perhaps hardly anything"
	case sure < within(less):
		is := " is certain"
		if sure > 1 {
			is = " are certain"
		}
		tail += ", of which " + far(latitude.End{}, sure) + is
	}
	switch {
	case sure < 0.5:
		return " Meter with all care" + tail + "."
	case sure < 1:
		return " Meter carefully" + tail + "."
	case sure < 2:
		return " An ordinary careful reading is enough" + tail + "."
	}
	return " Even a rough reading will do" + tail + "."
}
