package ui

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/ui/session"
)

// Scans that lie in the folder from the last frame to the first, with a plan beside
// them: the pictures contradict the order, and one click labels them the other way
// round; undo takes it back.
func TestMatchingIsHeldAgainstThePictures(t *testing.T) {
	dir := t.TempDir()
	paths, err := simulate.WriteDemo(context.Background(), dir, simulate.WriteOptions{Kind: "negative", Size: 700})
	if err != nil {
		t.Fatal(err)
	}
	stops := simulate.DefaultStops()
	if len(paths) != len(stops) {
		t.Fatalf("%d files for %d stops", len(paths), len(stops))
	}
	name := func(k int) string { return filepath.Join(dir, fmt.Sprintf("img_%04d.tif", k)) }
	for i := range paths { // the most exposed first
		if err := os.Rename(paths[i], name(len(paths)-i)); err != nil {
			t.Fatal(err)
		}
	}
	f, err := plan.New(plan.Form{Meter: "EV 12", ISO: "100", Camera: "electronic shutter 30 s - 1/4000, thirds", From: "-3", To: "+4", Step: "1", Order: "under-over"}, plan.Generic())
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Save(filepath.Join(dir, "roll.ladderplan")); err != nil {
		t.Fatal(err)
	}
	w := open(t, Options{Paths: []string{dir}})
	compared(t, w)
	stop := func(k int) float64 { return w.state.Roll().Frames[w.state.Index(name(k))].Stop }
	if stop(1) != -3 || w.state.Roll().Frames[0].Origin != roll.FromPlan {
		t.Fatalf("img_0001 is labelled %g", stop(1))
	}
	var offer *session.Notice
	for until := time.Now().Add(30 * time.Second); offer == nil; pump(w) {
		for _, n := range w.state.Notices() {
			if n.ID == "finding matching" {
				offer = &n
			}
		}
		if time.Now().After(until) {
			t.Fatal("no other matching was offered")
		}
	}
	if !strings.Contains(offer.Text, "from its last frame to its first") {
		t.Errorf("offered: %s", offer.Text)
	}
	w.act(offer.Actions[0])
	if stop(1) != 4 || stop(8) != -3 || w.state.Roll().Frames[0].Origin != roll.FromPlan {
		t.Errorf("labelled %g to %g", stop(1), stop(8))
	}
	got := w.state.Undoes()
	w.apply(session.Undo{})
	if got != "matching by the plan" || stop(1) != -3 {
		t.Errorf("undid %q, img_0001 is labelled %g", got, stop(1))
	}
}
