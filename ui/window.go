// Package ui is the window: the ladder at the left, the pictures right of it,
// and under them the bar in which the judge works. It wires the parts together;
// what they show is kept by ui/session, what they draw is drawn by analysis.
//
// All of it runs on the toolkit's goroutine. Reading, measuring and exporting
// run elsewhere and come back through fyne.Do.
package ui

import (
	"context"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/assets"
	"stopladder/ui/chip"
	"stopladder/ui/commands"
	"stopladder/ui/ladder"
	"stopladder/ui/pane"
	"stopladder/ui/paper"
	"stopladder/ui/planner"
	"stopladder/ui/session"
	"stopladder/ui/settings"
	"stopladder/ui/theme"
)

// Window is the program's one window.
type Window struct {
	planner   *planner.Planner // nil until it is asked for
	app       fyne.App
	win       fyne.Window
	settings  *settings.Settings
	journal   *roll.Journal // nil where none can be kept
	journalMu sync.Mutex
	sess      *session.Session
	cmds      commands.Table

	ladder   *ladder.Ladder
	pictures *pane.Group
	split    *container.Split
	head     *paper.Paper
	title    string
	subtitle string
	chips    map[string][]*chip.Chip // by command; a command may stand in several places
	bar      *judgeBar
	notices  *noticeStrip
	side     *side
	status   *statusLine
	stage    *fyne.Container // pictures, or the page of an empty window
	empty    fyne.CanvasObject

	ids         map[string]int // file -> id for the pictures; kept while the window lives
	files       []string       // id -> file
	load        context.CancelFunc
	measured    *film.Roll // as much as is known of the open roll
	loading     bool
	lastNote    time.Time
	backup      *time.Timer
	recovered   []notice // what an earlier session left, shown with the first roll
	demos       map[string]*simulate.Demo
	noteFrom    string                        // note before the judge began to type, for one undo step
	dialog      interface{ Hide() }           // the one that Escape closes
	placing     *placing                      // nil: no frame is being placed by hand
	corrections map[string]*render.Correction // by what they correct
	lost        map[string]*render.Share      // by file
	glideWas    glideState
	noisy       map[string]noisyMask // by file
	tone        struct {
		key string
		f   func(y float64) float64
	}
	costing      bool // the cost of a correction by hand is being measured
	pickWords    string
	picking      func(frame int, at image.Point) // gets the next click on a picture; nil: it moves the playhead
	difference   differing                       // how frames are shown as their difference against the base
	curve        *curvePage
	showsCurve   bool
	showsCosts   bool         // the ladder shows what salvage costs
	limiting     bool         // inside one drag of a limit
	home         string       // folder for settings and recovery copies, "" for none
	do           func(func()) // runs a function on the window's goroutine
	savedWithout string       // roll file that was saved while scans were being read
}

// Options say what the window opens with.
type Options struct {
	Paths []string     // scans, a folder or a roll file; none: the demo roll
	Home  string       // folder for settings and recovery copies; "" keeps nothing
	Demo  string       // which demo roll; "" is the reversal
	Do    func(func()) // runs a function on the window's goroutine; nil is fyne.Do
}

