// Package planner is the window in which a bracket is planned before the roll,
// and logged after it: a form at the left, what comes of it at the right, at
// once. The arithmetic is analysis/plan's, the card analysis/card's.
package planner

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/card"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/files"
	"stopladder/ui/page"
)

// Planner is the window.
type Planner struct {
	win     fyne.Window
	store   plan.Store
	cameras []plan.Camera
	taken   []plan.Camera // those of cameras that only an opened plan has
	file    *plan.File    // nil while the form makes no plan
	log     *plan.Log     // kept while the form is changed
	path    string        // plan file, "" when never saved
	folder  string
	saved   string // the form and log as last saved

	wrong                  int // fields that cannot be used
	keeper                 keeper
	steps                  steps
	undoButton, redoButton *chip.Chip

	fields  map[plan.Field]*field
	names   map[plan.Field]string // of the fields, as the form shows them
	base    *widget.Check
	correct *widget.Check
	result  *fyne.Container
	shots   *fyne.Container
	status  *widget.Label
	loading bool
	closed  bool
	answers []*chip.Chip // theirs and mine, of the question that was asked last; for tests
}

// field is a line of the form: what is typed, and beneath it what is wrong.
type field struct {
	entry *entry
	pick  *widget.Select
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

// New builds the window. home is the settings folder, where own cameras and the plan
// in progress are kept; folder is where files are first looked for. What was planned
// or logged and not saved when the program last ended is there again.
func New(app fyne.App, home, folder string) *Planner {
	p := &Planner{store: plan.Store{Dir: home}, folder: folder, fields: map[plan.Field]*field{}, names: map[plan.Field]string{}}
	p.win = app.NewWindow("Plan a bracket · Stopladder")
	var err error
	if p.cameras, err = p.store.All(); err != nil {
		p.cameras = plan.Generic()
	}
	p.build()
	p.fill(p.first())
	p.settled()
	drafts, d, more, err := p.store.OpenDrafts()
	p.keeper.drafts = drafts
	switch {
	case err != nil:
		p.status.SetText(sentence(err.Error()))
	case d != nil:
		p.takeUp(d.Camera)
		p.log, p.path = d.Log, d.Path
		if d.Camera.Name != "" {
			d.Form.Camera = p.camera().Name
		}
		p.fill(d.Form)
		p.file.StoredAs(d.Disk)
		p.status.SetText(backAgain(more))
	}
	p.begin()
	p.bind()
	p.win.SetCloseIntercept(func() { p.leave(p.win.Close) })
	p.win.SetOnClosed(func() {
		p.closed = true
		p.Flush()
		p.keeper.close()
	})
	p.win.Resize(fyne.NewSize(1060, 760))
	return p
}

// backAgain says that a plan is back, and how many more wait.
func backAgain(more int) string {
	switch more {
	case 0:
		return "What was not saved last time is back."
	case 1:
		return "What was not saved last time is back. Another plan comes back when this window is opened again."
	}
	return fmt.Sprintf("What was not saved last time is back. %d more plans come back, one each time that this window is opened.", more)
}

// first returns the form that a new plan begins with.
func (p *Planner) first() plan.Form {
	return plan.Form{Meter: "EV 15", ISO: "100", Camera: p.cameras[0].Name, From: "-3", To: "+4", Step: "1"}
}

// keep has what is planned and logged kept until it is saved.
func (p *Planner) keep() {
	p.step()
	if p.now() == p.saved {
		p.keeper.set(nil)
		return
	}
	p.keeper.set(&plan.Draft{Form: p.form(), Camera: p.camera(), Log: p.log.Clone(), Path: p.path, Disk: p.file.Stored()})
}

// settled marks that what is in the window now needs no saving.
func (p *Planner) settled() {
	p.saved = p.now()
	p.keep()
}

// Flush writes what waits to be kept, for the program's end.
func (p *Planner) Flush() { p.keeper.flush() }

// Closed reports whether the window was closed and another is needed.
func (p *Planner) Closed() bool { return p.closed }

// Show shows the window, and brings it to the front when it is open already.
func (p *Planner) Show() {
	p.win.Show()
	p.win.RequestFocus()
}

// Window returns the toolkit's window, for tests.
func (p *Planner) Window() fyne.Window { return p.win }

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
		x.pick = widget.NewSelect(shown, func(string) { p.changed() })
		p.addLine(form, f, name, x, x.pick)
	}
	head := func(text string) {
		l := widget.NewLabel(text)
		l.TextStyle.Bold = true
		form.Add(l)
	}
	head("Light and film")
	line(plan.FieldMeter, "Meter reading", "EV 15;  1/125 f/16;  64000 lux;  4000 cd/m2")
	line(plan.FieldMeterSpeed, "Meter set to", "film speed on the meter, if another")
	line(plan.FieldISO, "Film speed", "100 or 21°")
	line(plan.FieldFilter, "Filter or bellows", "3 stops, ND 0.9, ND8 or 8x")
	line(plan.FieldReciprocity, "Reciprocity", "1.31, p 0.86 or 2=3, 10=20")
	p.correct = widget.NewCheck("Lengthen the times by it", func(bool) { p.changed() })
	form.Add(p.correct)
	head("Camera and bracket")
	var names []string
	for _, c := range p.cameras {
		names = append(names, c.Name)
	}
	choice(plan.FieldCamera, "Camera", names, nil)
	form.Add(container.NewHBox(container.NewGridWrap(fyne.NewSize(124, 1)), chip.New("My cameras…", "", p.askCameras)))
	choice(plan.FieldVary, "Vary", []string{"the time", "the aperture", "both"},
		map[string]string{"the time": string(plan.Shutter), "the aperture": string(plan.Aperture), "both": string(plan.Both)})
	line(plan.FieldHold, "Hold", "f/8 or 1/60; empty: chosen")
	line(plan.FieldFrom, "From", "-3")
	line(plan.FieldTo, "To", "+4")
	choice(plan.FieldStep, "Steps of", []string{"1", "1/2", "1/3"}, nil)
	choice(plan.FieldOrder, "Order", []string{"base first", "under to over", "over to under"},
		map[string]string{"base first": string(plan.BaseFirst), "under to over": string(plan.UnderOver), "over to under": string(plan.OverUnder)})
	p.base = widget.NewCheck("Base frame once more at the end", func(bool) { p.changed() })
	form.Add(p.base)
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
	size := widget.NewSelect([]string{"A6", "A5", "A4"}, nil)
	size.SetSelected("A5")
	cardButton := chip.New("Field card…", "", func() { p.askCard(size.Selected) })
	save := chip.New("Save plan…", "Ctrl+S", p.askSave)
	save.Main = true
	p.undoButton, p.redoButton = chip.New("Undo", "Ctrl+Z", p.undo), chip.New("Redo", "Ctrl+Y", p.redo)
	middle := func(o fyne.CanvasObject) fyne.CanvasObject {
		return container.NewVBox(layout.NewSpacer(), o, layout.NewSpacer())
	}
	bottom := page.Padded(2, 8, 10, 10, container.NewVBox(p.status, container.NewHBox(middle(chip.New("New plan", "", p.startNew)), middle(chip.New("Open plan…", "Ctrl+O", p.askOpen)),
		middle(p.undoButton), middle(p.redoButton), layout.NewSpacer(), size, middle(cardButton), middle(save))))
	split := container.NewHSplit(container.NewVScroll(form), container.NewBorder(nil, bottom, nil, nil, tabs))
	split.SetOffset(0.40)
	p.win.SetContent(split)
}

