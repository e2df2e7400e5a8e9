// Package shelf is the window on many rolls: the roll files of a folder as small multiples
// on one axis of stops, and two to twelve of them held against each other, as curves and
// sentences or as pictures of one stop side by side. What it shows is gathered by
// analysis/shelf and drawn by analysis/show/abreast.
package shelf

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/layout"
	ftheme "fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/load/anew"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/load/samples"
	"stopladder/analysis/shelf"
	"stopladder/analysis/shelf/against"
	"stopladder/analysis/show/abreast"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/files"
	"stopladder/ui/page"
	"stopladder/ui/pick"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// Host is what the program does for the window.
type Host struct {
	Program string            // version
	Folder  string            // that is looked at first; "" none
	Start   string            // where folders are looked for while none is looked at
	Kept    func(dir string)  // a folder is looked at: it is remembered
	Open    func(path string) // opens a roll file in the main window
	Do      func(func())      // runs a function on the window's goroutine
}

// Window is the shelf's window.
type Window struct {
	host   Host
	win    fyne.Window
	runner *session.Runner
	closed bool

	shelf  *shelf.Shelf    // nil: no folder was chosen, or it is being looked at
	failed error           // why it cannot be looked at
	rows   []*shelf.Entry  // as sorted and filtered
	chosen map[string]bool // by path, to be compared
	lo, hi float64         // of the common axis
	busy   string          // what is being done, "" nothing

	find                  *widget.Entry
	order, stock, lab     *pick.One
	folder                *canvas.Text
	status                *canvas.Text
	list                  *widget.List
	axis                  *drawn
	compare, anew, cancel *chip.Chip
	export                *chip.Chip
	body                  *fyne.Container // the shelf, or a comparison
	main                  fyne.CanvasObject
	legend                *widget.Label
	plain                 *fyne.Container // in the list's place: what to do next
	versus                *versus         // the comparison that is shown; nil: none
	filling               bool
}

// words of the keys by which is sorted.
var keyWords = map[shelf.Key]string{shelf.ByName: "name", shelf.ByStock: "film stock", shelf.ByLab: "lab", shelf.ByScanner: "scanner", shelf.ByDevelopment: "development",
	shelf.ByDate: "date", shelf.ByUnder: "how far under it holds", shelf.ByOver: "how far over it holds", shelf.ByJudged: "width of the judge's range"}

// all is the choice of a filter that filters nothing.
const allStocks, allLabs = "All stocks", "All labs"

// New builds the window, and looks at the host's folder.
func New(app fyne.App, h Host) *Window {
	w := &Window{host: h, chosen: map[string]bool{}, lo: -3, hi: 4}
	w.win = app.NewWindow("Shelf · Stopladder")
	w.win.SetPadded(false)
	w.runner = session.NewRunner(h.Do, func(session.Change) {})
	w.build()
	w.win.SetOnClosed(func() {
		w.closed = true
		w.runner.StopAll()
		w.leave()
	})
	w.win.Canvas().SetOnTypedKey(w.typed)
	w.win.Canvas().AddShortcut(&desktop.CustomShortcut{KeyName: fyne.KeyO, Modifier: fyne.KeyModifierShortcutDefault}, func(fyne.Shortcut) { w.choose() })
	w.win.Canvas().AddShortcut(&desktop.CustomShortcut{KeyName: fyne.KeyE, Modifier: fyne.KeyModifierShortcutDefault}, func(fyne.Shortcut) {
		switch {
		case w.win.Canvas().Overlays().Top() != nil:
		case w.versus != nil:
			w.versus.export()
		case len(w.rows) > 0:
			w.askExport()
		}
	})
	w.win.SetOnDropped(func(_ fyne.Position, uris []fyne.URI) {
		if len(uris) == 1 && uris[0].Scheme() == "file" {
			w.Look(filepath.FromSlash(uris[0].Path()))
		}
	})
	w.win.Resize(fyne.NewSize(1180, 780))
	if h.Folder != "" {
		w.Look(h.Folder)
	}
	w.show()
	return w
}

// Show shows the window, and brings it to the front when it is open already.
func (w *Window) Show() {
	w.win.Show()
	w.win.RequestFocus()
}

