package load

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film"
	"stopladder/analysis/film/marks"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/register"
	"stopladder/analysis/film/response"
)

// register places every frame on the base frame. What the judge placed by hand
// stays where it was put.
func (r *runner) register(ctx context.Context) error {
	b := r.roll.Base
	if b < 0 || r.looks[b] == nil || r.read() < 2 {
		return nil
	}
	regs, err := r.registrations(ctx)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		r.note("The frames are not registered: %v", err)
		return nil
	}
	for i, found := range regs {
		if r.looks[i] == nil {
			continue
		}
		g := found
		if p := r.job.Roll.Frames[i].Placed; p != nil && i != b {
			g = film.ByHand(*p)
		}
		m := film.MapOf(g, r.looks[b], r.looks[i])
		r.set(Registered, i, func(f *film.Frame) {
			f.Registration, f.Found, f.Map = g, found, m
			if m != nil {
				v := measure.Common(r.looks[b], r.looks[i], *m)
				f.Common = &v
				if v < commonTold {
					f.Notes = append(f.Notes, fmt.Sprintf("%.1f %% of the base frame's picture lies outside this frame's and is not compared.", 100*(1-v)))
				}
			}
			if g.Note != "" {
				f.Notes = append(f.Notes, g.Note)
			}
		})
	}
	return nil
}

