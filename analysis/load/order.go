package load

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/stops"
)

// OrderByLight reads the scans of a job whose names carry no stop and puts its proposal in
// the order of how light they are; where a scan cannot be read the order of the names
// stays. It returns what it read, parallel to the job's frames, for their pictures. done,
// where not nil, is told how many are read. The error is ctx's.
func (j *Job) OrderByLight(ctx context.Context, opt Options, done func(n, of int)) ([]*measure.Look, error) {
	looks := make([]*measure.Look, len(j.Roll.Frames))
	open := opt.opener(j.Roll)
	for i := range looks {
		if done != nil {
			done(i, len(looks))
		}
		if src, err := open(i); err == nil {
			if l, err := measure.NewLook(ctx, src, measure.Options{}); err == nil {
				looks[i] = l
			}
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	if p := j.proposalByLight(looks); p != nil {
		j.Proposal = p
	}
	return looks, nil
}

func (j *Job) proposalByLight(looks []*measure.Look) *stops.Proposal {
	names, light := make([]string, len(looks)), lightOf(looks)
	for i, f := range j.Roll.Frames {
		names[i] = name(f)
	}
	p := stops.ByLight(names, light, uninverted(looks))
	if p != nil && grey(looks) {
		p.Question += " Grey scans do not show whether they were turned positive: if they are negatives still, the lightest is the most underexposed; then turn the order round, and have them inverted with one setting or scanned as positives."
	}
	return p
}

// grey reports whether every scan that was read has three equal channels.
func grey(looks []*measure.Look) bool {
	for _, l := range looks {
		if l == nil || l.Preview == nil {
			continue
		}
		for k := 0; k+2 < len(l.Preview.Pix); k += 3 {
			if l.Preview.Pix[k] != l.Preview.Pix[k+1] || l.Preview.Pix[k] != l.Preview.Pix[k+2] {
				return false
			}
		}
	}
	return true
}

// lightOf returns how light scans are; NaN where one is not read.
func lightOf(looks []*measure.Look) []float64 {
	out := make([]float64, len(looks))
	for i, l := range looks {
		if out[i] = math.NaN(); l != nil {
			out[i] = l.Lightness()
		}
	}
	return out
}

// A colour negative that was not turned positive is orange all over, in every frame: the
// mask passes half as much green as red and half as much blue again, or less (common
// practice, no source). A scene by candle light may be; a roll of it is told as looking so
// and no more.
const maskShare = 0.6

func uninverted(looks []*measure.Look) bool {
	var all [3]float64
	for _, l := range looks {
		if l == nil {
			continue
		}
		tone := l.ColourSpace().Tone()
		at := func(c int, v float64) float64 { return float64(tone[c][min(max(int(v+0.5), 0), len(tone[c])-1)]) }
		r, g, b := at(0, l.Mean.R), at(1, l.Mean.G), at(2, l.Mean.B)
		if !(g < r && b < g) {
			return false
		}
		all[0], all[1], all[2] = all[0]+r, all[1]+g, all[2]+b
	}
	return all[1] < maskShare*all[0] && all[2] < maskShare*all[1]
}

// noteOrder tells which order scans without any label would take, and how to take it.
func (r *runner) noteOrder() {
	if r.job.Proposal == nil || len(r.looks) < 2 || slices.Contains(r.job.Unknown, false) {
		return
	}
	p := r.job.proposalByLight(r.looks)
	if p == nil {
		return
	}
	words := make([]string, len(p.Stops))
	for i, s := range p.Stops {
		words[i] = fmt.Sprintf("%+g", s)
	}
	r.note("%s If so: --stops=%s", p.Question, strings.Join(words, ","))
}

// doubtPlan holds labels that a plan beside the scans gave against how light the scans
// are, as the matching of scans by hand does.
func (r *runner) doubtPlan() {
	if r.job.plan == nil || r.job.Plan == "" {
		return
	}
	light := make([]float64, len(r.job.files))
	for i, file := range r.job.files {
		light[i] = math.NaN()
		for k, f := range r.job.Roll.Frames {
			if f.File == file && r.looks[k] != nil {
				light[i] = r.looks[k].Lightness()
			}
		}
	}
	found, err := plan.MatchByLight(r.job.plan, r.job.files, light)
	if err != nil {
		return
	}
	if !found.Sure && found.Question != "" {
		r.note("The labels are taken from %s, and how light the scans are contradicts them: %s Match them anew (log --match, or L in the window) before anything is read from the stops.", r.job.Plan, found.Question)
		return
	}
	for _, f := range found.Findings {
		if strings.Contains(f, "darker") && !slices.Contains(r.job.Notes, f) {
			r.note("%s", f)
		}
	}
}
