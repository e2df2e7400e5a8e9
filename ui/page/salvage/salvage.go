// Package salvage is the page of what it costs to bring the frame under the marker to the
// base frame's look, what the limits make of it, and the range and finding of the roll.
package salvage

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/session"
)

// Page is the page.
type Page struct {
	state  *session.State
	object *fyne.Container
	grades []*chip.Chip
	sets   []*chip.Chip
	tables *page.Tables
}

// New returns the page of a state. switches are those of the window that belong to it.
func New(state *session.State, apply func(session.Change), h page.Host, switches ...fyne.CanvasObject) *Page {
	p := &Page{state: state}
	var grades, sets []fyne.CanvasObject
	for _, g := range criteria.Grades() {
		c := h.Chip(word(g), "Show every frame salvaged like this; again shows the scans. G does the same, Shift+G the next grade.",
			func() { apply(session.ShowGrade{Grade: g}) })
		p.grades, grades = append(p.grades, c), append(grades, c)
	}
	for _, s := range criteria.Named() {
		c := h.Chip(strings.ToUpper(s.Name[:1])+s.Name[1:], "Limits: "+criteria.Reason(s.Name)+" On the ladder (M) each limit is a line to drag.",
			func() { apply(session.SetLimits{Set: s}) })
		p.sets, sets = append(p.sets, c), append(sets, c)
	}
	hand := h.Chip("Go on by hand", "Begin a correction by hand of this frame with the grade that is shown.", func() { apply(session.GoOnByHand{}) })
	copied := h.Chip("Copy figures", "Copy what stands here as text, for a spreadsheet.", func() {
		h.Copy(row.TablesText(state.SalvageTables(state.Current())))
	})
	p.tables = page.NewTables(h.Do, func() { p.object.Refresh() })
	p.tables.Explain(h)
	p.object = container.NewBorder(
		page.Padded(4, 4, 10, 10, container.NewVBox(page.Named("Grade", grades), page.Named("Limits", sets))),
		page.Padded(4, 6, 10, 10, container.NewVBox(pairs(append(switches, hand, copied))...)), nil, nil,
		container.NewVScroll(p.tables.Object()))
	return p
}

// pairs puts buttons two in a row, which is what the width of a page holds.
func pairs(buttons []fyne.CanvasObject) (rows []fyne.CanvasObject) {
	for len(buttons) > 0 {
		n := min(2, len(buttons))
		rows = append(rows, page.Line(buttons[:n:n]...))
		buttons = buttons[n:]
	}
	return rows
}

// word returns a grade as it stands on its chip.
func word(g criteria.Grade) string {
	w := g.InWords()
	return strings.ToUpper(w[:1]) + w[1:]
}

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(session.Parts) {
	s := p.state
	salvaged, grade := s.Salvaged()
	for i, g := range criteria.Grades() {
		p.grades[i].Set(p.grades[i].Text, salvaged && grade == g, false)
	}
	now := s.Roll().LimitSet()
	for i, set := range criteria.Named() {
		p.sets[i].Set(p.sets[i].Text, now.Same(set), false)
	}
	p.tables.Set(s.SalvageTables(s.Current()))
}
