// Package start is the window without a roll: what the program is for, in one picture that
// it makes itself, the ways on, and the rolls of before.
package start

import (
	"context"
	"image"
	"image/color"
	"math"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	ftheme "fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/paint"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
)

// Way is a way on.
type Way struct {
	Chip *chip.Chip
	Text string // what it leads to
}

// Strip is the picture: frames of one scene, least exposure first.
type Strip struct {
	Stops  []float64
	Frames []*image.RGBA
}

// Measures of the page, toolkit units.
const (
	width       = 980 // at least, where the window has it
	most        = 1700
	widthShare  = 0.66 // of a larger window
	stripHeight = 190
	stripFoot   = 40  // under the frames: axis and labels
	shownFrames = 8   // of the sample roll
	frameSide   = 240 // pixels that a frame of the strip is rendered at: enough for a screen of twice the usual density
)

// Page is the window without a roll.
type Page struct {
	Object fyne.CanvasObject

	strip  *Strip
	paper  *paper.Paper
	recent *fyne.Container
	words  *canvas.Text
	head   *canvas.Text
	drop   *canvas.Text
	larger *container.ThemeOverride
	open   func(path string)
}

// New returns the page. notices stand above all; open opens a roll file again.
func New(notices fyne.CanvasObject, ways []Way, open func(path string)) *Page {
	p := &Page{open: open, recent: container.NewVBox(), words: canvas.NewText("", theme.Quiet)}
	p.words.TextSize = theme.Small
	p.paper = paper.New(fyne.NewSize(400, stripHeight), p.draw)
	p.head = canvas.NewText("What does each stop cost on this film?", theme.Text)
	p.head.TextSize = theme.Display
	text := widget.NewLabel("Photograph one scene at a step of stops, under and over, and scan the frames alike. " +
		"Here they stand on a ladder beside the base frame: what is blown, blocked, noisy and lost, what can be brought back, and where you judge that the film holds, strains and breaks.")
	text.Wrapping = fyne.TextWrapWord
	cols := container.NewGridWithColumns(len(ways))
	for _, w := range ways {
		l := widget.NewLabel(w.Text)
		l.Wrapping = fyne.TextWrapWord
		l.Importance = widget.LowImportance
		cols.Add(container.NewVBox(w.Chip, l))
	}
	p.drop = canvas.NewText("Or drop a roll's scans, or their folder, anywhere on this window. Scans are only read, never written.", theme.Quiet)
	p.drop.TextSize = theme.Small
	body := container.NewVBox(page.Padded(0, 0, 6, 0, p.head), text, page.Padded(6, 12, 6, 6, p.paper), cols, page.Padded(2, 8, 6, 0, p.drop), p.recent)
	p.larger = container.NewThemeOverride(body, larger{1})
	p.Object = container.NewStack(canvas.NewRectangle(theme.Surface),
		container.NewBorder(notices, page.Padded(0, 5, 12, 12, p.words), nil, nil, container.NewVScroll(container.New(middle{p.grow}, p.larger))))
	return p
}

// grow fits picture, heading and text to the width of the page.
func (p *Page) grow(w float32) {
	k := max(1, w/width)
	p.paper.SetMinSize(fyne.NewSize(400, (w-12)/shownFrames+stripFoot))
	if size := theme.Display * min(1.4, k); p.head.TextSize != size {
		p.head.TextSize = size
		p.head.Refresh()
		p.drop.TextSize = theme.Small * min(1.25, k)
		p.drop.Refresh()
		p.larger.Theme = larger{min(1.25, k)}
		p.larger.Refresh()
	}
}

// larger is the program's theme with larger text.
type larger struct{ by float32 }

func (l larger) Color(n fyne.ThemeColorName, v fyne.ThemeVariant) color.Color {
	return theme.Neutral{}.Color(n, v)
}
func (l larger) Font(s fyne.TextStyle) fyne.Resource     { return theme.Neutral{}.Font(s) }
func (l larger) Icon(n fyne.ThemeIconName) fyne.Resource { return theme.Neutral{}.Icon(n) }
func (l larger) Size(n fyne.ThemeSizeName) float32 {
	if n == ftheme.SizeNameText {
		return theme.Neutral{}.Size(n) * l.by
	}
	return theme.Neutral{}.Size(n)
}

// Say shows words at the foot.
func (p *Page) Say(s string) {
	if s = legible.Line(s); p.words.Text != s {
		p.words.Text = s
		p.words.Refresh()
	}
}

