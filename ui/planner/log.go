package planner

import (
	"fmt"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/stops"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/pick"
	"stopladder/ui/theme"
)

// What a frame's line of the log can say, in the words of the window.
var (
	stateWords = []string{"as planned", "exposed", "not exposed", "spoiled"}
	stateOf    = map[string]plan.State{"exposed": plan.Done, "not exposed": plan.Missed, "spoiled": plan.Spoiled}
)

func wordOf(s plan.State) string {
	for w, v := range stateOf {
		if v == s {
			return w
		}
	}
	return stateWords[0]
}

// Widths of the log's columns.
var logWidths = [5]float32{28, 48, 122, 112, 64}

func logCell(i int, o fyne.CanvasObject) fyne.CanvasObject {
	return container.NewGridWrap(fyne.NewSize(logWidths[i], lineHeight), o)
}

// showLog shows the film as it was exposed, frame by frame: what became of each
// planned frame, and the other pictures between them.
func (p *Planner) showLog() {
	rows := []fyne.CanvasObject{words("Say what became of each frame. Where another time or aperture was set than planned, write it: 1/60, or f/8 1/60. Other pictures on the film count as well, for their scans come between those of the test: + adds one after a frame.", widget.MediumImportance)}
	first := chip.New("Another picture before all", "", func() { p.addOther(0) })
	rows = append(rows, container.NewHBox(first))
	rows = append(rows, p.otherRows(0)...)
	rows = append(rows, container.NewHBox(logHead(0, ""), logHead(1, "Stop"), logHead(2, "What became"),
		logHead(3, "Set to"), logHead(4, "At"), logHead(4, "Note")))
	for _, f := range p.file.Plan.Frames {
		rows = append(rows, p.logRow(f))
		rows = append(rows, p.otherRows(f.Number)...)
	}
	rows = append(rows, p.orphanRows()...)
	rows = append(rows, p.endRows()...)
	p.shots.Objects = append(rows, page.Padded(6, 0, -6, -6, p.real))
	p.shots.Refresh()
	p.showReal()
}

func logHead(i int, text string) fyne.CanvasObject {
	t := canvas.NewText(text, theme.Quiet)
	t.TextSize = theme.Small
	return logCell(i, container.NewHBox(t))
}

// endRows returns what closes a roll: the light once more, and a note on the whole.
func (p *Planner) endRows() []fyne.CanvasObject {
	meter, speed, at, note := p.entry(), p.entry(), p.entry(), p.long()
	meter.SetPlaceHolder("the meter once more, after the last frame")
	speed.SetPlaceHolder("ISO of the meter")
	at.SetPlaceHolder("14:50")
	note.SetPlaceHolder("weather, focus, whatever the pictures will not say")
	note.SetMinRowsVisible(2)
	if l := p.log; l != nil {
		note.Text = l.Note
		if l.Light != nil {
			meter.Text, speed.Text, at.Text = l.Light.Meter, l.Light.MeterSpeed, l.Light.Clock
		}
	}
	wrong, noteWrong := wrongLabel(), wrongLabel()
	put := func(string) {
		wrong.Hide()
		if err := p.file.SetLight(plan.Light{Meter: meter.Text, MeterSpeed: speed.Text, Clock: at.Text}); err != nil {
			sayWrong(wrong, err)
			return
		}
		p.logged()
	}
	meter.OnChanged, speed.OnChanged, at.OnChanged = put, put, put
	note.OnChanged = func(text string) {
		noteWrong.Hide()
		if err := p.file.SetNote(text); err != nil {
			sayWrong(noteWrong, err)
			return
		}
		p.logged()
	}
	wide := func(w float32, o fyne.CanvasObject) fyne.CanvasObject {
		return container.NewGridWrap(fyne.NewSize(w, lineHeight), o)
	}
	return []fyne.CanvasObject{
		container.NewBorder(nil, wrong, named("Light at the end"),
			container.NewHBox(wide(128, speed), wide(64, at)), meter),
		container.NewBorder(nil, noteWrong, named("Note on the roll"), nil, note)}
}

// orphanRows returns entries of the log for frames that the form no longer plans: they
// stand in the way of saving until the bracket has them again or they are removed.
func (p *Planner) orphanRows() (rows []fyne.CanvasObject) {
	if p.file.Log == nil {
		return nil
	}
	for _, s := range p.file.Log.Shots {
		if s.State == plan.Other || slices.ContainsFunc(p.file.Plan.Frames, func(f plan.Frame) bool { return f.Number == s.Number }) {
			continue
		}
		text := widget.NewLabel(strings.TrimSpace(fmt.Sprintf("Frame %d is logged (%s %s) and not planned any more.", s.Number, wordOf(s.State), s.Setting)))
		text.Importance = widget.WarningImportance
		text.Wrapping = fyne.TextWrapWord
		rows = append(rows, container.NewBorder(nil, nil, nil, chip.New("Take it out", "", func() {
			p.file.Remove(s.Number)
			p.logged()
			p.showLog()
		}), text))
	}
	return rows
}

