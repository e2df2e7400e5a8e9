package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/assets"
	"stopladder/ui/ask"
)

// showAbout shows what the program measures and what it does not.
func (w *Window) showAbout() {
	text := widget.NewRichTextFromMarkdown(assets.About)
	text.Wrapping = fyne.TextWrapWord
	w.ask(ask.Spec{Title: "What Stopladder measures", Content: container.NewVScroll(text), Width: 720, Height: 640,
		Answers: []ask.Answer{{Text: "Close", Main: true}}})
}