// Recent shows the roll files of before, newest first.
func (p *Page) Recent(paths []string) {
	p.recent.RemoveAll()
	if len(paths) > 0 {
		t := canvas.NewText("Rolls of before", theme.Quiet)
		t.TextSize = theme.Small
		p.recent.Add(page.Padded(0, 0, 6, 0, t))
	}
	row := container.NewGridWithColumns(2)
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
		c := chip.New(name+"  in "+filepath.Base(filepath.Dir(path)), "", func() { p.open(path) })
		c.Leading, c.Hint, c.OnHint = true, path, p.Say
		row.Add(c)
	}
	p.recent.Add(row)
	p.recent.Refresh()
}

// Show shows the picture.
func (p *Page) Show(s *Strip) {
	p.strip = s
	p.paper.Refresh()
}

// middle keeps the page in the middle, and not wider than it reads well.
type middle struct{ grow func(width float32) }

func (m middle) Layout(o []fyne.CanvasObject, size fyne.Size) {
	w := min(max(width, min(most, widthShare*size.Width)), size.Width-40)
	m.grow(w)
	o[0].Resize(fyne.NewSize(w, o[0].MinSize().Height)) // what wraps knows its height only then
	h := o[0].MinSize().Height
	o[0].Move(fyne.NewPos((size.Width-w)/2, max(16, (size.Height-h)/3)))
	o[0].Resize(fyne.NewSize(w, h))
}

func (middle) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(460, o[0].MinSize().Height+32)
}

// Render makes the picture: the sample roll, small. It takes a second.
func Render(ctx context.Context) (*Strip, error) {
	side := frameSide
	d, err := simulate.NewDemoOf("reversal", side, side)
	if err != nil {
		return nil, err
	}
	s := &Strip{Stops: d.Stops()}
	for i := range s.Stops {
		src := d.Open(i)
		info := src.Info()
		r := image.Rect(0, 0, info.Width, info.Height)
		pix, err := src.Region(ctx, r)
		if err != nil {
			return nil, err
		}
		s.Frames = append(s.Frames, shown(pix, info.Width, info.Height, info.Max()))
	}
	return s, nil
}

// shown are the codes of a scan as they are.
func shown(pix []uint16, w, h, most int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for k := range w * h {
		for c := range 3 {
			img.Pix[4*k+c] = uint8(int(pix[3*k+c]) * 255 / max(1, most))
		}
		img.Pix[4*k+3] = 255
	}
	return img
}

// draw draws the frames on their axis, with a range from a stop under to a stop over marked
// as a judge marks it.
func (p *Page) draw(c *paint.Canvas, r image.Rectangle) {
	c.Fill(r, theme.Surface)
	if p.strip == nil || len(p.strip.Frames) == 0 {
		return
	}
	s := p.strip
	n := len(s.Frames)
	gap, foot := c.Px(6), c.Px(42)
	w := (r.Dx() - gap*(n-1)) / n
	h := min(r.Dy()-foot, w*s.Frames[0].Rect.Dy()/s.Frames[0].Rect.Dx())
	axis := float64(r.Min.Y+h) + c.U(14)
	at := func(i int) float64 { return float64(r.Min.X+i*(w+gap)) + float64(w)/2 }
	c.Line(at(0), axis, at(n-1), axis, 1.5, theme.Quiet)
	lo, hi := at(0), at(0)
	for i, v := range s.Stops {
		if v == -1 {
			lo = at(i)
		}
		if v == 1 {
			hi = at(i)
		}
	}
	c.Line(lo, axis, hi, axis, 5, theme.Accent)
	for i, f := range s.Frames {
		x := r.Min.X + i*(w+gap)
		c.Picture(paint.Fit(image.Rect(x, r.Min.Y, x+w, r.Min.Y+h), f.Rect.Dx(), f.Rect.Dy()), f)
		c.Disc(at(i), axis, c.U(4), theme.Text)
		words, style := stops.Label(s.Stops[i]), paint.Style{Size: theme.Body, Col: theme.Quiet}
		if s.Stops[i] == 0 {
			words, style.Col = "0, base frame", theme.Text
		}
		c.TextIn(image.Rect(x-gap, int(math.Round(axis+c.U(6))), x+w+gap, int(math.Round(axis+c.U(28)))), words, style.Aligned(paint.Centre))
	}
}
