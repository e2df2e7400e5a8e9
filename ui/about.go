package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"

	"stopladder/assets"
)

// showAbout shows what the program measures and what it does not.
func (w *Window) showAbout() {
	text := widget.NewRichTextFromMarkdown(assets.About)
	text.Wrapping = fyne.TextWrapWord
	d := dialog.NewCustom("What Stopladder measures", "Close", container.NewVScroll(text), w.win)
	size := w.win.Canvas().Size()
	d.Resize(fyne.NewSize(min(680, size.Width-60), min(620, size.Height-60)))
	w.show(d)
}
