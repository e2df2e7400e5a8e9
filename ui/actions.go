package ui

import (
	"math"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film"
	"stopladder/analysis/film/finding"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
	"stopladder/ui/commands"
	"stopladder/ui/session"
)

// commands is the table of all that the window can be told to do.
func (w *Window) commands() commands.Table {
	some := func() bool { return !w.sess.Empty() }
	plain := func(names ...fyne.KeyName) (ks []commands.Key) {
		for _, n := range names {
			ks = append(ks, commands.Key{Name: n})
		}
		return ks
	}
	ctrl := func(n fyne.KeyName) []commands.Key { return []commands.Key{{Name: n, Ctrl: true}} }
	ctrlShift := func(n fyne.KeyName) []commands.Key { return []commands.Key{{Name: n, Ctrl: true, Shift: true}} }
	layout := func(l session.Layout) (func(), func() bool) {
		return func() { w.sess.SetLayout(l) }, func() bool { return w.sess.Layout == l }
	}
	judge := func(v roll.Verdict) (func(), func() bool) {
		return func() { w.sess.SetVerdict(w.sess.Current(), v) }, func() bool {
			i := w.sess.Current()
			return i >= 0 && w.sess.Roll.Frames[i].Verdict == v
		}
	}
	mask := func(m func() *bool) (func(), func() bool) {
		return func() { w.sess.ToggleMask(m()) }, func() bool { return *m() }
	}
	var t commands.Table
	add := func(c commands.Command) { t = append(t, &c) }
	onOff := func(c commands.Command, run func(), checked func() bool) {
		c.Run, c.Checked = run, checked
		add(c)
	}

	add(commands.Command{ID: "open", Menu: "Roll", Title: "Open scans…", Keys: ctrl(fyne.KeyO), Run: w.askScans,
		Hint: "Open scans: several files, or the whole folder. Dropping them on the window does the same."})
	add(commands.Command{ID: "open-roll", Menu: "Roll", Title: "Open roll file…", Keys: ctrlShift(fyne.KeyO), Run: w.askRoll,
		Hint: "Open a roll that was saved before."})
	add(commands.Command{ID: "plan", Menu: "Roll", Title: "Plan a bracket…", Keys: ctrl(fyne.KeyB), Gap: true,
		Run: w.showPlanner, Hint: "Plan a bracket before the roll, print the field card, log what was exposed."})
	add(commands.Command{ID: "demo-reversal", Menu: "Roll", Title: "Demo roll, reversal film", Run: func() {
		w.confirmLeave("Open the demo", func() { w.openDemo("reversal") })
	}, Gap: true})
	add(commands.Command{ID: "demo-negative", Menu: "Roll", Title: "Demo roll, negative film", Run: func() {
		w.confirmLeave("Open the demo", func() { w.openDemo("negative") })
	}})
	add(commands.Command{ID: "save", Menu: "Roll", Title: "Save", Keys: ctrl(fyne.KeyS), Enabled: some, Gap: true,
		Run: func() { w.save(nil) }, Hint: "Save the roll file: labels, verdicts, notes and range. The scans are never written to."})
	add(commands.Command{ID: "save-as", Menu: "Roll", Title: "Save under another name…", Keys: ctrlShift(fyne.KeyS), Enabled: some,
		Run: func() { w.saveAs(nil) }})
	add(commands.Command{ID: "sheet", Menu: "Roll", Title: "Export the sheet…", Keys: ctrl(fyne.KeyE), Enabled: some, Gap: true,
		Run: w.askSheet, Hint: "Export the annotated comparison picture as PNG."})
	add(commands.Command{ID: "readings-out", Menu: "Roll", Title: "Export the readings…", Keys: ctrlShift(fyne.KeyE), Enabled: some,
		Run: w.askReadings, Hint: "Export all readings as JSON or CSV."})
	add(commands.Command{ID: "details", Menu: "Roll", Title: "Title block…", Keys: plain(fyne.KeyT), Enabled: some, Gap: true,
		Run: w.editRoll, Hint: "Write the title block: roll, stock, base exposure, judge, date."})
	add(commands.Command{ID: "labels", Menu: "Roll", Title: "Label the frames…", Keys: plain(fyne.KeyL), Enabled: some,
		Run: w.editLabels, Hint: "Write the stop of every frame by hand."})
	add(commands.Command{ID: "area", Menu: "Roll", Title: "Image area…", Keys: plain(fyne.KeyI), Enabled: some,
		Run: w.editArea, Hint: "Set by hand which part of the scan is measured."})
	add(commands.Command{ID: "place", Menu: "Roll", Title: "Place the frame by hand…", Keys: plain(fyne.KeyP), Enabled: some,
		Run: w.startPlacing, Hint: "Lay the frame under the playhead on the base frame by hand, under a difference view."})
	for i, name := range measure.AssumedProfiles() {
		stored := name
		if i == 0 {
			stored = "" // as a roll file has it
		}
		onOff(commands.Command{ID: "assume-" + name, Menu: "Roll", Title: "Scans without a profile are " + name, Enabled: some, Gap: i == 0,
			Hint: "Say how scans that carry no colour profile are encoded; they are read anew. Scans with a profile are not touched by it."},
			func() {
				if w.sess.Roll.AssumedProfile != stored {
					w.sess.Edit("profile of scans without one", func(r *roll.Roll) { r.AssumedProfile = stored })
					w.relate()
				}
			}, func() bool { return w.sess.Roll.AssumedProfile == stored })
	}
	add(commands.Command{ID: "find", Menu: "Roll", Title: "Find missing scans…", Enabled: some, Run: w.askFind})
	add(commands.Command{ID: "close-roll", Menu: "Roll", Title: "Close the roll", Enabled: some, Gap: true, Run: func() {
		w.confirmLeave("Close the roll", func() { w.cancelLoad(); w.swap(session.New(&roll.Roll{}, "")) })
	}})

	add(commands.Command{ID: "undo", Menu: "Judge", Title: "Undo", Keys: ctrl(fyne.KeyZ), Run: func() { w.undone("Taken back", w.sess.Undo) },
		Enabled: func() bool { return w.sess.CanUndo() != "" }, Hint: "Take back the last mark, label or title."})
	add(commands.Command{ID: "redo", Menu: "Judge", Title: "Redo", Keys: append(ctrlShift(fyne.KeyZ), ctrl(fyne.KeyY)...), Run: func() { w.undone("Done again", w.sess.Redo) },
		Enabled: func() bool { return w.sess.CanRedo() != "" }, Hint: "Do again what was taken back."})
	run, is := judge(roll.Holds)
	onOff(commands.Command{ID: "holds", Menu: "Judge", Title: "Holds", Keys: plain(fyne.KeyH), Enabled: some, Gap: true,
		Hint: "This frame holds: as good as the base for this use. Again takes it back."}, run, is)
	run, is = judge(roll.Strains)
	onOff(commands.Command{ID: "strains", Menu: "Judge", Title: "Strains", Keys: plain(fyne.KeyS), Enabled: some,
		Hint: "This frame strains: usable with work and a visible cost."}, run, is)
	run, is = judge(roll.Breaks)
	onOff(commands.Command{ID: "breaks", Menu: "Judge", Title: "Breaks", Keys: plain(fyne.KeyB), Enabled: some,
		Hint: "This frame breaks: not usable."}, run, is)
	add(commands.Command{ID: "note", Menu: "Judge", Title: "Write a note", Keys: []commands.Key{{Name: fyne.KeyReturn}, {Name: fyne.KeyEnter, Text: "Enter"}}, Enabled: some,
		Run: func() { w.win.Canvas().Focus(w.bar.note) }, Hint: "Write a note on this frame; Return or Escape ends it."})
	add(commands.Command{ID: "lower", Menu: "Judge", Title: "From here", Keys: []commands.Key{{Name: fyne.KeyLeftBracket, Text: "["}}, Enabled: some, Gap: true,
		Run:  func() { w.sess.SetRangeEnd(false, w.sess.Playhead()) },
		Hint: "Put the lower end of your range at the playhead. Both ends are posts on the axis that can be dragged."})
	add(commands.Command{ID: "upper", Menu: "Judge", Title: "To here", Keys: []commands.Key{{Name: fyne.KeyRightBracket, Text: "]"}}, Enabled: some,
		Run: func() { w.sess.SetRangeEnd(true, w.sess.Playhead()) }, Hint: "Put the upper end of your range at the playhead."})
	add(commands.Command{ID: "no-range", Menu: "Judge", Title: "Take the range away", Run: func() { w.sess.SetRange(nil) },
		Enabled: func() bool { return w.sess.Range() != nil }})

	add(commands.Command{ID: "up", Menu: "View", Title: "One frame up", Keys: []commands.Key{{Name: fyne.KeyUp, Text: "Up"}}, Enabled: some,
		Run: func() { w.sess.Step(1) }, Hint: "Move the playhead one frame up: more exposure."})
	add(commands.Command{ID: "down", Menu: "View", Title: "One frame down", Keys: []commands.Key{{Name: fyne.KeyDown, Text: "Down"}}, Enabled: some,
		Run: func() { w.sess.Step(-1) }, Hint: "Move the playhead one frame down: less exposure."})
	add(commands.Command{ID: "glide-up", Title: "Glide up", Keys: []commands.Key{{Name: fyne.KeyUp, Shift: true, Text: "Up"}}, Enabled: some,
		Run: func() { w.glide(0.1) }, Hint: "Glide a tenth of a stop up: pictures between the frames, interpolated from the measured response."})
	add(commands.Command{ID: "glide-down", Title: "Glide down", Keys: []commands.Key{{Name: fyne.KeyDown, Shift: true, Text: "Down"}}, Enabled: some,
		Run: func() { w.glide(-0.1) }, Hint: "Glide a tenth of a stop down."})
	add(commands.Command{ID: "base", Menu: "View", Title: "To the base frame", Keys: []commands.Key{{Name: fyne.Key0, Text: "0"}}, Enabled: some,
		Run: func() { w.sess.Go(w.sess.Base()) }, Hint: "Move the playhead to the base frame."})
	add(commands.Command{ID: "other-up", Title: "Left picture up", Keys: []commands.Key{{Name: fyne.KeyRight, Text: "Right"}}, Enabled: some,
		Run: func() { w.sess.StepOther(1) }, Hint: "Two pictures: move the left one a frame up."})
	add(commands.Command{ID: "other-down", Title: "Left picture down", Keys: []commands.Key{{Name: fyne.KeyLeft, Text: "Left"}}, Enabled: some,
		Run: func() { w.sess.StepOther(-1) }, Hint: "Two pictures: move the left one a frame down."})
	run, is = layout(session.One)
	onOff(commands.Command{ID: "one", Menu: "View", Title: "One", Keys: plain(fyne.Key1), Gap: true,
		Hint: "Show one picture: the frame under the playhead."}, run, is)
	run, is = layout(session.Pair)
	onOff(commands.Command{ID: "pair", Menu: "View", Title: "Two", Keys: plain(fyne.Key2),
		Hint: "Show two pictures: the base, or the frame chosen with Left and Right, beside the frame under the playhead."}, run, is)
	run, is = layout(session.Grid)
	onOff(commands.Command{ID: "grid", Menu: "View", Title: "All", Keys: plain(fyne.Key3),
		Hint: "Show all frames at once, over above under as on the ladder."}, run, is)
	run, is = layout(session.Beside)
	onOff(commands.Command{ID: "beside", Menu: "View", Title: "Base, scan, corrected", Keys: plain(fyne.Key4),
		Hint: "Show three pictures: the base frame, the frame under the playhead as it was scanned, and the same as it is salvaged or corrected (G, V)."}, run, is)
	add(commands.Command{ID: "fit", Menu: "View", Title: "Fit", Keys: plain(fyne.KeyF), Gap: true,
		Run: func() { w.pictures.Fit() }, Hint: "Fit the image area into the picture."})
	add(commands.Command{ID: "actual", Menu: "View", Title: "1:1", Keys: plain(fyne.KeyA),
		Run: func() { w.pictures.OneToOne() }, Hint: "Show actual pixels: one pixel of the scan on one of the screen."})
	add(commands.Command{ID: "in", Menu: "View", Title: "Zoom in", Keys: []commands.Key{{Name: fyne.KeyEqual, Text: "+"}, {Name: fyne.KeyPlus, Text: "+"}, {Name: fyne.KeyEqual, Shift: true, Text: "+"}},
		Run: func() { w.pictures.ZoomIn() }, Hint: "Zoom in; the wheel over the picture does the same."})
	add(commands.Command{ID: "out", Menu: "View", Title: "Zoom out", Keys: []commands.Key{{Name: fyne.KeyMinus, Text: "−"}},
		Run: func() { w.pictures.ZoomOut() }, Hint: "Zoom out."})
	run, is = mask(func() *bool { return &w.sess.Masks.Blown })
	onOff(commands.Command{ID: "blown", Menu: "View", Title: "Blown", Keys: plain(fyne.KeyO), Gap: true,
		Hint: "Mark what is Blown: pixels at the scan's ceiling in any channel. The figure is their share of the image area."}, run, is)
	run, is = mask(func() *bool { return &w.sess.Masks.Blocked })
	onOff(commands.Command{ID: "blocked", Menu: "View", Title: "Blocked", Keys: plain(fyne.KeyU),
		Hint: "Mark what is Blocked: pixels at the scan's floor in any channel. The figure is their share of the image area."}, run, is)
	run, is = mask(func() *bool { return &w.sess.Masks.Noisy })
	onOff(commands.Command{ID: "noisy", Menu: "View", Title: "Noisy", Keys: plain(fyne.KeyN),
		Hint: "Mark what is Noisy: areas whose noise passes the limit once the frame is brought to the base frame's brightness."}, run, is)
	run, is = mask(func() *bool { return &w.sess.Masks.Lost })
	onOff(commands.Command{ID: "lost", Menu: "View", Title: "Lost", Keys: plain(fyne.KeyX),
		Hint: "Mark what the base frame shows and this frame has lost: no salvage brings it back. The figure is its share of the image area."}, run, is)
	onOff(commands.Command{ID: "difference", Menu: "View", Title: "Difference", Keys: plain(fyne.KeyD), Enabled: some,
		Hint: "Show every frame as its difference against the base frame: plain grey where both agree, brightness aside."},
		func() { w.toggleDifference(differLight) }, func() bool { return w.difference == differLight })
	onOff(commands.Command{ID: "difference-colour", Menu: "View", Title: "Difference in colour", Keys: []commands.Key{{Name: fyne.KeyD, Shift: true, Text: "D"}}, Enabled: some,
		Hint: "Show what every frame, as it is shown, differs in colour from the base frame: black where both agree, white from 10 ΔE00. With salvage shown (G) it is what salvage leaves."},
		func() { w.toggleDifference(differColour) }, func() bool { return w.difference == differColour })
	onOff(commands.Command{ID: "curve", Menu: "View", Title: "Curve", Keys: plain(fyne.KeyC), Enabled: some,
		Hint: "Show the measured response in the pictures' place: density against exposure, with toe, straight line and shoulder."},
		w.toggleCurve, func() bool { return w.showsCurve })
	onOff(commands.Command{ID: "readings", Menu: "View", Title: "Readings", Keys: plain(fyne.KeyR), Gap: true,
		Hint: "Open or close the large histogram and the readings of the frame under the playhead."},
		func() { w.sess.TogglePanel(session.ReadingsPanel) }, func() bool { return w.sess.Panel == session.ReadingsPanel })

	onOff(commands.Command{ID: "bands", Menu: "View", Title: "Bands", Keys: plain(fyne.KeyK),
		Hint: "Open or close the casts of the tonal bands in the a*b* plane and in words, their noise and their detail."},
		func() { w.sess.TogglePanel(session.BandsPanel) }, func() bool { return w.sess.Panel == session.BandsPanel })
	onOff(commands.Command{ID: "patches", Menu: "View", Title: "Patches", Keys: plain(fyne.KeyQ),
		Hint: "Open or close the page of patches: named places of the scene, read in every frame."},
		func() { w.sess.TogglePanel(session.PatchesPanel) }, func() bool { return w.sess.Panel == session.PatchesPanel })
	onOff(commands.Command{ID: "salvage", Menu: "View", Title: "Salvage", Keys: plain(fyne.KeyW),
		Hint: "Open or close the page of what salvage of this frame costs, the measured range and the finding."},
		func() { w.sess.TogglePanel(session.SalvagePanel) }, func() bool { return w.sess.Panel == session.SalvagePanel })
	onOff(commands.Command{ID: "correction", Menu: "View", Title: "Correction", Keys: plain(fyne.KeyE),
		Hint: "Open or close the page on which all frames are corrected alike, or one frame by hand."},
		func() { w.sess.TogglePanel(session.CorrectionPanel) }, func() bool { return w.sess.Panel == session.CorrectionPanel })
	onOff(commands.Command{ID: "corrected", Menu: "View", Title: "Corrected", Keys: plain(fyne.KeyV), Enabled: some, Gap: true,
		Hint: "Show all frames with the correction that is theirs alike, or as scanned. Readings are always of the scans."},
		func() { w.sess.Corrected = !w.sess.Corrected; w.sess.Emit(session.ViewChanged) }, func() bool { return w.sess.Corrected && w.sess.Roll.View != nil })
	onOff(commands.Command{ID: "salvaged", Menu: "View", Title: "Salvaged", Keys: plain(fyne.KeyG), Enabled: some,
		Hint: "Show every frame brought towards the base frame at the chosen grade, or as scanned."},
		func() { w.sess.Salvaged = !w.sess.Salvaged; w.sess.Emit(session.ViewChanged) }, func() bool { return w.sess.Salvaged })

	onOff(commands.Command{ID: "costs", Menu: "View", Title: "Costs on the ladder", Keys: plain(fyne.KeyM), Enabled: some,
		Hint: "Show what salvage of each frame costs, with the limits as lines to drag and the measured range in white."},
		w.toggleCosts, func() bool { return w.showsCosts })
	add(commands.Command{ID: "grade", Menu: "View", Title: "Next grade of salvage", Keys: []commands.Key{{Name: fyne.KeyG, Shift: true}}, Enabled: some,
		Run: w.nextGrade, Hint: "Show the next grade of salvage: exposure, balance, curves, by hand."})
	add(commands.Command{ID: "keys", Menu: "Help", Title: "Keys", Keys: []commands.Key{{Name: fyne.KeyF1}}, Run: w.showKeys,
		Hint: "Show this page."})
	add(commands.Command{ID: "about", Menu: "Help", Title: "What Stopladder measures", Run: w.showAbout})
	return t
}