// Closed reports whether the window was closed and another is needed.
func (w *Window) Closed() bool { return w.closed }

// Resize gives the window a size, for tests and pictures of it.
func (w *Window) Resize(s fyne.Size) { w.win.Resize(s) }

// Window returns the toolkit's window, for tests.
func (w *Window) Window() fyne.Window { return w.win }

func text(s string, size float32, col interface {
	RGBA() (r, g, b, a uint32)
}) *canvas.Text {
	t := canvas.NewText(s, col)
	t.TextSize = size
	return t
}

func (w *Window) build() {
	w.folder = text("", theme.Small, theme.Quiet)
	w.status = text("", theme.Small, theme.Quiet)
	w.find = widget.NewEntry()
	w.find.SetPlaceHolder("Find words")
	w.find.OnChanged = func(string) { w.arrange() }
	var keys []string
	for _, k := range shelf.Keys() {
		keys = append(keys, "By "+keyWords[k])
	}
	changed := func(string) {
		if !w.filling {
			w.arrange()
		}
	}
	w.order = pick.New(keys, changed)
	w.stock = pick.New([]string{allStocks}, changed)
	w.lab = pick.New([]string{allLabs}, changed)
	w.filling = true
	w.order.SetSelectedIndex(0)
	w.stock.SetSelectedIndex(0)
	w.lab.SetSelectedIndex(0)
	w.filling = false

	w.compare = chip.New("Compare", "Return", w.showCompare)
	w.compare.Main = true
	w.anew = chip.New("Measure anew", "", w.measureAnew)
	w.cancel = chip.New("Stop", "", w.stop)
	w.export = chip.New("Export…", "Ctrl+E", w.askExport)
	middle := func(o fyne.CanvasObject) fyne.CanvasObject {
		return container.NewVBox(layout.NewSpacer(), o, layout.NewSpacer())
	}
	head := container.NewBorder(nil, nil, page.Padded(0, 0, 4, 12, text("Shelf", theme.Title, theme.Text)), page.Row(
		chip.New("Choose the folder…", "Ctrl+O", w.choose), chip.New("Look again", "F5", w.again), chip.New("Sample shelf…", "", w.askSample), w.export), middle(w.folder))
	high := w.find.MinSize().Height
	of := func(width float32, s *pick.One) fyne.CanvasObject {
		return container.NewGridWrap(fyne.NewSize(width, high), s)
	}
	tools := container.NewBorder(nil, nil, container.NewHBox(of(230, w.order), of(190, w.stock), of(170, w.lab)), nil, w.find)
	w.axis = newDrawn(fyne.NewSize(200, 36))
	w.list = widget.NewList(func() int { return len(w.rows) }, func() fyne.CanvasObject { return newLine(w) }, func(i widget.ListItemID, o fyne.CanvasObject) {
		if i < len(w.rows) {
			o.(*line).set(w.rows[i])
		}
	})
	w.list.HideSeparators = true
	w.plain = container.NewStack()
	w.legend = widget.NewLabel(abreast.Legend)
	w.legend.Wrapping = fyne.TextWrapWord
	w.legend.Importance = widget.LowImportance
	w.legend.SizeName = ftheme.SizeNameCaptionText
	foot := container.NewVBox(w.legend, container.NewBorder(nil, nil, nil, page.Row(w.cancel, w.anew, w.compare), middle(w.status)))
	w.main = container.NewBorder(container.NewVBox(page.Padded(10, 6, 14, 14, head), page.Padded(0, 6, 14, 14, tools), container.New(besides{}, w.axis)),
		page.Padded(6, 8, 14, 14, foot), nil, nil, container.NewStack(w.list, w.plain))
	w.body = container.NewStack(w.main)
	w.win.SetContent(container.NewStack(canvas.NewRectangle(theme.Surface), w.body))
}

