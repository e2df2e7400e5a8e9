package ui

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/paint"
	"stopladder/ui/ask"
	"stopladder/ui/session"
)

// areaEditor is the dialog in which the image area of a frame is set by hand:
// the whole scan with a frame whose edges are dragged, and the same in figures.
type areaEditor struct {
	w       *Window
	file    string
	look    *measure.Look
	area    image.Rectangle // full-resolution pixels
	scan    *image.RGBA     // the preview, sRGB
	paper   *dragPaper
	entries [4]*ask.Entry // left, top, width, height
	wrong   *widget.Label
	held    [2]int // edge held: -1 left/top, +1 right/bottom, 0 none
	filling bool
	pop     *ask.Card
}

// editArea opens the dialog on the frame under the marker.
func (w *Window) editArea() {
	i := w.state.Current()
	if i < 0 {
		return
	}
	l := w.state.Frame(i).Look
	if done, all := w.state.Read(); done < all || l == nil || l.Preview == nil { // areas are settled for the roll together
		w.say("No image area yet", errors.New("the scans are still being read; the area can be set while they are compared"))
		return
	}
	f := w.state.Roll().Frames[i]
	e := &areaEditor{w: w, file: f.File, look: l, area: l.Area}
	e.scan = image.NewRGBA(image.Rect(0, 0, l.Preview.W, l.Preview.H))
	l.Space.RGBA(e.scan.Pix, l.Preview.Pix)
	e.paper = newDragPaper(e.draw, e.press, e.drag)
	form := container.New(layout.NewFormLayout())
	for k, name := range []string{"Left", "Top", "Width", "Height"} {
		e.entries[k] = w.entry("")
		e.entries[k].OnChanged = func(string) { e.typed() }
		form.Add(widget.NewLabel(name))
		form.Add(container.NewBorder(nil, nil, nil, widget.NewLabel("px"), e.entries[k]))
	}
	e.wrong = widget.NewLabel("")
	e.wrong.Wrapping = fyne.TextWrapWord
	text := widget.NewLabel("What lies inside is measured. Drag the edges, or write the figures; film border and holder belong outside.")
	text.Wrapping = fyne.TextWrapWord
	all := func() {
		var files []string
		for _, f := range w.state.Roll().Frames {
			files = append(files, f.File)
		}
		e.keep(files)
	}
	side := container.NewGridWrap(fyne.NewSize(210, 330), container.NewVBox(text, form, e.wrong))
	e.pop = ask.New(w.win.Canvas(), ask.Spec{Title: "Image area of " + f.Name(), Content: container.NewBorder(nil, nil, nil, side, e.paper), Width: 1100, Height: 800,
		First: e.entries[0], Answers: []ask.Answer{
			{Text: "Let the program find it", Left: true, Do: func() { w.apply(session.SetArea{Files: []string{e.file}}) }},
			{Text: "Cancel"}, {Text: "Use for all frames", Stay: true, Do: all},
			{Text: "Use for " + stops.Label(f.Stop), Main: true, Stay: true, Do: func() { e.keep([]string{e.file}) }}}})
	ask.On(e.pop, e.entries[:]...)
	e.fill()
	w.show(e.pop)
}

// fill writes the figures of the area into the entries.
func (e *areaEditor) fill() {
	e.filling = true
	for k, v := range []int{e.area.Min.X, e.area.Min.Y, e.area.Dx(), e.area.Dy()} {
		e.entries[k].SetText(strconv.Itoa(v))
	}
	e.filling = false
	e.wrong.SetText("")
	e.paper.Refresh()
}

// typed takes the figures from the entries when they make sense.
func (e *areaEditor) typed() {
	if e.filling {
		return
	}
	var v [4]int
	for k := range v {
		n, err := strconv.Atoi(strings.TrimSpace(e.entries[k].Text))
		if err != nil {
			e.wrong.SetText("Write whole numbers of pixels.")
			return
		}
		v[k] = n
	}
	r := image.Rect(v[0], v[1], v[0]+v[2], v[1]+v[3])
	if v[2] < session.MinArea || v[3] < session.MinArea || !r.In(e.whole()) {
		e.wrong.SetText(fmt.Sprintf("The area must lie inside the scan, which is %d × %d px.", e.look.Info.Width, e.look.Info.Height))
		return
	}
	e.area = r
	e.wrong.SetText("")
	e.paper.Refresh()
}