// New builds the window and begins to open what opt names. Show it and run the
// app afterwards.
func New(app fyne.App, opt Options) *Window {
	app.Settings().SetTheme(theme.Neutral{})
	app.SetIcon(fyne.NewStaticResource("stopladder.png", assets.Icon))
	w := &Window{app: app, settings: settings.Load(opt.Home), chips: map[string][]*chip.Chip{}, ids: map[string]int{}, demos: map[string]*simulate.Demo{}}
	w.win = app.NewWindow("Stopladder")
	w.home = opt.Home
	if w.do = opt.Do; w.do == nil {
		w.do = fyne.Do
	}
	w.win.SetPadded(false)
	w.sess = session.New(&roll.Roll{}, "")
	w.cmds = w.commands()
	w.build()
	w.swap(w.sess)
	w.win.Canvas().SetOnTypedKey(w.typedKey)
	w.cmds.Bind(w.win.Canvas().AddShortcut)
	w.win.SetOnDropped(func(_ fyne.Position, uris []fyne.URI) {
		var paths []string
		for _, u := range uris {
			if u.Scheme() == "file" {
				paths = append(paths, filepath.FromSlash(u.Path()))
			}
		}
		if len(paths) > 0 {
			w.openPaths(paths)
		}
	})
	w.win.SetCloseIntercept(func() { w.confirmLeave("Close", w.close) })
	size := fyne.NewSize(w.settings.Width, w.settings.Height)
	if size.Width < 600 || size.Height < 400 {
		size = fyne.NewSize(1280, 800)
	}
	w.win.Resize(size)
	w.startJournal(opt.Home)
	switch {
	case len(opt.Paths) > 0:
		w.openPaths(opt.Paths)
	case opt.Demo == "none":
	default:
		w.openDemo(opt.Demo)
	}
	return w
}

// Show shows the window.
func (w *Window) Show() { w.win.Show() }

// Fyne gives the toolkit's window, for tests.
func (w *Window) Fyne() fyne.Window { return w.win }

// Session gives the state of the open roll, for tests.
func (w *Window) Session() *session.Session { return w.sess }

// build makes the parts once; opening another roll only changes what they show.
func (w *Window) build() {
	w.head = paper.New(fyne.NewSize(60, 36), w.drawHead)
	head := newTapArea(w.head, w.editRoll, w.hint,
		"The roll's title block, as it stands on the sheet. Click to change it.")

	w.ladder = ladder.New(row.Columns())
	w.ladder.OnHint = w.hint
	w.ladder.OnLimit = w.dragLimit
	w.ladder.OnContext = w.frameMenu
	w.ladder.OnVerdict = w.verdictMenu
	w.pictures = pane.NewGroup(pane.Options{Do: w.do, Painted: painted()})
	w.pictures.OnHover = w.hovered
	w.pictures.OnPick = func(id int, at image.Point) {
		i := w.sess.Index(w.fileOf(id))
		if i < 0 {
			return
		}
		if pick := w.picking; pick != nil {
			w.picking = nil
			w.status.hint("")
			pick(i, at)
			return
		}
		w.sess.Go(i)
	}

	w.notices = newNoticeStrip(nil)
	w.status = newStatusLine(func() { w.cancelLoad() })
	w.bar = newJudgeBar(w)
	w.curve = newCurvePage(w)
	w.side = newSide(map[session.Panel]sidePage{
		session.ReadingsPanel:   newReadings(w),
		session.BandsPanel:      newBandsPage(w),
		session.PatchesPanel:    newPatchesPage(w),
		session.CorrectionPanel: newCorrectPage(w),
		session.SalvagePanel:    newSalvagePage(w),
	}, w.chip("readings", ""), w.chip("bands", ""), w.chip("patches", ""), w.chip("correction", ""), w.chip("salvage", ""))
	w.empty = w.emptyPage()
	w.stage = container.NewStack(w.pictures)

	sep := func() fyne.CanvasObject { return newGap(10) }
	chips := container.New(&chip.Row{},
		w.chip("one", ""), w.chip("pair", ""), w.chip("grid", ""), w.chip("beside", "Three"), sep(),
		w.chip("fit", ""), w.chip("actual", ""), sep(),
		w.maskChip("blown", paint.Blown), w.maskChip("blocked", paint.Blocked), w.maskChip("noisy", paint.Noisy), sep(),
		w.chip("curve", ""), w.chip("readings", ""))
	top := padded(6, 6, 10, 10, container.New(headLayout{}, head, chips))
	foot := padded(5, 3, 10, 10, w.bar.object)

	pictures := container.NewBorder(w.notices.box, container.NewVBox(foot, w.status.object), nil, w.side.object, w.stage)
	// The ladder may be narrower than what stands under it, which is cut off then.
	left := container.NewBorder(nil, padded(5, 5, 4, 4, newClip(w.bar.ends)), nil, nil, w.ladder)
	w.split = container.NewHSplit(left, pictures)
	share := w.settings.Ladder
	if share == 0 {
		share = 0.47
	}
	w.split.SetOffset(share)
	w.win.SetContent(container.NewBorder(container.NewStack(canvas.NewRectangle(theme.Raised), top), nil, nil, nil, w.split))
}

