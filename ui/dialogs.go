package ui

import (
	"cmp"
	"context"
	"fmt"
	"image"
	"image/color"
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/legible"
	"stopladder/ui/files"
	"stopladder/ui/session"
)

// say shows an error: one sentence, and what could not be done as the title.
func (w *Window) say(title string, err error) {
	text := widget.NewLabel(session.Sentence(err.Error()))
	text.Wrapping = fyne.TextWrapWord
	d := dialog.NewCustom(title, "Close", text, w.win)
	d.Resize(fyne.NewSize(min(520, w.win.Canvas().Size().Width-40), 150))
	w.show(d)
}

// editRoll asks for the title block of the roll and of the sheet.
func (w *Window) editRoll() {
	r := w.state.Roll()
	title, stock, exposure, date, judge := entry(r.Title), entry(r.Stock), entry(r.Exposure), entry(r.Date), entry(w.state.Judge())
	exposure.SetPlaceHolder("aperture, time, how it was metered")
	date.SetPlaceHolder("year-month-day")
	if judge.Text == "" {
		judge.SetText(w.settings.Judge)
	}
	form := widget.NewForm(
		widget.NewFormItem("Roll", title),
		widget.NewFormItem("Film stock", stock),
		widget.NewFormItem("Base exposure", exposure),
		widget.NewFormItem("Judge", judge),
		widget.NewFormItem("Date", date),
	)
	d := dialog.NewCustomConfirm("About this roll", "Keep", "Cancel", form, func(ok bool) {
		if !ok {
			return
		}
		w.settings.Judge = strings.TrimSpace(judge.Text)
		w.apply(session.SetDetails{Title: strings.TrimSpace(title.Text), Stock: strings.TrimSpace(stock.Text), Exposure: strings.TrimSpace(exposure.Text),
			Date: strings.TrimSpace(date.Text), Judge: w.settings.Judge})
	}, w.win)
	d.Resize(fyne.NewSize(520, 300))
	w.show(d)
}

func entry(text string) *widget.Entry {
	e := widget.NewEntry()
	e.SetText(text)
	return e
}

// askOrder asks about scans whose names carry no stop, with their pictures beside the
// labels that their light gives them, over above under as on the ladder; one click turns
// the labels round. byHand is called when the user wants to write the stops.
func (w *Window) askOrder(job *load.Job, looks []*measure.Look, take func([]float64), byHand func()) {
	p := job.Proposal
	text := widget.NewLabel(p.Question)
	text.Wrapping = fyne.TextWrapWord
	at := p.Stops
	list := container.NewVBox()
	fill := func() {
		list.RemoveAll()
		order := make([]int, len(at))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(at[j], at[i]) })
		for _, i := range order {
			label := widget.NewLabel(stops.Label(at[i]))
			label.TextStyle.Bold = true
			label.Alignment = fyne.TextAlignTrailing
			middle := func(o fyne.CanvasObject) fyne.CanvasObject {
				return container.NewVBox(layout.NewSpacer(), o, layout.NewSpacer())
			}
			labels := container.NewGridWrap(fyne.NewSize(thumbSide*2/3, thumbSide*2/3), middle(label)) // as wide as "-2 1/3", so that pictures stand below each other
			list.Add(container.NewBorder(nil, nil, container.NewHBox(labels, thumb(looks[i])), nil,
				middle(widget.NewLabel(legible.Line(filepath.Base(job.Roll.Frames[i].File))))))
		}
	}
	fill()
	var d *dialog.CustomDialog
	pick := func(f func()) func() { return func() { d.Hide(); f() } }
	yes := widget.NewButton("Take these labels", pick(func() { take(at) }))
	yes.Importance = widget.HighImportance
	if len(at) == 1 { // one scan has no order
		yes.SetText("Yes, it is the base")
	}
	turned := false
	round := widget.NewButton("Turn the labels round", func() {
		if turned = !turned; turned {
			at = p.Reverse
		} else {
			at = p.Stops
		}
		fill()
	})
	if len(at) == 1 {
		round.Hide()
	}
	hand := widget.NewButton("Write the stops by hand", pick(byHand))
	cancel := widget.NewButton("Cancel", func() { d.Hide() })
	d = dialog.NewCustomWithoutButtons("Which stop is which scan?", container.NewBorder(text,
		container.NewHBox(layout.NewSpacer(), cancel, hand, round, yes), nil, nil, container.NewVScroll(list)), w.win)
	size := w.win.Canvas().Size()
	d.Resize(fyne.NewSize(min(680, size.Width-60), min(620, size.Height-60)))
	w.show(d)
}

