package planner

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/pick"
	"stopladder/ui/theme"
	"stopladder/ui/tick"
)

// Sizes of the window, toolkit units: the form's width with its margins, the margin, the
// names before the fields, and the height of a line in which something is written.
const (
	formWidth  = 400
	edge       = 14
	labelWidth = 116
	lineHeight = 28
)

// named returns the name before a field.
func named(name string) fyne.CanvasObject {
	return container.NewGridWrap(fyne.NewSize(labelWidth, lineHeight), page.Flush(widget.NewLabel(name)))
}

// field is a line of the form: what is typed, and beneath it what is wrong.
type field struct {
	entry *entry
	pick  *pick.One
	wrong *widget.Label
	words map[string]string // of a Select: what is shown -> what is meant
}

func (f *field) text() string {
	if f.pick != nil {
		if v, ok := f.words[f.pick.Selected]; ok {
			return v
		}
		return f.pick.Selected
	}
	return f.entry.Text
}

func (f *field) set(v string) {
	if f.pick == nil {
		f.entry.SetText(v)
		return
	}
	for shown, meant := range f.words {
		if meant == v {
			f.pick.SetSelected(shown)
			return
		}
	}
	if v != "" {
		f.pick.SetSelected(v)
	}
}

func (p *Planner) build() {
	form := container.NewVBox()
	line := func(f plan.Field, name, hint string) {
		x := &field{entry: p.entry(), wrong: widget.NewLabel("")}
		x.entry.SetPlaceHolder(hint)
		x.entry.OnChanged = func(string) { p.changed() }
		p.addLine(form, f, name, x, x.entry)
	}
	choice := func(f plan.Field, name string, shown []string, words map[string]string) {
		x := &field{wrong: widget.NewLabel(""), words: words}
		x.pick = pick.New(shown, func(string) { p.changed() })
		p.addLine(form, f, name, x, x.pick)
	}
	head := func(text string) {
		above := float32(14)
		if len(form.Objects) == 0 {
			above = 0
		}
		form.Add(page.Padded(above, 2, 0, 0, heading(text)))
	}
	beside := func(o fyne.CanvasObject) { form.Add(page.Padded(0, 0, labelWidth+4, 0, container.NewHBox(o))) }
	head("Light and film")
	line(plan.FieldMeter, "Meter reading", "EV 15;  1/125 f/16;  64000 lux;  4000 cd/m2")
	line(plan.FieldMeterSpeed, "Meter set to", "film speed on the meter, if another")
	line(plan.FieldISO, "Film speed", "100 or 21°")
	line(plan.FieldFilter, "Filter or bellows", "3 stops, ND 0.9, ND8 or 8x")
	line(plan.FieldReciprocity, "Reciprocity", "1.31, p 0.86 or 2=3, 10=20")
	p.correct = tick.New("Lengthen the times by it", func(bool) { p.changed() })
	beside(p.correct)
	head("Camera and bracket")
	var names []string
	for _, c := range p.cameras {
		names = append(names, c.Name)
	}
	choice(plan.FieldCamera, "Camera", names, nil)
	beside(chip.New("My cameras…", "", p.askCameras))
	choice(plan.FieldVary, "Vary", []string{"the time", "the aperture", "both"},
		map[string]string{"the time": string(plan.Shutter), "the aperture": string(plan.Aperture), "both": string(plan.Both)})
	line(plan.FieldHold, "Hold", "f/8 or 1/60; empty: chosen")
	line(plan.FieldFrom, "From", "-3")
	line(plan.FieldTo, "To", "+4")
	choice(plan.FieldStep, "Steps of", []string{"1", "1/2", "1/3"}, nil)
	choice(plan.FieldOrder, "Order", []string{"base first", "under to over", "over to under"},
		map[string]string{"base first": string(plan.BaseFirst), "under to over": string(plan.UnderOver), "over to under": string(plan.OverUnder)})
	p.base = tick.New("Base frame once more at the end", func(bool) { p.changed() })
	beside(p.base)
	head("Roll")
	var formats []string
	for _, f := range plan.Formats() {
		formats = append(formats, f.Name)
	}
	choice(plan.FieldFormat, "Format", append([]string{"not counted"}, formats...), map[string]string{"not counted": ""})
	line(plan.FieldFirst, "First free frame", "1")
	line(plan.FieldTitle, "Title", "what the test is called")
	line(plan.FieldStock, "Film stock", "as its box says")

	p.result, p.shots = container.NewVBox(), container.NewVBox()
	p.status = widget.NewLabel("")
	p.status.Truncation = fyne.TextTruncateEllipsis
	tabs := p.tabs()
	size := pick.New([]string{"A6", "A5", "A4"}, nil)
	size.SetSelected("A5")
	cardButton := chip.New("Field card…", "", func() { p.askCard(size.Selected) })
	save := chip.New("Save plan…", "Ctrl+S", p.askSave)
	save.Main = true
	p.undoButton, p.redoButton = chip.New("Undo", "Ctrl+Z", p.undo), chip.New("Redo", "Ctrl+Y", p.redo)
	bottom := page.Padded(4, 12, edge, edge, container.NewVBox(page.Flush(p.status),
		container.NewBorder(nil, nil, page.Line(chip.New("New plan", "", p.startNew), chip.New("Open plan…", "Ctrl+O", p.askOpen), p.undoButton, p.redoButton),
			container.NewHBox(size, cardButton, save))))
	title := canvas.NewText("Plan a bracket", theme.Text)
	title.TextSize = theme.Title
	width := canvas.NewRectangle(color.Transparent)
	width.SetMinSize(fyne.NewSize(formWidth, 1))
	left := container.NewBorder(container.NewVBox(width, page.Padded(8, 8, edge, edge, title)), nil, nil, nil, container.NewVScroll(page.Padded(0, 14, edge, edge, form)))
	rule := canvas.NewRectangle(theme.Line)
	rule.SetMinSize(fyne.NewSize(1, 1))
	p.win.SetPadded(false)
	p.win.SetContent(container.NewBorder(nil, nil, container.NewBorder(nil, nil, nil, rule, left), nil, container.NewBorder(nil, bottom, nil, nil, tabs)))
}