func (w *Window) undone(how string, step func() string) {
	was := w.sess.Roll
	what := step()
	if what == "" {
		return
	}
	w.status.hint(how + ": " + what)
	w.follows(was, w.sess.Roll)
}

// follows measures anew what a change from one roll to another asks for.
func (w *Window) follows(was, now *roll.Roll) {
	if !film.MeasuredAlike(was, now) {
		w.relate()
	}
}

// showMenu rebuilds the main menu: enabled and checked entries follow the
// session, and the recent rolls the settings.
func (w *Window) showMenu() {
	menu := w.cmds.Menu("Roll", "Judge", "View", "Help")
	if len(w.settings.Recent) > 0 {
		var items []*fyne.MenuItem
		for _, p := range w.settings.Recent {
			items = append(items, fyne.NewMenuItem(p, func() {
				w.confirmLeave("Open", func() { w.openPaths([]string{p}) })
			}))
		}
		recent := fyne.NewMenuItem("Recent rolls", nil)
		recent.ChildMenu = fyne.NewMenu("", items...)
		first := menu.Items[0]
		first.Items = append(first.Items[:2], append([]*fyne.MenuItem{recent}, first.Items[2:]...)...)
	}
	quit := fyne.NewMenuItem("Quit", func() { w.confirmLeave("Quit", w.close) })
	quit.IsQuit = true
	menu.Items[0].Items = append(menu.Items[0].Items, fyne.NewMenuItemSeparator(), quit)
	w.win.SetMainMenu(menu)
}

