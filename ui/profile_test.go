package ui

import (
	"strings"
	"testing"
)

// The word on scans without a profile is given in the menu, read anew, kept in the
// roll and taken back by undo.
func TestScansWithoutProfile(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "0.tif", "+1.tif")}})
	settled(t, w)
	was := w.state.Frame(0).Look.Space.Name()
	w.cmds.Find("assume-Linear sRGB").Do()
	settled(t, w)
	if got := w.state.Frame(0).Look.Space.Name(); w.state.Roll().AssumedProfile != "Linear sRGB" || !strings.Contains(got, "Linear") {
		t.Errorf("%q in the roll, %q in the look (before: %q)", w.state.Roll().AssumedProfile, got, was)
	}
	w.cmds.Find("undo").Do()
	settled(t, w)
	if got := w.state.Frame(0).Look.Space.Name(); w.state.Roll().AssumedProfile != "" || got != was {
		t.Errorf("after undo %q, %q", w.state.Roll().AssumedProfile, got)
	}
}