// tabs lets the plan and the log stand in one place.
func (p *Planner) tabs() fyne.CanvasObject {
	pages := []fyne.CanvasObject{container.NewVScroll(p.result), container.NewVScroll(p.shots)}
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
	return container.NewBorder(page.Padded(6, 4, 10, 10, container.NewHBox(chips[0], chips[1])), nil, nil, nil, container.NewStack(pages...))
}

func (p *Planner) addLine(form *fyne.Container, f plan.Field, name string, x *field, control fyne.CanvasObject) {
	x.wrong.Importance = widget.DangerImportance
	x.wrong.Wrapping = fyne.TextWrapWord
	x.wrong.Hide()
	label := container.NewGridWrap(fyne.NewSize(124, 34), widget.NewLabel(name))
	form.Add(container.NewBorder(nil, x.wrong, label, nil, control))
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

// changed plans anew. A form that makes no plan keeps the last one in sight, and
// says at each field what is wrong.
func (p *Planner) changed() {
	if p.loading {
		return
	}
	file, err := plan.New(p.form(), p.cameras)
	wrong := plan.Fields(err)
	for name, f := range p.fields {
		text := wrong.On(name)
		if text == "" {
			f.wrong.Hide()
		} else {
			f.wrong.SetText(sentence(text))
			f.wrong.Show()
		}
	}
	defer p.keep()
	if err != nil {
		p.wrong = max(1, len(wrong))
		p.status.SetText(sentence(p.waits()))
		if len(wrong) == 0 {
			p.status.SetText(sentence(err.Error()))
		}
		return
	}
	p.wrong = 0
	file.Log = p.log
	file.Inherit(p.file)
	p.file = file
	p.status.SetText(p.words())
	p.showPlan()
	p.showLog()
}

// waits returns what is said while the form makes no plan.
func (p *Planner) waits() string {
	if p.wrong == 1 {
		return "the plan waits: one field cannot be used yet, see the words at it"
	}
	return fmt.Sprintf("the plan waits: %d fields cannot be used yet, see the words at them", p.wrong)
}

// words returns the plan in one line.
func (p *Planner) words() string {
	pl := p.file.Plan
	s := fmt.Sprintf("%d frames, %s held, about %s", len(pl.Frames), pl.Held, pl.Duration())
	if pl.Left != nil {
		s += fmt.Sprintf(", %d left on the roll", *pl.Left)
	}
	return s
}

// row returns a line of the table of frames.
func row(bold bool, cells ...string) fyne.CanvasObject {
	widths := []float32{52, 64, 84, 84, 92, 200}
	box := container.NewHBox()
	for i, c := range cells {
		l := widget.NewLabel(c)
		l.TextStyle.Bold = bold
		if i < 5 {
			l.Alignment = fyne.TextAlignTrailing
		}
		box.Add(container.NewGridWrap(fyne.NewSize(widths[i], 26), l))
	}
	return box
}

func (p *Planner) showPlan() {
	pl := p.file.Plan
	rows := []fyne.CanvasObject{row(true, "Frame", "Stop", "Time", "Aperture", "Off by", "Exact")}
	for _, f := range pl.Frames {
		off := "0"
		if math.Abs(f.Deviation) >= 0.005 {
			off = strings.Replace(fmt.Sprintf("%+.2f", f.Deviation), "-", "−", 1)
		}
		rows = append(rows, row(math.Abs(f.Stop) < stops.Near, fmt.Sprint(f.Number), stops.Label(f.Stop), f.Time.Seconds(), f.Aperture.Number(), off, f.Exact()))
	}
	for _, w := range pl.Warnings {
		rows = append(rows, words(w.Text, widget.WarningImportance))
	}
	if len(pl.Cautions) > 0 {
		rows = append(rows, heading("Cautions"))
	}
	for _, c := range pl.Cautions {
		rows = append(rows, words(c, widget.MediumImportance))
	}
	if len(pl.Assumptions) > 0 {
		rows = append(rows, heading("Taken for granted"))
	}
	for _, a := range pl.Assumptions {
		rows = append(rows, words(a, widget.MediumImportance))
	}
	p.result.Objects = rows
	p.result.Refresh()
}

func heading(text string) fyne.CanvasObject {
	l := widget.NewLabel(text)
	l.TextStyle.Bold = true
	return l
}

func words(text string, importance widget.Importance) fyne.CanvasObject {
	l := widget.NewLabel(sentence(text))
	l.Wrapping = fyne.TextWrapWord
	l.Importance = importance
	return l
}

// showReal writes, under the log, what the differences mean.
func (p *Planner) showReal() {
	if len(p.shots.Objects) == 0 {
		return
	}
	l := p.shots.Objects[len(p.shots.Objects)-1].(*widget.Label)
	l.Wrapping = fyne.TextWrapWord
	real, err := p.file.Real()
	if err != nil {
		l.SetText(sentence(err.Error()))
		return
	}
	var off []string
	for _, e := range real.Exposed {
		if e.Test && math.Abs(e.Deviation()) >= 0.05 {
			off = append(off, fmt.Sprintf("%s really %s", stops.Label(e.Wanted), strings.Replace(fmt.Sprintf("%+.2f", e.Stop), "-", "−", 1)))
		}
	}
	text := "All frames stand at their planned stops."
	if len(off) > 0 {
		text = "Real stops that differ: " + strings.Join(off, ", ") + "."
	}
	if real.Drift != nil {
		text += strings.Replace(fmt.Sprintf(" The light changed by %+.2f stops until the end.", *real.Drift), "-", "−", 1)
	}
	// The notes are written for terminals as well, with a hyphen for a minus.
	l.SetText(text + " " + hyphened.ReplaceAllString(strings.Join(real.Notes, " "), " −$1"))
}

var hyphened = regexp.MustCompile(` -(\d)`)

// now returns the state that is saved or not.
func (p *Planner) now() string {
	text, _ := json.Marshal(plan.Draft{Form: p.form(), Log: p.log})
	return string(text)
}

// startNew begins another plan.
func (p *Planner) startNew() {
	p.leave(func() {
		p.log, p.path, p.file = nil, "", nil
		p.fill(p.first())
		p.settled()
		p.begin()
	})
}

// leave asks what to do with an unsaved plan before it goes on.
func (p *Planner) leave(goOn func()) {
	if p.now() == p.saved {
		goOn()
		return
	}
	ask.Show(p.win.Canvas(), ask.Spec{Title: "The plan is not saved", Content: ask.Text("What is typed and logged here would be lost."), Width: 480,
		Answers: []ask.Answer{{Text: "Go on without saving", Do: func() { p.settled(); goOn() }}, {Text: "Stay with this plan", Main: true}}})
}

func (p *Planner) say(title string, err error) {
	ask.Show(p.win.Canvas(), ask.Spec{Title: title, Content: ask.Text(sentence(err.Error())), Width: 480, Answers: []ask.Answer{{Text: "Close", Main: true}}})
}

func (p *Planner) name() string {
	if t := strings.TrimSpace(p.fields[plan.FieldTitle].text()); t != "" {
		return strings.NewReplacer("/", "-", "\\", "-", ":", "-").Replace(t)
	}
	return "bracket"
}

func (p *Planner) askSave() {
	if p.file == nil || p.wrong > 0 {
		p.say("No plan to save yet", errors.New(p.waits()))
		return
	}
	name := p.name()
	if p.path != "" {
		name = strings.TrimSuffix(filepath.Base(p.path), plan.Ext)
	}
	files.Show(p.win, files.Ask{Title: "Save the plan; beside the scans it labels them", Exts: []string{plan.Ext}, Save: true, Folder: p.folder,
		Name: name, Verb: "Save", Done: func(paths []string) { p.save(paths[0]) }})
}

func (p *Planner) save(path string) {
	var err error
	if path == p.path {
		err = p.file.SaveBack(path, false)
	} else {
		err = p.file.Save(path)
	}
	var changed *plan.ChangedError
	if errors.As(err, &changed) {
		p.askChanged(path)
		return
	}
	if err != nil {
		p.say("Not saved", err)
		return
	}
	p.kept(path)
}

// askChanged asks which version of a plan to keep that another program has changed since
// it was opened here; the other one stays beside it.
func (p *Planner) askChanged(path string) {
	theirs := func() {
		if err := p.file.Save(plan.OtherPath(path)); err != nil {
			p.say("Nothing was changed", err)
			return
		}
		p.open(path)
	}
	mine := func() {
		if err := p.file.SaveBack(path, true); err != nil {
			p.say("Not saved", err)
			return
		}
		p.kept(path)
	}
	card := ask.Show(p.win.Canvas(), ask.Spec{Title: "Changed on disk", Width: 700,
		Content: ask.Text(fmt.Sprintf("%s was changed by another program since it was opened here, for example by an entry in its log. Whichever is kept, the other stays beside it as %s.",
			filepath.Base(path), filepath.Base(plan.OtherPath(path)))),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Keep theirs", Do: theirs}, {Text: "Save mine under another name…", Do: p.askSave}, {Text: "Keep mine", Main: true, Do: mine}}})
	p.answers = []*chip.Chip{card.Answer("Keep theirs"), card.Answer("Keep mine")}
}

// kept notes that the plan stands in its file.
func (p *Planner) kept(path string) {
	p.path, p.folder = path, filepath.Dir(path)
	p.settled()
	p.status.SetText("Saved " + filepath.Base(path))
}

func (p *Planner) askOpen() {
	p.leave(func() {
		files.Show(p.win, files.Ask{Title: "Open a plan", Exts: []string{plan.Ext}, Folder: p.folder, Verb: "Open",
			Done: func(paths []string) { p.open(paths[0]) }})
	})
}

// Path returns the file of the plan that is open, "" while it has none.
func (p *Planner) Path() string { return p.path }

// Open opens a plan file in place of what is there, after asking where that is not saved.
func (p *Planner) Open(path string) { p.leave(func() { p.open(path) }) }

func (p *Planner) open(path string) {
	f, err := plan.Load(path)
	if err != nil {
		p.say("Not opened", err)
		return
	}
	p.takeUp(f.Camera)
	f.Form.Camera = p.fields[plan.FieldCamera].text()
	p.log, p.path, p.folder, p.file = f.Log, path, filepath.Dir(path), f
	p.fill(f.Form)
	p.settled()
	p.begin()
	p.status.SetText("Opened " + filepath.Base(path))
}

func (p *Planner) askCard(size string) {
	if p.file == nil || p.wrong > 0 {
		p.say("No card yet", errors.New(p.waits()))
		return
	}
	files.Show(p.win, files.Ask{Title: "Field card (.pdf, .png, or .txt for a phone)", Exts: []string{".pdf", ".png", ".txt"}, Save: true,
		Folder: p.folder, Name: p.name() + " card.pdf", Verb: "Write", Done: func(paths []string) { p.card(paths[0], size) }})
}

func (p *Planner) card(path, size string) {
	paper, err := card.ParseSize(size)
	if err == nil {
		var g guard.Guard
		g.Reads(p.path)
		err = g.Writes(path)
	}
	if err != nil {
		p.say("No card", err)
		return
	}
	switch strings.ToLower(filepath.Ext(path)) {
	case ".txt":
		err = wholefile.Write(path, func(w io.Writer) error { return card.Text(w, p.file) })
	case ".png":
		err = p.cardPictures(path, paper)
	default:
		err = wholefile.Write(path, func(w io.Writer) error {
			return card.PDF(w, p.file, paper, card.Meta{Software: "Stopladder " + headless.Version})
		})
	}
	if err != nil {
		p.say("No card", err)
		return
	}
	p.status.SetText("The card stands in " + path)
}

// cardPictures writes one PNG a page; further pages are numbered.
func (p *Planner) cardPictures(path string, size card.Size) error {
	pages, err := card.Images(p.file, size)
	if err != nil {
		return err
	}
	for i, img := range pages {
		to := path
		if i > 0 {
			to = strings.TrimSuffix(path, filepath.Ext(path)) + fmt.Sprintf(" %d", i+1) + filepath.Ext(path)
			if _, err := os.Stat(to); err == nil {
				return fmt.Errorf("%s is there already; move it or choose another name for the card", filepath.Base(to))
			}
		}
		if err := wholefile.Write(to, func(w io.Writer) error { return card.WritePNG(w, img) }); err != nil {
			return err
		}
	}
	return nil
}