// verdictMenu offers the verdicts where the verdict column was clicked.
func (w *Window) verdictMenu(frame int, at fyne.Position) {
	widget.ShowPopUpMenuAtPosition(fyne.NewMenu("", w.verdictItems(frame)...), w.win.Canvas(), at)
}

func (w *Window) verdictItems(frame int) []*fyne.MenuItem {
	var items []*fyne.MenuItem
	for _, v := range []roll.Verdict{roll.Holds, roll.Strains, roll.Breaks} {
		it := fyne.NewMenuItem(row.VerdictWord(v), func() { w.sess.SetVerdict(frame, v) })
		it.Checked = w.sess.Roll.Frames[frame].Verdict == v
		items = append(items, it)
	}
	return items
}

// frameMenu is the menu of one frame on the ladder.
func (w *Window) frameMenu(frame int, at fyne.Position) {
	f := w.sess.Roll.Frames[frame]
	items := append(w.verdictItems(frame),
		fyne.NewMenuItemSeparator(),
		fyne.NewMenuItem("Write a note", func() { w.win.Canvas().Focus(w.bar.note) }),
		fyne.NewMenuItem("Label the frames…", w.editLabels),
	)
	left := fyne.NewMenuItem("Show at the left of two", func() {
		w.sess.Other = f.File
		w.sess.Layout = session.Pair
		w.sess.Emit(session.ViewChanged)
	})
	base := fyne.NewMenuItem("Make this the base frame", func() { w.makeBase(f.File) })
	base.Disabled = frame == w.sess.Base()
	again := fyne.NewMenuItem("Read the scan again", func() { w.reread(f.File) })
	again.Disabled = w.loading
	out := fyne.NewMenuItem("Leave out of this roll", func() {
		w.sess.Edit("leaving a frame out", func(r *roll.Roll) {
			if i := w.sess.Index(f.File); i >= 0 {
				r.Frames = append(r.Frames[:i], r.Frames[i+1:]...)
			}
		})
	})
	out.Disabled = w.sess.Roll.Demo != ""
	items = append(items, left, fyne.NewMenuItemSeparator(), base, again, out)
	widget.ShowPopUpMenuAtPosition(fyne.NewMenu("", items...), w.win.Canvas(), at)
}

