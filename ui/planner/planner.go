// Package planner is the window in which a bracket is planned before the roll,
// and logged after it: a form at the left, what comes of it at the right, at
// once. The arithmetic is analysis/plan's, the card analysis/card's.
package planner

import (
	"fmt"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/ui/chip"
	"stopladder/ui/tick"
)

// Planner is the window.
type Planner struct {
	win     fyne.Window
	store   plan.Store
	cameras []plan.Camera
	taken   []plan.Camera // those of cameras that only an opened plan has
	file    *plan.File    // nil while the form makes no plan
	log     *plan.Log     // kept while the form is changed
	path    string        // plan file, "" when never saved
	folder  string
	saved   string // the form and log as last saved

	wrong                  int // fields that cannot be used
	keeper                 keeper
	steps                  steps
	undoButton, redoButton *chip.Chip

	fields  map[plan.Field]*field
	names   map[plan.Field]string // of the fields, as the form shows them
	base    *tick.Tick
	correct *tick.Tick
	result  *fyne.Container
	shots   *fyne.Container
	status  *widget.Label
	real    *widget.Label // under the log: what its differences mean
	loading bool
	closed  bool
	answers []*chip.Chip // theirs and mine, of the question that was asked last; for tests
}

// New builds the window. home is the settings folder, where own cameras and the plan
// in progress are kept; folder is where files are first looked for. What was planned
// or logged and not saved when the program last ended is there again.
func New(app fyne.App, home, folder string) *Planner {
	p := &Planner{store: plan.Store{Dir: home}, folder: folder, fields: map[plan.Field]*field{}, names: map[plan.Field]string{}}
	p.win = app.NewWindow("Plan a bracket · Stopladder")
	var err error
	if p.cameras, err = p.store.All(); err != nil {
		p.cameras = plan.Generic()
	}
	p.real = widget.NewLabel("")
	p.real.Wrapping = fyne.TextWrapWord
	p.build()
	p.fill(p.first())
	p.settled()
	drafts, d, more, err := p.store.OpenDrafts()
	p.keeper.drafts = drafts
	switch {
	case err != nil:
		p.status.SetText(sentence(err.Error()))
	case d != nil:
		p.takeUp(d.Camera)
		p.log, p.path = d.Log, d.Path
		if d.Camera.Name != "" {
			d.Form.Camera = p.camera().Name
		}
		p.fill(d.Form)
		p.file.StoredAs(d.Disk)
		p.status.SetText(backAgain(more))
	}
	p.begin()
	p.bind()
	p.win.SetCloseIntercept(func() { p.leave(p.win.Close) })
	p.win.SetOnClosed(func() {
		p.closed = true
		p.Flush()
		p.keeper.close()
	})
	p.win.Resize(fyne.NewSize(1060, 760))
	return p
}

// backAgain says that a plan is back, and how many more wait.
func backAgain(more int) string {
	switch more {
	case 0:
		return "What was not saved last time is back."
	case 1:
		return "What was not saved last time is back. Another plan comes back when this window is opened again."
	}
	return fmt.Sprintf("What was not saved last time is back. %d more plans come back, one each time that this window is opened.", more)
}

// first returns the form that a new plan begins with.
func (p *Planner) first() plan.Form {
	return plan.Form{Meter: "EV 15", ISO: "100", Camera: p.cameras[0].Name, From: "-3", To: "+4", Step: "1"}
}

// keep has what is planned and logged kept until it is saved.
func (p *Planner) keep() {
	p.step()
	if p.now() == p.saved {
		p.keeper.set(nil)
		return
	}
	p.keeper.set(&plan.Draft{Form: p.form(), Camera: p.camera(), Log: p.log.Clone(), Path: p.path, Disk: p.file.Stored()})
}

// settled marks that what is in the window now needs no saving.
func (p *Planner) settled() {
	p.saved = p.now()
	p.keep()
}

// Flush writes what waits to be kept, for the program's end.
func (p *Planner) Flush() { p.keeper.flush() }

// Closed reports whether the window was closed and another is needed.
func (p *Planner) Closed() bool { return p.closed }

// Show shows the window, and brings it to the front when it is open already.
func (p *Planner) Show() {
	p.win.Show()
	p.win.RequestFocus()
}

// Window returns the toolkit's window, for tests.
func (p *Planner) Window() fyne.Window { return p.win }

// changed plans anew. A form that makes no plan keeps the last one in sight, and
// says at each field what is wrong.
func (p *Planner) changed() {
	if p.loading {
		return
	}
	file, err := plan.New(p.form(), p.cameras)
	wrong := plan.Fields(err)
	for name, f := range p.fields {
		text := wrong.On(name)
		if text == "" {
			f.wrong.Hide()
		} else {
			f.wrong.SetText(sentence(text))
			f.wrong.Show()
		}
	}
	defer p.keep()
	if err != nil {
		p.wrong = max(1, len(wrong))
		p.status.SetText(sentence(p.waits()))
		if len(wrong) == 0 {
			p.status.SetText(sentence(err.Error()))
		}
		return
	}
	p.wrong = 0
	file.Log = p.log
	file.Inherit(p.file)
	p.file = file
	p.status.SetText(p.words())
	p.showPlan()
	p.showLog()
}

// waits returns what is said while the form makes no plan.
func (p *Planner) waits() string {
	if p.wrong == 1 {
		return "the plan waits: one field cannot be used yet, see the words at it"
	}
	return fmt.Sprintf("the plan waits: %d fields cannot be used yet, see the words at them", p.wrong)
}

// words returns the plan in one line.
func (p *Planner) words() string {
	pl := p.file.Plan
	s := fmt.Sprintf("%d frames, %s held, about %s", len(pl.Frames), pl.Held, pl.Duration())
	if pl.Left != nil {
		s += fmt.Sprintf(", %d left on the roll", *pl.Left)
	}
	return s
}