func (e *areaEditor) whole() image.Rectangle {
	return image.Rect(0, 0, e.look.Info.Width, e.look.Info.Height)
}

// place returns where the scan stands on the paper, device pixels.
func (e *areaEditor) place(r image.Rectangle) (at image.Rectangle, scale float64) {
	at = paint.Fit(r.Inset(8), e.scan.Rect.Dx(), e.scan.Rect.Dy())
	return at, float64(at.Dx()) / float64(e.look.Info.Width)
}

func (e *areaEditor) draw(c *paint.Canvas, r image.Rectangle) {
	at, s := e.place(r)
	c.Picture(at, e.scan)
	in := image.Rect(at.Min.X+int(float64(e.area.Min.X)*s), at.Min.Y+int(float64(e.area.Min.Y)*s),
		at.Min.X+int(math.Ceil(float64(e.area.Max.X)*s)), at.Min.Y+int(math.Ceil(float64(e.area.Max.Y)*s)))
	veil := color.NRGBA{0x20, 0x20, 0x20, 0xB0}
	c.Fill(image.Rect(at.Min.X, at.Min.Y, at.Max.X, in.Min.Y), veil)
	c.Fill(image.Rect(at.Min.X, in.Max.Y, at.Max.X, at.Max.Y), veil)
	c.Fill(image.Rect(at.Min.X, in.Min.Y, in.Min.X, in.Max.Y), veil)
	c.Fill(image.Rect(in.Max.X, in.Min.Y, at.Max.X, in.Max.Y), veil)
	c.Frame(in, 1.5, c.Pal.White)
}

// press takes hold of the nearest edges within reach.
func (e *areaEditor) press(x, y, unit float64) {
	at, s := e.place(e.paper.rect())
	reach := 12 * unit
	edge := func(v, lo, hi float64) int {
		switch {
		case math.Abs(v-lo) <= reach && math.Abs(v-lo) <= math.Abs(v-hi):
			return -1
		case math.Abs(v-hi) <= reach:
			return 1
		}
		return 0
	}
	x0, x1 := float64(at.Min.X)+float64(e.area.Min.X)*s, float64(at.Min.X)+float64(e.area.Max.X)*s
	y0, y1 := float64(at.Min.Y)+float64(e.area.Min.Y)*s, float64(at.Min.Y)+float64(e.area.Max.Y)*s
	e.held = [2]int{}
	if y > y0-reach && y < y1+reach {
		e.held[0] = edge(x, x0, x1)
	}
	if x > x0-reach && x < x1+reach {
		e.held[1] = edge(y, y0, y1)
	}
}

func (e *areaEditor) drag(x, y float64) {
	at, s := e.place(e.paper.rect())
	px := int(math.Round((x - float64(at.Min.X)) / s))
	py := int(math.Round((y - float64(at.Min.Y)) / s))
	a := e.area
	switch e.held[0] {
	case -1:
		a.Min.X = max(0, min(px, a.Max.X-session.MinArea))
	case 1:
		a.Max.X = min(e.look.Info.Width, max(px, a.Min.X+session.MinArea))
	}
	switch e.held[1] {
	case -1:
		a.Min.Y = max(0, min(py, a.Max.Y-session.MinArea))
	case 1:
		a.Max.Y = min(e.look.Info.Height, max(py, a.Min.Y+session.MinArea))
	}
	if a != e.area {
		e.area = a
		e.fill()
	}
}

// keep sets the area on frames. On scans of another size it is cut to fit.
func (e *areaEditor) keep(files []string) {
	if e.wrong.Text != "" {
		return
	}
	e.pop.Hide()
	e.w.apply(session.SetArea{Files: files, Area: &e.area})
}
