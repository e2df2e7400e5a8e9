package ui

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/ui/session"
)

// compared waits until the roll is measured to the end.
func compared(t *testing.T, w *Window) {
	t.Helper()
	settled(t, w)
	for until := time.Now().Add(2 * time.Minute); w.state.Film().Comparison == nil; pump(w) {
		if time.Now().After(until) {
			t.Fatal("the roll was not compared")
		}
	}
}

// One roll that is measured once, looked at in many ways.
func TestOneRollInManyWays(t *testing.T) {
	w := open(t, Options{Demo: "negative"})
	compared(t, w)
	for _, c := range []struct {
		name string
		look func(t *testing.T, w *Window)
	}{{"pages", pagesOpen}, {"difference", differenceIsShown}, {"masks keep their pointers", masksStay},
		{"dragged marker", draggedMarker}, {"three side by side", threeSideBySide}, {"costs on the ladder", costsOnTheLadder}, {"pocket card", pocketCard}, {"blind judging", judgedBlind}} {
		t.Run(c.name, func(t *testing.T) {
			w.apply(session.SetLayout{})
			w.apply(session.Go{Frame: w.state.Base()})
			pump(w)
			c.look(t, w)
			for w.state.Undoes() != "" {
				w.apply(session.Undo{})
			}
		})
	}
}

func key(w *Window, names ...fyne.KeyName) {
	for _, n := range names {
		w.typedKey(&fyne.KeyEvent{Name: n})
	}
}

// Each key opens its page beside the pictures, again closes it.
func pagesOpen(t *testing.T, w *Window) {
	w.apply(session.Step{Frames: 1})
	for k, want := range map[fyne.KeyName]session.Panel{fyne.KeyR: session.ReadingsPanel, fyne.KeyK: session.BandsPanel, fyne.KeyQ: session.PatchesPanel,
		fyne.KeyE: session.CorrectionPanel, fyne.KeyW: session.SalvagePanel} {
		key(w, k)
		if w.state.Panel() != want || !w.side.object.Visible() || w.side.stack.Objects[0] != w.side.pages[want].Content() {
			t.Errorf("%s opened %q", k, w.state.Panel())
		}
		key(w, k)
		if w.state.Panel() != session.NoPanel || w.side.object.Visible() {
			t.Errorf("%s again left %q", k, w.state.Panel())
		}
	}
	key(w, fyne.KeyC)
	if w.stage.Objects[0] != w.curve.Content() {
		t.Error("C does not show the curve")
	}
	key(w, fyne.KeyC)
	if w.stage.Objects[0] != fyne.CanvasObject(w.pictures.group) {
		t.Error("C again does not show the pictures")
	}
	for _, id := range []string{"blown", "blocked", "noisy", "lost"} {
		if c := w.chips[id]; len(c) == 0 || !strings.Contains(c[0].Text, "%") {
			t.Errorf("no share on the chip of %s", id)
		}
	}
}

// The difference that the state names is what the pictures show; one kind takes the
// other's place.
func differenceIsShown(t *testing.T, w *Window) {
	w.cmds.Find("difference-colour").Do()
	if on, against := w.pictures.group.Difference(); !on || against != w.pictures.baseID() || !w.cmds.Find("difference-colour").Checked() || w.cmds.Find("difference").Checked() {
		t.Error("the difference in colour is not shown")
	}
	key(w, fyne.KeyD)
	if !w.cmds.Find("difference").Checked() {
		t.Error("one kind of difference does not take the other's place")
	}
	key(w, fyne.KeyD)
	if on, _ := w.pictures.group.Difference(); on {
		t.Error("still shown")
	}
}

// What is drawn through the same correction, mask or film is one pointer: else every
// change would develop every picture anew.
func masksStay(t *testing.T, w *Window) {
	p := w.pictures
	w.apply(session.Go{Frame: 0})
	w.apply(session.SetNoisyLimit{Limit: 0.6, Done: true})
	if p.noisyMask(0) != nil {
		t.Error("a mask of its own where the reading has it")
	}
	w.apply(lift)
	m := p.noisyMask(0)
	if m == nil || m != p.noisyMask(0) {
		t.Error("no mask, or another each time, through the lift")
	}
	a, _ := p.adjust(0)
	b, _ := p.adjust(1)
	if a == nil || a != b {
		t.Error("one correction of all frames is two")
	}
	w.apply(session.SetVerdict{Frame: 1, Verdict: roll.Holds})
	if again, _ := p.adjust(0); again != a || p.noisyMask(0) != m {
		t.Error("a verdict makes other corrections and masks")
	}
	if l := p.lostMask(0); l == nil || l != p.lostMask(0) || p.lostMask(w.state.Base()) != nil {
		t.Error("no mask of what is lost, or another each time, or one of the base frame")
	}
}

