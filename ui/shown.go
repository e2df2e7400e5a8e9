package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/judge/criteria"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/session"
)

// shownStrip lies over the pictures' lower edge and names all that is done to them: what
// is shown salvaged, corrected, as a difference or under a mask is not the scan, and
// nobody should have to remember what they switched on. A click takes it away.
type shownStrip struct {
	w      *Window
	object fyne.CanvasObject
	row    *fyne.Container
	items  []shownItem
}

// shownItem is one thing that can be done to the pictures.
type shownItem struct {
	chip  *chip.Chip
	words func() string // "" while it is not done
}

func newShownStrip(w *Window) *shownStrip {
	s := &shownStrip{w: w}
	st := w.state
	word := func(on func() bool, text string) func() string {
		return func() string {
			if on() {
				return text
			}
			return ""
		}
	}
	salvaged := func() string {
		on, grade := st.Salvaged()
		switch {
		case !on:
			return ""
		case grade == criteria.Hand:
			return "Corrected by hand"
		}
		return "Salvaged by " + grade.InWords()
	}
	for _, it := range []struct {
		command string
		words   func() string
	}{
		{"salvaged", salvaged},
		{"corrected", word(func() bool { return st.Corrected() && st.Roll().View != nil }, "Corrected alike")},
		{"difference", word(func() bool { return st.Placing() == nil && st.Difference() == session.LightDifference }, "Difference in light")},
		{"difference-colour", word(func() bool { return st.Placing() == nil && st.Difference() == session.ColourDifference }, "Difference in colour")},
		{"costs", word(st.OnLadder, "Costs on the ladder")},
		{"no-detail", word(func() bool { _, on := st.Detail(); return on }, "Detail on the ladder")},
		{"blown", word(func() bool { return st.Masked(session.Blown) }, "Blown")},
		{"blocked", word(func() bool { return st.Masked(session.Blocked) }, "Blocked")},
		{"noisy", word(func() bool { return st.Masked(session.Noisy) }, "Noisy")},
		{"lost", word(func() bool { return st.Masked(session.Lost) }, "Lost")},
		{"dust", word(func() bool { return st.Masked(session.Dust) }, "Dust")},
	} {
		cmd := w.cmds.Find(it.command)
		c := chip.New("", "", func() { cmd.Do() })
		c.Hint, c.OnOver = "This is done to the pictures. A click takes it away, as its key does.", w.overChip
		if len(cmd.Keys) > 0 {
			c.Key = cmd.Keys[0].String()
		}
		s.items = append(s.items, shownItem{c, it.words})
	}
	s.row = container.NewHBox()
	back := canvas.NewRectangle(color.NRGBA{0x16, 0x16, 0x16, 0xC8})
	back.CornerRadius = 4
	s.object = container.NewBorder(nil, page.Padded(0, 8, 8, 8, container.NewHBox(container.NewStack(back, page.Padded(3, 3, 3, 3, s.row)))), nil, nil)
	s.object.Hide()
	return s
}

// changed shows what is on.
func (s *shownStrip) changed() {
	var on []fyne.CanvasObject
	if !s.w.state.Empty() && !s.w.state.Curve() {
		for _, it := range s.items {
			if words := it.words(); words != "" {
				it.chip.Set(words+"  ×", false, false)
				on = append(on, it.chip)
			}
		}
	}
	s.row.Objects = on
	s.row.Refresh()
	if len(on) > 0 {
		s.object.Show()
	} else {
		s.object.Hide()
	}
}