// chip makes the chip of a command; key "" shows the command's own.
func (w *Window) chip(id, text string) *chip.Chip {
	cmd := w.cmds.Find(id)
	if text == "" {
		text = cmd.Title
	}
	key := ""
	if len(cmd.Keys) > 0 {
		key = cmd.Keys[0].String()
	}
	c := chip.New(text, key, func() { cmd.Do() })
	c.Hint, c.OnHint = cmd.Hint, w.hint
	w.chips[id] = append(w.chips[id], c)
	return c
}

// swap shows another session.
func (w *Window) swap(s *session.Session) {
	w.placing, w.picking = nil, nil
	w.measured = film.New(s.Roll)
	w.difference = differNot
	w.pictures.SetDifference(false, 0)
	w.sess = s
	s.Panel = session.Panel(w.settings.Panel)
	s.Listen(w.changed)
	w.ladder.SetSession(s)
	w.notices.clear()
	w.changed(session.RollChanged | session.MarksChanged | session.FrameChanged | session.PlayheadMoved | session.ViewChanged)
}

// changed passes a change of the session on to what shows it.
func (w *Window) changed(c session.Changed) {
	if c&(session.RollChanged|session.FrameChanged) != 0 {
		w.sess.Relimit(true)
	}
	w.ladder.Changed(c)
	w.bar.changed(c)
	if c&(session.RollChanged|session.MarksChanged|session.FrameChanged) != 0 {
		w.showTitle()
	}
	if c&(session.PlayheadMoved|session.ViewChanged) != 0 {
		w.status.figure("") // it was of another picture
	}
	if c&(session.RollChanged|session.FrameChanged|session.ViewChanged) != 0 ||
		c&session.PlayheadMoved != 0 && w.sess.Layout == session.Beside { // its frame is among them twice
		w.showPictures()
		if w.showsCurve {
			w.curve.show()
		}
	}
	if c&(session.RollChanged|session.PlayheadMoved|session.ViewChanged) != 0 {
		w.showLayout()
	}
	w.showChips()
	if c&(session.RollChanged|session.MarksChanged|session.ViewChanged) != 0 {
		w.showSpots()
	}
	w.showSide(c)
	if c&(session.RollChanged|session.MarksChanged) != 0 {
		w.keepBackup()
	}
	if c&(session.RollChanged|session.MarksChanged|session.ViewChanged) != 0 {
		w.showMenu()
	}
}

// id is the number under which the pictures know a frame.
func (w *Window) id(file string) int {
	id, ok := w.ids[file]
	if !ok {
		id = len(w.files)
		w.ids[file] = id
		w.files = append(w.files, file)
	}
	return id
}

// showTitle writes the title block at the top and the window's own title.
func (w *Window) showTitle() {
	r := w.sess.Roll
	w.title = w.rollName()
	var parts []string
	for _, p := range []string{r.Stock, r.Exposure} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	if n := len(r.Frames); n == 1 {
		parts = append(parts, "1 scan")
	} else if n > 1 {
		parts = append(parts, itoa(n)+" scans")
	}
	w.subtitle = strings.Join(parts, "  ·  ")
	w.head.Refresh()
	mark := ""
	if w.sess.Unsaved() {
		mark = " (not saved)"
	}
	if t := w.rollName() + mark + " · Stopladder"; t != w.win.Title() {
		w.win.SetTitle(t)
	}
}

