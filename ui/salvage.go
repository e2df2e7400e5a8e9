package ui

import (
	"context"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// salvagePage shows what it costs to bring the frame under the playhead to the
// base frame's look, what the limits make of it, and the range and finding of the
// roll.
type salvagePage struct {
	w      *Window
	object *fyne.Container
	grades []*chip.Chip
	sets   []*chip.Chip
	tables *tables
}

func newSalvagePage(w *Window) *salvagePage {
	p := &salvagePage{w: w}
	var grades, sets []fyne.CanvasObject
	for _, g := range session.Grades() {
		c := chip.New(g.Word(), "", func() {
			// The grade that is shown already is taken away.
			w.sess.Salvaged = !(w.sess.Salvaged && w.sess.Grade == g)
			w.sess.Grade = g
			w.sess.Emit(session.ViewChanged)
		})
		c.Hint, c.OnHint = "Show every frame salvaged like this; again shows the scans. G does the same, Shift+G the next grade.", w.hint
		p.grades = append(p.grades, c)
		grades = append(grades, c)
	}
	for _, s := range criteria.Named() {
		c := chip.New(strings.ToUpper(s.Name[:1])+s.Name[1:], "", func() {
			set := s
			w.sess.Edit("limits", func(r *roll.Roll) { r.Limits = &set })
		})
		c.Hint, c.OnHint = "Limits: "+criteria.Reason(s.Name)+" On the ladder (M) each limit is a line to drag.", w.hint
		p.sets = append(p.sets, c)
		sets = append(sets, c)
	}
	hand := chip.New("Go on by hand", "", p.byHand)
	hand.Hint, hand.OnHint = "Begin a correction by hand of this frame with the grade that is shown.", w.hint
	copied := chip.New("Copy figures", "", func() { w.copyTables(row.TablesText(w.sess.SalvageTables(w.sess.Current()))) })
	copied.Hint, copied.OnHint = "Copy what stands here as text, for a spreadsheet.", w.hint
	p.tables = newTables(w.do, func() { p.object.Refresh() })
	p.object = container.NewBorder(
		padded(4, 4, 10, 10, container.NewVBox(named("Grade", grades), named("Limits", sets))),
		padded(4, 6, 10, 10, container.NewVBox(
			container.New(&chip.Row{}, w.chip("difference-colour", "Difference in colour"), w.maskChip("lost", paint.Lost)),
			container.New(&chip.Row{}, hand, copied))), nil, nil,
		container.NewVScroll(p.tables.paper))
	return p
}

// named is a row of chips behind the word for what they choose.
func named(word string, chips []fyne.CanvasObject) fyne.CanvasObject {
	t := canvas.NewText(word, theme.Quiet)
	t.TextSize = 12
	return container.NewBorder(nil, nil, container.NewCenter(t), nil, container.New(&chip.Row{}, chips...))
}

func (p *salvagePage) content() fyne.CanvasObject { return p.object }

func (p *salvagePage) show(session.Changed) {
	s := p.w.sess
	for i, g := range session.Grades() {
		p.grades[i].Set(p.grades[i].Text, s.Salvaged && s.Grade == g, false)
	}
	now := s.Roll.LimitSet()
	for i, set := range criteria.Named() {
		p.sets[i].Set(p.sets[i].Text, now.Same(set), false)
	}
	p.w.measureHand()
	p.tables.set(s.SalvageTables(s.Current()))
}

// byHand gives the frame the correction that it is shown with, to go on from.
func (p *salvagePage) byHand() {
	s := p.w.sess
	i := s.Current()
	if i < 0 || i == s.Base() {
		p.w.status.hint("The base frame is what the others are brought to: it has no salvage")
		return
	}
	g := s.Grade
	if g == session.HandGrade {
		g = session.CurvesGrade
	}
	v, ok := s.SalvageOf(i, g)
	if !ok {
		p.w.status.hint("No salvage of this frame is measured yet; the correction page starts one from nothing")
		return
	}
	v = v.Clone()
	s.Edit("salvage by hand", func(r *roll.Roll) { session.SetHand(r, i, &v) })
	s.Salvaged, s.Grade, s.Panel = true, session.HandGrade, session.CorrectionPanel
	if c, ok := p.w.side.pages[session.CorrectionPanel].(*correctPage); ok {
		c.hand = true
	}
	s.Emit(session.ViewChanged)
}

// measureHand finds in the background what the correction by hand of the frame
// under the playhead costs. One is measured at a time, to its end, and then the
// newest: a slide that is dragged faster than that is followed all the same.
func (w *Window) measureHand() {
	s := w.sess
	i := s.Current()
	a := s.AppraisedInOrder()
	if w.costing || i < 0 || a == nil || a.Grid == nil {
		return
	}
	v, key, ok := s.HandToMeasure(i)
	if !ok {
		return
	}
	file := s.Roll.Frames[i].File
	w.costing = true
	go func() {
		c, ok, err := a.Grid.CostOf(context.Background(), i, v)
		w.do(func() {
			w.costing = false
			if w.sess != s {
				return
			}
			cost := &c
			if err != nil || !ok {
				cost = nil
			}
			s.SetHandCost(file, key, cost)
			w.showSide(session.FrameChanged)
		})
	}()
}
