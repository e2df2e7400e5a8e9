package shelf

import (
	"context"
	"errors"
	"image"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/shelf"
	"stopladder/analysis/shelf/against"
	"stopladder/analysis/show/abreast"
	"stopladder/analysis/show/paint"
	"stopladder/ui/chip"
	"stopladder/ui/files"
	"stopladder/ui/page"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// versus is the comparison of the marked rolls: a page of curves and sentences, or the
// pictures of one stop side by side.
type versus struct {
	w       *Window
	entries []*shelf.Entry
	result  *against.Result
	body    *fyne.Container
	curves  *chip.Chip
	photos  *chip.Chip
	sheet   *sheetView
	abreast *pictures // nil until the pictures are asked for
}

// showCompare compares the marked rolls, in the order in which they stand.
func (w *Window) showCompare() {
	var entries []*shelf.Entry
	var rolls []against.Roll
	for _, e := range w.marked() {
		x, err := against.Take(e)
		if err != nil {
			w.say("These rolls cannot be compared", session.Sentence(err.Error()))
			return
		}
		entries, rolls = append(entries, e), append(rolls, x)
	}
	r, err := against.Compare(rolls, against.Options{})
	if err != nil {
		w.say("These rolls cannot be compared", session.Sentence(err.Error()))
		return
	}
	v := &versus{w: w, entries: entries, result: r}
	v.curves, v.photos = chip.New("Curves and sentences", "C", v.showSheet), chip.New("Pictures side by side", "P", v.showPictures)
	v.curves.Tab, v.photos.Tab = true, true
	head := container.NewBorder(nil, nil, page.Row(chip.New("Back to the shelf", "Esc", w.leave), v.curves, v.photos), page.Row(chip.New("Export the page…", "Ctrl+E", v.export)))
	v.body = container.NewStack()
	w.versus = v
	w.body.Objects = []fyne.CanvasObject{container.NewBorder(page.Padded(8, 6, 14, 14, head), nil, nil, nil, v.body)}
	w.body.Refresh()
	v.showSheet()
}

// marked returns the marked rolls as they stand in the list, those out of sight after them.
func (w *Window) marked() (out []*shelf.Entry) {
	seen := map[string]bool{}
	for _, e := range append(append([]*shelf.Entry{}, w.rows...), w.shelf.Rolls...) {
		if w.chosen[e.Path] && !seen[e.Path] {
			seen[e.Path] = true
			out = append(out, e)
		}
	}
	return out
}

func (v *versus) close() {
	if v.abreast != nil {
		v.abreast.close()
	}
}

func (v *versus) typed(key fyne.KeyName) {
	switch key {
	case fyne.KeyEscape:
		v.w.leave()
	case fyne.KeyC:
		v.showSheet()
	case fyne.KeyP:
		v.showPictures()
	case fyne.KeyUp, fyne.KeyDown, fyne.KeyF:
		if v.abreast != nil && v.body.Objects[0] == v.abreast.object {
			v.abreast.typed(key)
		}
	}
}

func (v *versus) showSheet() {
	if v.sheet == nil {
		v.sheet = newSheetView(v)
	}
	v.tab(true, v.sheet.object)
}

func (v *versus) showPictures() {
	if v.abreast == nil {
		v.abreast = newPictures(v)
	}
	v.tab(false, v.abreast.object)
}

func (v *versus) tab(curves bool, o fyne.CanvasObject) {
	v.curves.Set(v.curves.Text, curves, false)
	v.photos.Set(v.photos.Text, !curves, false)
	v.body.Objects = []fyne.CanvasObject{o}
	v.body.Refresh()
}

// title is over the page.
const title = "Roll against roll"

// export asks for a file for the page.
func (v *versus) export() {
	files.Show(v.w.win, files.Ask{Title: "Export the page (.png, .svg, .pdf or .json)", Exts: append(abreast.Endings(), ".json"), Save: true, Folder: v.w.dir(), Name: "roll against roll.png", Verb: "Export",
		Done: func(paths []string) { v.write(paths[0]) }})
}

func (v *versus) write(path string) {
	r, program := v.result, v.w.host.Program
	v.w.write(path, v.entries, func(out io.Writer) error {
		if strings.EqualFold(filepath.Ext(path), ".json") {
			return r.Documented(program).EncodeJSON(out)
		}
		return abreast.Write(out, abreast.Compare(r, abreast.Width, abreast.White, title), path, "Stopladder "+program)
	})
}

// askExport asks for a file for the rolls in sight, as they are sorted.
func (w *Window) askExport() {
	files.Show(w.win, files.Ask{Title: "Export the rolls in sight (.png, .svg, .pdf, .json or .csv)", Exts: append(abreast.Endings(), ".json", ".csv"), Save: true, Folder: w.dir(), Name: "shelf.png", Verb: "Export",
		Done: func(paths []string) { w.exportRows(paths[0]) }})
}

func (w *Window) exportRows(path string) {
	s, rows, program := w.shelf, slices.Clone(w.rows), w.host.Program
	w.write(path, s.Rolls, func(out io.Writer) error {
		doc := s.Documented(rows, program)
		switch strings.ToLower(filepath.Ext(path)) {
		case ".json":
			return doc.EncodeJSON(out)
		case ".csv":
			return doc.EncodeCSV(out)
		}
		return abreast.Write(out, abreast.Shelf(s, rows, abreast.Width, abreast.White, "Shelf: "+doc.Folder), path, "Stopladder "+program)
	})
}

// write writes an export, which lands on none of the rolls and their scans.
func (w *Window) write(path string, entries []*shelf.Entry, to func(io.Writer) error) {
	var g guard.Guard
	for _, e := range entries {
		g.Reads(e.Path)
		if e.Roll != nil {
			g.Judged(e.Roll)
		}
	}
	if err := g.Writes(path); err != nil {
		w.say("Not exported", session.Sentence(err.Error()))
		return
	}
	w.runner.Start("export", func(ctx context.Context, _ func(func())) func() {
		err := wholefile.Write(path, func(out io.Writer) error { return errors.Join(ctx.Err(), to(out)) })
		return func() {
			if err != nil {
				w.say("Not exported", session.Sentence(err.Error()))
				return
			}
			w.say("Exported", session.Sentence(filepath.Base(path)+" was written"))
		}
	})
}

// sheetView shows the page, painted in a worker for the width that it has, in bands that no
// graphics driver finds too large.
type sheetView struct {
	v      *versus
	object fyne.CanvasObject
	box    *fyne.Container
	scroll *container.Scroll
	width  float32
}

const (
	band  = 1024 // device pixels
	bar   = 14   // units that the bar of the scroll takes
	least = 660  // units that the page is drawn for at least
)

func newSheetView(v *versus) *sheetView {
	s := &sheetView{v: v, box: container.NewWithoutLayout()}
	s.scroll = container.NewVScroll(s.box)
	s.object = container.New(&fitted{s}, canvas.NewRectangle(theme.Surface), s.scroll)
	return s
}

// fitted tells the view its width.
type fitted struct{ s *sheetView }

func (f *fitted) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(300, 200) }
func (f *fitted) Layout(o []fyne.CanvasObject, size fyne.Size) {
	for _, x := range o {
		x.Move(fyne.NewPos(0, 0))
		x.Resize(size)
	}
	if size.Width > 0 && size.Width != f.s.width {
		f.s.width = size.Width
		f.s.paint(float64(size.Width - bar))
	}
}

