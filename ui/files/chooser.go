package files

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/layout"
	ftheme "fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
)

// Ask says what a chooser is for.
type Ask struct {
	Title  string
	Exts   []string // files that are listed, e.g. ".tif"
	Many   bool     // several files, or the whole folder
	Save   bool     // name a file that may not exist yet
	Folder string   // where to start; "" is the home folder
	Name   string   // proposed name when saving
	Verb   string   // on the button: "Open", "Save", "Export"
	// Done gets the full paths; for a whole folder it gets the folder's path.
	Done func(paths []string)
}

// Chooser is the open dialog. Its parts are exported for tests.
type Chooser struct {
	ask     Ask
	win     fyne.Window
	dir     string
	entries []Entry
	picked  map[string]bool
	anchor  int // last row that was tapped

	path   *widget.Entry
	list   *widget.List
	name   *widget.Entry
	status *widget.Label
	accept *widget.Button
	whole  *widget.Button
	pop    *dialog.CustomDialog
}

// Show opens the dialog on win.
func Show(win fyne.Window, ask Ask) *Chooser {
	c := newChooser(win, ask)
	size := win.Canvas().Size()
	c.pop.Resize(fyne.NewSize(min(880, size.Width*0.86), min(660, size.Height*0.86)))
	c.pop.Show()
	if ask.Save {
		win.Canvas().Focus(c.name)
	}
	return c
}

func newChooser(win fyne.Window, ask Ask) *Chooser {
	c := &Chooser{ask: ask, win: win, picked: map[string]bool{}, anchor: -1}
	c.path = widget.NewEntry()
	c.path.OnSubmitted = c.goTo
	c.status = widget.NewLabel("")
	c.status.Truncation = fyne.TextTruncateEllipsis
	c.list = widget.NewList(func() int { return len(c.entries) }, c.newRow, c.fillRow)
	c.list.OnSelected = c.tap
	c.list.MinSize() // makes its renderer: scrolling a list that has none panics (toolkit 2.7.4)
	c.accept = widget.NewButton(ask.Verb, c.finish)
	c.accept.Importance = widget.HighImportance
	cancel := widget.NewButton("Cancel", func() { c.pop.Hide() })

	up := widget.NewButtonWithIcon("", ftheme.MoveUpIcon(), func() { c.goTo(filepath.Dir(c.dir)) })
	home := widget.NewButtonWithIcon("", ftheme.HomeIcon(), func() { c.goTo(homeDir()) })
	top := container.NewBorder(nil, nil, container.NewHBox(up, home), nil, c.path)

	buttons := []fyne.CanvasObject{layout.NewSpacer(), cancel}
	if ask.Many {
		c.whole = widget.NewButton("Open whole folder", func() { c.done([]string{c.dir}) })
		buttons = append(buttons, c.whole)
	}
	buttons = append(buttons, c.accept)
	bottom := container.NewVBox()
	if ask.Save {
		c.name = widget.NewEntry()
		c.name.SetText(ask.Name)
		c.name.OnSubmitted = func(string) { c.finish() }
		c.name.OnChanged = func(string) { c.update() }
		bottom.Add(container.NewBorder(nil, nil, widget.NewLabel("File name"), nil, c.name))
	}
	bottom.Add(container.NewBorder(nil, nil, nil, container.NewHBox(buttons...), c.status))
	c.pop = dialog.NewCustomWithoutButtons(ask.Title, container.NewBorder(top, bottom, nil, nil, c.list), win)
	start := ask.Folder
	if start == "" {
		start = homeDir()
	}
	c.goTo(start)
	return c
}

func homeDir() string {
	if h, err := os.UserHomeDir(); err == nil {
		return h
	}
	return string(filepath.Separator)
}

func (c *Chooser) newRow() fyne.CanvasObject {
	name := widget.NewLabel("")
	name.Truncation = fyne.TextTruncateEllipsis
	size := widget.NewLabel("")
	return container.NewBorder(nil, nil, widget.NewIcon(ftheme.FolderIcon()), size, name)
}

