// Package publish is the page on which a sheet is made up: the page as it will be written,
// and beside it what can be chosen. It draws in workers and is told when they are done.
package publish

import (
	"context"
	"fmt"
	"image"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/publish"
	"stopladder/ui/pick"
	"stopladder/ui/settings"
	"stopladder/ui/tick"
)

// kind is a kind of file as it is offered.
type kind struct {
	id, words, ext string
	format         publish.Format
	depth          int
}

var kinds = []kind{
	{"png", "PNG, 8 bit", ".png", publish.FormatPNG, 8},
	{"png16", "PNG, 16 bit", ".png", publish.FormatPNG, 16},
	{"jpeg", "JPEG, for the web", ".jpg", publish.FormatJPEG, 8},
	{"pdf", "PDF, for print", ".pdf", publish.FormatPDF, 8},
}

var widths = []int{1600, 2400, 3840, 6000, 8000, 12000}

// words of what is offered, in the order of package plate.
var (
	arrangementWords = map[plate.Arrangement]string{plate.Wide: "Wide: all frames in rows", plate.Ladder: "Ladder: one column", plate.Pair: "Pairs: scanned, salvaged",
		plate.Details: "Details at 1:1", plate.Single: "A few frames, large", plate.Record: "The record: everything"}
	groundWords = map[plate.Ground]string{plate.Dark: "Dark", plate.Grey: "Mid-grey", plate.White: "Paper white"}
	shapeWords  = map[plate.Shape]string{plate.Shape16x9: "16:9", plate.Shape3x2: "3:2", plate.Shape2x3: "2:3, upright", plate.Shape9x16: "9:16, upright"}
)

// Host is what the window does for the page.
type Host struct {
	Sheet func() *publish.Sheet // the sheet of the roll, without what is chosen here
	// Start runs work in the background in place of what ran before; what it returns is run
	// on the window's goroutine, unless it was replaced.
	Start func(work func(ctx context.Context) func())
	Scale func() float32 // device pixels of a unit
}

// Page is the page.
type Page struct {
	Object fyne.CanvasObject

	host    Host
	room    fyne.Size // of the preview
	arrange *pick.One
	ground  *pick.One
	shape   *pick.One
	width   *pick.One
	kind    *pick.One
	space   *pick.One
	masks   *tick.Tick
	own     *fyne.Container // what the arrangement alone has
	frames  *widget.Entry   // of Single, their stops
	lift    *pick.One       // of Details
	told    *widget.Label
	lacks   *widget.Label
	image   *canvas.Image
	scroll  *container.Scroll
	ready   bool
}

// New returns the page with what was chosen last. room is the size of the preview; missing
// says what the sheet lacks, "" for nothing.
func New(h Host, was *settings.Sheet, room fyne.Size, missing string) *Page {
	p := &Page{host: h, room: room, told: widget.NewLabel(""), lacks: widget.NewLabel(missing), image: canvas.NewImageFromImage(image.NewRGBA(image.Rect(0, 0, 1, 1)))}
	p.told.Wrapping = fyne.TextWrapWord
	p.image.ScaleMode = canvas.ImageScaleFastest
	p.scroll = container.NewScroll(container.NewCenter(p.image))
	p.scroll.SetMinSize(room)
	if was == nil {
		was = &settings.Sheet{}
	}
	p.arrange = choose(p, plate.Arrangements(), arrangementWords, plate.Arrangement(was.Arrangement))
	p.ground = choose(p, plate.Grounds(), groundWords, plate.Ground(was.Ground))
	p.shape = choose(p, plate.Shapes(), shapeWords, plate.Shape(was.Shape))
	var w []string
	at := 1
	for i, n := range widths {
		w = append(w, fmt.Sprintf("%d pixels", n))
		if n == was.Width {
			at = i
		}
	}
	p.width = p.selecting(w, at)
	w, at = nil, 0
	for i, k := range kinds {
		w = append(w, k.words)
		if k.id == was.Kind {
			at = i
		}
	}
	p.kind = p.selecting(w, at)
	at = 0
	if was.P3 {
		at = 1
	}
	p.space = p.selecting([]string{"sRGB", "Display P3"}, at)
	p.masks = tick.New("Blown, Blocked, Noisy over the pictures", func(bool) { p.changed() })
	p.masks.Checked = was.Masks
	p.lacks.Wrapping = fyne.TextWrapWord
	p.frames = widget.NewEntry()
	p.frames.SetPlaceHolder("chosen by the limits")
	p.frames.Validator = func(s string) error { _, err := plate.FramesAt(p.host.Sheet().Roll.Judged, s); return err }
	p.frames.OnChanged = func(string) { p.changed() }
	p.lift = p.selecting(liftWords(), 0)
	p.own = container.New(layout.NewFormLayout())
	form := container.New(layout.NewFormLayout(),
		widget.NewLabel("Page"), p.arrange, widget.NewLabel("Ground"), p.ground, widget.NewLabel("Shape"), p.shape,
		widget.NewLabel("Width"), p.width, widget.NewLabel("File"), p.kind, widget.NewLabel("Colours"), p.space)
	side := container.NewVBox(form, p.own, p.masks, p.told, p.lacks)
	p.Object = container.NewBorder(nil, nil, nil, container.New(&fixed{310}, container.NewVScroll(side)), p.scroll)
	p.ready = true
	p.changed()
	return p
}

// choose makes a select of named things; the one that was chosen before is set.
func choose[T ~string](p *Page, all []T, words map[T]string, was T) *pick.One {
	var w []string
	for _, a := range all {
		w = append(w, words[a])
	}
	return p.selecting(w, max(0, slices.Index(all, was)))
}

