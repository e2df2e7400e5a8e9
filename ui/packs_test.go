package ui

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
	"stopladder/ui/session"
)

// A roll goes out as a pack, is judged in a friend's window, and the answer stands beside
// the sender's marks.
func TestSecondOpinion(t *testing.T) {
	dir := folder(t, "-1.tif", "0.tif", "+1.tif")
	a := open(t, Options{Paths: []string{dir}})
	settled(t, a)
	for i := range a.state.Roll().Frames {
		a.apply(session.SetVerdict{Frame: i, Verdict: roll.Holds})
	}
	a.named("Ada")
	file := filepath.Join(dir, "test.stopladder")
	a.saveTo(file, nil)
	sent := filepath.Join(t.TempDir(), "test.ladderpack")
	a.pack(sent, false)
	settled(t, a)
	if _, err := os.Stat(sent); err != nil {
		t.Fatal(err, a.said())
	}

	b := open(t, Options{Paths: []string{sent}})
	settled(t, b)
	r := b.state.Roll()
	if len(r.Frames) != 3 || r.Previews() != 3 || r.Judged() != 0 || b.state.Panel() != session.OpinionsPanel || b.state.Opinions("").Hidden != 1 {
		t.Fatalf("%+v, page %q", r, b.state.Panel())
	}
	if said := labelsBelow(b.side.pages[session.OpinionsPanel].Content()); strings.Contains(said, "agree") || !strings.Contains(said, "hidden until you are done") || !strings.Contains(said, "Light previews") {
		t.Errorf("the page says %q", said)
	}
	if said := b.said(); !strings.Contains(said, "light previews") {
		t.Errorf("nothing says that these are previews: %q", said)
	}
	back := filepath.Join(t.TempDir(), "back.ladderpack")
	if _, _, err := pack.Reply(r, "1", ""); err == nil {
		t.Error("an answer before the judging is done")
	}
	for i := range r.Frames {
		b.apply(session.SetVerdict{Frame: i, Verdict: roll.Strains})
	}
	b.named("Ben")
	b.apply(session.EndSitting{Day: "2026-11-30"})
	if said := labelsBelow(b.side.pages[session.OpinionsPanel].Content()); !strings.Contains(said, "agree") {
		t.Errorf("done, the page says %q", said)
	}
	m, members, err := pack.Reply(b.state.Roll(), "1", "")
	if err != nil {
		t.Fatal(err)
	}
	out, err := os.Create(back)
	if err != nil {
		t.Fatal(err)
	}
	if err := pack.Write(t.Context(), out, m, members); err != nil {
		t.Fatal(err)
	}
	out.Close()

	// The answer finds the roll that it is of.
	a.openPaths([]string{back})
	idle(a)
	got := opinion.Given(a.state.Roll())
	if len(got) != 1 || got[0].Judge != "Ben" || a.state.Roll().Judged() != 3 || a.state.Roll().Frames[0].Verdict != roll.Holds || !a.state.Unsaved() {
		t.Fatalf("%+v", a.state.Roll())
	}
	if !opinion.Hidden(a.state.Roll()) {
		t.Error("the friend's marks are shown before the sender is done")
	}
	a.openPaths([]string{back})
	idle(a)
	if len(opinion.Given(a.state.Roll())) != 1 {
		t.Error("the same answer stands there twice")
	}
	a.saveTo(file, nil)
	if now, _, err := roll.Load(file); err != nil || len(opinion.Given(now)) != 1 || now.Judged() != 3 {
		t.Error(err)
	}

	// Without the roll there is nothing to take it into.
	c := open(t, Options{})
	c.openPaths([]string{back})
	idle(c)
	if !c.state.Empty() {
		t.Error("an answer was opened as a roll")
	}
}

// What is no pack is told, and leaves nothing.
func TestNoPack(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.ladderpack")
	if err := os.WriteFile(path, []byte("PK\x03\x04 and nothing"), 0o600); err != nil {
		t.Fatal(err)
	}
	w := open(t, Options{Paths: []string{path}})
	idle(w)
	if list, _ := os.ReadDir(filepath.Dir(path)); !w.state.Empty() || len(list) != 1 {
		t.Error("something came of what is no pack")
	}
}

// idle waits until the window has nothing to open any more.
func idle(w *Window) {
	for pump(w); w.chores.Busy(); {
		pump(w)
	}
	pump(w)
}