// noteTyped keeps what is typed at once, as one step of undo for each stretch
// of typing: nothing is lost when the window dies in the middle of a note.
func (w *Window) noteTyped(file, text string) {
	i := w.sess.Index(file)
	if i < 0 || w.sess.Roll.Frames[i].Note == text {
		return
	}
	if w.noteFrom == file && time.Since(w.lastNote) < 3*time.Second {
		w.sess.Amend(func(r *roll.Roll) { r.Frames[i].Note = text })
	} else {
		w.sess.SetNote(file, text)
	}
	w.noteFrom, w.lastNote = file, time.Now()
}

// someNames joins names for a sentence: "a", "a and b", "a, b and 3 more".
func someNames(names []string) string {
	switch n := len(names); {
	case n == 0:
		return ""
	case n == 1:
		return names[0]
	case n <= 3:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	default:
		return strings.Join(names[:2], ", ") + " and " + itoa(n-2) + " more"
	}
}

// glide moves the playhead by a part of a stop, where there are pictures between
// the frames.
func (w *Window) glide(stops float64) {
	if !w.sess.Glides() {
		w.status.hint("Pictures between the frames need a measured response: wait until the frames are compared")
		return
	}
	w.sess.MovePlayhead(math.Round((w.sess.Playhead()+stops)*10) / 10)
}