// A marker that is dragged goes on showing pictures between the frames: what is on its
// way is not thrown away by the next position, frames are passed like what lies between
// them, and at rest near one it stands on it.
func draggedMarker(t *testing.T, w *Window) {
	b := w.state.Roll().Frames[w.state.Base()].Stop
	w.apply(session.Slide{Stop: b + 0.4})
	if _, _, on := w.pictures.group.Between(); !on {
		t.Fatal("no picture between the frames")
	}
	ended := 0
	for _, d := range []float64{0.45, 0.8, 1, 1.2, 1.6} {
		w.apply(session.Slide{Stop: b + d})
		if _, _, on := w.pictures.group.Between(); !on {
			ended++
		}
	}
	if lo, hi, _ := w.pictures.group.Between(); ended > 1 || lo == hi { // exactly on a frame it may be the frame itself
		t.Errorf("ended %d times on the way", ended)
	}
	w.apply(session.Slide{Stop: b + 1.01})
	w.apply(session.Settle{})
	if _, _, on := w.pictures.group.Between(); on || w.state.Marker() != b+1 {
		t.Errorf("at rest the marker stands at %g, between frames: %v", w.state.Marker(), on)
	}
}

// The base frame, the scan and what salvage makes of it stand side by side, and
// follow the marker; on the base frame there are two.
func threeSideBySide(t *testing.T, w *Window) {
	p := w.pictures
	at := slices.IndexFunc(w.state.Roll().Frames, func(f roll.Frame) bool { return f.Stop == -2 })
	w.apply(session.Go{Frame: at})
	key(w, fyne.Key4)
	if w.state.Layout() != session.Beside {
		t.Fatalf("4 shows %v", w.state.Layout())
	}
	for _, i := range []int{at, at + 1} {
		w.apply(session.Go{Frame: i})
		file := w.state.Roll().Frames[i].File
		want := []int{p.baseID(), p.id(file + asScanned), p.id(file)}
		if got := p.group.InSight(); !slices.Equal(got, want) {
			t.Errorf("in sight %v, want %v", got, want)
		}
		if p.fileOf(want[1]) != file {
			t.Errorf("the scan beside is of %q", p.fileOf(want[1]))
		}
	}
	w.apply(session.Go{Frame: w.state.Base()})
	if got := p.group.InSight(); len(got) != 2 {
		t.Errorf("on the base frame %v", got)
	}
	key(w, fyne.Key1)
	if got := p.group.InSight(); len(got) != 1 {
		t.Errorf("back at one picture %v", got)
	}
}

// The costs stand on the ladder, and a limit that is moved is told in the status line.
func costsOnTheLadder(t *testing.T, w *Window) {
	key(w, fyne.KeyM)
	if !w.state.OnLadder() || !w.cmds.Find("costs").Checked() {
		t.Error("M shows no costs")
	}
	w.status.hint("")
	w.apply(session.SetLimit{Criterion: criteria.LostArea, Holds: true, Value: 0.05, Done: true})
	if !strings.Contains(w.status.text.Text, "stops") {
		t.Errorf("told: %q", w.status.text.Text)
	}
	key(w, fyne.KeyM)
	if w.state.OnLadder() {
		t.Error("M again leaves the costs")
	}
}

// All frames at once stand over above under as on the ladder, also when they are asked
// for while they are being read.
func TestGridWhileReading(t *testing.T) {
	w := open(t, Options{Paths: []string{folder(t, "-1.tif", "0.tif", "+1.tif")}})
	for w.state.Empty() {
		pump(w)
	}
	key(w, fyne.Key3)
	settled(t, w)
	var want []int
	for _, f := range w.state.Roll().Frames {
		want = slices.Insert(want, 0, w.pictures.id(f.File))
	}
	if got := w.pictures.group.InSight(); !slices.Equal(got, want) {
		t.Errorf("in sight %v, want %v", got, want)
	}
}

// lift raises the shadows of all frames.
var lift = session.Correct{What: "Shadow lift", Done: true, Set: func(v *correction.Settings) { v.Lift = 3 }}
