package files

import (
	"fmt"
	"image/color"
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/theme"
)

// Ask says what a chooser is for.
type Ask struct {
	Title   string
	Exts    []string // files that are listed, e.g. ".tif"
	Many    bool     // several files, or the whole folder
	Save    bool     // name a file that may not exist yet
	Into    bool     // Save names a folder to write into, which may be there
	Folder  string   // where to start; "" is the home folder
	Name    string   // proposed name when saving
	Verb    string   // on the button: "Open", "Save", "Export"
	Whole   string   // on the button for the folder itself; "" is "Open the whole folder"
	Folders []string // used lately, newest first
	Rolls   []string // roll files used lately; one of them is an answer
	// Done gets the full paths; for a whole folder it gets the folder's path.
	Done func(paths []string)
}

// Chooser is the card on which files are chosen: places at the left, what stands in a
// folder beside them.
type Chooser struct {
	*ask.Card
	ask  Ask
	over fyne.Canvas
	dir  string

	path   *ask.Entry
	list   *listing
	name   *ask.Entry // nil when nothing is saved
	status *canvas.Text
}

// The answers, as they are called.
const (
	wholeFolder = "Open the whole folder"
	cancel      = "Cancel"
)

// Show asks on a window.
func Show(win fyne.Window, a Ask) *Chooser {
	c := newChooser(win, a)
	c.Show()
	return c
}

func newChooser(win fyne.Window, a Ask) *Chooser {
	c := &Chooser{ask: a, over: win.Canvas()}
	c.path = ask.NewEntry(c.over, "")
	c.path.OnReturn = func() {
		if c.goTo(strings.TrimSpace(c.path.Text)) && c.Shown() {
			c.over.Focus(c.list) // Return goes on from there
		}
	}
	c.path.OnEscape = func() { c.Hide() }
	c.list = newListing(c.over)
	c.list.many = a.Many
	c.list.onOpen, c.list.onUp, c.list.onEscape = c.open, c.parent, func() { c.Hide() }
	c.list.onChange, c.list.onNone = c.update, func() { c.Main() }
	c.list.onPath = func(begun string) {
		c.over.Focus(c.path)
		c.path.SetText(begun)
		c.path.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEnd}) // nothing stays chosen that typing would write over
	}
	c.status = canvas.NewText("", theme.Quiet)
	c.status.TextSize = theme.Small

	top := container.NewBorder(nil, nil, chip.New("Up", "Backspace", c.parent), nil, c.path)
	main := container.NewBorder(page.Padded(0, 6, 0, 0, top), nil, nil, nil, c.list)
	bottom := container.NewVBox()
	if a.Save {
		c.name = ask.NewEntry(c.over, a.Name)
		c.name.Stem = true
		c.name.OnReturn, c.name.OnEscape = c.finish, func() { c.Hide() }
		c.name.OnChanged = func(string) { c.update() }
		bottom.Add(page.Padded(6, 0, 0, 0, container.NewBorder(nil, nil, widget.NewLabel(c.named()), nil, c.name)))
	}
	bottom.Add(page.Padded(6, 0, 2, 0, c.status))
	answers := []ask.Answer{{Text: cancel}}
	if a.Many {
		if a.Whole == "" {
			a.Whole = wholeFolder
		}
		c.ask.Whole = a.Whole
		answers = append(answers, ask.Answer{Text: a.Whole, Off: func() bool { return c.files() == 0 }, Do: c.whole})
	}
	answers = append(answers, ask.Answer{Text: a.Verb, Main: true, Stay: true, Off: c.unready, Do: c.finish})
	spec := ask.Spec{Title: a.Title, Content: container.NewBorder(nil, bottom, page.Padded(0, 0, 0, 12, c.places()), nil, main),
		Width: 960, Height: 680, Answers: answers, First: c.list, OnReturn: c.whole}
	if a.Save {
		spec.First = c.name
	}
	c.Card = ask.New(c.over, spec)
	start := a.Folder
	if start == "" {
		start = homeDir()
	}
	for !c.goTo(start) { // a folder that is gone: where it stood
		up := filepath.Dir(start)
		if up == start {
			break
		}
		start = up
	}
	return c
}

func homeDir() string {
	if h, err := os.UserHomeDir(); err == nil {
		return h
	}
	return string(filepath.Separator)
}

// placesWidth is the width of the places, toolkit units.
const placesWidth = 190

// places are the folders and rolls that one goes to straight.
func (c *Chooser) places() fyne.CanvasObject {
	box := container.NewVBox()
	head := func(s string) {
		t := canvas.NewText(s, theme.Quiet)
		t.TextSize = theme.Small
		box.Add(page.Padded(8, 2, 4, 0, t))
	}
	add := func(words, hint string, do func()) {
		ch := chip.New(fitted(words, placesWidth-20), "", do)
		ch.Hint, ch.OnHint = hint, c.say
		ch.Leading = true
		box.Add(ch)
	}
	head("Places")
	add("Home", homeDir(), func() { c.goTo(homeDir()) })
	for _, r := range roots() {
		add(r.words, r.path, func() { c.goTo(r.path) })
	}
	for i, f := range c.ask.Folders {
		if i == 0 {
			head("Recent folders")
		}
		add(tail(f), f, func() { c.goTo(f) })
	}
	for i, r := range c.ask.Rolls {
		if i == 0 {
			head("Recent rolls")
		}
		add(strings.TrimSuffix(filepath.Base(r), filepath.Ext(r)), r, func() { c.done([]string{r}) })
	}
	width := canvas.NewRectangle(color.Transparent)
	width.SetMinSize(fyne.NewSize(placesWidth, 1))
	return container.NewBorder(width, nil, nil, nil, container.NewVScroll(box))
}