// drawHead draws the title block; what does not fit ends in an ellipsis.
func (w *Window) drawHead(c *paint.Canvas, r image.Rectangle) {
	c.Fill(r, theme.Raised)
	mid := r.Min.Y + c.Px(19)
	c.TextIn(image.Rect(r.Min.X, r.Min.Y, r.Max.X-c.Px(8), mid), w.title, paint.Style{Size: 15, Weight: paint.Medium, Col: theme.Text})
	c.TextIn(image.Rect(r.Min.X, mid, r.Max.X-c.Px(8), r.Max.Y), w.subtitle, paint.Style{Size: 12, Col: theme.Quiet})
}

// rollName is what the roll is called: its title, else its file, else its folder.
func (w *Window) rollName() string {
	r := w.sess.Roll
	switch {
	case r.Title != "":
		return r.Title
	case w.sess.Path != "":
		return strings.TrimSuffix(filepath.Base(w.sess.Path), roll.Ext)
	case w.sess.Empty():
		return "No roll open"
	}
	return filepath.Base(filepath.Dir(r.Frames[0].File))
}

// typedKey gets the keys while no entry has the keyboard.
func (w *Window) typedKey(k *fyne.KeyEvent) {
	if over := w.win.Canvas().Overlays().Top(); over != nil { // a dialog: nothing may happen behind it
		if k.Name == fyne.KeyEscape {
			if w.dialog != nil {
				w.dialog.Hide()
				w.dialog = nil
			} else {
				over.Hide()
			}
		}
		return
	}
	var mods fyne.KeyModifier
	if d, ok := w.app.Driver().(desktop.Driver); ok {
		mods = d.CurrentKeyModifiers()
	}
	if mods&^fyne.KeyModifierShift != 0 {
		return
	}
	shift := mods&fyne.KeyModifierShift != 0
	if w.placeKey(k.Name, shift) {
		return
	}
	if w.picking != nil && k.Name == fyne.KeyEscape {
		w.picking = nil
		w.status.hint("")
		return
	}
	w.cmds.Typed(k.Name, shift)
}

// leaveEntry gives the keyboard back to the window.
func (w *Window) leaveEntry() {
	w.noteFrom = ""
	if w.win.Canvas().Focused() != nil {
		w.win.Canvas().Unfocus()
	}
}

func (w *Window) hint(s string) {
	if s == "" && w.picking != nil {
		s = w.pickWords
	}
	w.status.hint(s)
}

// pickNext gives the next click on a picture to a function: the frame, and the
// pixel of its scan.
func (w *Window) pickNext(please string, then func(frame int, at image.Point)) {
	w.picking, w.pickWords = then, please
	w.status.hint(please)
}

// close ends the program in good order.
func (w *Window) close() {
	w.cancelLoad()
	size := w.win.Canvas().Size()
	w.settings.Width, w.settings.Height = size.Width, size.Height
	w.settings.Ladder = w.split.Offset
	w.settings.Panel = string(w.sess.Panel)
	_ = w.settings.Save() // nothing of the user's work is in it
	w.dropBackup()        // what is not saved was given up on purpose
	w.endJournal()
	if w.planner != nil {
		w.planner.Flush() // what is not saved there comes back with it
	}
	w.win.Close()
}

// showPlanner opens the window of the bracket, or brings it to the front.
func (w *Window) showPlanner() {
	if w.planner == nil || w.planner.Closed() {
		w.planner = planner.New(w.app, w.home, w.settings.Folder)
	}
	w.planner.Show()
}

// painted writes a line for each picture that is painted, with the time in
// nanoseconds and what it is called, into the file that STOPLADDER_TRACE names: for
// the benchmark of the gliding playhead. nil without it.
func painted() func(label string) {
	path := os.Getenv("STOPLADDER_TRACE")
	if path == "" {
		return nil
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		fmt.Fprintln(os.Stderr, "stopladder: no trace of painted pictures:", err)
		return nil
	}
	return func(label string) { fmt.Fprintf(f, "%d %s\n", time.Now().UnixNano(), label) }
}
