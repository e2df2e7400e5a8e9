package ui

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/judge/roll"
	"stopladder/ui/session"
)

// monkey drives a window at random: keys, commands, pointer, sizes. What it does follows
// from its seed, but for when workers hand back what they did.
type monkey struct {
	*rand.Rand
	w      *Window
	done   []string // the last of what it did, for whoever reads a failure
	visits int      // to views of their own
	seen   map[string]bool
}

// views are what a random command seldom opens: the monkey goes to each in turn, and drives
// what it finds there.
var views = []string{"opinions", "blind", "pocket", "sheet", "stills", "shelf", "plan", "pack", "report", "manual", "labels", "finding"}

// visitEvery is after how many steps it goes to the next.
const visitEvery = 30

// visit opens the next view, over whatever was open.
func (m *monkey) visit() {
	c := m.w.win.Canvas()
	for n := 0; c.Overlays().Top() != nil && n < 8; n++ {
		m.w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	}
	for c.Overlays().Top() != nil {
		c.Overlays().Remove(c.Overlays().Top())
	}
	id := views[m.visits%len(views)]
	m.visits++
	cmd := m.w.cmds.Find(id)
	m.note("visit " + id)
	if cmd.Enabled != nil && !cmd.Enabled() {
		return
	}
	if id == "blind" {
		m.w.apply(session.BeginBlind{Day: "2026-11-30", Times: 2, Seed: m.Uint64()})
		m.w.runBlind()
	} else {
		cmd.Run()
	}
	m.seen[id] = true
}

// window returns one of those that are open, the main one most often.
func (m *monkey) window() fyne.Window {
	all := []fyne.Window{m.w.win, m.w.win}
	if s := m.w.rolls; s != nil && !s.Closed() {
		all = append(all, s.Window())
	}
	if p := m.w.planner; p != nil && !p.Closed() {
		all = append(all, p.Window())
	}
	return all[m.IntN(len(all))]
}

// monkeyKeys are the keys that commands have, and those that dialogs and entries know.
func monkeyKeys(w *Window) (keys []fyne.KeyName) {
	for _, c := range w.cmds {
		for _, k := range c.Keys {
			if !k.Ctrl {
				keys = append(keys, k.Name)
			}
		}
	}
	for range 4 { // these lead out again
		keys = append(keys, fyne.KeyEscape, fyne.KeyReturn, fyne.KeyTab, fyne.KeyLeft, fyne.KeyRight, fyne.KeyUp, fyne.KeyDown)
	}
	return append(keys, fyne.KeyBackspace, fyne.KeyDelete, fyne.KeyHome, fyne.KeyEnd, fyne.KeyPageUp, fyne.KeyPageDown, fyne.KeySpace)
}

func (m *monkey) note(what string) {
	m.done = append(m.done, what)
	if len(m.done) > 30 {
		m.done = m.done[1:]
	}
}

// step does one thing and runs what comes of it.
func (m *monkey) step(keys []fyne.KeyName) {
	win := m.window()
	c := win.Canvas()
	size := c.Size()
	at := fyne.NewPos(m.Float32()*size.Width, m.Float32()*size.Height)
	switch n := m.IntN(100); {
	case n < 45:
		m.press(win, keys[m.IntN(len(keys))])
	case n < 60:
		if c.Overlays().Top() != nil || win != m.w.win {
			m.press(win, fyne.KeyEscape)
			break
		}
		cmd := m.w.cmds[m.IntN(len(m.w.cmds))]
		m.note("command " + cmd.ID)
		if cmd.Enabled == nil || cmd.Enabled() {
			cmd.Run()
		}
	case n < 80:
		m.note("tap")
		if m.IntN(6) == 0 {
			test.TapSecondaryAt(tappedAt(c, at), at)
		} else {
			test.TapCanvas(c, at)
		}
	case n < 90:
		m.note("drag")
		test.Drag(c, at, (m.Float32()-0.5)*400, (m.Float32()-0.5)*400)
	case n < 96:
		m.note("scroll and move")
		test.Scroll(c, at, 0, (m.Float32()-0.5)*100)
		test.MoveMouse(c, at)
	default:
		m.note("size")
		win.Resize(fyne.NewSize(700+m.Float32()*1900, 500+m.Float32()*1000))
	}
	for {
		select {
		case f := <-queues[m.w]:
			f()
			continue
		default:
		}
		break
	}
}

// nowhere takes a tap that meets nothing.
type nowhere struct{}

func (nowhere) TappedSecondary(*fyne.PointEvent) {}

// tappedAt returns what a secondary tap at a place of the canvas meets.
func tappedAt(c fyne.Canvas, at fyne.Position) (hit fyne.SecondaryTappable) {
	hit = nowhere{}
	over := c.Content()
	if top := c.Overlays().Top(); top != nil {
		over = top
	}
	d := fyne.CurrentApp().Driver()
	for _, o := range test.LaidOutObjects(over) {
		if s, ok := o.(fyne.SecondaryTappable); ok && o.Visible() {
			p := d.AbsolutePositionForObject(o)
			if at.X >= p.X && at.Y >= p.Y && at.X < p.X+o.Size().Width && at.Y < p.Y+o.Size().Height {
				hit = s
			}
		}
	}
	return hit
}