// tail is a folder's name with that of the one that it is in, which tells apart the many
// that are called "scans".
func tail(path string) string {
	in := filepath.Base(filepath.Dir(path))
	if in == string(filepath.Separator) || in == "." {
		return filepath.Base(path)
	}
	return filepath.Join(in, filepath.Base(path))
}

// fitted shortens words at their beginning, since the end of a path tells more.
func fitted(s string, width float32) string {
	s = legible.Line(s)
	wide := func(s string) bool { return fyne.MeasureText(s, theme.Body, fyne.TextStyle{}).Width > width }
	if !wide(s) {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && wide("…"+string(r)) {
		r = r[1:]
	}
	return "…" + string(r)
}

func (c *Chooser) say(s string) {
	if s == "" {
		s = c.words()
	}
	if s = legible.Line(s); c.status.Text != s {
		c.status.Text = s
		c.status.Refresh()
	}
}

// goTo shows a folder, and says whether it could; the path of a file that was written is
// an answer.
func (c *Chooser) goTo(dir string) bool {
	if strings.HasPrefix(dir, "~") {
		dir = homeDir() + dir[1:]
	}
	if volume := filepath.VolumeName(dir); volume != "" && volume == dir {
		dir += string(filepath.Separator) // "C:" alone is the folder that a terminal stood in last
	}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() && !c.ask.Save {
		c.done([]string{dir})
		return true
	}
	entries, err := List(dir, c.ask.Exts)
	if err != nil {
		c.say(err.Error())
		return false
	}
	from := ""
	if filepath.Dir(c.dir) == dir {
		from = filepath.Base(c.dir) // one comes from there
	}
	c.dir = dir
	c.path.SetText(dir)
	c.list.fill(entries, from)
	c.update()
	return true
}

func (c *Chooser) parent() {
	if up := filepath.Dir(c.dir); up != c.dir {
		c.goTo(up)
	}
}

// open is what Return and a double click do: go into a folder, or take the file.
func (c *Chooser) open(e Entry) {
	switch {
	case e.Dir:
		c.goTo(filepath.Join(c.dir, e.Name))
	default:
		c.finish()
	}
}

func (c *Chooser) files() int {
	n := 0
	for _, e := range c.list.entries {
		if !e.Dir {
			n++
		}
	}
	return n
}

// unready reports that there is no answer yet.
func (c *Chooser) unready() bool {
	if c.ask.Save {
		return strings.TrimSpace(c.name.Text) == ""
	}
	return len(c.list.files()) == 0 && c.list.folder() == ""
}

// words say what is there and what is chosen.
func (c *Chooser) words() string {
	n, chosen := c.files(), len(c.list.files())
	switch {
	case c.ask.Save:
		return ""
	case chosen > 0:
		return plural(chosen, "file", "files") + " of " + fmt.Sprint(n) + " chosen"
	case n == 0:
		return "Nothing to open stands in this folder itself"
	case c.ask.Many:
		return plural(n, "scan", "scans") + " here: choose some with Ctrl or Shift, or open the whole folder"
	}
	return plural(n, "file", "files") + " here"
}

func (c *Chooser) update() {
	if c.Card == nil {
		return
	}
	if c.ask.Save {
		if f := c.list.files(); len(f) == 1 && c.list.clicked {
			c.list.clicked = false
			c.name.SetText(f[0])
		}
	}
	c.say("")
	c.Changed()
	if c.ask.Many { // Return does it while nothing is chosen
		c.SetKey(c.ask.Whole, map[bool]string{true: "Return"}[c.wholeByReturn()])
	}
}

// wholeByReturn reports whether Return opens the folder that is shown: there are scans in it,
// and none is chosen.
func (c *Chooser) wholeByReturn() bool { return c.ask.Many && c.unready() && c.files() > 0 }

// whole answers with the folder that is shown.
func (c *Chooser) whole() {
	if c.files() > 0 {
		c.done([]string{c.dir})
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// finish gives the answer: the name that is to be saved under, the files that are chosen,
// or where a folder alone is chosen goes into it.
func (c *Chooser) finish() {
	if c.ask.Save {
		c.save()
		return
	}
	var paths []string
	for _, n := range c.list.files() {
		paths = append(paths, filepath.Join(c.dir, n))
	}
	switch {
	case len(paths) > 0:
		c.done(paths)
	case c.list.folder() != "":
		c.goTo(filepath.Join(c.dir, c.list.folder()))
	}
}

// named says what is named.
func (c *Chooser) named() string {
	if c.ask.Into {
		return "Folder's name"
	}
	return "File name"
}

func (c *Chooser) save() {
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
	if st, err := os.Stat(path); err != nil || c.ask.Into && st.IsDir() {
		c.done([]string{path})
		return
	}
	ask.Show(c.over, ask.Spec{Title: "Replace " + filepath.Base(path) + "?", Content: ask.Text("A file with this name is there already."), Width: 440,
		Answers: []ask.Answer{{Text: cancel}, {Text: "Replace", Main: true, Do: func() { c.done([]string{path}) }}}})
}

func (c *Chooser) done(paths []string) {
	c.Hide()
	c.ask.Done(paths)
}
