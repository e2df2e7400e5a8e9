package film

import (
	"slices"
	"strings"
	"sync"

	"stopladder/analysis/film/between"
	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/patch"
	"stopladder/analysis/film/response"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
)

// remembered is what was worked out of a measured roll, once. Rolls that differ by
// their judgement alone share it.
type remembered struct {
	mu       sync.Mutex
	headroom *[measure.Bands]*response.Headroom
	limits   criteria.Set
	measured *latitude.Result
	asked    []roll.Patch
	patches  *patch.Set
	between  *between.Roll
	tried    bool // to make between
}

// Limits returns the limits that the roll is held against.
func (r *Roll) Limits() criteria.Set { return r.Judged.LimitSet() }

// Range returns the measured range under the roll's limits; nil where nothing could
// be held against a base frame.
func (r *Roll) Range() *latitude.Result { return r.RangeUnder(r.Limits()) }

// RangeUnder returns the measured range under a set of limits. It takes a fraction
// of a millisecond: limits may be dragged.
func (r *Roll) RangeUnder(set criteria.Set) *latitude.Result {
	if r.Comparison == nil {
		return nil
	}
	r.seen.mu.Lock()
	defer r.seen.mu.Unlock()
	if r.seen.measured == nil || r.seen.limits != set {
		r.seen.measured, r.seen.limits = r.Comparison.Extent(set), set
	}
	return r.seen.measured
}

// Finding returns what the range under a set of limits comes to, in sentences.
func (r *Roll) Finding(set criteria.Set) []string {
	e := r.RangeUnder(set)
	if e == nil {
		return nil
	}
	out := r.Comparison.Finding(e)
	if left := r.leftOut(); left != "" && len(out) > 0 {
		out[0] = strings.TrimSuffix(out[0], ".") + "; left out: " + left + "."
	}
	return out
}

// Costs returns what the salvage of the i-th frame costs at a grade, nil where it
// was not measured.
func (r *Roll) Cost(i int, g criteria.Grade) *salvage.Cost {
	if r.Comparison == nil {
		return nil
	}
	return r.Comparison.Cost(i, g)
}

// Settings returns the salvage of the i-th frame at a grade; ok is false where there
// is none.
func (r *Roll) Settings(i int, g criteria.Grade) (s correction.Settings, ok bool) {
	if r.Comparison == nil {
		return s, false
	}
	return r.Comparison.Settings(i, g)
}

// Compared returns casts, noise and salvage of the i-th frame; nil while they are
// not measured.
func (r *Roll) Compared(i int) *comparison.Frame {
	if r.Comparison == nil || i < 0 || i >= len(r.Comparison.Frames) {
		return nil
	}
	return r.Comparison.Frames[i]
}

// Patches returns the roll's patches read in its frames; nil when it has none or
// nothing to read them in.
func (r *Roll) Patches() *patch.Set {
	if len(r.Judged.Patches) == 0 || r.Comparison == nil {
		return nil
	}
	r.seen.mu.Lock()
	defer r.seen.mu.Unlock()
	if r.seen.patches == nil || !slices.Equal(r.seen.asked, r.Judged.Patches) {
		var n patch.Noise
		if r.Noise != nil {
			n = r.Noise
		}
		r.seen.asked = r.Judged.Patches
		r.seen.patches = patch.Read(r.Judged.Patches, r.Comparison.In.Frames, r.Base, r.Response, n)
	}
	return r.seen.patches
}

// Between returns what makes pictures between the frames; nil without a response.
func (r *Roll) Between() *between.Roll {
	if r.Response == nil || r.Response.Curve == nil {
		return nil
	}
	r.seen.mu.Lock()
	defer r.seen.mu.Unlock()
	if !r.seen.tried {
		r.seen.between, r.seen.tried = between.New(r.Response, r.Fitted), true
	}
	return r.seen.between
}
