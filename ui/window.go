// Package ui is the window: the ladder at the left, the pictures right of it,
// and under them the bar in which the judge works. It wires the parts together;
// what they show is kept and changed by ui/session, what they draw is drawn by
// analysis.
//
// All of it runs on the toolkit's goroutine. What takes time runs elsewhere, in
// one session.Runner.
package ui

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/analysis/headless"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
	"stopladder/assets"
	"stopladder/ui/ask"
	"stopladder/ui/card"
	"stopladder/ui/chip"
	"stopladder/ui/commands"
	"stopladder/ui/ladder"
	"stopladder/ui/manual"
	"stopladder/ui/page"
	"stopladder/ui/page/bands"
	"stopladder/ui/page/correct"
	"stopladder/ui/page/curve"
	"stopladder/ui/page/patches"
	"stopladder/ui/page/readings"
	"stopladder/ui/page/salvage"
	"stopladder/ui/palette"
	"stopladder/ui/paper"
	"stopladder/ui/planner"
	"stopladder/ui/pocketpage"
	"stopladder/ui/publish"
	"stopladder/ui/session"
	"stopladder/ui/settings"
	"stopladder/ui/shelf"
	"stopladder/ui/start"
	"stopladder/ui/theme"
)

// Window is the program's one window.
type Window struct {
	app      fyne.App
	win      fyne.Window
	do       func(func()) // runs a function on the window's goroutine
	home     string       // folder for settings and recovery copies, "" for none
	settings *settings.Settings
	state    *session.State
	runner   *session.Runner // of the roll in front

	sheetPage  *publish.Page    // that is being made up; nil: none
	blind      *blindView       // that runs; nil: none
	pocketPage *pocketpage.Page // the same of a pocket card
	chores     *session.Runner  // of the window, whichever roll is in front
	tabs       tabs
	cmds       commands.Table
	sources    sources

	recovered []session.Notice // what an earlier session left, shown with every roll
	keeping   bool             // the settings are written soon
	restored  bool             // what was open last time is, or nothing was

	ladder   *ladder.Ladder
	pictures *pictures
	desk     *desk
	head     *paper.Paper
	subtitle string
	chips    map[string][]*chip.Chip // by command; a command may stand in several places
	bar      *judgeBar
	notices  *noticeStrip
	side     *side
	curve    *curve.Page
	status   *statusLine
	stage    *fyne.Container // pictures, or the page of an empty window
	cards    *card.Layer     // explanations
	here     pageCard        // what the pointer is over on a page; empty: nothing
	shown    *shownStrip     // what is done to the pictures, over them
	empty    fyne.CanvasObject
	dialog   interface{ Hide() } // the one that Escape closes
	changed  *ask.Card           // of the question that is or was asked last; for tests
	planner  *planner.Planner    // nil until it is asked for
	rolls    *shelf.Window       // nil until it is asked for
	palette  *palette.Palette    // nil until it is asked for
	manual   *manual.Manual      // nil until it is asked for
	answered bool                // the status line says why something was not done

	start        *start.Page // in the desk's place while no roll is open
	startNotices *noticeStrip
	board        fyne.CanvasObject // everything but the start page
	expecting    bool              // a roll is being opened with the window: the start page would only flash up
	visible      bool
	drawn        bool    // the start page has its picture, or it is being made
	holder       *holder // of what is shown while a key is held
	measuring    bool    // the roll in front is being read or compared

	trace func(string) // of painted pictures, for benchmarks; nil: none
}

// Options say what the window opens with.
type Options struct {
	Paths []string     // scans, a folder or a roll file; none: the start page
	Home  string       // folder for settings and recovery copies; "" keeps nothing
	Demo  string       // opens this sample roll, "reversal" or "negative"; "": none
	Do    func(func()) // runs a function on the window's goroutine; nil is fyne.Do
}