// Look looks at a folder.
func (w *Window) Look(dir string) {
	w.leave()
	w.busy, w.failed = "Looking at the roll files…", nil
	w.show()
	program := w.host.Program
	w.runner.Start("look", func(ctx context.Context, _ func(func())) func() {
		s, err := shelf.Gather(ctx, dir, program)
		return func() {
			w.busy = ""
			if err != nil {
				w.shelf, w.failed, w.rows = nil, err, nil
				w.show()
				return
			}
			w.shelf = s
			for path := range w.chosen {
				if !slices.ContainsFunc(s.Rolls, func(e *shelf.Entry) bool { return e.Path == path }) {
					delete(w.chosen, path)
				}
			}
			if w.host.Kept != nil {
				w.host.Kept(s.Folder)
			}
			w.fillFilters()
			w.arrange()
		}
	})
}

// fillFilters offers the stocks and labs that are there.
func (w *Window) fillFilters() {
	w.filling = true
	defer func() { w.filling = false }()
	fill := func(s *pick.One, all string, of func(r *roll.Roll) string) {
		was := s.Selected
		options := []string{all}
		for _, e := range w.shelf.Rolls {
			if e.Roll != nil {
				if v := of(e.Roll); v != "" && !slices.Contains(options, v) {
					options = append(options, v)
				}
			}
		}
		slices.Sort(options[1:])
		s.SetOptions(options)
		if !slices.Contains(options, was) {
			was = all
		}
		s.SetSelected(was)
	}
	fill(w.stock, allStocks, func(r *roll.Roll) string { return r.Stock })
	fill(w.lab, allLabs, func(r *roll.Roll) string { return r.Lab })
}

// arrange sorts and filters.
func (w *Window) arrange() {
	if w.shelf == nil {
		return
	}
	f := shelf.Filter{Words: w.find.Text}
	if w.stock.Selected != allStocks {
		f.Stock = w.stock.Selected
	}
	if w.lab.Selected != allLabs {
		f.Lab = w.lab.Selected
	}
	w.rows = shelf.Choose(w.shelf.Rolls, f)
	if i := w.order.SelectedIndex(); i >= 0 {
		shelf.Sort(w.rows, shelf.Keys()[i])
	}
	w.lo, w.hi = shelf.Span(w.shelf.Rolls) // of all: filtering moves nothing
	w.show()
}

// show brings up to date what is shown.
func (w *Window) show() {
	w.folder.Text = ""
	if w.shelf != nil {
		w.folder.Text = tail(w.shelf.Folder)
	}
	w.folder.Refresh()
	stale := w.stale()
	w.anew.Set(fmt.Sprintf("Measure anew: %d", len(stale)), false, len(stale) == 0 || w.busy != "")
	n := w.count()
	words := "Compare"
	if n > 0 {
		words = fmt.Sprintf("Compare %d", n)
	}
	w.compare.Set(words, false, n < against.Least || n > against.Most)
	w.export.Set("Export…", false, len(w.rows) == 0)
	if w.busy != "" {
		w.cancel.Show()
	} else {
		w.cancel.Hide()
	}
	w.status.Text = w.words(n)
	w.status.Refresh()
	w.showPlain()
	lo, hi := w.lo, w.hi
	w.axis.draw(func(width float64) *drawing { return abreast.Axis(width, abreast.Dark, lo, hi) })
	w.list.Refresh()
}

// words are those of the status line.
func (w *Window) words(n int) string {
	switch {
	case w.busy != "":
		return w.busy
	case w.shelf == nil:
		return ""
	case n > against.Most:
		return fmt.Sprintf("%d rolls are marked; at most %d are compared at once.", n, against.Most)
	case n == 1:
		return "One roll is marked; mark another to compare them."
	case n > 1:
		return "Return compares the marked rolls."
	}
	s := fmt.Sprintf("%d of %d rolls", len(w.rows), len(w.shelf.Rolls))
	if len(w.rows) == len(w.shelf.Rolls) {
		s = fmt.Sprintf("%d rolls", len(w.rows))
		if len(w.rows) == 1 {
			s = "1 roll"
		}
	}
	if len(w.shelf.Notes) > 0 {
		return s + ". " + w.shelf.Notes[0]
	}
	return s + ". Mark two to twelve to compare them; a click on a roll marks it."
}

