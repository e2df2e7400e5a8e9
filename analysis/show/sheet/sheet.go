// Package sheet gathers what a page of a roll says: title, frames, response, costs, range,
// finding, and in whole sentences all that its figures rest on. Package plate lays it out.
package sheet

import (
	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
)

// Frame is one frame of the sheet.
type Frame struct {
	Data *row.Data
	// Shown says how the picture is shown where it is not as scanned, a few words.
	Shown string
	// Origin says where the label came from; "" is not said on the sheet.
	Origin roll.Origin
}

// Input is what a sheet shows. Empty words are left out.
type Input struct {
	Title, Stock, Exposure, Judge, Date string

	Range    *roll.Range      // the judge's; nil when not marked
	Measured *latitude.Result // what the criteria give; nil when not measured

	Frames []Frame

	// Response has a place when a response was measured; nil or without a curve it has
	// none.
	Response *plot.Data
	// Finding is what the roll comes to, measured and in the judge's words.
	Finding row.Finding
	// Salvage is nil where nothing was measured.
	Salvage *Salvage
	// Patches without rows have no place.
	Patches row.Section
	// Correction is the view correction of all frames in words, which the pictures are
	// shown with; "" shows the scans as they are.
	Correction string
	// Conditions say in whole sentences what the roll told of itself: whether the
	// frames are registered, their stops measured, the scans fixed. The foot
	// begins with it.
	Conditions []string

	// Notes are assumptions and remarks besides those that are found in the
	// frames' own readings.
	Notes   []string
	Program string // name and version, for the foot
}

// FromRoll returns what the sheet of a measured roll shows, its frames as they are
// looked at. program is name and version, for the foot.
func FromRoll(r *film.Roll, look render.Shown, program string) Input {
	judged := r.Judged
	in := Input{Title: judged.Called(), Stock: judged.Stock, Exposure: judged.Exposure, Date: judged.Date, Program: program,
		Notes: r.Notes, Conditions: conditions(r), Salvage: salvageOf(r), Patches: row.PatchSection(r), Finding: row.FindingOf(r)}
	if len(judged.Marks) > 0 {
		in.Judge, in.Range = judged.Marks[0].Judge, judged.Marks[0].Range
	}
	if r.Response != nil && r.Response.Curve != nil {
		d := plot.Of(r)
		in.Response = &d
	}
	if in.Salvage != nil {
		in.Measured = in.Salvage.Range
	}
	if v := judged.View; v != nil && !v.IsZero() && look.Corrected {
		in.Correction = v.Words()
	}
	for i, d := range row.Of(r, nil) {
		f := Frame{Data: d, Origin: judged.Frames[i].Origin}
		if d.Look != nil {
			own, all, words := look.Of(r, i)
			c := render.Corrected(own, all)
			if c != nil || look.Grade != "" {
				f.Shown = words
			}
		}
		in.Frames = append(in.Frames, f)
	}
	return in
}
