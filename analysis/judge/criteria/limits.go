// Package criteria says how much a salvaged frame may cost and still hold, or at
// least strain: the criteria, their limits, and sets of limits for three uses.
//
// # Where the figures come from
//
// No standard sets limits for what a salvaged film scan may lose. Each named set
// says its reasons; the anchors are
//
//   - Colour: a difference of 0.8 dE00 is perceptible to half of all observers and
//     1.8 acceptable, in uniform samples side by side (Paravina et al., J. Esthet.
//     Restor. Dent., 2015). Whole pictures are judged more tolerantly, about 2.15
//     dE*ab at the threshold (Stokes, Fairchild & Berns 1992, from memory). 2 to 3
//     is seen on inspection, 5 clearly (convention, from memory).
//   - Noise: ISO 12232 calls a signal-to-noise ratio of 40 excellent and 10
//     acceptable, at a print seen at reading distance. At mid-grey that is 0.55
//     and 2.2 L* units. Shadows bear more: 3 L* is common practice, no source.
//   - Lost area, contrast kept and crossover: design choices, no source.
package criteria

import (
	"fmt"
	"math"
)

// Criterion is one cost of salvage.
type Criterion int

// The criteria, in the order in which they are drawn.
const (
	LostArea     Criterion = iota // share of the image area that has detail in the base frame and none in this one
	DeltaE                        // median CIEDE2000 difference from the base frame
	Noise                         // mean noise in the shadows, L* units
	Crossover                     // CIEDE2000 between the casts of shadows and highlights that no balance mends
	ContrastKept                  // local contrast against the base frame's, as a ratio
	Count        = 5
)

// All returns the criteria in their order.
func All() []Criterion { return []Criterion{LostArea, DeltaE, Noise, Crossover, ContrastKept} }

// about is what is known of a criterion.
var about = [Count]struct {
	key, title, word, unit, hint string
	least                        bool
	most                         float64 // of a limit
	decimals                     int
	percent                      bool
}{
	{key: "lostArea", title: "Lost area", word: "lost area", unit: "% of image area", percent: true, most: 1, decimals: 1,
		hint: "What has detail in the base frame and none in this one."},
	{key: "deltaE", title: "Colour off", word: "colour difference", unit: "ΔE00, median", most: 100, decimals: 1,
		hint: "How far the salvaged frame stays from the base frame's colours, where neither has lost them."},
	{key: "noise", title: "Noise", word: "noise", unit: "L*, shadows", most: 100, decimals: 1,
		hint: "The noise of the shadows once the frame is brought to the base frame's look."},
	{key: "crossover", title: "Crossover", word: "crossover", unit: "ΔE00 left", most: 100, decimals: 1,
		hint: "Casts of shadows and highlights that no single balance mends."},
	{key: "contrastKept", title: "Contrast kept", word: "loss of contrast", unit: "% of the base", percent: true, least: true, most: 1, decimals: 0,
		hint: "Local contrast after salvage against the base frame's."},
}

func (c Criterion) known() bool { return c >= 0 && c < Count }

// Key returns the criterion's name in files.
func (c Criterion) Key() string { return about[c].key }

// Title heads a column; Word names the criterion in a sentence.
func (c Criterion) Title() string { return about[c].title }

// Word names the criterion in a sentence, in lower case: what grows as it gets worse.
func (c Criterion) Word() string { return about[c].word }

// Unit returns the unit in which Words writes.
func (c Criterion) Unit() string { return about[c].unit }

// Hint returns what the criterion means, one sentence.
func (c Criterion) Hint() string { return about[c].hint }

// Least reports whether the criterion's limits are the least that is asked for; those
// of the others are the most that is borne.
func (c Criterion) Least() bool { return about[c].least }

// Words writes a value with its unit.
func (c Criterion) Words(v float64) string {
	a := about[c]
	switch {
	case math.IsNaN(v):
		return "–"
	case a.percent && v > 0 && v < 0.0005 && !a.least:
		return "<0.1 %"
	case a.percent && 100*v >= 9.95:
		return fmt.Sprintf("%.0f %%", 100*v)
	case a.percent:
		return fmt.Sprintf("%.*f %%", a.decimals, 100*v)
	case c == Noise:
		return fmt.Sprintf("%.*f L*", a.decimals, v)
	}
	return fmt.Sprintf("%.*f ΔE00", a.decimals, v)
}

// Figure returns Words without the unit.
func (c Criterion) Figure(v float64) string {
	a := about[c]
	if a.percent {
		return fmt.Sprintf("%.*f", a.decimals, 100*v)
	}
	return fmt.Sprintf("%.*f", a.decimals, v)
}

// ByKey finds a criterion by its name in files.
func ByKey(key string) (Criterion, bool) {
	for _, c := range All() {
		if about[c].key == key {
			return c, true
		}
	}
	return 0, false
}

// Within reports whether a value keeps a limit.
func (c Criterion) Within(v, limit float64) bool {
	if about[c].least {
		return v >= limit
	}
	return v <= limit
}

// Grade is the effort of salvage that the limits are held against.
type Grade string

// The grades of salvage (assets/manual/salvage.md#the-three-grades).
const (
	Exposure Grade = "exposure"
	Balance  Grade = "balance"
	Curves   Grade = "curves"
	Hand     Grade = "hand" // what the judge made of the frame; limits are not held against it
)

