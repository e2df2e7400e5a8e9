package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/palette"
	"stopladder/ui/theme"
	"stopladder/ui/veil"
)

// answer says in the status line why what was asked for is not done or not seen, and takes
// back what it said before when something is done.
func (w *Window) answer(s string) {
	if s != "" || w.answered {
		w.status.hint(s)
	}
	w.answered = s != ""
}

// typedRune gets the letters while no entry has the keyboard. Where the stroke of the
// palette is no key of its own, as on keyboards on which it needs Shift, it comes as a
// letter alone.
func (w *Window) typedRune(r rune) {
	if r == '/' && w.win.Canvas().Overlays().Top() == nil {
		w.cmds.Find("palette").Do()
	}
}

// unknown says that a key has no command, once for letters and digits: other keys may be
// for the desktop.
func (w *Window) unknown(name fyne.KeyName) {
	if len(name) == 1 && (name >= "A" && name <= "Z" || name >= "0" && name <= "9") {
		w.answer(string(name) + " has no command; / finds one, F1 lists the keys")
	}
}

// showPalette opens the card on which a command is found.
func (w *Window) showPalette() {
	if w.palette == nil {
		w.palette = palette.New(w.win.Canvas(), w.cmds)
	}
	w.show(w.palette)
}

// showKeys shows all keys, made from the command table.
func (w *Window) showKeys() {
	size := w.win.Canvas().Size()
	width := min(1180, size.Width-40)
	head := canvas.NewText("Keys", theme.Text)
	head.TextSize = theme.Title
	foot := canvas.NewText("The wheel over a picture zooms, dragging moves it; on macOS, Cmd stands for Ctrl.", theme.Quiet)
	foot.TextSize = theme.Small
	var v *veil.Veil
	body := container.NewBorder(container.NewBorder(nil, nil, head, container.NewHBox(
		chip.New("In the manual", "", func() { v.Hide(); w.showManual("keys") }),
		chip.New("Find a command", "/", func() { v.Hide(); w.showPalette() }),
		chip.New("Close", "Esc", func() { v.Hide() }))),
		page.Padded(6, 0, 0, 0, foot), nil, nil, page.Padded(6, 0, 0, 0, palette.Keys(w.cmds, width)))
	v = veil.New(w.win.Canvas(), page.Padded(14, 10, 18, 18, body), veil.Middle(width, 720))
	w.show(v)
}