// thumbSide is the longer side of a picture in the question on the order, in pixels.
const thumbSide = 96

// thumb is a small picture of a scan, its codes as they are; empty where it was not read.
func thumb(l *measure.Look) fyne.CanvasObject {
	space := canvas.NewRectangle(color.Transparent)
	space.SetMinSize(fyne.NewSize(thumbSide, thumbSide*2/3))
	if l == nil || l.Preview == nil || l.Preview.W == 0 || l.Preview.H == 0 {
		return space
	}
	p := l.Preview
	step := max(1, (max(p.W, p.H)+thumbSide-1)/thumbSide)
	img := image.NewNRGBA(image.Rect(0, 0, p.W/step, p.H/step))
	top := max(1, l.Info.Max())
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			var v [3]int
			for j := range step {
				for i := range step {
					q := p.Pix[3*((y*step+j)*p.W+x*step+i):]
					for c := range v {
						v[c] += int(q[c])
					}
				}
			}
			for c := range v {
				v[c] = v[c] * 255 / (top * step * step)
			}
			img.SetNRGBA(x, y, color.NRGBA{uint8(v[0]), uint8(v[1]), uint8(v[2]), 255})
		}
	}
	pic := canvas.NewImageFromImage(img)
	pic.FillMode = canvas.ImageFillContain
	return container.NewStack(space, pic)
}

// labelRow is a frame in the dialog of labels.
type labelRow struct {
	file  string
	stop  float64
	known bool
}

// editLabels lets the stops of all frames be written.
func (w *Window) editLabels() {
	var rows []labelRow
	for _, f := range w.state.Roll().Frames {
		rows = append(rows, labelRow{f.File, f.Stop, true})
	}
	w.askLabels("The stop of each frame is its distance from the base exposure: −1, +2, 1/3, +1 1/2. The frame at 0 is the base.",
		rows, func(labels map[string]float64) {
			w.apply(session.SetLabels{Name: "labels", Stops: labels, Origin: roll.ByHand})
		})
}

// askLabels shows the stops of frames for writing, over above under as on the
// ladder. A stop that cannot be read is said beside its entry and keeps the
// dialog open; an empty entry leaves its frame out of what keep gets.
func (w *Window) askLabels(question string, frames []labelRow, keep func(labels map[string]float64)) {
	type row struct {
		labelRow
		entry *widget.Entry
		wrong *widget.Label
	}
	var rows []row
	grid := container.NewVBox()
	for i := len(frames) - 1; i >= 0; i-- {
		f := frames[i]
		e := entry("")
		if f.known {
			e.SetText(stops.Label(f.stop))
		}
		wrong := widget.NewLabel("")
		wrong.Importance = widget.DangerImportance
		name := widget.NewLabel(legible.Line(filepath.Base(f.file)))
		name.Truncation = fyne.TextTruncateEllipsis
		rows = append(rows, row{f, e, wrong})
		grid.Add(container.NewBorder(nil, nil, container.NewGridWrap(fyne.NewSize(96, 34), e), wrong, name))
	}
	hint := widget.NewLabel(legible.Line(question))
	hint.Wrapping = fyne.TextWrapWord
	var d *dialog.CustomDialog
	ok := widget.NewButton("Keep", func() {
		labels, bad := map[string]float64{}, false
		for _, r := range rows {
			r.wrong.SetText("")
			if strings.TrimSpace(r.entry.Text) == "" {
				continue
			}
			v, err := stops.Parse(r.entry.Text)
			if err != nil {
				r.wrong.SetText("not a stop")
				bad = true
				continue
			}
			labels[r.file] = v
		}
		if !bad {
			d.Hide()
			keep(labels)
		}
	})
	ok.Importance = widget.HighImportance
	cancel := widget.NewButton("Cancel", func() { d.Hide() })
	d = dialog.NewCustomWithoutButtons("Label the frames", container.NewBorder(hint,
		container.NewHBox(layout.NewSpacer(), cancel, ok), nil, nil, container.NewVScroll(grid)), w.win)
	size := w.win.Canvas().Size()
	d.Resize(fyne.NewSize(min(560, size.Width-60), min(float32(len(rows))*42+190, size.Height-60)))
	w.show(d)
}