// nextGrade shows every frame at the next grade of salvage.
func (w *Window) nextGrade() {
	all := session.Grades()
	at := 0
	for i, g := range all {
		if g == w.sess.Grade {
			at = i + 1
		}
	}
	w.sess.Grade, w.sess.Salvaged = all[at%len(all)], true
	w.sess.Emit(session.ViewChanged)
	w.status.hint("Salvage: " + strings.ToLower(w.sess.Grade.Word()))
}

// toggleCosts shows the costs of salvage on the ladder in place of the readings.
func (w *Window) toggleCosts() {
	w.showsCosts = !w.showsCosts
	cols := row.Columns()
	if w.showsCosts {
		cols = append(cols[:1:1], row.CostColumns()...)
		if w.sess.Extent() == nil {
			w.status.hint("What salvage costs is measured once the frames are compared")
		} else {
			w.status.hint(strings.Join(finding.Sentences(w.sess.Extent()), " "))
		}
	}
	w.ladder.SetColumns(cols)
	w.showMenu()
}

// dragLimit moves a limit; a whole drag is one step of undo.
func (w *Window) dragLimit(criterion int, l row.Limit, v float64, done bool) {
	set := w.sess.Roll.LimitSet().With(criteria.Criterion(criterion), l == row.HoldsLimit, v)
	put := func(r *roll.Roll) { r.Limits = &set }
	if w.limiting {
		w.sess.Amend(put)
	} else {
		w.sess.Edit("limit", put)
		w.limiting = true
	}
	if done {
		w.limiting = false
	}
	if e := w.sess.Extent(); e != nil {
		w.status.hint(strings.Join(finding.Sentences(e), " "))
	}
}