// New builds the window and begins to open what opt names. Show it and run the
// app afterwards.
func New(app fyne.App, opt Options) *Window {
	app.Settings().SetTheme(theme.Neutral{})
	app.SetIcon(fyne.NewStaticResource("stopladder.png", assets.Icon))
	w := &Window{app: app, home: opt.Home, do: opt.Do, settings: settings.Load(opt.Home), chips: map[string][]*chip.Chip{}}
	if w.do == nil {
		w.do = fyne.Do
	}
	w.win = app.NewWindow("Stopladder")
	w.win.SetPadded(false)
	w.state = session.New(load.Options{Open: w.sources.open, Program: headless.Version})
	w.expecting = len(opt.Paths) > 0 || opt.Demo == "" && len(w.settings.Rolls) > 0
	w.restored = len(opt.Paths) > 0 || len(w.settings.Rolls) == 0
	w.chores = session.NewRunner(w.do, w.apply)
	w.tabs.front = w.newRoll()
	w.tabs.front.parked = nil
	w.tabs.all = []*openRoll{w.tabs.front}
	w.runner = w.tabs.front.runner
	w.cmds = w.commands()
	w.holder = newHolder(w)
	w.build()
	w.apply(session.TogglePanel{Panel: session.Panel(w.settings.Panel)})
	w.redraw(session.All)
	w.win.Canvas().SetOnTypedKey(w.typedKey)
	w.win.Canvas().SetOnTypedRune(w.typedRune)
	w.cmds.Bind(func(s fyne.Shortcut, do func(fyne.Shortcut)) {
		w.win.Canvas().AddShortcut(s, func(s fyne.Shortcut) {
			if w.win.Canvas().Overlays().Top() == nil { // else a dialog: nothing may happen behind it
				do(s)
			}
		})
	})
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
	w.win.SetCloseIntercept(func() { w.leaveAll("Close", w.close) })
	size := fyne.NewSize(w.settings.Width, w.settings.Height)
	if size.Width < 600 || size.Height < 400 {
		size = fyne.NewSize(1280, 800)
	}
	w.win.Resize(size)
	w.keepCopies(w.tabs.front)
	w.offerRecovered()
	switch {
	case len(opt.Paths) > 0:
		w.openPaths(opt.Paths)
	case opt.Demo != "":
		w.openDemo(opt.Demo)
	case len(w.settings.Rolls) > 0:
		w.reopen()
	default: // what an earlier session left is offered here; else every roll that is opened offers it
		w.redraw(session.Opened | session.Notices)
	}
	return w
}

// Show shows the window.
func (w *Window) Show() {
	w.visible = true
	w.showStart()
	w.win.Show()
}

// apply makes a change of the state and does what comes of it: it is the one way in which
// anything changes.
func (w *Window) apply(c session.Change) {
	e := w.state.Apply(c)
	w.runner.Follow(e)
	if e.Redraw != 0 {
		if e.Redraw&^(session.Progress|session.Readings|session.Notices) != 0 {
			w.cards.Hide() // it may be of what is shown no more
		}
		w.redraw(e.Redraw)
	}
	if e.Hint != "" {
		w.status.hint(e.Hint)
	}
	if e.Refused != nil {
		w.say(e.Refused.Title, e.Refused.Err)
	}
}

// redraw brings up to date what shows the parts that have changed.
func (w *Window) redraw(c session.Parts) {
	if c&session.Opened != 0 {
		w.status.hint("")               // what was said of another roll
		for _, n := range w.recovered { // offered until it is dealt with
			w.state.Apply(session.Notify{Notice: n})
		}
	}
	w.ladder.Changed(c)
	w.bar.changed(c)
	if c&(session.Opened|session.Frames) != 0 {
		w.showStart()
	}
	if c&(session.Frames|session.Marks|session.Readings) != 0 {
		w.showTitle()
	}
	if c&(session.Marker|session.View) != 0 {
		w.status.figure("") // it was of another picture
		_, please := w.state.Picking()
		w.status.asks(please)
	}
	w.pictures.changed(c)
	if c&(session.Frames|session.Readings|session.Marker|session.View) != 0 {
		w.showStage(c)
	}
	if c&^(session.Progress|session.Notices|session.Placed|session.Holding) != 0 {
		w.showChips()
		w.shown.changed()
		w.side.changed(c)
	}
	if c&(session.Frames|session.Marks|session.Readings) != 0 && w.sheetPage != nil {
		w.sheetPage.Update(w.sheetLacks())
	}
	if c&session.Opened != 0 && w.blind != nil { // a verdict must not go to another roll
		w.blind.veil.Hide()
	}
	if c&(session.Frames|session.Marks|session.Readings) != 0 && w.pocketPage != nil {
		w.pocketPage.Update()
	}
	if c&session.Notices != 0 {
		w.notices.show(w.state.Notices())
		w.startNotices.show(w.state.Notices())
	}
	if c&(session.Progress|session.Readings) != 0 {
		w.showReading()
	}
	if c&(session.Frames|session.Marks) != 0 {
		w.keepBackup()
		w.showTabs()
	}
	if c&(session.Marker|session.View|session.Opened) != 0 {
		w.keepSettings()
	}
	if c&(session.Frames|session.Marks|session.View) != 0 {
		w.showMenu()
	}
}

