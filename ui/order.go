package ui

import (
	"cmp"
	"image"
	"image/color"
	"path/filepath"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/legible"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/theme"
)

// ordering is how the frames of a roll without labels get them: an order, a step between
// neighbours, and which frame is the base.
type ordering struct {
	proposed, reverse []float64

	from   []int     // frames, least exposure first, as their light tells
	at     []float64 // stop of each frame
	turned bool
	step   float64 // between neighbours; 0: as was proposed, whatever that is
	base   int     // place in the order of the frame at 0
}

// steps are what brackets are made in.
var steps = []struct {
	words string
	key   fyne.KeyName
	stops float64
}{{"1 stop", fyne.Key1, 1}, {"1/2", fyne.Key2, 1.0 / 2}, {"1/3", fyne.Key3, 1.0 / 3}}

// newOrdering begins with the stops that were proposed; reverse are those of the other way
// round.
func newOrdering(proposed, reverse []float64) *ordering {
	o := &ordering{proposed: proposed, reverse: reverse}
	o.take(proposed)
	return o
}

func (o *ordering) take(proposed []float64) {
	o.at, o.from = slices.Clone(proposed), nil
	for i := range proposed {
		o.from = append(o.from, i)
	}
	slices.SortStableFunc(o.from, func(i, j int) int { return cmp.Compare(proposed[i], proposed[j]) })
	for k, i := range o.from {
		if proposed[i] == 0 {
			o.base = k
		}
	}
}

// turn makes the frame with the most exposure that with the least, and all others with it.
func (o *ordering) turn() {
	o.turned = !o.turned
	if o.step == 0 {
		if o.turned {
			o.take(o.reverse)
		} else {
			o.take(o.proposed)
		}
		return
	}
	slices.Reverse(o.from)
	o.base = len(o.from) - 1 - o.base
	o.fill(o.step)
}

// fill gives the frames stops at equal steps, with the base frame at 0.
func (o *ordering) fill(step float64) {
	o.step = step
	for k, i := range o.from {
		o.at[i] = float64(k-o.base) * step
	}
}

// setBase makes the k-th of the order the frame at 0.
func (o *ordering) setBase(k int) {
	if k < 0 || k >= len(o.from) {
		return
	}
	o.base = k
	if o.step != 0 {
		o.fill(o.step)
		return
	}
	by := o.at[o.from[k]]
	for i := range o.at {
		o.at[i] -= by
	}
}

// askOrder asks about scans whose names carry no stop, with their pictures beside the labels
// that their light gives them, over above under as on the ladder. One click turns the labels
// round, one fills them by a step, one makes a frame the base. byHand is called when the
// user wants to write the stops.
func (w *Window) askOrder(job *load.Job, looks []*measure.Look, take func([]float64), byHand func()) {
	o := newOrdering(job.Proposal.Stops, job.Proposal.Reverse)
	one := len(o.at) == 1
	list := container.NewVBox()
	var chips []*chip.Chip
	var redraw func()
	change := func(f func()) func() { return func() { f(); redraw() } }
	redraw = func() {
		list.RemoveAll()
		for k := len(o.from) - 1; k >= 0; k-- {
			i := o.from[k]
			list.Add(newTapArea(orderRow(looks[i], o.at[i], filepath.Base(job.Roll.Frames[i].File)), change(func() { o.setBase(k) }), w.hint,
				"Click to make this the frame at 0: the base frame."))
		}
		for n, c := range chips {
			c.Set(c.Text, o.step == steps[n].stops, false)
		}
	}
	row := []fyne.CanvasObject{widget.NewLabel("Fill by steps of")}
	for _, s := range steps {
		c := chip.New(s.words, string(s.key), change(func() { o.fill(s.stops) }))
		chips = append(chips, c)
		row = append(row, c)
	}
	row = append(row, newGap(12), chip.New("Turn the labels round", "R", change(o.turn)))
	foot := widget.NewLabel("Click a picture, or use Up and Down, to say which is the base frame.")
	tools := container.NewVBox(container.NewHBox(row...), foot)
	yes := "Take these labels"
	if one { // one scan has no order
		tools.Hide()
		yes = "Yes, it is the base"
	}
	redraw()
	w.ask(ask.Spec{Title: "Which stop is which scan?", Width: 700, Height: 660,
		Content: container.NewBorder(container.NewVBox(ask.Text(job.Proposal.Question), tools), nil, nil, nil, container.NewVScroll(list)),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Write the stops by hand", Do: byHand}, {Text: yes, Main: true, Do: func() { take(o.at) }}},
		OnKey: func(k fyne.KeyName) bool {
			if one {
				return false
			}
			for _, s := range steps {
				if k == s.key {
					change(func() { o.fill(s.stops) })()
					return true
				}
			}
			switch k {
			case fyne.KeyR:
				change(o.turn)()
			case fyne.KeyUp:
				change(func() { o.setBase(o.base + 1) })()
			case fyne.KeyDown:
				change(func() { o.setBase(o.base - 1) })()
			default:
				return false
			}
			return true
		}})
}

// orderRow is a frame in the question on the order; the base frame has a mark at its edge.
func orderRow(look *measure.Look, at float64, name string) fyne.CanvasObject {
	label := widget.NewLabel(stops.Label(at))
	label.TextStyle.Bold = true
	label.Alignment = fyne.TextAlignTrailing
	mark := canvas.NewRectangle(color.Transparent)
	mark.SetMinSize(fyne.NewSize(3, 1))
	words := legible.Line(name)
	if at == 0 {
		mark.FillColor = theme.Text
		words += "   base frame"
	}
	middle := func(o fyne.CanvasObject) fyne.CanvasObject {
		return container.NewVBox(layout.NewSpacer(), o, layout.NewSpacer())
	}
	labels := container.NewGridWrap(fyne.NewSize(thumbSide*2/3, thumbSide*2/3), middle(label)) // as wide as "-2 1/3", so that pictures stand below each other
	return page.Padded(1, 1, 0, 0, container.NewBorder(nil, nil, container.NewHBox(mark, labels, thumb(look)), nil, middle(widget.NewLabel(words))))
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
