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

// side is the strip beside the pictures that holds one page at a time.
type side struct {
	state  *session.State
	object *fyne.Container
	stack  *fyne.Container
	pages  map[session.Panel]page.Page
	open   session.Panel
	laid   func() // lays the window out again
}

func newSide(state *session.State, pages map[session.Panel]page.Page, laid func(), tabs ...*chip.Chip) *side {
	s := &side{state: state, pages: pages, stack: container.NewStack(), laid: laid}
	var row []fyne.CanvasObject
	for _, t := range tabs {
		row = append(row, t)
	}
	edge := canvas.NewRectangle(theme.Line)
	edge.SetMinSize(fyne.NewSize(1, 1))
	least := canvas.NewRectangle(nil)
	least.SetMinSize(fyne.NewSize(page.Width, 1))
	head := page.Padded(5, 2, 8, 8, page.Row(row...))
	s.object = container.NewBorder(nil, nil, edge, nil,
		container.NewBorder(container.NewVBox(head, least), nil, nil, nil, s.stack))
	s.object.Hide()
	return s
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