// registrations returns those that the program finds, taken again where looks, labels
// and base frame are as they were.
func (r *runner) registrations(ctx context.Context) ([]register.Registration, error) {
	stops := make([]float64, len(r.looks))
	regs := make([]register.Registration, len(r.looks))
	same := len(r.have.Frames) == len(r.looks) && r.have.Base == r.roll.Base
	for i, f := range r.job.Roll.Frames {
		stops[i] = f.Stop
		if same = same && r.have.Frames[i].Look == r.looks[i] && r.have.Judged.Frames[i].Stop == f.Stop; same {
			regs[i] = r.have.Frames[i].Found
			same = r.looks[i] == nil || regs[i].How != register.Unknown
		}
	}
	if same {
		return regs, nil
	}
	return register.Roll(ctx, r.looks, stops, r.roll.Base, register.Options{}, nil)
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

// fit measures stops and response from all frames together.
func (r *runner) fit(ctx context.Context) error {
	b := r.roll.Base
	if b < 0 || r.looks[b] == nil {
		return nil
	}
	frames := r.fitted() // by whose looks what is no picture is settled as well
	res := r.have.Response
	r.noPicture = measure.NoPicture(r.looks)
	if res == nil || res.Base != b || !slices.Equal(unmarked(r.have.Fitted), frames) {
		var err error
		if res, err = r.explained(ctx, frames, b); err != nil && ctx.Err() == nil {
			r.note("No response was measured: %v", err)
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	} else if res.Unveiled {
		r.unveil(measure.Veiled(r.looks))
	}
	r.set(Fitted, -1, func(*film.Frame) { r.roll.Response, r.roll.Fitted = res, frames })
	return nil
}

// explained fits a response to what is picture in the frames. Where none explains them, a
// sign that lies half transparent over all scans may be why: it is believed if without what
// it covers one response does.
func (r *runner) explained(ctx context.Context, frames []response.Frame, base int) (*response.Result, error) {
	marked := func() []response.Frame {
		out := slices.Clone(frames)
		for i := range out {
			out[i].Marks = r.noPicture[i]
		}
		return out
	}
	res, err := response.Fit(ctx, marked(), base, response.Options{})
	if err != nil || res.Scan.Fixed != nil && *res.Scan.Fixed {
		return res, err
	}
	veiled := measure.Veiled(r.looks)
	if veiled == nil {
		return res, nil
	}
	before := r.noPicture
	r.unveil(veiled)
	without, err := response.Fit(ctx, marked(), base, response.Options{})
	if err != nil || without.Scan.Fixed == nil || !*without.Scan.Fixed {
		r.noPicture = before
		return res, err
	}
	without.Unveiled = true
	return without, nil
}

// unveil adds what a sign covers to what is no picture.
func (r *runner) unveil(veiled []*measure.Marks) {
	all := slices.Clone(r.noPicture)
	for i, m := range veiled {
		if l := r.looks[i]; l != nil {
			all[i] = all[i].Or(m, l.PreviewArea())
		}
	}
	r.noPicture = all
}

// commonTold is the share of the base frame's picture under which a frame's note says
// how much it does not show: less than half a percent is the area's own uncertainty.
const commonTold = 0.995

// unmarked returns frames as the response is fitted to them, before marks are known.
func unmarked(frames []response.Frame) []response.Frame {
	out := slices.Clone(frames)
	for i := range out {
		out[i].Marks = nil
	}
	return out
}

// marksTold is the share of the image area from which a frame's note tells its marks.
const marksTold = 0.0005

// marks finds dust, scratches and what moved, once it is known what each frame must
// show.
func (r *runner) marks(ctx context.Context) error {
	if r.roll.Response == nil {
		return nil
	}
	found := make([]*measure.Marks, len(r.looks))
	if r.roll.Response == r.have.Response {
		for i := range found {
			found[i] = r.have.Fitted[i].Marks
		}
	} else {
		var err error
		if found, err = marks.Find(ctx, r.roll.Response, r.roll.Fitted, r.roll.Base); err != nil {
			return err
		}
	}
	for i, m := range found {
		if l := r.looks[i]; l != nil && r.roll.Response != r.have.Response {
			m = m.Or(r.noPicture[i], l.PreviewArea())
		}
		r.roll.Fitted[i].Marks, r.roll.Frames[i].Marks = m, m
		if m == nil || m.Share < marksTold {
			continue
		}
		if n := r.noPicture[i]; n != nil && n.Share > m.Share/2 {
			continue // told once for the roll
		}
		what := "dust, scratches, or what moved between exposures"
		if 2*m.Still > m.Share {
			what = "most of them at the same place in the other scans: dust on the scanner's glass, or marks of the camera"
		}
		r.roll.Frames[i].Notes = append(r.roll.Frames[i].Notes, fmt.Sprintf("%.2f %% of the picture shows what the other frames do not bear out (%s); it is not compared.", 100*m.Share, what))
	}
	return nil
}

// noteNoPicture tells in one sentence what was left out of the frames because it is no
// picture by what the roll as a whole shows.
func (r *runner) noteNoPicture() {
	var parts []string
	if slices.ContainsFunc(r.looks, func(l *measure.Look) bool { return l != nil && l.Stripped() }) {
		parts = append(parts, "strips along the sides")
	}
	still, flat := 0.0, 0.0
	for _, m := range r.noPicture {
		if m != nil {
			still, flat = max(still, m.Still), max(flat, m.Share-m.Still)
		}
	}
	if still > marksTold {
		parts = append(parts, fmt.Sprintf("marks that all scans have in one place (%.1f %% of the picture)", 100*still))
	}
	if flat > marksTold {
		parts = append(parts, fmt.Sprintf("areas of one flat colour (up to %.1f %% of a frame)", 100*flat))
	}
	if len(parts) > 0 {
		r.note("What does not change while the light of the frames changes by stops is no picture and is left out: %s. Key J shows it; check the image area.", strings.Join(parts, ", "))
	}
}

// noise reads the roll's noise from frames that differ by their exposure alone.
// Where that cannot be had, because they were not scanned alike or are not
// registered, each frame's is read from itself, as far as it tells.
func (r *runner) noise(ctx context.Context) error {
	res := r.roll.Response
	if res == nil || res.Scan.Fixed != nil && !*res.Scan.Fixed {
		return nil
	}
	if res == r.have.Response {
		r.roll.Noise = r.have.Noise
		return nil
	}
	levels, err := noise.Estimate(ctx, res, r.roll.Fitted, noise.Options{})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err == nil {
		r.roll.Noise = levels
	}
	return nil
}

// fitted returns the frames as they lie on the base frame.
func (r *runner) fitted() []response.Frame {
	frames := make([]response.Frame, len(r.looks))
	for i, l := range r.looks {
		frames[i] = response.Frame{Look: l, Stop: r.job.Roll.Frames[i].Stop, StopKnown: !r.job.unlabelled(i), Unregistered: true}
		switch m := r.roll.Frames[i].Map; {
		case i == r.roll.Base:
			frames[i].Map, frames[i].Unregistered = f64.Aff3{1, 0, 0, 0, 1, 0}, false
		case l != nil && m != nil:
			frames[i].Map, frames[i].Unregistered = *m, false
		}
	}
	return frames
}
