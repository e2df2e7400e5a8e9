// Package ask is how the program asks and says things: a card over the window with a title,
// what is asked, and its answers. Keys mean the same on each: Return gives the main answer,
// Escape closes, Tab goes round, and in a column of entries Up and Down go from one to the
// next.
package ask

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/theme"
	"stopladder/ui/veil"
)

// Answer is one way on.
type Answer struct {
	Text string
	Main bool        // Return gives it
	Key  string      // another key that gives it, as it is shown; "" is Return for the main one
	Stay bool        // the card stays open
	Left bool        // it stands apart at the left
	Do   func()      // nil: only closes
	Off  func() bool // cannot be given now; nil: it can
}

// Spec is a card.
type Spec struct {
	Title         string
	Content       fyne.CanvasObject
	Answers       []Answer
	Width, Height float32        // toolkit units; the window's room is the most
	First         fyne.Focusable // gets the keyboard; nil: the main answer
	OnHide        func()
	OnKey         func(fyne.KeyName) bool // takes a key that nothing else on the card took; nil: none
	OnReturn      func()                  // does what Return does where no answer at the foot is the main one, or it cannot be given; nil: nothing
}

// Card is a question that is being asked.
type Card struct {
	*veil.Veil
	over  fyne.Canvas
	spec  Spec
	chips []*chip.Chip
	foot  *fyne.Container
}

// Show asks.
func Show(over fyne.Canvas, s Spec) *Card {
	c := New(over, s)
	c.Show()
	return c
}

// New returns the card of a question, which is not shown yet.
func New(over fyne.Canvas, s Spec) *Card {
	c := &Card{over: over, spec: s}
	title := canvas.NewText(legible.Line(s.Title), theme.Text)
	title.TextSize = theme.Title
	var left, right []fyne.CanvasObject
	right = append(right, layout.NewSpacer())
	for i, a := range s.Answers {
		ch := chip.New(a.Text, "", func() { c.give(i) })
		ch.Main = a.Main
		if a.Main {
			ch.Key = "Return"
			if a.Key != "" {
				ch.Key = a.Key
			}
		}
		if a.Do == nil && !a.Main {
			ch.Key = "Esc"
		}
		c.chips = append(c.chips, ch)
		if a.Left {
			left = append(left, ch)
		} else {
			right = append(right, ch)
		}
	}
	c.foot = container.NewHBox(append(left, right...)...)
	body := container.NewBorder(page.Padded(0, 8, 0, 0, title), page.Padded(10, 0, 0, 0, c.foot), nil, nil, s.Content)
	padded := page.Padded(14, 12, 18, 18, body)
	c.Veil = veil.New(over, padded, func(w fyne.Size) (fyne.Position, fyne.Size) {
		need := padded.MinSize()
		return veil.Middle(max(s.Width, need.Width), max(s.Height, need.Height))(w)
	})
	c.Veil.OnHide, c.Veil.OnKey = s.OnHide, c.TypedKey
	c.Changed()
	return c
}

// Show asks, and gives the first entry the keyboard.
func (c *Card) Show() {
	c.Veil.Show()
	if c.spec.First != nil {
		c.Focus(c.spec.First)
		return
	}
	for i, a := range c.spec.Answers {
		if a.Main {
			c.Focus(c.chips[i])
		}
	}
}

// Changed shows which answers can be given now.
func (c *Card) Changed() {
	for i, a := range c.spec.Answers {
		c.chips[i].Set(c.chips[i].Text, false, a.Off != nil && a.Off())
	}
}

// Answer returns the control of an answer, nil where there is none of that text.
func (c *Card) Answer(text string) *chip.Chip {
	for _, ch := range c.chips {
		if ch.Text == text {
			return ch
		}
	}
	return nil
}

// SetKey shows another key beside an answer, "" for none.
func (c *Card) SetKey(text, key string) {
	if ch := c.Answer(text); ch != nil && ch.Key != key {
		ch.Key = key
		ch.Refresh()
		c.foot.Refresh()
	}
}

func (c *Card) give(i int) {
	a := c.spec.Answers[i]
	if a.Off != nil && a.Off() {
		return
	}
	if !a.Stay {
		c.Hide()
	}
	if a.Do != nil {
		a.Do()
	}
}

// Main gives the main answer.
func (c *Card) Main() {
	for i, a := range c.spec.Answers {
		if a.Main && (a.Off == nil || !a.Off() || c.spec.OnReturn == nil) {
			c.give(i)
			return
		}
	}
	if c.spec.OnReturn != nil {
		c.spec.OnReturn()
	}
}

// TypedKey is what a key does that no entry or control took.
func (c *Card) TypedKey(k *fyne.KeyEvent) {
	if c.spec.OnKey != nil && c.spec.OnKey(k.Name) {
		return
	}
	switch k.Name {
	case fyne.KeyReturn, fyne.KeyEnter:
		c.Main()
	case fyne.KeyEscape:
		c.Hide()
	}
}

// Text is a paragraph on a card.
func Text(s string) *widget.Label {
	l := widget.NewLabel(s)
	l.Wrapping = fyne.TextWrapWord
	return l
}
