package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/chip"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// sideWidth is the width of the pages beside the pictures, toolkit units.
const sideWidth = 340

// sidePage is one page of the side.
type sidePage interface {
	content() fyne.CanvasObject
	// show brings the page up to date; it is called while the page is open only.
	show(c session.Changed)
}

// side is the strip beside the pictures that holds one page at a time.
type side struct {
	object *fyne.Container
	stack  *fyne.Container
	pages  map[session.Panel]sidePage
	open   session.Panel
}

func newSide(pages map[session.Panel]sidePage, tabs ...*chip.Chip) *side {
	s := &side{pages: pages, stack: container.NewStack()}
	var row []fyne.CanvasObject
	for _, t := range tabs {
		row = append(row, t)
	}
	edge := canvas.NewRectangle(theme.Line)
	edge.SetMinSize(fyne.NewSize(1, 1))
	least := canvas.NewRectangle(nil)
	least.SetMinSize(fyne.NewSize(sideWidth, 1))
	head := padded(5, 2, 8, 8, container.New(&chip.Row{}, row...))
	s.object = container.NewBorder(nil, nil, edge, nil,
		container.NewBorder(container.NewVBox(head, least), nil, nil, nil, s.stack))
	s.object.Hide()
	return s
}

// showSide brings the side up to date.
func (w *Window) showSide(c session.Changed) {
	s := w.side
	p := w.sess.Panel
	if w.sess.Empty() {
		p = session.NoPanel
	}
	page := s.pages[p]
	if page == nil {
		p = session.NoPanel
	}
	if p != s.open {
		s.open = p
		if page == nil {
			s.object.Hide()
		} else {
			s.stack.Objects = []fyne.CanvasObject{page.content()}
			s.stack.Refresh()
			s.object.Show()
		}
		w.win.Content().Refresh()
		c = ^session.Changed(0)
	}
	if page != nil {
		page.show(c)
	}
}