// showReading shows how far the roll is measured.
func (w *Window) showReading() {
	words, on := w.state.Reading()
	w.status.reading(words, on, w.state.Share())
	if on != w.measuring && w.trace != nil {
		w.trace(map[bool]string{true: MeasuringTrace, false: MeasuredTrace}[on])
	}
	w.measuring = on
}

// What the trace of painted pictures says when the roll begins to be measured, and when it
// is.
const (
	MeasuringTrace = "(measuring)"
	MeasuredTrace  = "(measured)"
)

// build makes the parts once; opening another roll only changes what they show.
func (w *Window) build() {
	w.head = paper.New(fyne.NewSize(60, 36), w.drawHead)
	head := newTapArea(w.head, w.editRoll, w.hint,
		"The roll's title block, as it stands on the sheet. Click to change it.")
	w.cards = card.New(w.do)
	w.ladder = ladder.New(w.state, w.apply)
	w.ladder.OnCard = w.explain
	w.ladder.OnTrial = func(r *roll.Range) { w.bar.trial(r) }
	w.ladder.OnContext = w.frameMenu
	w.ladder.OnVerdict = w.verdictMenu
	w.trace = painted()
	w.pictures = newPictures(w.state, w.apply, w.do, w.sources.open, w.trace, func(s string) { w.status.figure(s) }, w.ladder.SetReadout)
	w.ladder.OnCropSize = func(width, height int) {
		w.do(func() { // not within the painter that found it out
			w.pictures.showDetails(width, height, func(file string, c render.Crop) { w.ladder.SetCrop(file, c.Image) })
		})
	}
	w.notices = newNoticeStrip(w.act, w.apply)
	w.status = newStatusLine(func() { w.apply(session.StopReading{}) })
	w.bar = newJudgeBar(w)
	host := page.Host{Hint: w.hint, Card: w.overPage, Over: w.overChip, Do: w.do, Copy: w.copy, Refuse: w.say, Export: w.exportPage}
	w.curve = curve.New(w.state, w.apply, host)
	w.side = newSide(w.state, map[session.Panel]page.Page{
		session.ReadingsPanel:   readings.New(w.state, host),
		session.BandsPanel:      bands.New(w.state, host),
		session.PatchesPanel:    patches.New(w.state, w.apply, host),
		session.CorrectionPanel: correct.New(w.state, w.apply, host, w.chip("corrected", "")),
		session.SalvagePanel:    salvage.New(w.state, w.apply, host, w.chip("difference-colour", "Difference in colour"), w.chip("costs", "Costs on the ladder"), w.chip("finding", "")),
		session.OpinionsPanel:   w.newOpinions(host),
	}, func() { w.win.Content().Refresh() }, map[session.Panel]string{
		session.ReadingsPanel: "Readings", session.BandsPanel: "Bands", session.PatchesPanel: "Patches",
		session.CorrectionPanel: "Correction", session.SalvagePanel: "Salvage", session.OpinionsPanel: "Opinions",
	}, w.chip("pictures", "Close"))
	w.newStart()
	w.empty = canvas.NewRectangle(theme.Surface)
	w.stage = container.NewStack(w.empty)
	w.shown = newShownStrip(w)
	w.newTabs()

	sep := func() fyne.CanvasObject { return newGap(10) }
	chips := page.Row(
		w.chip("one", ""), w.chip("pair", ""), w.chip("grid", ""), w.chip("beside", "Three"), w.chip("edge", ""), sep(),
		w.chip("fit", ""), w.chip("actual", ""), w.chip("detail", "Detail"), sep(),
		w.holder.chip("hold-base", "Base", session.HeldBase), w.holder.chip("hold-scan", "Scan", session.HeldScan), sep(),
		w.maskChip("blown", paint.Blown), w.maskChip("blocked", paint.Blocked), w.maskChip("noisy", paint.Noisy), w.maskChip("lost", paint.Lost))
	top := page.Padded(5, 5, 14, 10, container.New(headLayout{}, head, chips))
	foot := page.Padded(6, 2, 10, 10, w.bar.object)
	right := container.NewBorder(w.notices.box, nil, nil, nil, container.NewStack(w.stage, w.shown.object))
	low := container.NewVBox(foot, w.status.object)
	// The ladder may be narrower than what stands under it, which is cut off then.
	left := container.NewBorder(nil, page.Padded(6, 4, 10, 4, newClip(w.bar.ends)), nil, nil, w.ladder)
	w.desk = &desk{left: left, page: w.side.object, right: right, foot: low, share: w.settings.Ladder}
	board := container.New(w.desk, left, w.side.object, right, low)
	w.desk.grip = newGrip(func(x float32) { w.desk.dragTo(x); board.Refresh() }, func() { w.desk.share = 0; board.Refresh() }, w.hint)
	board.Add(w.desk.grip)
	w.win.SetContent(container.NewStack(w.whole(container.NewBorder(container.NewVBox(w.tabs.object, container.NewStack(canvas.NewRectangle(theme.Raised), top)), nil, nil, nil, board)), w.cards.Object))
}

