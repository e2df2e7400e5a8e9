package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// side holds one page at a time. It lies over the ladder's figures, between the ladder's
// axis and the pictures, so that the pictures keep their place.
type side struct {
	state  *session.State
	object *fyne.Container
	stack  *fyne.Container
	pages  map[session.Panel]page.Page
	titles map[session.Panel]string
	title  *canvas.Text
	open   session.Panel
	laid   func() // lays the window out again
}

func newSide(state *session.State, pages map[session.Panel]page.Page, laid func(), titles map[session.Panel]string, shut *chip.Chip) *side {
	s := &side{state: state, pages: pages, titles: titles, stack: container.NewStack(), laid: laid}
	s.title = canvas.NewText("", theme.Text)
	s.title.TextSize = theme.Head
	s.title.TextStyle.Bold = true
	least := canvas.NewRectangle(nil)
	least.SetMinSize(fyne.NewSize(page.Width, 1))
	head := page.Padded(7, 3, 10, 8, container.NewBorder(nil, nil, s.title, shut))
	s.object = container.NewBorder(nil, nil, hairline(), hairline(), container.NewBorder(container.NewVBox(head, least), nil, nil, nil, s.stack))
	s.object.Hide()
	return s
}

// hairline is a line of one unit.
func hairline() fyne.CanvasObject {
	r := canvas.NewRectangle(theme.Line)
	r.SetMinSize(fyne.NewSize(1, 1))
	return r
}

// changed brings the side up to date.
func (s *side) changed(c session.Parts) {
	p := s.state.Panel()
	if s.state.Empty() || s.pages[p] == nil {
		p = session.NoPanel
	}
	open := s.pages[p]
	if p != s.open {
		s.open = p
		if open == nil {
			s.object.Hide()
		} else {
			s.title.Text = s.titles[p]
			s.title.Refresh()
			s.stack.Objects = []fyne.CanvasObject{open.Content()}
			s.stack.Refresh()
			s.object.Show()
		}
		s.laid()
		c = session.All
	}
	if open != nil {
		open.Changed(c)
	}
}
