package planner

import (
	"fmt"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/plan"
	"stopladder/analysis/stops"
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
var logWidths = [4]float32{42, 58, 128, 128}

func logCell(i int, o fyne.CanvasObject) fyne.CanvasObject {
	return container.NewGridWrap(fyne.NewSize(logWidths[i], 34), o)
}

// showLog shows the film as it was exposed, frame by frame: what became of each
// planned frame, and the other pictures between them.
func (p *Planner) showLog() {
	rows := []fyne.CanvasObject{words("Say what became of each frame. Where another time or aperture was set than planned, write it: 1/60, or f/8 1/60. Other pictures on the film count as well: their scans come between those of the test.", widget.MediumImportance)}
	first := widget.NewButton("Another picture before all", func() { p.addOther(0) })
	rows = append(rows, container.NewHBox(first))
	rows = append(rows, p.otherRows(0)...)
	for _, f := range p.file.Plan.Frames {
		rows = append(rows, p.logRow(f))
		rows = append(rows, p.otherRows(f.Number)...)
	}
	light := widget.NewEntry()
	light.SetPlaceHolder("the meter once more, after the last frame")
	if l := p.log; l != nil && l.Light != nil {
		light.SetText(l.Light.Meter)
	}
	lightWrong := wrongLabel()
	light.OnChanged = func(s string) {
		lightWrong.Hide()
		if err := p.file.SetLight(plan.Light{Meter: s}); err != nil {
			sayWrong(lightWrong, err)
			return
		}
		p.logged()
	}
	rows = append(rows, container.NewBorder(nil, lightWrong, widget.NewLabel("Light at the end"), nil, light), widget.NewLabel(""))
	p.shots.Objects = rows
	p.shots.Refresh()
	p.showReal()
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
}

// logRow is the line of a planned frame.
func (p *Planner) logRow(f plan.Frame) fyne.CanvasObject {
	shot := p.file.Shot(f.Number)
	state := widget.NewSelect(stateWords, nil)
	setting, note := widget.NewEntry(), widget.NewEntry()
	setting.SetPlaceHolder(f.Aperture.Number() + " " + f.Time.Seconds())
	note.SetPlaceHolder("note")
	wrong := wrongLabel()
	state.Selected = stateWords[0]
	if shot != nil {
		state.Selected = wordOf(shot.State)
		setting.Text, note.Text = shot.Setting, shot.Note
	}
	put := func() {
		wrong.Hide()
		if state.Selected == stateWords[0] {
			p.file.Remove(f.Number)
		} else if err := p.file.Put(plan.Shot{Number: f.Number, State: stateOf[state.Selected], Setting: setting.Text, Note: note.Text}, 0); err != nil {
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
	setting.OnChanged, note.OnChanged = typed, typed
	other := widget.NewButton("+", func() { p.addOther(f.Number) })
	return container.NewBorder(nil, wrong, container.NewHBox(
		logCell(0, widget.NewLabel(fmt.Sprint(f.Number))), logCell(1, widget.NewLabel(stops.Label(f.Stop))),
		logCell(2, state), logCell(3, setting)), other, note)
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
	p.showLog()
}

// otherRows are the other pictures after a planned frame, before the next one.
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
		note := widget.NewEntry()
		note.SetPlaceHolder("what it shows")
		note.Text = s.Note
		note.OnChanged = func(text string) {
			if r := []rune(text); len(r) > plan.MaxNote {
				text = string(r[:plan.MaxNote])
			}
			p.file.Log.Shots[i].Note = text
			p.logged()
		}
		drop := widget.NewButton("−", func() {
			p.file.Log.Shots = slices.Delete(p.file.Log.Shots, i, i+1)
			p.log = p.file.Log
			p.showLog()
		})
		rows = append(rows, container.NewBorder(nil, nil, container.NewHBox(
			logCell(0, widget.NewLabel("")), container.NewGridWrap(fyne.NewSize(logWidths[1]+logWidths[2]+logWidths[3]+8, 34), widget.NewLabel("another picture, not of the test"))), drop, note))
	}
	return rows
}