// showStage shows the pictures, the response in their place, or what can be done with an
// empty window.
func (w *Window) showStage(c session.Parts) {
	stage := fyne.CanvasObject(w.pictures.group)
	switch {
	case w.state.Empty():
		stage = w.empty
	case w.state.Curve():
		stage = w.curve.Content()
	}
	if w.stage.Objects[0] != stage {
		w.stage.Objects = []fyne.CanvasObject{stage}
		w.stage.Refresh()
		c = session.All
	}
	if stage == w.curve.Content() {
		w.curve.Changed(c)
	}
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
	c.Hint, c.OnOver = cmd.Hint, w.overChip
	w.chips[id] = append(w.chips[id], c)
	return c
}

// showTitle writes the title block at the top and the window's own title.
func (w *Window) showTitle() {
	r := w.state.Roll()
	var parts []string
	for _, p := range []string{r.Stock, r.Exposure} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	if n := len(r.Frames); n == 1 {
		parts = append(parts, "1 scan")
	} else if n > 1 {
		parts = append(parts, strconv.Itoa(n)+" scans")
	}
	w.subtitle = strings.Join(parts, "  ·  ")
	w.head.Refresh()
	mark := ""
	if w.state.Unsaved() {
		mark = " (not saved)"
	}
	if t := w.state.Name() + mark + " · Stopladder"; t != w.win.Title() {
		w.win.SetTitle(legible.Line(t))
	}
}

// drawHead draws the title block; what does not fit ends in an ellipsis.
func (w *Window) drawHead(c *paint.Canvas, r image.Rectangle) {
	c.Fill(r, theme.Raised)
	mid := r.Min.Y + c.Px(19)
	c.TextIn(image.Rect(r.Min.X, r.Min.Y, r.Max.X-c.Px(8), mid), w.state.Name(), paint.Style{Size: theme.Head, Weight: paint.Medium, Col: theme.Text})
	c.TextIn(image.Rect(r.Min.X, mid, r.Max.X-c.Px(8), r.Max.Y), w.subtitle, paint.Style{Size: theme.Small, Col: theme.Quiet})
}

// explain shows a card beside a place on the window once the pointer rests; an empty one
// takes away what is shown.
func (w *Window) explain(c explain.Card, at fyne.Position, size fyne.Size) {
	origin := w.app.Driver().AbsolutePositionForObject(w.cards.Object)
	w.cards.Ask(c, at.Subtract(origin), size)
}

// overPage explains a place on a page, and remembers it for the key that explains at once.
func (w *Window) overPage(c explain.Card, at fyne.Position, size fyne.Size) {
	w.here = pageCard{c, at, size}
	w.explain(c, at, size)
}

// pageCard is what the pointer is over on a page.
type pageCard struct {
	card explain.Card
	at   fyne.Position
	size fyne.Size
}

// overChip explains the chip under the pointer, with the key that does the same.
func (w *Window) overChip(c *chip.Chip, in bool) {
	if !in || c.Hint == "" {
		w.explain(explain.Card{}, fyne.Position{}, fyne.Size{})
		return
	}
	text := []string{c.Hint}
	if c.Key != "" {
		text = append(text, "Key: "+c.Key)
	}
	w.explain(explain.Card{Title: c.Text, Text: text}, w.app.Driver().AbsolutePositionForObject(c), c.Size())
}

