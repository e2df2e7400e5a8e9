package ui

import (
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/ui/chip"
	"stopladder/ui/pane"
	"stopladder/ui/session"
)

// Keys that show something for as long as they are held.
var holdKeys = map[fyne.KeyName]session.Held{fyne.KeySpace: session.HeldBase, fyne.KeyY: session.HeldScan}

// holder shows the base frame or the scan while a key or a button is held.
type holder struct {
	w     *Window
	key   fyne.KeyName // that holds; "" is none
	live  bool         // keys are heard when they go down and up: the toolkit's driver tells
	watch *time.Timer
}

// newHolder listens to the canvas, where its driver tells when keys go down and up.
func newHolder(w *Window) *holder {
	h := &holder{w: w}
	if c, ok := w.win.Canvas().(desktop.Canvas); ok {
		h.live = true
		c.SetOnKeyDown(h.keyDown)
		c.SetOnKeyUp(h.keyUp)
	}
	w.app.Lifecycle().SetOnExitedForeground(h.release) // the key's way up goes to another window
	return h
}

// keyDown gets the keys while no entry has the keyboard; a key that is held is told once.
func (h *holder) keyDown(k *fyne.KeyEvent) {
	what, ok := holdKeys[k.Name]
	if !ok || h.key != "" || h.busy() || h.modified() {
		return
	}
	h.key = k.Name
	h.w.apply(session.Hold{What: what})
	h.look()
}

func (h *holder) keyUp(k *fyne.KeyEvent) {
	if k.Name == h.key {
		h.release()
	}
}

// release takes away what is held.
func (h *holder) release() {
	h.key = ""
	if h.watch != nil {
		h.watch.Stop()
	}
	h.w.apply(session.Hold{})
}

// busy reports whether somebody else has the keyboard: a dialog, a menu or an entry.
func (h *holder) busy() bool {
	c := h.w.win.Canvas()
	_, passes := c.Focused().(*chip.Chip) // a chip hands the keys on that are not its own
	return c.Overlays().Top() != nil || c.Focused() != nil && !passes
}

func (h *holder) modified() bool {
	d, ok := h.w.app.Driver().(desktop.Driver)
	return ok && d.CurrentKeyModifiers() != 0
}

// holdLook is how often it is looked whether a dialog or an entry has taken the keyboard
// over, to which the key's way up goes then.
const holdLook = 50 * time.Millisecond

func (h *holder) look() {
	h.watch = time.AfterFunc(holdLook, func() {
		h.w.do(func() {
			switch {
			case h.key == "":
			case h.busy():
				h.release()
			default:
				h.look()
			}
		})
	})
}

// typed takes a key that is held away from the table of commands: its auto-repeat comes
// there. Where the driver does not tell of keys that go up a press shows and the next one
// takes away.
func (h *holder) typed(name fyne.KeyName) bool {
	_, ok := holdKeys[name]
	return ok && h.live
}

// toggle is the way by a menu: it stays until it is chosen again, or Escape.
func (h *holder) toggle(what session.Held) {
	if h.w.state.Held() == what {
		what = session.NotHeld
	}
	h.w.apply(session.Hold{What: what})
}

// chip makes a button that shows something while it is pressed.
func (h *holder) chip(id, text string, what session.Held) *chip.Chip {
	c := h.w.chip(id, text)
	c.OnTap = nil
	c.OnPress = func(down bool) {
		if down {
			h.w.apply(session.Hold{What: what})
		} else if h.key == "" {
			h.w.apply(session.Hold{})
		}
	}
	return c
}

// showHeld hands the pictures what is held.
func (p *pictures) showHeld() {
	s := p.state
	switch s.Held() {
	case session.HeldBase:
		if b := s.Base(); b >= 0 {
			_, words := p.adjust(b)
			note := "base frame, "
			if words != "as scanned" {
				note += words + ", "
			}
			p.group.Hold(pane.Held{ID: p.baseID(), Note: note + "while held"})
		}
	case session.HeldScan:
		p.group.Hold(pane.Held{Plain: true, Note: "as scanned, while held"})
	default:
		p.group.Release()
	}
}
