package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
)

func hasResponse(in Input) bool { return in.Response != nil && in.Response.Curve != nil }

// Stops returns the stops of the frames, labelled and measured, the most exposed first; a
// frame whose picture contradicts its label is strong. Without rows where nothing was
// measured.
func (in Input) Stops() row.Section {
	out := row.Section{Title: "Stops, labelled and measured", Heads: []string{"measured", "error", "off label"}}
	if in.Response == nil {
		return out
	}
	fs := slices.Clone(in.Response.Frames)
	slices.SortStableFunc(fs, func(a, b plot.Frame) int { return cmp.Compare(b.Stop, a.Stop) })
	if !slices.ContainsFunc(fs, func(f plot.Frame) bool { return f.Measured != nil }) {
		return out
	}
	for _, f := range fs {
		name, measured, stderr, off := f.Name, row.None, "", ""
		if name == "" && f.Labelled {
			name = stops.Label(f.Stop)
		}
		if f.Measured != nil && finite(*f.Measured) {
			measured = number.Signed(*f.Measured, 2)
			if f.Error != nil && finite(*f.Error) {
				stderr = fmt.Sprintf("± %.2f", *f.Error)
			}
		}
		r := row.Row{Name: name}
		if v, ok := f.Off(); ok && math.Abs(v) > row.MeasuredTolerance {
			off, r.Strong = number.Signed(v, 2), math.Abs(v) > response.LabelLimit
		}
		r.Values = []string{measured, stderr, off}
		out.Rows = append(out.Rows, r)
	}
	return out
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
