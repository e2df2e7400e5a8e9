package session

import (
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/sheet"
	"stopladder/analysis/show/stills"
)

// Report returns all readings of the roll; version is that of the program.
func (s *State) Report(version string) *report.Report {
	return report.Build(s.film, report.Options{Version: version})
}

// Stills plans the stills of the roll as it is now. The error is one sentence.
func (s *State) Stills(o stills.Options) (*stills.Set, error) { return stills.New(s.film, o) }

// Sheet returns what the sheet shows, its pictures as they are looked at; program is its
// name and version.
func (s *State) Sheet(program string) sheet.Input { return sheet.FromRoll(s.film, s.Look(), program) }
