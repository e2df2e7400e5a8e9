package load

import (
	"fmt"
	"path/filepath"

	"stopladder/analysis/plan"
	"stopladder/analysis/roll"
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
		if found.Question != "" {
			job.Notes = append(job.Notes, filepath.Base(path)+" lies beside the scans, but does not tell which is which: "+found.Question)
		}
		return nil, false
	}
	job.Plan = filepath.Base(path)
	job.Title, job.Stock = f.Form.Title, f.Form.Stock
	frames, left := Placed(found.Scans)
	if left != "" {
		job.Notes = append(job.Notes, left)
	}
	return frames, len(frames) > 0
}

// Placed are the frames of an offer, and one sentence that names the scans that
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
