package session

import (
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/sheet"
)

// Report returns all readings of the roll; version is that of the program.
func (s *State) Report(version string) *report.Report {
	return report.Build(s.film, report.Options{Version: version})
}

// Sheet returns what the sheet shows, its pictures as they are looked at; program is its
// name and version.
func (s *State) Sheet(program string) sheet.Input { return sheet.FromRoll(s.film, s.Look(), program) }
