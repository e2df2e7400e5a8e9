package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/film"
)

// codeStops is how many stops below white have their codes counted.
const codeStops = 10

// Build makes the document of a measured roll. Frames stand from under to over,
// those without a label last. Frames that could not be read are listed with their
// error, never dropped.
func Build(r *film.Roll, opt Options) *Report {
	judged := r.Judged
	out := &Report{
		Schema: Schema, Tool: Tool{Name: "Stopladder", Version: opt.Version},
		NoiseLimit: r.NoisyLimit(), Frames: []Frame{}, Judges: []Judge{},
		Roll: Roll{Title: text(judged.Title), Stock: text(judged.Stock), Exposure: text(judged.Exposure), Date: text(judged.Date),
			Scene: text(judged.Scene), Metering: text(judged.Metering), Development: text(judged.Development), Lab: text(judged.Lab), Scanner: text(judged.Scanner)},
		Notes: append(append([]string{}, r.Notes...), opt.Notes...),
	}
	for _, m := range judged.Marks {
		j := Judge{Judge: text(m.Judge), Finding: text(m.Finding)}
		if m.Range != nil && finite(m.Range.Lo) && finite(m.Range.Hi) {
			v := *m.Range
			j.Range = &v
		}
		out.Judges = append(out.Judges, j)
	}
	if r.Base >= 0 {
		name := fileName(r.Frames[r.Base].File)
		out.Base = &name
	} else {
		out.Notes = append(out.Notes, "No frame stands at stop 0: bands, casts and noise need a base frame and are not measured.")
	}
	for i := range r.Frames {
		out.Frames = append(out.Frames, frame(r, i))
	}
	out.response(r)
	out.Limits = r.Limits()
	if opt.Limits != nil {
		out.Limits = *opt.Limits
	}
	out.Patches, out.Range.Reasons, out.Finding = []Patch{}, []string{}, []string{}
	out.comparison(r)
	out.patches(r)
	slices.SortStableFunc(out.Frames, func(a, b Frame) int {
		switch {
		case a.Stop == nil && b.Stop == nil:
			return 0
		case a.Stop == nil:
			return 1
		case b.Stop == nil:
			return -1
		case *a.Stop < *b.Stop:
			return -1
		case *a.Stop > *b.Stop:
			return 1
		}
		return 0
	})
	out.Assumptions = Assumptions(r)
	return out
}

// number keeps NaN and infinities out of the document, with a reason.
func (f *Frame) number(what string, v float64) *float64 {
	if !f.finiteAll(what, v) {
		return nil
	}
	return &v
}

func (f *Frame) finiteAll(what string, v ...float64) bool {
	for _, x := range v {
		if !finite(x) {
			f.Notes = append(f.Notes, fmt.Sprintf("The value of %s is not a number and was left out.", what))
			return false
		}
	}
	return true
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// text returns nil for the empty string.
func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// fileName returns the last element of a path in either notation.
func fileName(path string) string {
	return path[strings.LastIndexAny(path, `/\`)+1:]
}
