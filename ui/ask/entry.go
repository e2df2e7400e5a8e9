package ask

import (
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"
)

// Entry is a line to write in on a card: Return and Escape are the card's, Up and Down go
// to its neighbours, and what stands in it is chosen when it gets the keyboard, so that
// typing writes over it.
type Entry struct {
	widget.Entry
	Stem         bool // only what comes before the ending is chosen: the name of a file
	OnReturn     func()
	OnKeep       func() // of Ctrl with Return, where Return itself begins a line
	OnEscape     func()
	before, next fyne.Focusable
	over         fyne.Canvas
}

// NewEntry returns an entry. over is the canvas that it stands on.
func NewEntry(over fyne.Canvas, text string) *Entry {
	e := &Entry{over: over}
	e.ExtendBaseWidget(e)
	e.SetText(text)
	return e
}

// On makes Return and Escape of entries those of a card, and Up and Down go from one to the
// next in their order.
func On(c *Card, entries ...*Entry) {
	for i, e := range entries {
		e.OnReturn, e.OnEscape = c.Main, c.Hide
		if i > 0 {
			e.before, entries[i-1].next = entries[i-1], e
		}
	}
}

// FocusGained implements fyne.Focusable.
func (e *Entry) FocusGained() {
	e.Entry.FocusGained()
	e.choose()
}

// choose selects the text, or the stem of a file's name. The toolkit has no call for the
// second: it is what Home and Shift with Right do.
func (e *Entry) choose() {
	if e.MultiLine { // a text is gone on with
		return
	}
	if !e.Stem {
		e.TypedShortcut(&fyne.ShortcutSelectAll{})
		return
	}
	stem := []rune(strings.TrimSuffix(e.Text, filepath.Ext(e.Text)))
	e.Entry.TypedKey(&fyne.KeyEvent{Name: fyne.KeyHome})
	e.KeyDown(&fyne.KeyEvent{Name: desktop.KeyShiftLeft})
	for range stem {
		e.Entry.TypedKey(&fyne.KeyEvent{Name: fyne.KeyRight})
	}
	e.KeyUp(&fyne.KeyEvent{Name: desktop.KeyShiftLeft})
}

// TypedShortcut implements fyne.Shortcutable.
func (e *Entry) TypedShortcut(s fyne.Shortcut) {
	if k, ok := s.(*desktop.CustomShortcut); ok && e.OnKeep != nil && k.Modifier == fyne.KeyModifierControl && (k.KeyName == fyne.KeyReturn || k.KeyName == fyne.KeyEnter) {
		e.OnKeep()
		return
	}
	e.Entry.TypedShortcut(s)
}

// TypedKey implements fyne.Focusable.
func (e *Entry) TypedKey(k *fyne.KeyEvent) {
	switch {
	case (k.Name == fyne.KeyReturn || k.Name == fyne.KeyEnter) && e.OnReturn != nil:
		e.OnReturn()
	case k.Name == fyne.KeyEscape && e.OnEscape != nil:
		e.OnEscape()
	case k.Name == fyne.KeyUp && e.before != nil:
		e.over.Focus(e.before)
	case k.Name == fyne.KeyDown && e.next != nil:
		e.over.Focus(e.next)
	default:
		e.Entry.TypedKey(k)
	}
}
