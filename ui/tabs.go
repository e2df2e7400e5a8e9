package ui

import (
	"path/filepath"
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/render"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// openRoll is one of the rolls that are open. The one in front is shown: its state is the
// window's. The others are parked: what was begun for them goes on, but for the reading of
// scans, and what comes of it waits until they are in front again.
type openRoll struct {
	parked  *session.State // nil while in front
	runner  *session.Runner
	copies  *copies
	waiting []func()
	zoom    zoom
	turn    int // counts up each time it is put aside: the oldest is released first
}

// zoom is where the pictures of a roll were looked at.
type zoom struct {
	view render.View
	fit  bool
}

// keptRolls is how many rolls that are not in front keep what was read of them, so that
// turning back and forth takes no time. The previews of one take up to those of
// measure.FullFrames frames; the others are read again when they are shown.
const keptRolls = 2

// tabs are the open rolls in the order of their tabs; there is always one in front.
type tabs struct {
	all    []*openRoll
	front  *openRoll
	turns  int
	strip  *fyne.Container
	object fyne.CanvasObject
}

// newRoll returns a place for a roll, behind the one in front.
func (w *Window) newRoll() *openRoll {
	o := &openRoll{parked: session.New(w.state.Options()), copies: &copies{}, zoom: zoom{fit: true}}
	o.runner = session.NewRunner(func(f func()) {
		w.do(func() {
			if w.tabs.front == o {
				f()
			} else {
				o.waiting = append(o.waiting, f)
			}
		})
	}, w.apply)
	return o
}

// keepCopies begins to keep recovery copies of an open roll.
func (w *Window) keepCopies(o *openRoll) {
	if w.home == "" {
		return
	}
	j, err := roll.OpenJournal(filepath.Join(w.home, "recovery"))
	if err != nil {
		w.noJournal(err)
	}
	o.copies.journal = j
}

// stateOf returns the state of an open roll.
func (w *Window) stateOf(o *openRoll) *session.State {
	if o == w.tabs.front {
		return w.state
	}
	return o.parked
}

// bring shows an open roll, as it was left.
func (w *Window) bring(o *openRoll) {
	t := &w.tabs
	was := t.front
	if was == o || o == nil {
		return
	}
	w.holder.release()
	w.leaveEntry()
	w.cards.Hide()
	was.zoom = zoom{w.pictures.group.View(), w.pictures.group.Fitted()}
	was.parked = session.New(w.state.Options())
	w.runner.Follow(w.state.Apply(session.Park{Into: was.parked}))
	t.turns++
	was.turn = t.turns
	t.front, w.runner = o, o.runner
	from := o.parked
	o.parked = nil
	w.apply(session.Show{From: from})
	if !o.zoom.fit {
		w.pictures.group.SetView(o.zoom.view)
	}
	waiting := o.waiting
	o.waiting = nil
	for _, f := range waiting {
		f()
	}
	w.releaseOld()
	w.showTabs()
	w.keepSettings()
}

// releaseOld lets go of what was read of rolls that were not in front for long.
func (w *Window) releaseOld() {
	var kept []*openRoll
	for _, o := range w.tabs.all {
		if o.parked != nil && o.parked.Measured() {
			kept = append(kept, o)
		}
	}
	slices.SortFunc(kept, func(a, b *openRoll) int { return b.turn - a.turn })
	for _, o := range kept[min(keptRolls, len(kept)):] {
		o.parked.Release()
	}
}

// room returns the place in which another roll is opened: a tab of its own, or the window
// as it is where no roll is open.
func (w *Window) room() {
	if w.state.Empty() {
		return
	}
	o := w.newRoll()
	w.keepCopies(o)
	if p := w.state.Panel(); p != session.NoPanel { // what page stands open stays
		o.parked.Apply(session.TogglePanel{Panel: p})
	}
	w.tabs.all = append(w.tabs.all, o)
	w.bring(o)
}

// find returns the open roll that has this roll file or, without one, these scans.
func (w *Window) find(r *roll.Roll) *openRoll {
	for _, o := range w.tabs.all {
		have := w.stateOf(o).Roll()
		if len(have.Frames) > 0 && sameRoll(have, r) {
			return o
		}
	}
	return nil
}

func sameRoll(a, b *roll.Roll) bool {
	if a.Path() != "" || b.Path() != "" {
		return a.Path() == b.Path()
	}
	if a.Demo != "" || b.Demo != "" {
		return a.Demo == b.Demo
	}
	return sameScans(a, b)
}

func sameScans(a, b *roll.Roll) bool {
	files := func(r *roll.Roll) (out []string) {
		for _, f := range r.Frames {
			out = append(out, f.File)
		}
		slices.Sort(out)
		return out
	}
	return a.Demo == b.Demo && slices.Equal(files(a), files(b))
}

// findScans returns the open roll that has these scans, whatever file it stands in.
func (w *Window) findScans(r *roll.Roll) *openRoll {
	for _, o := range w.tabs.all {
		if have := w.stateOf(o).Roll(); len(have.Frames) > 0 && sameScans(have, r) {
			return o
		}
	}
	return nil
}

// openInTab shows a roll in a tab of its own, or the tab that it is open in already.
func (w *Window) openInTab(open session.Open) {
	if o := w.find(open.Job.Roll); o != nil {
		w.bring(o)
		w.status.hint(w.state.Name() + " is open already")
		return
	}
	w.room()
	w.apply(open)
	w.showTabs()
	w.keepSettings()
}

// behind opens a roll in a tab behind the one in front, with what more is to be done to it.
func (w *Window) behind(open session.Open, more ...session.Change) *openRoll {
	o := w.newRoll()
	w.keepCopies(o)
	aside := session.New(w.state.Options())
	for _, c := range append(append([]session.Change{open}, more...), session.Park{Into: aside}) {
		o.parked.Apply(c)
	}
	o.parked = aside
	w.tabs.all = append(w.tabs.all, o)
	return o
}

// closeRoll closes the roll in front and shows the one beside it, or the start page.
func (w *Window) closeRoll() {
	w.confirmLeave("Close the roll", func() {
		w.dropBackup()
		t := &w.tabs
		if len(t.all) == 1 {
			w.apply(session.Close{})
			w.keepSettings()
			return
		}
		gone, i := t.front, slices.Index(t.all, t.front)
		t.all = slices.Delete(t.all, i, i+1)
		w.bring(t.all[min(i, len(t.all)-1)])
		gone.runner.StopAll()
		gone.copies.close()
		gone.parked, gone.waiting = nil, nil
	})
}

// turn shows the roll some tabs further on, around the end.
func (w *Window) turn(by int) {
	t := &w.tabs
	n := len(t.all)
	w.bring(t.all[((slices.Index(t.all, t.front)+by)%n+n)%n])
}

// leaveAll asks of every open roll whose marks are not saved what to do with them, and
// then goes on.
func (w *Window) leaveAll(doing string, goOn func()) {
	given := map[*openRoll]bool{}
	var next func()
	next = func() {
		for _, o := range append([]*openRoll{w.tabs.front}, w.tabs.all...) {
			if !given[o] && w.stateOf(o).Unsaved() {
				given[o] = true
				w.bring(o)
				w.confirmLeave(doing, next)
				return
			}
		}
		goOn()
	}
	next()
}

// Measures of the tabs, runes.
const (
	tabMost  = 26 // of a name
	tabLeast = 8
	tabAll   = 110 // of all names together
)

// newTabs makes the strip of open rolls, which is seen when there are several.
func (w *Window) newTabs() {
	t := &w.tabs
	t.strip = container.NewHBox()
	t.object = container.NewVBox(container.NewStack(canvas.NewRectangle(theme.Well), page.Padded(2, 0, 10, 10, newClip(t.strip))))
	t.object.Hide()
}

// showTabs brings the strip up to date.
func (w *Window) showTabs() {
	t := &w.tabs
	if len(t.all) < 2 {
		if t.object.Visible() {
			t.object.Hide()
			w.win.Content().Refresh()
		}
		return
	}
	most := max(tabLeast, min(tabMost, tabAll/len(t.all)))
	var row []fyne.CanvasObject
	for _, o := range t.all {
		s := w.stateOf(o)
		name := legible.Line(s.Name())
		if r := []rune(name); len(r) > most {
			name = string(r[:most-1]) + "…"
		}
		if s.Unsaved() {
			name += " •"
		}
		c := chip.New(name, "", func() { w.bring(o) })
		c.Tab, c.On = true, o == t.front
		c.Hint, c.OnOver = w.tabHint(s), w.overChip
		row = append(row, c)
		if o == t.front {
			x := chip.New("×", "", func() { w.cmds.Find("close-roll").Do() })
			x.Tab = true
			x.Hint, x.OnOver = "Close this roll. Marks that are not saved are asked about.", w.overChip
			row = append(row, x)
		}
		row = append(row, newGap(6))
	}
	more := chip.New("+", "", w.askScans)
	more.Tab = true
	more.Hint, more.OnOver = w.cmds.Find("open").Hint, w.overChip
	t.strip.Objects = append(row, more)
	t.strip.Refresh()
	if !t.object.Visible() {
		t.object.Show()
		w.win.Content().Refresh()
	}
}

// tabHint says of an open roll what its tab has no room for.
func (w *Window) tabHint(s *session.State) string {
	r := s.Roll()
	words := s.Name()
	if n := len(r.Frames); n == 1 {
		words += ", 1 scan"
	} else {
		words += ", " + strconv.Itoa(n) + " scans"
	}
	if r.Path() != "" {
		words += ", in " + r.Path()
	}
	words += "."
	if s.Unsaved() {
		words += " Its marks are not saved yet."
	}
	return words
}
