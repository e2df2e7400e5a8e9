package session

import (
	"stopladder/analysis/scan"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/stills"
)

// Report returns all readings of the roll; version is that of the program.
func (s *State) Report(version string) *report.Report {
	return report.Build(s.film, report.Options{Version: version})
}

// Stills plans the stills of the roll as it is now. The error is one sentence.
func (s *State) Stills(o stills.Options) (*stills.Set, error) { return stills.New(s.film, o) }

// Sheet returns the sheet of the roll, its pictures as they are looked at; program is its
// name and version, open opens a frame's scan in its full resolution (nil: the previews are
// all there is).
func (s *State) Sheet(program string, open func(frame int) (scan.Source, error)) *publish.Sheet {
	return &publish.Sheet{Roll: s.film, Shown: s.Look(), Software: program, Open: open}
}
