package ui

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"fyne.io/fyne/v2"

	"stopladder/analysis/judge/roll"
	"stopladder/ui/chip"
	"stopladder/ui/session"
	"stopladder/ui/settings"
)

func TestRollsStayOpenAsTabs(t *testing.T) {
	a, b := folder(t, "-1.tif", "0.tif", "+1.tif"), folder(t, "-2.tif", "0.tif")
	w := open(t, Options{Paths: []string{a, b}, Home: t.TempDir()})
	settled(t, w)
	for len(w.tabs.all) < 2 {
		pump(w)
	}
	settled(t, w)
	if n := len(w.state.Roll().Frames); n != 3 || len(w.tabs.all) != 2 || !w.tabs.object.Visible() {
		t.Fatalf("two folders: %d frames in front, %d tabs", n, len(w.tabs.all))
	}
	w.cmds.Find("next-roll").Do()
	settled(t, w)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyB})
	w.apply(session.SetLayout{Layout: session.Pair})
	w.cmds.Find("next-roll").Do()
	if n := len(w.state.Roll().Frames); n != 3 || w.state.Unsaved() || w.state.Layout() != session.One {
		t.Fatalf("the first roll: %d frames, unsaved %v", n, w.state.Unsaved())
	}
	if d := w.cmds.Find("undo").Blocked(); d == "" {
		t.Error("what was done to the other roll can be taken back here")
	}
	settled(t, w)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyS})
	first := w.state.Roll()
	w.openPaths([]string{b}) // open already
	for len(w.state.Roll().Frames) == 3 {
		pump(w)
	}
	if len(w.tabs.all) != 2 || w.state.Layout() != session.Pair || w.state.Undoes() == "" {
		t.Errorf("turned back: %d tabs, layout %d, undo %q", len(w.tabs.all), w.state.Layout(), w.state.Undoes())
	}
	if done, all := w.state.Read(); done != all {
		t.Errorf("turned back: %d of %d scans are read; they were before", done, all)
	}
	w.cmds.Find("close-roll").Do() // asks: a verdict was given
	if len(w.tabs.all) != 2 {
		t.Fatal("a roll with marks was closed without a question")
	}
	w.giveAnswer(t, "Close the roll without saving")
	if len(w.tabs.all) != 1 || w.state.Roll() != first || w.tabs.object.Visible() {
		t.Errorf("after closing: %d tabs, the same roll %v", len(w.tabs.all), w.state.Roll() == first)
	}
}

// giveAnswer gives an answer on the card that is open.
func (w *Window) giveAnswer(t *testing.T, text string) {
	t.Helper()
	card, ok := w.dialog.(interface{ Answer(string) *chip.Chip })
	if !ok || card.Answer(text) == nil {
		t.Fatalf("no card with the answer %q", text)
	}
	card.Answer(text).OnTap()
}

func TestRollsNotShownLetGo(t *testing.T) {
	w := open(t, Options{})
	for n := range keptRolls + 2 {
		w.openPaths([]string{folder(t, "-1.tif", "0.tif")})
		for w.state.Empty() || len(w.tabs.all) <= n {
			pump(w)
		}
		settled(t, w)
	}
	settled(t, w)
	kept := 0
	for _, o := range w.tabs.all {
		if o.parked != nil && o.parked.Measured() {
			kept++
		}
	}
	if len(w.tabs.all) != keptRolls+2 || kept != keptRolls {
		t.Errorf("%d tabs, of those not shown %d keep what was read, want %d", len(w.tabs.all), kept, keptRolls)
	}
	w.bring(w.tabs.all[0])
	settled(t, w)
	if w.state.Frame(0).Look == nil {
		t.Error("a roll that was let go is not read again when it is shown")
	}
}

func TestWindowComesBackAsItWasLeft(t *testing.T) {
	home, a, b := t.TempDir(), folder(t, "-1.tif", "0.tif", "+1.tif"), folder(t, "-2.tif", "0.tif")
	w := open(t, Options{Paths: []string{a}, Home: home})
	settled(t, w)
	path := filepath.Join(a, "yard.stopladder")
	w.saveTo(path, nil)
	w.openPaths([]string{b})
	for len(w.state.Roll().Frames) != 2 {
		pump(w)
	}
	settled(t, w)
	w.cmds.Find("last-roll").Do()
	w.apply(session.Go{Frame: 2})
	w.apply(session.SetLayout{Layout: session.Edge})
	w.apply(session.TogglePanel{Panel: session.BandsPanel})
	w.desk.share = 0.4
	settled(t, w)
	// Killed: nothing is closed in order; what was written by itself must do.
	name := filepath.Join(home, "settings.json")
	end := time.Now().Add(20 * time.Second)
	for !slices.ContainsFunc(settings.Load(home).Rolls, func(r settings.Roll) bool { return r.Panel == "bands" && r.Layout == int(session.Edge) }) {
		pump(w)
		if time.Now().After(end) {
			text, _ := os.ReadFile(name)
			t.Fatalf("not written: %s", text)
		}
	}
	w.endJournal()

	again := open(t, Options{Home: home})
	settled(t, again)
	if len(again.tabs.all) != 2 || again.state.Roll().Path() != path {
		t.Fatalf("came back with %d rolls, %q in front", len(again.tabs.all), again.state.Roll().Path())
	}
	if again.state.Current() != 2 || again.state.Layout() != session.Edge || again.state.Panel() != session.BandsPanel || again.desk.share != 0.4 {
		t.Errorf("came back with the marker at %d, layout %d, page %q, ladder %g", again.state.Current(), again.state.Layout(), again.state.Panel(), again.desk.share)
	}
}

func TestUnsavedWorkComesBackInItsTab(t *testing.T) {
	home, a := t.TempDir(), folder(t, "-1.tif", "0.tif", "+1.tif")
	w := open(t, Options{Paths: []string{a}, Home: home})
	settled(t, w)
	path := filepath.Join(a, "yard.stopladder")
	w.saveTo(path, nil)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyB})
	end := time.Now().Add(20 * time.Second)
	for r := settings.Load(home).Rolls; len(r) != 1 || r[0].Paths[0] != path; r = settings.Load(home).Rolls {
		if pump(w); time.Now().After(end) {
			t.Fatalf("the settings name %v, not the roll file that was saved", r)
		}
	}
	settled(t, w)
	w.endJournal() // the copy stays, as after a kill
	again := open(t, Options{Home: home})
	settled(t, again)
	if len(again.recovered) != 1 {
		t.Fatalf("%d recovered rolls are offered", len(again.recovered))
	}
	again.recovered[0].Actions[0].Run()
	settled(t, again)
	i := again.state.Base()
	if len(again.tabs.all) != 1 || !again.state.Unsaved() || again.state.Roll().Frames[i].Verdict != roll.Breaks {
		t.Errorf("taken up: %d tabs, unsaved %v, verdict %q", len(again.tabs.all), again.state.Unsaved(), again.state.Roll().Frames[i].Verdict)
	}
}

func TestPathsArePartedByRoll(t *testing.T) {
	dir, other := folder(t, "0.tif", "+1.tif"), t.TempDir()
	file := filepath.Join(other, "x.stopladder")
	got := rollsOf([]string{filepath.Join(dir, "0.tif"), other, filepath.Join(dir, "+1.tif"), file})
	want := [][]string{{filepath.Join(dir, "0.tif"), filepath.Join(dir, "+1.tif")}, {other}, {file}}
	if !slices.EqualFunc(got, want, slices.Equal[[]string]) {
		t.Errorf("%v, want %v", got, want)
	}
}
