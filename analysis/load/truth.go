package load

import (
	"context"
	"fmt"
	"image"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/report"
)

// register lays every frame on the base frame. What the judge placed by hand
// stays where it was put.
func (r *runner) register(ctx context.Context) error {
	b := r.result.Base
	r.regs = make([]register.Registration, len(r.looks))
	r.maps = make([]*f64.Aff3, len(r.looks))
	r.result.Regs = r.regs
	if b < 0 || r.looks[b] == nil || r.read() < 2 {
		return nil
	}
	stops := make([]float64, len(r.looks))
	for i, f := range r.job.Roll.Frames {
		stops[i] = f.Stop
	}
	regs, err := register.Roll(ctx, r.looks, stops, b, register.Options{}, nil)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		r.result.Notes = append(r.result.Notes, "The frames are not registered: "+err.Error())
		return nil
	}
	for i := range regs {
		if r.looks[i] == nil {
			continue
		}
		if p := r.job.Roll.Frames[i].Placed; p != nil && i != b {
			regs[i] = ByHand(*p)
		}
		r.regs[i] = regs[i]
		r.maps[i] = MapOf(regs[i], r.looks[b], r.looks[i])
		e := &r.result.Entries[i]
		if !regs[i].Refused() {
			e.Registration = &report.Registration{DX: regs[i].DX, DY: regs[i].DY, Rotation: regs[i].Rotation,
				Scale: regs[i].Scale, Confidence: regs[i].Confidence}
		}
		if regs[i].Note != "" {
			e.Notes = append(e.Notes, regs[i].Note)
		}
		r.events(Event{Kind: Registered, Frame: i, Registration: regs[i], Map: r.maps[i]})
	}
	return nil
}

// read counts the frames that could be read.
func (r *runner) read() (n int) {
	for _, l := range r.looks {
		if l != nil {
			n++
		}
	}
	return n
}

// ByHand is a registration that the judge set.
func ByHand(p roll.Placement) register.Registration {
	s := p.Scale
	if s == 0 {
		s = 1
	}
	return register.Registration{DX: p.DX, DY: p.DY, Rotation: p.Rotation, Scale: s, Confidence: 1, How: register.Hand, Via: -1}
}

// MapOf is a registration as a mapping of full-resolution pixels from the base
// frame to a frame; nil where it was refused and only the image areas can be
// laid on each other.
func MapOf(g register.Registration, base, frame *measure.Look) *f64.Aff3 {
	if g.Refused() || base == nil || frame == nil {
		return nil
	}
	m := g.Affine(image.Pt(base.Info.Width, base.Info.Height), image.Pt(frame.Info.Width, frame.Info.Height))
	return &m
}

// fit measures stops and response from all frames together.
func (r *runner) fit(ctx context.Context) error {
	b := r.result.Base
	if b < 0 || r.looks[b] == nil {
		return nil
	}
	frames := r.frames()
	res, err := response.Fit(ctx, frames, b, response.Options{})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		r.result.Notes = append(r.result.Notes, fmt.Sprintf("No response was measured: %v", err))
		return nil
	}
	r.result.Response, r.result.Fitted = res, frames
	r.events(Event{Kind: Fitted, Frame: -1, Response: res, Fitted: frames})
	return nil
}

// noise reads the roll's noise from frames that differ by their exposure alone.
// Where that cannot be had, because they were not scanned alike or are not
// registered, each frame's is read from itself.
func (r *runner) noise(ctx context.Context) error {
	res := r.result.Response
	if res == nil || res.Scan.Fixed != nil && !*res.Scan.Fixed {
		return nil
	}
	levels, err := noise.Estimate(ctx, res, r.result.Fitted, noise.Options{})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil {
		r.levels, r.result.Noise = levels, levels
	}
	return nil
}

// appraise measures casts, noise and salvage of all frames.
func (r *runner) appraise(ctx context.Context) error {
	b := r.result.Base
	if b < 0 || r.looks[b] == nil {
		return nil
	}
	in := appraise.Input{Frames: r.result.Fitted, Base: b, Response: r.result.Response, Noise: r.levels,
		Relations: make([]*measure.Relation, len(r.looks))}
	if in.Frames == nil {
		in.Frames = r.frames()
	}
	for i := range r.looks {
		in.Relations[i] = r.result.Entries[i].Relation
	}
	a, err := appraise.Measure(ctx, in, func(i int, f *appraise.Frame) {
		if r.looks[i] != nil {
			r.events(Event{Kind: Salvaged, Frame: i, Appraisal: f})
		}
	})
	if err != nil {
		return err
	}
	r.result.Appraisal = a
	r.events(Event{Kind: Appraised, Frame: -1, Roll: a})
	return nil
}

// frames are the frames as they lie on the base frame.
func (r *runner) frames() []response.Frame {
	frames := make([]response.Frame, len(r.looks))
	b := r.result.Base
	for i, l := range r.looks {
		frames[i] = response.Frame{Look: l, Stop: r.job.Roll.Frames[i].Stop, StopKnown: !r.job.unlabelled(i), Unregistered: true}
		switch {
		case i == b:
			frames[i].Map, frames[i].Unregistered = f64.Aff3{1, 0, 0, 0, 1, 0}, false
		case l != nil && r.maps[i] != nil:
			frames[i].Map, frames[i].Unregistered = *r.maps[i], false
		}
	}
	return frames
}

// Again relates frames that are read already: to another base frame, with other
// labels, or after one was placed by hand. looks stand in the order of the roll,
// nil where a frame is not read. It gives the events from Registered on.
func Again(ctx context.Context, job *Job, looks []*measure.Look, events func(Event)) (*Result, error) {
	run := newRunner(job, Options{}, events)
	for i, l := range looks {
		run.looks[i] = l
		run.result.Entries[i].Look = l
	}
	run.baseReadable()
	for _, step := range []func(context.Context) error{run.register, run.fit, run.noise, run.relate, run.appraise} {
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	return run.result, nil
}
