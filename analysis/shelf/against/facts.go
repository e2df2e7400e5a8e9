package against

import (
	"fmt"
	"slices"
	"strings"
)

// Fact is what is noted of the rolls: a line of their title blocks.
type Fact struct {
	Key    string   `json:"key"`
	What   string   `json:"what"`
	Values []string `json:"values"` // of the rolls; "" where nothing is noted
	How    How      `json:"how"`
}

// How a fact goes through the rolls.
type How string

// The ways.
const (
	Held    How = "held"    // noted of all, and alike
	Varied  How = "varied"  // two at least are noted otherwise
	Unknown How = "unknown" // not noted of all
)

// compared are the lines of the title block that say what a test was made of.
var compared = []string{"stock", "scene", "metering", "development", "lab", "scanner"}

func facts(rolls []Roll) (out []Fact) {
	for _, key := range compared {
		f := Fact{Key: key}
		for _, x := range rolls {
			for _, l := range x.Roll.Block() {
				if l.Key == key {
					f.What = l.What
					f.Values = append(f.Values, *l.Text)
				}
			}
		}
		f.How = how(f.Values)
		out = append(out, f)
	}
	return out
}

// plain is a note as it is compared: case and spaces count for nothing.
func plain(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

func how(values []string) How {
	first, some := "", 0
	for _, v := range values {
		p := plain(v)
		switch {
		case p == "":
			continue
		case some > 0 && p != first:
			return Varied
		}
		first = p
		some++
	}
	if some == len(values) {
		return Held
	}
	return Unknown
}

func (r *Result) by(h How) (names []string) {
	for _, f := range r.Facts {
		if f.How == h {
			names = append(names, f.What)
		}
	}
	return names
}

// varied reports whether a fact varied.
func (r *Result) varied(key string) bool {
	return slices.ContainsFunc(r.Facts, func(f Fact) bool { return f.Key == key && f.How == Varied })
}

// again reports whether by what is noted the rolls are one test made again.
func (r *Result) again() bool {
	return !slices.ContainsFunc(r.Facts, func(f Fact) bool { return f.How != Held })
}

// Held tells what was held and what varied, and what follows for the differences.
func (r *Result) Held() (out []string) {
	held, varied, unknown := r.by(Held), r.by(Varied), r.by(Unknown)
	var parts []string
	if len(held) > 0 {
		parts = append(parts, "held: "+list(held))
	}
	for _, f := range r.Facts {
		if f.How == Varied {
			parts = append(parts, "varied: "+f.What+" ("+strings.Join(distinct(f.Values), "; ")+")")
		}
	}
	if len(unknown) > 0 {
		parts = append(parts, "not noted of every roll: "+list(unknown))
	}
	if len(parts) > 0 {
		s := strings.Join(parts, "; ")
		out = append(out, strings.ToUpper(s[:1])+s[1:]+".")
	}
	return append(out, r.follows(varied, unknown))
}

func distinct(values []string) (out []string) {
	seen := map[string]bool{}
	for _, v := range values {
		if p := plain(v); p == "" {
			v = "not noted"
		}
		if !seen[plain(v)] {
			seen[plain(v)] = true
			out = append(out, v)
		}
	}
	return out
}

// follows says what a difference can be put down to.
func (r *Result) follows(varied, unknown []string) string {
	scan := 0
	for _, k := range []string{"lab", "scanner"} {
		if r.varied(k) {
			scan++
		}
	}
	may := ""
	if len(unknown) > 0 {
		may = ", as far as " + list(unknown) + " did not vary, which is not noted"
	}
	switch {
	case len(varied) == 0 && len(unknown) == 0:
		return "Nothing that is noted varied: this is one test made again, and what differs is the test's own spread."
	case len(varied) == 0:
		return "Nothing is noted to have varied; what differs may be of what is not noted (" + list(unknown) + ")."
	case len(varied) == scan && r.same("stock", "development", "scene"):
		return "One film by " + list(varied) + ": what differs is of developing and scanning, not of the film" + may + "."
	case len(varied) == 1 && varied[0] == "film stock":
		return "One test on several film stocks: what differs is of the stocks, as this lab developed and scanned them" + may + "."
	case len(varied) == 1 && varied[0] == "development":
		return "One stock developed in several ways: what differs is of the development" + may + "."
	case len(varied) == 1:
		return "Only the " + varied[0] + " varied: what differs is of it" + may + "."
	}
	return "Several things varied at once (" + list(varied) + "): what differs cannot be put down to one of them."
}

// same reports whether facts were noted to be held.
func (r *Result) same(keys ...string) bool {
	for _, f := range r.Facts {
		if slices.Contains(keys, f.Key) && f.How != Held {
			return false
		}
	}
	return true
}

// warn says what the comparison suffers from.
func (r *Result) warn() {
	say := func(format string, a ...any) { r.Warnings = append(r.Warnings, fmt.Sprintf(format, a...)) }
	of := func(is func(x Roll) bool) (names []string) {
		for i, x := range r.Rolls {
			if is(x) {
				names = append(names, r.Call(i))
			}
		}
		return names
	}
	for _, f := range r.Facts {
		switch {
		case f.Key == "scene" && f.How == Varied:
			say("The scenes differ (%s): lost areas, costs and the range are of the scene as much as of the film. Responses, noise of greys and casts compare all the same.", strings.Join(distinct(f.Values), "; "))
		case f.Key == "scene" && f.How == Unknown:
			say("Whether it was one scene is not noted: where it was not, lost areas, costs and the range do not compare.")
		case f.Key == "metering" && f.How == Varied:
			say("The metering differs (%s): what one roll calls its base exposure may be another exposure of the film, and ranges are shifted against each other by that.", strings.Join(distinct(f.Values), "; "))
		}
	}
	if n := of(func(x Roll) bool { return x.Stale != "" }); len(n) > 0 {
		say("The readings of %s are not fresh: measure them again before anything is made of a difference.", list(n))
	}
	if n := of(func(x Roll) bool { return x.Readings.Fixed != nil && !*x.Readings.Fixed }); len(n) > 0 {
		say("The frames of %s were not scanned alike: range, costs and casts are of film and scanner together, and a difference is no word on the film.", list(n))
	}
	if n := of(func(x Roll) bool { return x.Readings.Sharp }); len(n) > 0 && len(n) < len(r.Rolls) {
		say("The scans of %s were sharpened and those of the others were not: noise and lost areas do not compare.", list(n))
	}
	if !r.sameLimits() {
		say("The rolls are measured by different limits or grades, so ranges and costs are not compared: give them one set and save them.")
	}
	if !r.sameViewing() {
		say("The scans are of different sizes below the common viewing scale, so noise is not compared.")
	}
	metered, patch := 0, 0
	for _, x := range r.Rolls {
		if k := x.Readings.Response; k != nil && k.MidGrey == "patch" {
			patch++
		} else if k != nil {
			metered++
		}
	}
	switch {
	case metered > 0 && patch > 0:
		say("Mid-grey is by a grey card in some rolls and taken as metered in others: responses may be shifted against each other by that.")
	case metered > 0:
		say("Each response is laid by its own mid-grey, taken as metered: a difference of speed between the rolls cannot show.")
	}
	if n := of(func(x Roll) bool { return x.Readings.Response == nil }); len(n) > 0 {
		say("No response is told by %s, and none is compared with.", list(n))
	}
}