func (s *sheetView) paint(width float64) {
	r, w := s.v.result, s.v.w
	scale := float64(w.win.Canvas().Scale())
	if len(s.box.Objects) == 0 {
		wait := widget.NewLabel("Drawing…")
		wait.Resize(wait.MinSize())
		s.box.Objects = []fyne.CanvasObject{wait}
		s.box.Refresh()
	}
	w.runner.Start("page", func(ctx context.Context, _ func(func())) func() {
		l := abreast.Compare(r, math.Max(least, width), abreast.Dark, title)
		var images []*image.RGBA
		wide := int(math.Round(l.W * scale))
		high := int(math.Round(l.H * scale))
		for y := 0; y < high && ctx.Err() == nil; y += band {
			img := image.NewRGBA(image.Rect(0, 0, wide, min(band, high-y)))
			c := paint.New(img, scale)
			l.Paint(c, image.Rect(0, -y, wide, high-y))
			images = append(images, img)
		}
		return func() { s.take(images, scale) }
	})
}

func (s *sheetView) take(images []*image.RGBA, scale float64) {
	s.box.Objects = nil
	y := float32(0)
	wide := float32(0)
	for _, img := range images {
		o := canvas.NewImageFromImage(img)
		o.ScaleMode = canvas.ImageScalePixels
		size := fyne.NewSize(float32(float64(img.Rect.Dx())/scale), float32(float64(img.Rect.Dy())/scale))
		o.Resize(size)
		o.Move(fyne.NewPos(0, y))
		y += size.Height
		wide = size.Width
		s.box.Objects = append(s.box.Objects, o)
	}
	s.box.Layout = sized{fyne.NewSize(min(wide, s.width-bar), y)}
	s.box.Refresh()
	s.scroll.Refresh()
}

// sized has a size of its own and moves nothing.
type sized struct{ size fyne.Size }

func (s sized) MinSize([]fyne.CanvasObject) fyne.Size   { return s.size }
func (sized) Layout(_ []fyne.CanvasObject, _ fyne.Size) {}
