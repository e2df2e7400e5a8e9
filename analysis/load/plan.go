package load

import (
	"context"
	"fmt"
	"math"
	"path/filepath"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
)

// fromPlan labels files by the plan or log that lies beside them, with the real
// stops. ok is false where there is none that applies; job then says what was
// found, and carries the offers when the counts do not tell which scan is which.
func fromPlan(files []string, job *Job) (frames []roll.Frame, ok bool) {
	path, err := plan.Beside(files)
	if err != nil {
		job.Notes = append(job.Notes, err.Error())
		return nil, false
	}
	if path == "" {
		return nil, false
	}
	job.PlanFile = path
	f, err := plan.Load(path)
	if err != nil {
		job.Notes = append(job.Notes, err.Error())
		return nil, false
	}
	found, err := plan.Match(f, files, nil)
	if err != nil {
		job.Notes = append(job.Notes, fmt.Sprintf("%s does not label the scans: %v", filepath.Base(path), err))
		return nil, false
	}
	job.Notes = append(job.Notes, found.Findings...)
	if !found.Sure {
		job.Question, job.Offers = found.Question, found.Offers
		job.plan, job.files = f, files
		if found.Question != "" {
			job.Notes = append(job.Notes, filepath.Base(path)+" lies beside the scans, but does not tell which is which: "+found.Question)
		}
		return nil, false
	}
	job.Plan = filepath.Base(path)
	job.plan, job.files = f, files // to be held against the light of the scans
	job.Title, job.Stock = f.Form.Title, f.Form.Stock
	frames, left := Placed(found.Scans)
	if left != "" {
		job.Notes = append(job.Notes, left)
	}
	return frames, len(frames) > 0
}

// ByLight reads the scans of a job with offers and gives these in a new order, the
// likeliest first; see the function.
func (j *Job) ByLight(ctx context.Context, opt Options, done func(n, of int)) ([]plan.Offer, error) {
	a, err := ByLight(ctx, j.plan, j.files, opt, done)
	if err != nil {
		return nil, err
	}
	return a.Offers, nil
}

// ByLight does what plan.MatchByLight does, with scans that it reads. Scans that cannot be read
// count as unknown. done, where not nil, is told how many are read. The error is
// ctx's, or of the plan.
func ByLight(ctx context.Context, f *plan.File, files []string, opt Options, done func(n, of int)) (*plan.Assignment, error) {
	var r roll.Roll
	for _, file := range files {
		r.Frames = append(r.Frames, roll.Frame{File: file})
	}
	open := opt.opener(&r)
	light := make([]float64, len(files))
	for i := range files {
		if done != nil {
			done(i, len(files))
		}
		light[i] = math.NaN()
		src, err := open(i)
		if err == nil {
			if look, err := measure.NewLook(ctx, src, measure.Options{}); err == nil {
				light[i] = look.Lightness()
			}
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	return plan.MatchByLight(f, files, light)
}

// Placed returns the frames of an offer, and one sentence that names the scans that
// are other pictures by it ("" for none).
func Placed(scans []plan.Placed) (frames []roll.Frame, left string) {
	for _, s := range scans {
		if s.Known {
			frames = append(frames, roll.Frame{File: s.Scan, Stop: s.Stop, Origin: roll.FromPlan})
			continue
		}
		if left != "" {
			left += ", "
		}
		left += filepath.Base(s.Scan)
	}
	if left != "" {
		left = "Other pictures on the roll by the plan, left out: " + left + "."
	}
	return frames, left
}
