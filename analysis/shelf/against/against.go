// Package against holds rolls against each other by the readings that their roll files
// keep, without a scan: what differs by more than its errors, and what does not.
//
// # What is held against what
//
// Every figure has the half width that holds it in 95 of 100 cases. Two rolls differ in a
// figure where they lie apart by more than both widths together allow (added as squares).
// Many figures of many pairs are tried, and one in twenty would differ by chance: the
// widths are stretched (Bonferroni, 1936, as every text of statistics has it) so that of a
// hundred comparisons of rolls that are alike in truth, at least 95 tell no difference at
// all. What is not told apart is never put in an order.
//
// Responses are laid mid-grey to mid-grey: exposures count from the mid-grey of each
// roll's base exposure. Where that was taken as metered, a difference of speed or of
// metering cannot show, which is said.
package against

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/shelf"
)

// How many rolls are compared at once.
const (
	Least = 2
	Most  = 12
)

// Roll is one of the rolls that are compared.
type Roll struct {
	Name     string // unlike the others'
	Path     string // of the roll file
	Roll     *roll.Roll
	Readings *kept.Readings
	Stale    string // why its readings are not fresh, "" when they are
}

// Figure is one reading of one roll.
type Figure struct {
	Value float64 `json:"value"`
	// Error is half the width that holds the value in 95 of 100 cases.
	Error float64 `json:"error"`
	// Bound is not 0 where the value is an end that the roll does not reach: 1, it is at
	// least so high; -1, it is at most so high.
	Bound int `json:"bound,omitempty"`
}

// Quantity is what is compared.
type Quantity struct {
	Key    string
	Group  Group
	Figure []*Figure // of the rolls; nil: not known
	Unit   string
	say    words
}

// Group is a chapter of the comparison.
type Group string

// The groups, in the order in which they are told.
const (
	Ranges   Group = "range"
	Response Group = "response"
	Noise    Group = "noise"
	Casts    Group = "casts"
	Costs    Group = "costs"
)

// Groups returns them all.
func Groups() []Group { return []Group{Ranges, Response, Noise, Casts, Costs} }

// Difference is one quantity of two rolls.
type Difference struct {
	Quantity int     // index into Result.Quantities
	A, B     int     // indices into Result.Rolls
	By       float64 // of B against A
	Error    float64 // half the width that holds By in 95 of 100 cases
	Differs  bool    // by more than its error, stretched for how much is tried
	Bound    bool    // an end that is not reached: they differ by at least so much, if they do
	none     bool    // two ends that neither roll reaches: nothing to be said
}

// Result is a comparison.
type Result struct {
	Rolls      []Roll
	Facts      []Fact
	Quantities []Quantity
	Pairs      []Difference
	Tried      int     // figures of pairs that were tried
	Stretch    float64 // by which widths are multiplied
	Warnings   []string
	Spread     []Spread // of rolls that are one test made again; nil: they are not
	Repeats    []Repeat // frames that stand twice in a roll
}

// Options of Compare.
type Options struct {
	Again bool // the rolls are one test made again, whatever is noted of them
}

// Take makes a roll to compare of an entry of a shelf. The error says why it cannot be.
func Take(e *shelf.Entry) (Roll, error) {
	switch {
	case e.Err != nil:
		return Roll{}, e.Err
	case e.Readings() == nil:
		return Roll{}, fmt.Errorf("%s keeps no readings: measure it and save it first (stopladder measure FILE --roll FILE, or open it in the window and save it)", e.Called())
	}
	return Roll{Name: e.Called(), Path: e.Path, Roll: e.Roll, Readings: e.Readings(), Stale: e.Stale}, nil
}

// Compare holds two to twelve rolls against each other.
func Compare(rolls []Roll, o Options) (*Result, error) {
	if len(rolls) < Least || len(rolls) > Most {
		return nil, fmt.Errorf("%d rolls cannot be compared: name %d to %d", len(rolls), Least, Most)
	}
	r := &Result{Rolls: named(rolls)}
	r.Facts = facts(r.Rolls)
	r.quantities()
	r.warn()
	r.differ()
	if o.Again || r.again() {
		r.spread()
	}
	r.repeats()
	return r, nil
}

// named gives rolls that are called alike names of their own.
func named(rolls []Roll) []Roll {
	out := slices.Clone(rolls)
	count := map[string]int{}
	for _, x := range rolls {
		count[x.Name]++
	}
	seen := map[string]int{}
	for i := range out {
		n := &out[i].Name
		if count[*n] > 1 {
			base := strings.TrimSuffix(lastOf(out[i].Path), roll.Ext)
			if base != "" && base != *n {
				*n += " (" + base + ")"
			}
		}
		if seen[*n]++; seen[*n] > 1 {
			*n = fmt.Sprintf("%s [%d]", *n, seen[*n])
		}
	}
	return out
}

func lastOf(path string) string { return path[strings.LastIndexAny(path, `/\`)+1:] }

// differ tries every figure of every pair.
func (r *Result) differ() {
	for q := range r.Quantities {
		f := r.Quantities[q].Figure
		for a := range f {
			for b := a + 1; b < len(f); b++ {
				if f[a] == nil || f[b] == nil {
					continue
				}
				r.Pairs = append(r.Pairs, Difference{Quantity: q, A: a, B: b, By: f[b].Value - f[a].Value, Error: math.Hypot(f[a].Error, f[b].Error)})
			}
		}
	}
	r.Tried = len(r.Pairs)
	if r.Tried == 0 {
		return
	}
	const chance, covers = 0.05, 2 // an error is two standard errors
	r.Stretch = math.Max(1, distuv.UnitNormal.Quantile(1-chance/2/float64(r.Tried))/covers)
	for i := range r.Pairs {
		p := &r.Pairs[i]
		a, b := r.Quantities[p.Quantity].Figure[p.A], r.Quantities[p.Quantity].Figure[p.B]
		// A bound says something only where the other lies on the far side of it.
		p.Bound = a.Bound != 0 || b.Bound != 0
		p.none = a.Bound != 0 && b.Bound != 0
		p.Differs = !p.none && math.Abs(p.By) > p.Error*r.Stretch && !(a.Bound*sign(p.By) > 0) && !(b.Bound*sign(p.By) < 0)
	}
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// Of returns the differences of a quantity.
func (r *Result) Of(q int) (out []Difference) {
	for _, p := range r.Pairs {
		if p.Quantity == q {
			out = append(out, p)
		}
	}
	return out
}

// Apart counts the differences that are told.
func (r *Result) Apart() (n int) {
	for _, p := range r.Pairs {
		if p.Differs {
			n++
		}
	}
	return n
}
