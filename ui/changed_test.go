package ui

import (
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2/test"

	"stopladder/analysis/judge/roll"
	"stopladder/ui/session"
)

// Another judge saved the roll meanwhile: Ctrl+S writes nothing unasked, and neither
// judge's marks are lost whichever way the question is answered.
func TestChangedOnDisk(t *testing.T) {
	for _, keep := range []string{"theirs", "mine", "cancel"} {
		dir := folder(t, "-1.tif", "0.tif", "+1.tif")
		path := filepath.Join(dir, "a.stopladder")
		w := open(t, Options{Paths: []string{dir}})
		settled(t, w)
		w.saveTo(path, nil)
		other, _, err := roll.Load(path)
		if err != nil {
			t.Fatal(err)
		}
		other.Frames[0].Verdict, other.Frames[0].Note = roll.Breaks, "their mud"
		if err := other.Save(path); err != nil {
			t.Fatal(err)
		}
		before, _ := os.ReadFile(path)
		w.apply(session.SetVerdict{Frame: 1, Verdict: roll.Holds})
		went := false
		w.save(func() { went = true })
		if now, _ := os.ReadFile(path); string(now) != string(before) || went {
			t.Fatal("the other judge's work was written over unasked")
		}
		if w.changed == nil {
			t.Fatal("nothing was asked")
		}
		aside := filepath.Join(dir, "a.other.stopladder")
		load := func(p string) *roll.Roll {
			r, _, err := roll.Load(p)
			if err != nil {
				t.Fatal(keep, err)
			}
			return r
		}
		switch keep {
		case "theirs":
			test.Tap(w.changed.Answer("Keep theirs"))
			if load(path).Frames[0].Note != "their mud" || load(aside).Frames[1].Verdict != roll.Holds || w.state.Roll().Frames[0].Note != "their mud" || w.state.Unsaved() || !went {
				t.Error("theirs was not kept")
			}
		case "mine":
			test.Tap(w.changed.Answer("Keep mine"))
			if load(path).Frames[1].Verdict != roll.Holds || load(aside).Frames[0].Note != "their mud" || w.state.Unsaved() || !went {
				t.Error("mine was not kept")
			}
			w.apply(session.SetVerdict{Frame: 2, Verdict: roll.Holds})
			w.save(nil)
			if load(path).Frames[2].Verdict != roll.Holds || load(aside).Frames[0].Note != "their mud" {
				t.Error("the save after that asks again, or loses the other's work")
			}
		case "cancel":
			test.Tap(w.changed.Answer("Cancel"))
			if !w.state.Unsaved() || went {
				t.Error("cancelled, and yet gone on")
			}
		}
		settled(t, w)
	}
}