// showPlain says what to do next where there is no roll to list.
func (w *Window) showPlain() {
	var title, words string
	var ways []fyne.CanvasObject
	choose, sample := chip.New("Choose the folder…", "Ctrl+O", w.choose), chip.New("Sample shelf…", "", w.askSample)
	switch {
	case w.busy != "" && w.shelf == nil:
		title = w.busy
	case w.failed != nil:
		title, words = "The folder cannot be looked at", session.Sentence(w.failed.Error())
		ways = []fyne.CanvasObject{choose}
	case w.shelf == nil:
		title = "Keep your rolls side by side"
		words = "A shelf is a folder of roll files: stocks, labs, scanners, developments, years. They stand here on one axis of stops, and two to twelve of them can be held against each other. Choose the folder that your roll files are saved in, or let the program write four sample rolls."
		ways = []fyne.CanvasObject{choose, sample}
	case len(w.shelf.Rolls) == 0:
		title = "No roll file is in this folder"
		words = "Open a roll's scans in the main window, judge it, and save it (Ctrl+S): the file keeps its readings, and stands here. Or choose another folder, or let the program write four sample rolls."
		ways = []fyne.CanvasObject{choose, sample}
	case len(w.rows) == 0:
		title, words = "No roll has these words", "Take the filter away to see all rolls."
		ways = []fyne.CanvasObject{chip.New("Show all rolls", "", w.noFilter)}
	}
	if title == "" {
		w.plain.Objects = nil
		w.plain.Refresh()
		w.list.Show()
		w.axis.Show()
		w.legend.Show()
		return
	}
	w.list.Hide()
	w.axis.Hide()
	w.legend.Hide()
	l := widget.NewLabel(words)
	l.Wrapping = fyne.TextWrapWord
	l.Alignment = fyne.TextAlignCenter
	head := text(title, theme.Display, theme.Text)
	head.Alignment = fyne.TextAlignCenter
	chips := container.NewHBox(append(append([]fyne.CanvasObject{layout.NewSpacer()}, ways...), layout.NewSpacer())...)
	w.plain.Objects = []fyne.CanvasObject{container.NewVBox(layout.NewSpacer(), head, container.New(narrow{620}, l), chips, layout.NewSpacer(), layout.NewSpacer())}
	w.plain.Refresh()
}

func (w *Window) noFilter() {
	w.filling = true
	w.find.SetText("")
	w.stock.SetSelected(allStocks)
	w.lab.SetSelected(allLabs)
	w.filling = false
	w.arrange()
}

// tail shortens a path from its beginning.
func tail(path string) string {
	rs := []rune(filepath.ToSlash(path))
	if len(rs) > 64 {
		return "…" + string(rs[len(rs)-63:])
	}
	return string(rs)
}

// count is how many rolls are marked.
func (w *Window) count() (n int) {
	for _, on := range w.chosen {
		if on {
			n++
		}
	}
	return n
}

// stale are the rolls that can be measured anew: of those that are marked, else of all in
// sight.
func (w *Window) stale() (out []*shelf.Entry) {
	some := w.count() > 0
	for _, e := range w.rows {
		if e.Roll != nil && e.Stale != "" && len(e.Missing) == 0 && (!some || w.chosen[e.Path]) {
			out = append(out, e)
		}
	}
	return out
}

// mark marks a roll for the comparison, or takes the mark away.
func (w *Window) mark(e *shelf.Entry, on bool) {
	if e.Readings() == nil {
		w.busy = ""
		w.say("This roll cannot be compared", session.Sentence(e.Called()+" keeps no readings: measure it anew here, or open it and save it"))
		on = false
	}
	if on {
		w.chosen[e.Path] = true
	} else {
		delete(w.chosen, e.Path)
	}
	w.show()
}

func (w *Window) say(title, words string) {
	ask.Show(w.win.Canvas(), ask.Spec{Title: title, Content: ask.Text(words), Width: 520, Answers: []ask.Answer{{Text: "Close", Main: true}}})
}