func (p *Page) selecting(words []string, at int) *pick.One {
	s := pick.New(words, func(string) { p.changed() })
	s.SetSelectedIndex(at)
	return s
}

// lifts are the stops by which details are shown lighter; the first leaves it to each.
var lifts = []float64{0, 0, 1, 2, 3, 4}

func liftWords() []string {
	words := []string{"As it is best seen", "Not at all"}
	for _, s := range lifts[2:] {
		words = append(words, "All by "+stops.Label(s)[1:]+map[bool]string{true: " stop", false: " stops"}[s == 1])
	}
	return words
}

// showOwn shows what the arrangement that is chosen alone has.
func (p *Page) showOwn(a plate.Arrangement) {
	var with []fyne.CanvasObject
	switch a {
	case plate.Single:
		with = []fyne.CanvasObject{widget.NewLabel("Stops"), p.frames}
	case plate.Details:
		with = []fyne.CanvasObject{widget.NewLabel("Lifted"), p.lift}
	}
	if len(with) == len(p.own.Objects) && (len(with) == 0 || with[1] == p.own.Objects[1]) {
		return
	}
	p.own.Objects = with
	p.own.Refresh()
}

// fixed gives its one object a width.
type fixed struct{ width float32 }

func (f *fixed) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(f.width, o[0].MinSize().Height)
}

func (f *fixed) Layout(o []fyne.CanvasObject, s fyne.Size) {
	o[0].Move(fyne.NewPos(10, 0))
	o[0].Resize(fyne.NewSize(s.Width-10, s.Height))
}

func (p *Page) chosenKind() kind { return kinds[max(0, p.kind.SelectedIndex())] }

// Ext is the ending of the file that was chosen.
func (p *Page) Ext() string { return p.chosenKind().ext }

// Chosen is what is kept for the next time.
func (p *Page) Chosen() *settings.Sheet {
	s := p.Sheet()
	return &settings.Sheet{Arrangement: string(s.Options.Arrangement), Ground: string(s.Options.Ground), Shape: string(s.Options.Shape), Width: s.Options.Width,
		Masks: s.Options.Masks, Kind: p.chosenKind().id, P3: p.space.SelectedIndex() == 1}
}

// Sheet is the sheet as it is chosen.
func (p *Page) Sheet() *publish.Sheet {
	s := p.host.Sheet()
	s.Options = plate.Options{Arrangement: plate.Arrangements()[max(0, p.arrange.SelectedIndex())], Ground: plate.Grounds()[max(0, p.ground.SelectedIndex())],
		Shape: plate.Shapes()[max(0, p.shape.SelectedIndex())], Width: widths[max(0, p.width.SelectedIndex())], Masks: p.masks.Checked}
	switch s.Options.Arrangement {
	case plate.Single:
		// A list that does not fit is told where it is typed; until it does the limits choose.
		s.Options.Frames, _ = plate.FramesAt(s.Roll.Judged, p.frames.Text)
	case plate.Details:
		if i := p.lift.SelectedIndex(); i > 0 {
			s.Lift = &lifts[i]
		}
	}
	k := p.chosenKind()
	s.Format, s.Depth = k.format, k.depth
	if p.space.SelectedIndex() == 1 && !p.space.Disabled() {
		s.Space = colour.DisplayP3
	}
	return s
}

// Update draws the page anew after the roll has changed; missing is what it lacks now.
func (p *Page) Update(missing string) {
	p.lacks.SetText(missing)
	p.changed()
}

// changed draws the page anew.
func (p *Page) changed() {
	if !p.ready {
		return
	}
	p.showOwn(plate.Arrangements()[max(0, p.arrange.SelectedIndex())])
	able(p.chosenKind().format == publish.FormatPDF, p.space)
	a := plate.Arrangements()[max(0, p.arrange.SelectedIndex())]
	able(a == plate.Ladder || a == plate.Record, p.shape) // as high as they need
	s := p.Sheet()
	if s.Options.Arrangement != plate.Details {
		s.Open = nil // the previews are as fine as the page is shown
	}
	scale := p.host.Scale()
	w, h := int(p.room.Width*scale), int(p.room.Height*scale)
	p.told.SetText("Drawing the page…")
	p.host.Start(func(ctx context.Context) func() {
		got, err := s.Preview(ctx, w-int(14*scale), h)
		return func() {
			if err != nil {
				p.told.SetText("No page: " + err.Error())
				return
			}
			p.show(got, scale)
			if err := p.frames.Validate(); err != nil && s.Options.Arrangement == plate.Single {
				p.told.SetText("These stops do not fit: " + strings.TrimSuffix(err.Error(), ".") + ".")
			}
		}
	})
}

func able(not bool, s *pick.One) {
	if not {
		s.Disable()
	} else {
		s.Enable()
	}
}

// show shows a page that was drawn.
func (p *Page) show(v *publish.Preview, scale float32) {
	p.image.Image = v.Image
	b := v.Image.Rect
	p.image.SetMinSize(fyne.NewSize(float32(b.Dx())/scale, float32(b.Dy())/scale))
	p.image.Refresh()
	p.scroll.Refresh()
	text := fmt.Sprintf("%d × %d pixels", v.Pixels.X, v.Pixels.Y)
	if v.Paper[0] > 0 {
		text += fmt.Sprintf(", %.0f × %.0f mm on paper", v.Paper[0], v.Paper[1])
	}
	p.told.SetText(text)
}
