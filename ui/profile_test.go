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
	was := w.sess.Frame(0).Row.Look.Space.Name()
	w.cmds.Find("assume-Linear sRGB").Do()
	settled(t, w)
	if got := w.sess.Frame(0).Row.Look.Space.Name(); w.sess.Roll.AssumedProfile != "Linear sRGB" || !strings.Contains(got, "Linear") {
		t.Errorf("%q in the roll, %q in the look (before: %q)", w.sess.Roll.AssumedProfile, got, was)
	}
	w.cmds.Find("undo").Do()
	settled(t, w)
	if got := w.sess.Frame(0).Row.Look.Space.Name(); w.sess.Roll.AssumedProfile != "" || got != was {
		t.Errorf("after undo %q, %q", w.sess.Roll.AssumedProfile, got)
	}
}