func (w *Window) choose() {
	files.Show(w.win, files.Ask{Title: "Choose the folder of roll files", Exts: []string{roll.Ext}, Folder: w.dir(), Verb: "Look at its folder", Whole: "Look at this folder", Many: true,
		Done: func(paths []string) {
			dir := paths[0]
			if strings.EqualFold(filepath.Ext(dir), roll.Ext) {
				dir = filepath.Dir(dir)
			}
			w.Look(dir)
		}})
}

func (w *Window) dir() string {
	switch {
	case w.shelf != nil:
		return w.shelf.Folder
	case w.host.Folder != "" && w.failed == nil:
		return w.host.Folder
	}
	return w.host.Start
}

func (w *Window) again() {
	if w.shelf != nil {
		w.Look(w.shelf.Folder)
	}
}

func (w *Window) stop() {
	w.runner.StopAll()
	w.busy = ""
	if w.shelf != nil {
		w.again() // as far as it went
		return
	}
	w.show()
}

// askSample asks where to write the sample shelf, and writes it.
func (w *Window) askSample() {
	files.Show(w.win, files.Ask{Title: "Write four sample rolls", Save: true, Into: true, Folder: w.dir(), Name: "sample shelf", Verb: "Write",
		Done: func(paths []string) { w.Sample(paths[0]) }})
}

// Sample writes the sample shelf into a folder, and looks at it.
func (w *Window) Sample(dir string) {
	w.busy = "Writing the sample shelf…"
	w.show()
	program := w.host.Program
	w.runner.Start("sample", func(ctx context.Context, post func(func())) func() {
		_, err := samples.Write(ctx, dir, samples.Options{Program: program, Progress: func(done float64, words string) {
			post(func() { w.tell(fmt.Sprintf("Sample shelf %.0f %%: %s", 100*done, words)) })
		}})
		return func() {
			w.busy = ""
			if err != nil {
				w.show()
				w.say("The sample shelf was not written", session.Sentence(err.Error()))
				return
			}
			w.Look(dir)
		}
	})
}

func (w *Window) tell(words string) {
	w.busy = words
	w.status.Text = words
	w.status.Refresh()
	if w.shelf == nil {
		w.showPlain()
	}
}

// measureAnew measures what is to be, one roll after the other.
func (w *Window) measureAnew() {
	rolls := w.stale()
	if len(rolls) == 0 || w.busy != "" {
		return
	}
	w.busy = "Measuring…"
	w.show()
	program := w.host.Program
	w.runner.Start("anew", func(ctx context.Context, post func(func())) func() {
		var failed []string
		for i, e := range rolls {
			done, all := 0, len(e.Roll.Frames)
			tell := func() {
				words := fmt.Sprintf("Measuring %s, %d of %d rolls, %d of %d scans", e.Called(), i+1, len(rolls), min(done, all), all)
				post(func() { w.tell(words) })
			}
			tell()
			err := anew.Measure(ctx, e.Path, program, load.Options{}, func(ev load.Event) {
				if ev.Kind == load.Looked || ev.Kind == load.Failed {
					memory.Bound()
					done++
					tell()
				}
			})
			if ctx.Err() != nil {
				return nil
			}
			if err != nil {
				failed = append(failed, e.Called()+": "+err.Error())
			}
		}
		return func() {
			w.busy = ""
			w.again()
			if len(failed) > 0 {
				w.say("Not measured", session.Sentence(failed[0]))
			}
		}
	})
}

// typed gets the keys while no entry has the keyboard.
func (w *Window) typed(e *fyne.KeyEvent) {
	switch {
	case w.win.Canvas().Overlays().Top() != nil:
	case w.versus != nil:
		w.versus.typed(e.Name)
	case e.Name == fyne.KeyReturn || e.Name == fyne.KeyEnter:
		if n := w.count(); n >= against.Least && n <= against.Most {
			w.showCompare()
		}
	case e.Name == fyne.KeyF5:
		w.again()
	case e.Name == fyne.KeyEscape:
		w.chosen = map[string]bool{}
		w.show()
	}
}

// leave ends the comparison.
func (w *Window) leave() {
	if w.versus == nil {
		return
	}
	w.versus.close()
	w.versus = nil
	w.body.Objects = []fyne.CanvasObject{w.main}
	w.body.Refresh()
}