func (c *Chooser) fillRow(id widget.ListItemID, o fyne.CanvasObject) {
	if id >= len(c.entries) {
		return
	}
	e := c.entries[id]
	row := o.(*fyne.Container)
	name, icon, size := row.Objects[0].(*widget.Label), row.Objects[1].(*widget.Icon), row.Objects[2].(*widget.Label)
	name.SetText(legible.Line(e.Name))
	switch {
	case e.Dir:
		icon.SetResource(ftheme.FolderIcon())
		size.SetText("")
	case c.picked[e.Name]:
		icon.SetResource(ftheme.CheckButtonCheckedIcon())
		size.SetText(Bytes(e.Size))
	default:
		icon.SetResource(ftheme.CheckButtonIcon())
		size.SetText(Bytes(e.Size))
	}
}

// tap opens a folder, or picks a file. Where several may be picked a tap adds
// or takes away, and Shift takes all up to the last one tapped.
func (c *Chooser) tap(id widget.ListItemID) {
	c.list.UnselectAll()
	if id < 0 || id >= len(c.entries) {
		return
	}
	e := c.entries[id]
	if e.Dir {
		c.goTo(filepath.Join(c.dir, e.Name))
		return
	}
	switch {
	case c.ask.Save:
		c.name.SetText(e.Name)
	case !c.ask.Many:
		c.picked = map[string]bool{e.Name: true}
	case shiftHeld() && c.anchor >= 0:
		for i := min(c.anchor, id); i <= max(c.anchor, id); i++ {
			if !c.entries[i].Dir {
				c.picked[c.entries[i].Name] = true
			}
		}
	default:
		c.picked[e.Name] = !c.picked[e.Name]
		if !c.picked[e.Name] {
			delete(c.picked, e.Name)
		}
	}
	c.anchor = id
	c.update()
	c.list.Refresh()
}

func shiftHeld() bool {
	d, ok := fyne.CurrentApp().Driver().(interface{ CurrentKeyModifiers() fyne.KeyModifier })
	return ok && d.CurrentKeyModifiers()&fyne.KeyModifierShift != 0
}

func (c *Chooser) goTo(dir string) {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() { // a file was typed
		c.done([]string{dir})
		return
	}
	entries, err := List(dir, c.ask.Exts)
	if err != nil {
		c.status.SetText(legible.Line(err.Error()))
		c.path.SetText(c.dir)
		return
	}
	c.dir, c.entries, c.picked, c.anchor = dir, entries, map[string]bool{}, -1
	c.path.SetText(dir)
	c.list.ScrollToTop()
	c.list.Refresh()
	c.update()
}

func (c *Chooser) files() int {
	n := 0
	for _, e := range c.entries {
		if !e.Dir {
			n++
		}
	}
	return n
}

func (c *Chooser) update() {
	n := c.files()
	switch {
	case c.ask.Save:
		c.status.SetText("")
		enable(c.accept, strings.TrimSpace(c.name.Text) != "")
		return
	case n == 0:
		c.status.SetText("Nothing to open in this folder")
	case len(c.picked) == 0 && c.ask.Many:
		c.status.SetText(plural(n, "scan", "scans") + " here; tap to pick, or open the whole folder")
	case len(c.picked) == 0:
		c.status.SetText("Tap a file to pick it")
	default:
		c.status.SetText(plural(len(c.picked), "file", "files") + " picked")
	}
	enable(c.accept, len(c.picked) > 0)
	if c.whole != nil {
		enable(c.whole, n > 0)
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func enable(b *widget.Button, on bool) {
	if on {
		b.Enable()
	} else {
		b.Disable()
	}
}

func (c *Chooser) finish() {
	if c.ask.Save {
		name := strings.TrimSpace(c.name.Text)
		if name == "" {
			return
		}
		if len(c.ask.Exts) > 0 && !Matches(name, c.ask.Exts) {
			name += c.ask.Exts[0]
		}
		path := filepath.Join(c.dir, name)
		if filepath.IsAbs(name) {
			path = name
		}
		if _, err := os.Stat(path); err == nil {
			dialog.ShowConfirm("Replace "+filepath.Base(path)+"?", "A file with this name is there already.", func(yes bool) {
				if yes {
					c.done([]string{path})
				}
			}, c.win)
			return
		}
		c.done([]string{path})
		return
	}
	var paths []string
	for _, e := range c.entries { // in the order shown
		if c.picked[e.Name] {
			paths = append(paths, filepath.Join(c.dir, e.Name))
		}
	}
	if len(paths) > 0 {
		c.done(paths)
	}
}

func (c *Chooser) done(paths []string) {
	c.pop.Hide()
	c.ask.Done(paths)
}

// Hide closes the dialog without an answer.
func (c *Chooser) Hide() { c.pop.Hide() }