// showKeys shows the page of keys, made from the command table.
func (w *Window) showKeys() {
	grid := container.New(layout.NewFormLayout())
	for _, c := range w.cmds {
		if c.Hint == "" || len(c.Keys) == 0 {
			continue
		}
		var keys []string
		for _, k := range c.Keys {
			keys = append(keys, k.String())
		}
		l := widget.NewLabel(strings.Join(keys, "  or  "))
		l.TextStyle.Bold = true
		grid.Add(l)
		t := widget.NewLabel(c.Hint)
		t.Wrapping = fyne.TextWrapWord
		grid.Add(t)
	}
	d := dialog.NewCustom("Keys", "Close", container.NewVScroll(grid), w.win)
	size := w.win.Canvas().Size()
	d.Resize(fyne.NewSize(min(620, size.Width-60), min(680, size.Height-60)))
	w.show(d)
}

// confirmLeave asks what to do with unsaved work before go on; it goes straight
// on when there is none.
func (w *Window) confirmLeave(doing string, goOn func()) {
	if !w.state.Unsaved() {
		goOn()
		return
	}
	text := widget.NewLabel(legible.Line(fmt.Sprintf("%s has marks that are not in a roll file yet.", w.state.Name())))
	text.Wrapping = fyne.TextWrapWord
	var d *dialog.CustomDialog
	save := widget.NewButton("Save first", func() { d.Hide(); w.save(goOn) })
	save.Importance = widget.HighImportance
	drop := widget.NewButton(doing+" without saving", func() { d.Hide(); goOn() })
	cancel := widget.NewButton("Cancel", func() { d.Hide() })
	d = dialog.NewCustomWithoutButtons("Unsaved marks", container.NewBorder(nil,
		container.NewHBox(layout.NewSpacer(), cancel, drop, save), nil, nil, text), w.win)
	d.Resize(fyne.NewSize(460, 150))
	w.show(d)
}

// show shows a dialog that Escape closes.
func (w *Window) show(d interface {
	Show()
	Hide()
}) {
	w.dialog = d
	d.Show()
}

// choose asks for files; Escape ends it.
func (w *Window) choose(ask files.Ask) { w.dialog = files.Show(w.win, ask) }

// askOffer asks which of the ways in which a plan and the scans may belong
// together is right; without goes on as if no plan lay beside the scans. look reads the
// scans and puts the offers in the order of how well they fit; the question comes when
// it is done, or at once when asked.
func (w *Window) askOffer(question string, offers []plan.Offer, look func(ctx context.Context, done func(n, of int)) ([]plan.Offer, error),
	take func(plan.Offer), without func()) {
	const work = "order"
	stop := func() { w.runner.Stop(work) }
	text := widget.NewLabel(session.Sentence("A plan lies beside these scans. " + question))
	text.Wrapping = fyne.TextWrapWord
	var d *dialog.CustomDialog
	rows := container.NewVBox()
	answers := func(offers []plan.Offer, note string) {
		rows.RemoveAll()
		for k, o := range offers {
			b := widget.NewButton("This way", func() { d.Hide(); take(o) })
			if k == 0 {
				b.Importance = widget.HighImportance
			}
			l := widget.NewLabel(session.Sentence(o.Text))
			l.Wrapping = fyne.TextWrapWord
			rows.Add(container.NewBorder(nil, nil, nil, container.NewVBox(b), l))
		}
		l := widget.NewLabel(legible.Line(note))
		l.Wrapping = fyne.TextWrapWord
		rows.Add(l)
	}
	const byNames = "In the order of their names; how light the scans are was not looked at."
	ask := widget.NewButton("Ask at once", nil)
	cancel := widget.NewButton("Cancel", func() { d.Hide() })
	none := widget.NewButton("Without the plan", func() { d.Hide(); without() })
	ask.OnTapped = func() {
		stop()
		ask.Hide()
		answers(offers, byNames)
	}
	progress, at := widget.NewProgressBar(), widget.NewLabel("Looking at the scans, which tell more…")
	rows.Add(at)
	rows.Add(progress)
	d = dialog.NewCustomWithoutButtons("Which scan is which frame of the plan?", container.NewBorder(text,
		container.NewHBox(layout.NewSpacer(), ask, cancel, none), nil, nil, container.NewVScroll(rows)), w.win)
	d.SetOnClosed(stop)
	size := w.win.Canvas().Size()
	d.Resize(fyne.NewSize(min(700, size.Width-60), min(520, size.Height-60)))
	w.show(d)
	w.runner.Start(work, func(ctx context.Context, post func(func())) func() {
		found, err := look(ctx, func(n, of int) {
			post(func() {
				at.SetText(fmt.Sprintf("Looking at the scans, which tell more: %d of %d.", n, of))
				progress.SetValue(float64(n) / float64(of))
			})
		})
		return func() {
			ask.Hide()
			if err != nil || len(found) == 0 {
				answers(offers, byNames)
				return
			}
			answers(found, "The way that fits best how light the scans are comes first.")
		}
	})
}