func wrongLabel() *widget.Label {
	l := widget.NewLabel("")
	l.Importance = widget.DangerImportance
	l.Wrapping = fyne.TextWrapWord
	l.Hide()
	return l
}

func sayWrong(l *widget.Label, err error) {
	l.SetText(sentence(err.Error()))
	l.Show()
}

// logged keeps the log when the form is changed, and says what it means.
func (p *Planner) logged() {
	p.log = p.file.Log
	p.showReal()
	p.keep()
}

// logRow returns the line of a planned frame.
func (p *Planner) logRow(f plan.Frame) fyne.CanvasObject {
	shot := p.file.Shot(f.Number)
	state := pick.New(stateWords, nil)
	setting, clock, note := p.entry(), p.entry(), p.entry()
	setting.SetPlaceHolder(f.Aperture.Number() + " " + f.Time.Seconds())
	clock.SetPlaceHolder("14:35")
	note.SetPlaceHolder("note")
	wrong := wrongLabel()
	state.Selected = stateWords[0]
	if shot != nil {
		state.Selected = wordOf(shot.State)
		setting.Text, clock.Text, note.Text = shot.Setting, shot.Clock, shot.Note
	}
	put := func() {
		wrong.Hide()
		if state.Selected == stateWords[0] {
			p.file.Remove(f.Number)
		} else if err := p.file.Put(plan.Shot{Number: f.Number, State: stateOf[state.Selected], Setting: setting.Text, Clock: clock.Text, Note: note.Text}, 0); err != nil {
			sayWrong(wrong, err)
			return
		}
		p.logged()
	}
	state.OnChanged = func(string) { put() }
	typed := func(string) {
		if state.Selected == stateWords[0] {
			state.SetSelected("exposed") // what has a setting or a note was exposed
			return
		}
		put()
	}
	setting.OnChanged, clock.OnChanged, note.OnChanged = typed, typed, typed
	other := chip.New("+", "", func() { p.addOther(f.Number) })
	return container.NewBorder(nil, wrong, container.NewHBox(
		logCell(0, page.Flush(widget.NewLabel(fmt.Sprint(f.Number)))), logCell(1, page.Flush(widget.NewLabel(stops.Label(f.Stop)))),
		logCell(2, state), logCell(3, setting), logCell(4, clock)), other, note)
}

// addOther notes another picture on the film after a planned frame; 0: before
// all of them.
func (p *Planner) addOther(after int) {
	if after > 0 && p.file.Shot(after) == nil { // its place on the film must be known
		if err := p.file.Put(plan.Shot{Number: after, State: plan.Done}, 0); err != nil {
			p.say("Not noted", err)
			return
		}
	}
	if err := p.file.Put(plan.Shot{State: plan.Other}, after); err != nil {
		p.say("Not noted", err)
		return
	}
	p.log = p.file.Log
	p.keep()
	p.showLog()
}

// otherRows returns the other pictures after a planned frame, before the next one.
func (p *Planner) otherRows(after int) (rows []fyne.CanvasObject) {
	if p.file.Log == nil {
		return nil
	}
	last := 0
	for i, s := range p.file.Log.Shots {
		if s.State != plan.Other {
			last = s.Number
			continue
		}
		if last != after {
			continue
		}
		note := p.entry()
		note.SetPlaceHolder("what it shows")
		note.Text = s.Note
		note.OnChanged = func(text string) {
			if r := []rune(text); len(r) > plan.MaxNote {
				text = string(r[:plan.MaxNote])
			}
			p.file.Log.Shots[i].Note = text
			p.logged()
		}
		drop := chip.New("−", "", func() {
			p.file.Log.Shots = slices.Delete(p.file.Log.Shots, i, i+1)
			p.log = p.file.Log
			p.keep()
			p.showLog()
		})
		rows = append(rows, container.NewBorder(nil, nil, container.NewHBox(
			logCell(0, widget.NewLabel("")), container.NewGridWrap(fyne.NewSize(logWidths[1]+logWidths[2]+logWidths[3]+logWidths[4]+12, lineHeight), widget.NewLabel("another picture, not of the test"))), drop, note))
	}
	return rows
}
