package report

import (
	"fmt"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
)

// Assumptions lists, one sentence each, what the figures rest on that was not
// measured: for every export (assets/manual/json.md).
func Assumptions(r *film.Roll) []string {
	var out []string
	group := func(format string, is func(f *film.Frame) bool) {
		var names []string
		n := 0
		for i := range r.Frames {
			e := &r.Frames[i]
			if e.Look == nil {
				continue
			}
			n++
			if is(e) {
				names = append(names, fileName(e.File))
			}
		}
		switch {
		case len(names) == 0:
		case len(names) == n && n > 1:
			out = append(out, fmt.Sprintf(format, "all frames"))
		default:
			out = append(out, fmt.Sprintf(format, strings.Join(names, ", ")))
		}
	}
	area := func(from measure.AreaFrom) func(e *film.Frame) bool {
		return func(e *film.Frame) bool { return e.Look.AreaFrom == from }
	}
	for _, name := range assumedNames(r) {
		group("Colour profile assumed to be "+name+": %s.", func(e *film.Frame) bool {
			return e.Look.Space != nil && e.Look.ProfileAssumed && e.Look.Space.Name() == name
		})
	}
	group("No border found, the whole scan measured as picture: %s.", area(measure.AreaWhole))
	group("Image area uncertain: %s.", area(measure.AreaUnsure))
	group("Image area taken from the other frames of the roll: %s.", area(measure.AreaAgreed))
	group("Image area set by hand: %s.", area(measure.AreaByHand))
	group("Scan ceiling taken to be full scale, because no pile-up shows another: %s.", func(e *film.Frame) bool {
		f := e.Look.CeilingFrom
		return f.R == measure.EndDefault && f.G == measure.EndDefault && f.B == measure.EndDefault
	})
	var order []string
	for i, e := range r.Frames {
		if r.Judged.Frames[i].Origin == roll.FromOrder && !e.Unlabelled {
			order = append(order, fileName(e.File))
		}
	}
	if len(order) > 0 {
		out = append(out, "Stop labels taken from the order of the files: "+strings.Join(order, ", ")+".")
	}
	if r.Base >= 0 {
		group("Bands laid over by the image areas alone, because the pictures are not registered: %s.", func(e *film.Frame) bool {
			return e.Relation != nil && !e.Relation.Registered && e.File != r.Frames[r.Base].File
		})
		out = append(out,
			fmt.Sprintf("Noisy means more than %g L* units of noise in shadow areas at the base frame's brightness, judged on a preview of %d pixels at the longest side.", r.NoisyLimit(), measure.PreviewSideFor(len(r.Frames))))
	}
	return out
}

func assumedNames(r *film.Roll) []string {
	var names []string
	seen := map[string]bool{}
	for _, e := range r.Frames {
		if e.Look != nil && e.Look.Space != nil && e.Look.ProfileAssumed && !seen[e.Look.Space.Name()] {
			seen[e.Look.Space.Name()] = true
			names = append(names, e.Look.Space.Name())
		}
	}
	return names
}
