// Package anew measures a roll file again and saves the readings into it.
package anew

import (
	"context"
	"errors"
	"os"
	"time"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
)

// Measure measures the roll of a roll file and saves the file with its readings; program is
// the version that measures. The marks stay, and the version before is kept beside the
// file. Where a scan cannot be read nothing is saved: readings of a part would take the
// place of those of the whole.
func Measure(ctx context.Context, path, program string, opt load.Options, events func(load.Event)) error {
	job, err := load.Plan([]string{path}, opt)
	if err != nil {
		return err
	}
	if note := job.Roll.PreviewNote(); note != "" {
		return errors.New("its scans are elsewhere, and light previews are not measured in their place")
	}
	if same, err := timed(ctx, job.Roll, program); err != nil || same {
		return err
	}
	measured, err := load.Measure(ctx, job, nil, opt, events)
	if err != nil {
		return err
	}
	if f := measured.Failures(); len(f) > 0 {
		return errors.Join(f...)
	}
	return Keep(job.Roll, measured, path, program)
}

// timed reports whether all scans are those that were measured, by their contents, and
// notes their times: of a shelf that was copied nothing is measured again.
func timed(ctx context.Context, r *roll.Roll, program string) (same bool, err error) {
	if r.Demo != "" || r.Stale(program) != "" {
		return false, nil
	}
	times := map[string]string{}
	for _, f := range r.Frames {
		if f.SHA256 == "" || f.Aside() {
			return false, nil
		}
		before, err := os.Stat(f.File)
		if err != nil || before.Size() != f.Bytes {
			return false, nil // the measuring says why
		}
		sum, _, err := roll.Hash(ctx, f.File)
		if ctx.Err() != nil {
			return false, ctx.Err()
		}
		if err != nil || sum != f.SHA256 {
			return false, nil
		}
		times[f.Name()] = before.ModTime().UTC().Format(time.RFC3339Nano)
	}
	r.Readings = r.Readings.Timed(times)
	return true, r.Save(r.Path())
}

// Keep saves a roll at path with what was measured of it: readings, and the hashes of its
// scans.
func Keep(r *roll.Roll, measured *film.Roll, path, program string) error {
	out := r.Clone()
	for i, f := range measured.Frames {
		if f.SHA256 != "" {
			out.Frames[i].SHA256, out.Frames[i].Bytes = f.SHA256, f.Bytes
		}
	}
	if k := measured.Kept(program); k != nil {
		out.Readings = k
	}
	return out.Save(path)
}