// Pair are the two limits of a criterion: a frame holds while it keeps Holds, and
// strains while it keeps Strains.
type Pair struct {
	Holds   float64 `json:"holds"`
	Strains float64 `json:"strains"`
}

// Set is a limit for every criterion.
type Set struct {
	Name   string // of a named set; "" or another name for one's own
	Grade  Grade
	Limits [Count]Pair
}

// Default returns the set that a roll begins with.
func Default() Set { return Named()[0] }

// Named returns the sets that the program comes with. They are held against salvage by
// curves: what can be brought back with all usual means is what a film tolerates.
func Named() []Set {
	return []Set{
		// Screen: a picture of about two megapixels, seen whole. Fine noise and small
		// losses disappear in it; colours are seen without anything beside them.
		{Name: "screen", Grade: Curves, Limits: [Count]Pair{
			LostArea:     {0.02, 0.10}, // a fiftieth of the picture is a lamp or a window; a tenth is a sky
			DeltaE:       {3, 6},       // seen on inspection; clearly seen
			Noise:        {3, 6},       // common practice, no source; twice that
			Crossover:    {3, 6},       // as the colours
			ContrastKept: {0.80, 0.60},
		}},
		// Print: at reading distance, beside other prints of the series.
		{Name: "print", Grade: Curves, Limits: [Count]Pair{
			LostArea:     {0.01, 0.05},
			DeltaE:       {2.2, 4.5}, // the tolerance of whole pictures, and twice that
			Noise:        {2.2, 4.5}, // S/N 10 of ISO 12232 at mid-grey, and twice that
			Crossover:    {2.2, 4.5},
			ContrastKept: {0.85, 0.70},
		}},
		// Archive: what is to stand for the scene without the film at hand.
		{Name: "archive", Grade: Curves, Limits: [Count]Pair{
			LostArea:     {0.002, 0.01},
			DeltaE:       {1.2, 2.2}, // between perceptible and acceptable; the tolerance of whole pictures
			Noise:        {1.1, 2.2}, // S/N 20, and 10
			Crossover:    {1.2, 2.2},
			ContrastKept: {0.95, 0.85},
		}},
	}
}

// Reason returns in one sentence what a named set is for, "" for another.
func Reason(name string) string {
	switch name {
	case "screen":
		return "For pictures seen whole on a screen: small losses and fine noise disappear, colour shifts are seen when they are clear."
	case "print":
		return "For prints at reading distance beside others of the series: colour and noise as ISO 12232 and studies of whole pictures accept them."
	case "archive":
		return "For scans that stand for the scene itself: hardly a difference may be seen, nothing may be lost."
	}
	return ""
}

// ByName finds a named set.
func ByName(name string) (Set, bool) {
	for _, s := range Named() {
		if s.Name == name {
			return s, true
		}
	}
	return Set{}, false
}

// Same reports whether both sets hold the same limits and grade, whatever their names.
func (s Set) Same(o Set) bool { return s.Grade == o.Grade && s.Limits == o.Limits }

// Title returns what the set is called: its own name while its limits are that set's,
// else "own limits".
func (s Set) Title() string {
	for _, n := range Named() {
		if n.Same(s) {
			return n.Name
		}
	}
	return "own limits"
}

// Validate returns in one sentence what keeps the set from being used.
func (s Set) Validate() error {
	switch s.Grade {
	case Exposure, Balance, Curves:
	default:
		return fmt.Errorf("the limits are held against a salvage called %q, and there are exposure, balance and curves", string(s.Grade))
	}
	for _, c := range All() {
		p := s.Limits[c]
		for _, v := range []float64{p.Holds, p.Strains} {
			if !(v >= 0 && v <= about[c].most) {
				return fmt.Errorf("the limit of %s is %g, and it must be 0 to %g", c.Key(), v, about[c].most)
			}
		}
		if c.Least() && p.Strains > p.Holds || !c.Least() && p.Strains < p.Holds {
			return fmt.Errorf("the limits of %s are %g to hold and %g to strain, and a frame must strain before it breaks: change one of them", c.Key(), p.Holds, p.Strains)
		}
	}
	return nil
}

// With returns the set with one limit moved; the other limit of the criterion gives
// way where it would be passed. Values are brought within bounds.
func (s Set) With(c Criterion, holds bool, v float64) Set {
	if !c.known() || math.IsNaN(v) {
		return s
	}
	v = math.Max(0, math.Min(about[c].most, v))
	p := &s.Limits[c]
	if holds {
		p.Holds = v
		if c.Least() {
			p.Strains = math.Min(p.Strains, v)
		} else {
			p.Strains = math.Max(p.Strains, v)
		}
	} else {
		p.Strains = v
		if c.Least() {
			p.Holds = math.Max(p.Holds, v)
		} else {
			p.Holds = math.Min(p.Holds, v)
		}
	}
	return s
}

// Grades returns the grades in rising effort, the judge's own hand last.
func Grades() []Grade { return []Grade{Exposure, Balance, Curves, Hand} }

// InWords returns the grade as it stands in a sentence.
func (g Grade) InWords() string {
	if g == Hand {
		return "by hand"
	}
	return string(g)
}