// press sends a key as the driver does: to what has the keyboard, else to the window.
func (m *monkey) press(win fyne.Window, name fyne.KeyName) {
	m.note("key " + string(name) + " in " + win.Title())
	c := win.Canvas()
	ev := &fyne.KeyEvent{Name: name}
	f := c.Focused()
	if f != nil {
		if d, ok := f.(desktop.Keyable); ok {
			d.KeyDown(ev)
			defer d.KeyUp(ev)
		}
		if name == fyne.KeyTab {
			if t, ok := f.(fyne.Tabbable); !ok || !t.AcceptsTab() {
				c.FocusNext()
				return
			}
		}
		f.TypedKey(ev)
		if len(name) == 1 {
			f.TypedRune(rune(name[0]) + 'a' - 'A')
		}
		return
	}
	if name == fyne.KeyTab {
		c.FocusNext()
		return
	}
	if typed := c.OnTypedKey(); typed != nil {
		typed(ev)
	}
	if typed := c.OnTypedRune(); typed != nil && len(name) == 1 && c.Focused() == nil {
		typed(rune(name[0]) + 'a' - 'A')
	}
}

// asked returns a number of the environment, which makes a run longer than every build's.
func asked(t *testing.T, name string, or int) int {
	t.Helper()
	s := os.Getenv(name)
	if s == "" {
		return or
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatalf("%s is %q, not a number", name, s)
	}
	return n
}

// A window that is driven at random neither fails nor loses a mark: what is not saved when
// it dies is found again as it was. STOPLADDER_MONKEY is how many steps it takes,
// STOPLADDER_SEED which; make monkey drives it for an hour under the race detector.
func TestMonkey(t *testing.T) {
	steps, seed := asked(t, "STOPLADDER_MONKEY", 400), asked(t, "STOPLADDER_SEED", 1)
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Chdir(home) // where it saves what it is never told to save elsewhere
	w := open(t, Options{Paths: []string{folder(t, "-2.tif", "-1.tif", "0.tif", "+1.tif")}, Home: home})
	settled(t, w)
	m := &monkey{Rand: rand.New(rand.NewPCG(uint64(seed), 7)), w: w, seen: map[string]bool{}}
	defer func() { // what runs for the shelf would go on writing
		if w.rolls != nil && !w.rolls.Closed() {
			w.rolls.Window().Close()
		}
	}()
	defer func() {
		if r := recover(); r != nil {
			t.Errorf("seed %d: after %q", seed, m.done)
			panic(r)
		}
	}()
	keys := monkeyKeys(w)
	marks := 0
	for n := range steps {
		if n%visitEvery == visitEvery-1 {
			m.visit()
		}
		m.step(keys)
		if s := w.state; !s.Empty() {
			if i := s.Current(); i < 0 || i >= len(s.Roll().Frames) {
				t.Fatalf("seed %d, step %d: frame %d of %d is shown; after %q", seed, n, i, len(s.Roll().Frames), m.done)
			}
			if s.Unsaved() {
				marks++
			}
		}
	}
	if n := min(len(views), steps/visitEvery); len(m.seen) < n-1 { // one may be off where it comes by
		t.Errorf("it saw %d views, %v", len(m.seen), m.seen)
	}
	if marks == 0 && steps >= 400 {
		t.Error("it marked nothing: the run shows nothing")
	}
	survives(t, w, home)
}

// survives lets the window die and compares what the next session finds with what there was.
func survives(t *testing.T, w *Window, home string) {
	t.Helper()
	end := time.Now().Add(2 * backupDelay)
	for time.Now().Before(end) || w.runner.Busy() && time.Now().Before(end.Add(time.Minute)) {
		pump(w)
	}
	text := func(r *roll.Roll) string {
		path := filepath.Join(t.TempDir(), "a"+roll.Ext)
		if err := r.Clone().Save(path); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	var want []string
	for _, o := range w.tabs.all {
		if s := w.stateOf(o); s.Unsaved() && !s.Empty() {
			want = append(want, text(s.Roll()))
		}
	}
	w.endJournal()
	j, err := roll.OpenJournal(filepath.Join(home, "recovery"))
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	found, err := j.Orphans()
	if err != nil {
		t.Fatal(err)
	}
	have := map[string]bool{}
	for _, r := range found {
		have[text(r.Roll)] = true
	}
	for _, s := range want {
		if !have[s] {
			t.Errorf("%d rolls were not saved, %d are found again; lost is %s", len(want), len(found), s)
		}
	}
	t.Logf("%d of %d rolls were not saved and are found again", len(want), len(w.tabs.all))
}

// Rolls that are opened and closed leave nothing behind: memory after the last is as after
// the first few. STOPLADDER_ROLLS is how many.
func TestClosedRollsAreLetGo(t *testing.T) {
	n := asked(t, "STOPLADDER_ROLLS", 9)
	dirs := []string{folder(t, "-1.tif", "0.tif", "+1.tif"), folder(t, "-2.tif", "0.tif", "+2.tif")}
	w := open(t, Options{Home: t.TempDir()})
	var early uint64
	for i := range n {
		w.openPaths([]string{dirs[i%2]})
		settled(t, w)
		w.apply(session.Step{Frames: 1})
		pump(w)
		if !w.state.Unsaved() {
			w.cmds.Find("close-roll").Run()
		} else {
			t.Fatal("a roll that was only looked at is not saved")
		}
		pump(w)
		if !w.state.Empty() {
			t.Fatal("the roll is not closed")
		}
		runtime.GC()
		var mem runtime.MemStats
		runtime.ReadMemStats(&mem)
		switch {
		case i == 2:
			early = mem.HeapAlloc
		case i == n-1:
			t.Logf("%.1f MB after 3 rolls, %.1f after %d", float64(early)/1e6, float64(mem.HeapAlloc)/1e6, n)
			if mem.HeapAlloc > early+early/4+8e6 {
				t.Errorf("%.1f MB after 3 rolls, %.1f after %d", float64(early)/1e6, float64(mem.HeapAlloc)/1e6, n)
			}
		}
	}
}
