// Package pocketpage is the page on which a pocket card is made up: the card as it will be
// written, and beside it what can be chosen. It draws in workers and is told when they are
// done.
package pocketpage

import (
	"context"
	"errors"
	"image"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film"
	"stopladder/analysis/film/pocket"
	"stopladder/analysis/show/pocketcard"
	"stopladder/ui/pick"
)

// Host is what the window does for the page.
type Host struct {
	Roll func() *film.Roll // as it is measured now
	Head func() pocketcard.Head
	// Start runs work in the background in place of what ran before; what it returns is run
	// on the window's goroutine, unless it was replaced.
	Start func(work func(ctx context.Context) func())
	Busy  func() bool    // the frames are still being compared
	Scale func() float32 // device pixels of a unit
}

// Page is the page.
type Page struct {
	Object fyne.CanvasObject

	host  Host
	room  fyne.Size // of the preview
	size  *pick.One
	kind  *pick.One
	speed *widget.Entry
	file  *pick.One
	told  *widget.Label
	image *canvas.Image
	ready bool
	card  *pocket.Card // as shown; nil: there is none
}

var kinds = []pocket.Kind{pocket.Undecided, pocket.Negative, pocket.Reversal}

var files = []struct{ words, ext string }{{"PDF, for print", ".pdf"}, {"PNG, a picture", ".png"}, {"JSON, every cell", ".json"}}

// New returns the page. room is the size of the preview, rated the film speed that the base
// frame was metered with, 0 where it is not known.
func New(h Host, room fyne.Size, rated float64) *Page {
	p := &Page{host: h, room: room, told: widget.NewLabel(""), image: canvas.NewImageFromImage(image.NewRGBA(image.Rect(0, 0, 1, 1)))}
	p.told.Wrapping = fyne.TextWrapWord
	p.image.ScaleMode = canvas.ImageScaleFastest
	var sizes, words []string
	for _, s := range pocketcard.Sizes() {
		sizes = append(sizes, s.Words)
	}
	for _, f := range files {
		words = append(words, f.words)
	}
	p.size = p.selecting(sizes, 0)
	p.kind = p.selecting([]string{"As the roll shows", "Negative", "Reversal"}, 0)
	p.file = pick.New(words, func(string) {})
	p.file.SetSelectedIndex(0)
	p.speed = widget.NewEntry()
	p.speed.SetPlaceHolder("not known")
	if rated > 0 {
		p.speed.SetText(strconv.FormatFloat(rated, 'g', -1, 64))
	}
	p.speed.Validator = func(s string) error { _, err := rating(s); return err }
	p.speed.OnChanged = func(string) { p.changed() }
	form := container.New(layout.NewFormLayout(),
		widget.NewLabel("Card"), p.size, widget.NewLabel("Film"), p.kind,
		widget.NewLabel("Metered at ISO"), p.speed, widget.NewLabel("File"), p.file)
	side := container.NewVBox(form, p.told)
	scroll := container.NewScroll(container.NewCenter(p.image))
	scroll.SetMinSize(room)
	p.Object = container.NewBorder(nil, nil, nil, container.New(&fixed{310}, container.NewVScroll(side)), scroll)
	p.ready = true
	p.changed()
	return p
}

// rating reads a film speed; none is 0.
func rating(s string) (float64, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0, nil
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimPrefix(strings.ToUpper(s), "ISO")), 64)
	if err != nil || !(v >= 0.5 && v <= 1e6) {
		return 0, errors.New("this is no film speed; write one such as 400, or nothing")
	}
	return v, nil
}

func (p *Page) selecting(words []string, at int) *pick.One {
	s := pick.New(words, func(string) { p.changed() })
	s.SetSelectedIndex(at)
	return s
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

// Size is the size that was chosen, Ext the ending of the file.
func (p *Page) Size() pocketcard.Size { return pocketcard.Sizes()[max(0, p.size.SelectedIndex())] }

// Ext is the ending of the file that was chosen.
func (p *Page) Ext() string { return files[max(0, p.file.SelectedIndex())].ext }

// Card returns the card as it is shown, nil where there is none.
func (p *Page) Card() *pocket.Card { return p.card }

// Choose chooses a size and a kind of film by their places on the lists.
func (p *Page) Choose(size, kind int) {
	p.size.SetSelectedIndex(size)
	p.kind.SetSelectedIndex(kind)
}

// ChooseFile chooses a kind of file by its place on the list.
func (p *Page) ChooseFile(i int) { p.file.SetSelectedIndex(i) }

// Update draws the card anew after the roll has changed.
func (p *Page) Update() { p.changed() }

// changed draws the card anew.
func (p *Page) changed() {
	if !p.ready {
		return
	}
	rated, err := rating(p.speed.Text)
	note := ""
	if err != nil {
		note = "Metered at ISO: " + err.Error() + ".\n"
	}
	roll, head, size := p.host.Roll(), p.host.Head(), p.Size()
	o := pocket.Options{Kind: kinds[max(0, p.kind.SelectedIndex())], Rated: rated}
	scale := p.host.Scale()
	w, h := p.room.Width*scale-14*scale, p.room.Height*scale-8*scale
	across := min(size.Pixels, int(w), int(float64(h)*size.Width/size.Height))
	if roll == nil || roll.Response == nil && p.host.Busy() {
		p.card = nil
		p.told.SetText("The frames are still being compared; the card comes when they are.")
		return
	}
	p.told.SetText("Drawing the card…")
	p.host.Start(func(context.Context) func() {
		card, err := pocket.New(roll, o)
		if err != nil {
			return func() {
				p.card = nil
				p.told.SetText("No card: " + strings.TrimSuffix(err.Error(), ".") + ".")
			}
		}
		img := pocketcard.Image(card, head, size, max(across, 100))
		return func() {
			p.card = card
			p.image.Image = img
			b := img.Rect
			p.image.SetMinSize(fyne.NewSize(float32(b.Dx())/scale, float32(b.Dy())/scale))
			p.image.Refresh()
			p.told.SetText(note + "For the camera bag: what becomes of which light at which exposure, by the roll's own limits. A dot marks a cell near a border, hatching what the roll does not tell.")
		}
	})
}