// explainHere explains at once what the pointer is over on the ladder, else the verdict
// of the frame under the marker; again takes it away.
func (w *Window) explainHere() {
	c, at, size := w.here.card, w.here.at, w.here.size
	if c.Empty() {
		c, at, size = w.ladder.CardHere()
	}
	if c.Empty() || w.cards.Shown().Title == c.Title {
		w.cards.Hide()
		return
	}
	w.cards.Show(c, at.Subtract(w.app.Driver().AbsolutePositionForObject(w.cards.Object)), size)
}

// typedKey gets the keys while no entry has the keyboard.
func (w *Window) typedKey(k *fyne.KeyEvent) {
	if over := w.win.Canvas().Overlays().Top(); over != nil { // a dialog: nothing may happen behind it
		if card, ok := over.(interface{ TypedKey(*fyne.KeyEvent) }); ok {
			card.TypedKey(k)
		} else if k.Name == fyne.KeyEscape {
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
	if !shift && w.holder.typed(k.Name) {
		return
	}
	if k.Name == fyne.KeyEscape && w.state.Held() != session.NotHeld {
		w.holder.release()
		return
	}
	if c := w.placeKey(k.Name, shift); c != nil {
		w.apply(c)
		return
	}
	if p, _ := w.state.Picking(); p != session.PickFrame && k.Name == fyne.KeyEscape {
		w.apply(session.Pick{})
		return
	}
	if !w.cmds.Typed(k.Name, shift) {
		w.unknown(k.Name)
	}
}

// Steps of the keys while a frame is placed by hand, full-resolution pixels and degrees.
const (
	placeStep    = 0.25
	placeStepBig = 4.0
	placeTurn    = 0.01
	placeTurnBig = 0.1
)

// placeKey returns what a key does while a frame is being placed, nil for nothing of its
// own.
func (w *Window) placeKey(name fyne.KeyName, shift bool) session.Change {
	if w.state.Placing() == nil {
		return nil
	}
	step, turn := placeStep, placeTurn
	if shift {
		step, turn = placeStepBig, placeTurnBig
	}
	switch name {
	case fyne.KeyLeft:
		return session.Nudge{Right: -step}
	case fyne.KeyRight:
		return session.Nudge{Right: step}
	case fyne.KeyUp:
		return session.Nudge{Down: -step}
	case fyne.KeyDown:
		return session.Nudge{Down: step}
	case fyne.KeyComma:
		return session.Nudge{Turn: turn}
	case fyne.KeyPeriod:
		return session.Nudge{Turn: -turn}
	case fyne.KeyReturn, fyne.KeyEnter:
		return session.EndPlacing{How: session.Keep}
	case fyne.KeyDelete, fyne.KeyBackspace:
		return session.EndPlacing{How: session.Unplace}
	case fyne.KeyEscape:
		return session.EndPlacing{How: session.Leave}
	}
	return nil
}

// leaveEntry gives the keyboard back to the window.
func (w *Window) leaveEntry() {
	w.apply(session.EndNote{})
	if w.win.Canvas().Focused() != nil {
		w.win.Canvas().Unfocus()
	}
}

func (w *Window) hint(s string) { w.status.hint(s) }

// copy puts figures on the clipboard.
func (w *Window) copy(text string) {
	w.app.Clipboard().SetContent(text)
	w.status.hint("The figures are on the clipboard as text")
}

// close ends the program in good order.
func (w *Window) close() {
	w.noteSettings()
	for _, o := range w.tabs.all {
		o.runner.StopAll()
		o.copies.drop() // what is not saved was given up on purpose
	}
	w.chores.StopAll()
	_ = w.settings.Save() // nothing of the user's work is in it
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

// showShelf opens the window on many rolls, or brings it to the front.
func (w *Window) showShelf() {
	if w.rolls == nil || w.rolls.Closed() {
		w.rolls = shelf.New(w.app, shelf.Host{Program: headless.Version, Folder: w.settings.Shelf, Start: w.settings.Folder, Do: w.do,
			Kept: func(dir string) {
				w.settings.Shelf = dir
				w.keepSettings()
			},
			Open: func(path string) {
				w.openPaths([]string{path})
				w.win.RequestFocus()
			}})
	}
	w.rolls.Show()
}

// painted writes a line for each picture that is painted, with the time in
// nanoseconds and what it is called, into the file that STOPLADDER_TRACE names: for
// the benchmark of the gliding marker. nil without it.
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
