package planner

import (
	"fmt"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/ui/chip"
	"stopladder/ui/history"
)

// work is what is planned and logged, as a step of undo holds it. It is not changed.
type work struct {
	form plan.Form
	log  *plan.Log
	text string // tells one from another
}

// steps are what can be taken back and done again.
type steps struct {
	history history.History[work]
	was     work // before the next step
	last    time.Time
}

// typingRests is how long a rest in typing makes another step of it.
const typingRests = 3 * time.Second

// begin forgets all steps: another plan is begun.
func (p *Planner) begin() {
	p.steps = steps{was: p.work()}
	p.showSteps()
}

func (p *Planner) work() work { return work{p.form(), p.log.Clone(), p.now()} }

// step notes what was changed since the last step as one of its own. Typing in one field
// is one step, up to a rest.
func (p *Planner) step() {
	s, now := &p.steps, p.work()
	if now.text == s.was.text {
		return
	}
	if time.Since(s.last) > typingRests {
		s.history.End()
	}
	s.last = time.Now()
	name := p.changedField(s.was.form, now.form)
	key := name
	if name == logName {
		key += changedShot(s.was.log, now.log)
	}
	s.history.Keep(name, key, s.was)
	s.was = now
	p.showSteps()
}

// logName is what a step of the log is called.
const logName = "Log"

// changedField returns what a step changes, in the words of the form.
func (p *Planner) changedField(was, now plan.Form) string {
	a, b := values(was), values(now)
	for f, name := range p.names {
		if a[f] != b[f] {
			return name
		}
	}
	switch {
	case was.Correct != now.Correct:
		return "Lengthen the times"
	case was.BaseAgain != now.BaseAgain:
		return "Base frame once more"
	}
	return logName
}

// changedShot returns a key that tells the entry of the log that a step changes from
// others.
func changedShot(was, now *plan.Log) string {
	if was == nil || now == nil || len(was.Shots) != len(now.Shots) {
		return time.Now().String() // an entry more or less is a step by itself
	}
	for i := range now.Shots {
		if was.Shots[i] != now.Shots[i] {
			return fmt.Sprint(i)
		}
	}
	return ""
}

func (p *Planner) undo() { p.went("Taken back: ", p.steps.history.Undo) }
func (p *Planner) redo() { p.went("Done again: ", p.steps.history.Redo) }

func (p *Planner) went(how string, step func(work) (work, string)) {
	w, name := step(p.steps.was)
	if name == "" {
		return
	}
	p.steps.was = w
	p.log = w.log.Clone()
	if p.file != nil { // also where the form makes no plan
		p.file.Log = p.log
	}
	p.fill(w.form)
	if p.wrong > 0 && p.file != nil {
		p.showLog()
	}
	p.showSteps()
	p.status.SetText(how + name)
}

func (p *Planner) showSteps() {
	undo, redo := p.steps.history.Names()
	for b, name := range map[*chip.Chip]string{p.undoButton: undo, p.redoButton: redo} {
		if name == "" {
			b.Disable()
		} else {
			b.Enable()
		}
	}
}

// bind has the keys of undo and redo heard where no entry has the keyboard.
func (p *Planner) bind() {
	c := p.win.Canvas()
	for key, do := range map[fyne.KeyName]func(){fyne.KeyS: p.askSave, fyne.KeyO: p.askOpen} {
		c.AddShortcut(&desktop.CustomShortcut{KeyName: key, Modifier: fyne.KeyModifierShortcutDefault}, func(fyne.Shortcut) {
			if c.Overlays().Top() == nil {
				do()
			}
		})
	}
	c.SetOnTypedKey(func(k *fyne.KeyEvent) { // while no entry has the keyboard: a card has its own keys
		if card, ok := c.Overlays().Top().(interface{ TypedKey(*fyne.KeyEvent) }); ok {
			card.TypedKey(k)
		}
	})
	c.AddShortcut(&fyne.ShortcutUndo{}, func(fyne.Shortcut) { p.undo() })
	c.AddShortcut(&fyne.ShortcutRedo{}, func(fyne.Shortcut) { p.redo() })
	c.AddShortcut(redoKey, func(fyne.Shortcut) { p.redo() })
}

// redoKey is the other key of redo, besides the toolkit's own.
var redoKey = &desktop.CustomShortcut{KeyName: fyne.KeyZ, Modifier: fyne.KeyModifierShortcutDefault | fyne.KeyModifierShift}

// entry is an entry whose undo is the planner's: the toolkit's own would take back its
// letters alone, and be forgotten when the entry is.
type entry struct {
	widget.Entry
	p *Planner
}

func (p *Planner) entry() *entry {
	e := &entry{p: p}
	e.ExtendBaseWidget(e)
	return e
}

// long returns an entry of several lines.
func (p *Planner) long() *entry {
	e := p.entry()
	e.MultiLine = true
	e.Wrapping = fyne.TextWrapWord
	return e
}

// TypedShortcut implements fyne.Shortcutable.
func (e *entry) TypedShortcut(s fyne.Shortcut) {
	switch s.ShortcutName() {
	case (&fyne.ShortcutUndo{}).ShortcutName():
		e.p.undo()
	case (&fyne.ShortcutRedo{}).ShortcutName(), redoKey.ShortcutName():
		e.p.redo()
	default:
		e.Entry.TypedShortcut(s)
	}
}
