package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/ask"
	"stopladder/ui/session"
)

// editFinding asks for what the roll comes to in the judge's own words. It begins with what
// the judge wrote before, else with the measured finding, to be corrected.
func (w *Window) editFinding() {
	measured := w.state.MeasuredFinding()
	own, _ := w.state.Roll().OwnFinding()
	text := own
	if text == "" {
		text = measured
	}
	words := w.entry(text)
	words.MultiLine, words.Wrapping = true, fyne.TextWrapWord
	words.SetMinRowsVisible(9)
	about := "What the roll comes to, to be quoted. Your words stand beside the measured finding, under your name, and never in its place."
	if measured == "" {
		about += " Nothing is measured yet."
	}
	c := w.ask(ask.Spec{Title: "Finding in your words", First: words, Width: 640, Height: 420,
		Content: container.NewBorder(ask.Text(about), nil, nil, nil, words),
		Answers: []ask.Answer{
			{Text: "The measured words again", Left: true, Stay: true, Off: func() bool { return measured == "" || words.Text == measured }, Do: func() { words.SetText(measured) }},
			{Text: "Cancel"},
			{Text: "Keep", Main: true, Key: "Ctrl+Return", Do: func() { w.apply(session.SetFinding{Text: words.Text}) }},
		}})
	words.OnEscape, words.OnKeep = c.Hide, c.Main
	words.OnChanged = func(string) { c.Changed() }
}
