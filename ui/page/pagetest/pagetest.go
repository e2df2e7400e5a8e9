// Package pagetest gives the tests of the pages a measured roll and a window's place: what a
// page asks of its host is kept, to be looked at.
package pagetest

import (
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/load"
	"stopladder/analysis/show/explain"
	_ "stopladder/ui/early"
	"stopladder/ui/page"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// Bench is a roll on which a page lies.
type Bench struct {
	State *session.State
	Host  page.Host
	Win   fyne.Window

	Cards   []explain.Card // that were asked for, in order; an empty one takes the last away
	Copied  string
	Refused string
	Exports []page.Export

	t      *testing.T
	calls  chan func()
	runner *session.Runner
	page   page.Page
}

// Open reads and compares one of the rolls of testdata.
func Open(t *testing.T, folder string) *Bench {
	t.Helper()
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	b := &Bench{t: t, calls: make(chan func(), 1<<16)}
	b.State = session.New(load.Options{})
	b.runner = session.NewRunner(func(f func()) { b.calls <- f }, func(c session.Change) { b.Apply(c) })
	t.Cleanup(b.runner.StopAll)
	b.Host = page.Host{Hint: func(string) {}, Do: func(f func()) { b.calls <- f }, Copy: func(s string) { b.Copied = s },
		Refuse: func(title string, err error) { b.Refused = title + ": " + err.Error() },
		Export: func(e page.Export) { b.Exports = append(b.Exports, e) },
		Card:   func(c explain.Card, _ fyne.Position, _ fyne.Size) { b.Cards = append(b.Cards, c) }}
	job, err := load.Plan([]string{folder}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b.Apply(session.Open{Job: job})
	for end := time.Now().Add(3 * time.Minute); b.runner.Busy() || b.State.Film().Comparison == nil; b.Pump() {
		if time.Now().After(end) {
			t.Fatal("the roll was not compared within three minutes")
		}
	}
	return b
}

// Apply makes a change and shows it on the page.
func (b *Bench) Apply(c session.Change) {
	e := b.State.Apply(c)
	b.runner.Follow(e)
	if b.page != nil {
		b.page.Changed(e.Redraw)
	}
}

// Pump runs what was handed over, and waits a moment for more.
func (b *Bench) Pump() {
	for {
		select {
		case f := <-b.calls:
			f()
		case <-time.After(10 * time.Millisecond):
			return
		}
	}
}

// Lay lays a page on the window, as wide as a page is, and draws it.
func (b *Bench) Lay(p page.Page) {
	b.t.Helper()
	b.page = p
	b.Win = test.NewTempWindow(b.t, p.Content())
	b.Win.SetPadded(false)
	b.Win.Resize(fyne.NewSize(page.Width+20, 700))
	p.Changed(session.All)
	b.Draw()
}

// Draw draws the page, with what the drawing asks for.
func (b *Bench) Draw() {
	b.Win.Canvas().Capture()
	b.Pump()
	b.Win.Canvas().Capture()
}

// Card is the last that was shown, empty where none is.
func (b *Bench) Card() explain.Card {
	if len(b.Cards) == 0 {
		return explain.Card{}
	}
	return b.Cards[len(b.Cards)-1]
}