// tabs lets the plan and the log stand in one place.
func (p *Planner) tabs() fyne.CanvasObject {
	pages := []fyne.CanvasObject{container.NewVScroll(page.Padded(0, 10, edge, edge, p.result)), container.NewVScroll(page.Padded(0, 10, edge, edge, p.shots))}
	chips := make([]*chip.Chip, len(pages))
	show := func(k int) {
		for i, o := range pages {
			chips[i].Set(chips[i].Text, i == k, false)
			if i == k {
				o.Show()
			} else {
				o.Hide()
			}
		}
	}
	for i, name := range []string{"Plan", "Log"} {
		chips[i] = chip.New(name, "", func() { show(i) })
		chips[i].Tab = true
	}
	show(0)
	return container.NewBorder(page.Padded(8, 8, edge-8, edge, container.NewHBox(chips[0], chips[1])), nil, nil, nil, container.NewStack(pages...))
}

func (p *Planner) addLine(form *fyne.Container, f plan.Field, name string, x *field, control fyne.CanvasObject) {
	x.wrong.Importance = widget.DangerImportance
	x.wrong.Wrapping = fyne.TextWrapWord
	x.wrong.Hide()
	form.Add(container.NewBorder(nil, x.wrong, named(name), nil, control))
	p.fields[f] = x
	p.names[f] = name
}

// fill writes a form into the fields.
func (p *Planner) fill(f plan.Form) {
	p.loading = true
	for k, v := range values(f) {
		p.fields[k].set(v)
	}
	p.base.SetChecked(f.BaseAgain)
	p.correct.SetChecked(f.Correct)
	p.loading = false
	p.changed()
}

// values returns what the fields of a form hold.
func values(f plan.Form) map[plan.Field]string {
	return map[plan.Field]string{
		plan.FieldTitle: f.Title, plan.FieldStock: f.Stock, plan.FieldMeter: f.Meter, plan.FieldMeterSpeed: f.MeterSpeed,
		plan.FieldFilter: f.Filter, plan.FieldISO: f.ISO, plan.FieldCamera: f.Camera, plan.FieldVary: orElse(f.Vary, string(plan.Shutter)),
		plan.FieldHold: f.Hold, plan.FieldFrom: f.From, plan.FieldTo: f.To, plan.FieldStep: orElse(f.Step, "1"), plan.FieldFormat: f.Format,
		plan.FieldFirst: f.First, plan.FieldOrder: orElse(f.Order, string(plan.BaseFirst)), plan.FieldReciprocity: f.Reciprocity,
	}
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// form reads the fields as they are typed.
func (p *Planner) form() plan.Form {
	t := func(f plan.Field) string { return p.fields[f].text() }
	return plan.Form{Title: t(plan.FieldTitle), Stock: t(plan.FieldStock), Meter: t(plan.FieldMeter), MeterSpeed: t(plan.FieldMeterSpeed),
		Filter: t(plan.FieldFilter), ISO: t(plan.FieldISO), Camera: t(plan.FieldCamera), Vary: t(plan.FieldVary), Hold: t(plan.FieldHold),
		From: t(plan.FieldFrom), To: t(plan.FieldTo), Step: t(plan.FieldStep), Format: t(plan.FieldFormat), First: t(plan.FieldFirst),
		Order: t(plan.FieldOrder), Reciprocity: t(plan.FieldReciprocity), BaseAgain: p.base.Checked, Correct: p.correct.Checked}
}
