package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/row"
	"stopladder/ui/commands"
	"stopladder/ui/session"
)

// commands returns the table of all that the window can be told to do.
func (w *Window) commands() commands.Table {
	t := actions{w: w}
	t.ofRoll()
	t.ofJudge()
	t.ofView()
	t.ofMasks()
	t.ofPages()
	t.ofHelp()
	t.giveReasons()
	t.table.Tell(t.w.answer)
	return t.table
}

// actions puts the table of a window's commands together.
type actions struct {
	w     *Window
	table commands.Table
}

func (t *actions) add(c commands.Command) { t.table = append(t.table, &c) }

// onOff adds a command that shows whether it is on.
func (t *actions) onOff(c commands.Command, run func(), checked func() bool) {
	c.Run, c.Checked = run, checked
	t.add(c)
}

func (t *actions) does(c session.Change) func() { return func() { t.w.apply(c) } }

// some reports whether a roll is open.
func (t *actions) some() bool { return !t.w.state.Empty() }

func (t *actions) layout(l session.Layout) (func(), func() bool) {
	return t.does(session.SetLayout{Layout: l}), func() bool { return t.w.state.Layout() == l }
}

func (t *actions) judge(v roll.Verdict) (func(), func() bool) {
	s := t.w.state
	return func() { t.w.apply(session.SetVerdict{Frame: s.Current(), Verdict: v}) }, func() bool {
		i := s.Current()
		return i >= 0 && s.Roll().Frames[i].Verdict == v
	}
}

func (t *actions) mask(m session.Mask) (func(), func() bool) {
	return t.does(session.ToggleMask{Mask: m}), func() bool { return t.w.state.Masked(m) }
}

func (t *actions) panel(p session.Panel) (func(), func() bool) {
	return t.does(session.TogglePanel{Panel: p}), func() bool { return t.w.state.Panel() == p }
}

func (t *actions) differ(d session.Difference) (func(), func() bool) {
	s := t.w.state
	return t.does(session.ShowDifference{Kind: d}), func() bool { return s.Placing() == nil && s.Difference() == d }
}

func plain(names ...fyne.KeyName) (ks []commands.Key) {
	for _, n := range names {
		ks = append(ks, commands.Key{Name: n})
	}
	return ks
}

func ctrl(n fyne.KeyName) []commands.Key { return []commands.Key{{Name: n, Ctrl: true}} }

func ctrlShift(n fyne.KeyName) []commands.Key {
	return []commands.Key{{Name: n, Ctrl: true, Shift: true}}
}

// ofRoll adds what opens, names, labels and writes a roll.
func (t *actions) ofRoll() {
	w, s := t.w, t.w.state
	t.add(commands.Command{ID: "open", Menu: "Roll", Title: "Open scans…", Keys: ctrl(fyne.KeyO), Run: w.askScans,
		Hint: "Open scans: several files, or the whole folder. Dropping them on the window does the same."})
	t.add(commands.Command{ID: "open-roll", Menu: "Roll", Title: "Open roll file…", Keys: ctrlShift(fyne.KeyO), Run: w.askRoll,
		Hint: "Open a roll that was saved before."})
	t.add(commands.Command{ID: "plan", Menu: "Roll", Title: "Plan a bracket…", Keys: ctrl(fyne.KeyB), Gap: true,
		Run: w.showPlanner, Hint: "Plan a bracket before the roll, print the field card, log what was exposed."})
	t.add(commands.Command{ID: "shelf", Menu: "Roll", Title: "Shelf…", Keys: ctrlShift(fyne.KeyL),
		Run: w.showShelf, Hint: "List the rolls of a folder on one axis of stops, and hold two to twelve of them against each other."})
	t.add(commands.Command{ID: "demo-reversal", Menu: "Roll", Title: "Sample roll, reversal film", Run: func() { w.openDemo("reversal") }, Gap: true, Hint: "Open eight frames of a courtyard on a film that takes little, made by the program."})
	t.add(commands.Command{ID: "demo-negative", Menu: "Roll", Title: "Sample roll, negative film", Run: func() { w.openDemo("negative") }, Hint: "Open the same courtyard on a film that takes much, made by the program."})
	t.add(commands.Command{ID: "save", Menu: "Roll", Title: "Save", Keys: ctrl(fyne.KeyS), Enabled: t.some, Gap: true,
		Run: func() { w.save(nil) }, Hint: "Save the roll file: labels, verdicts, notes and range. The scans are never written to."})
	t.add(commands.Command{ID: "save-as", Menu: "Roll", Title: "Save under another name…", Keys: ctrlShift(fyne.KeyS), Enabled: t.some,
		Run: func() { w.saveAs(nil) }, Hint: "Save the roll file under another name, and go on with that one."})
	t.add(commands.Command{ID: "sheet", Menu: "Roll", Title: "Export the sheet…", Keys: ctrl(fyne.KeyE), Enabled: t.some, Gap: true,
		Run: w.askSheet, Hint: "Make up a page of the comparison and export it: PNG, JPEG or PDF."})
	t.add(commands.Command{ID: "report", Menu: "Roll", Title: "Export the report…", Enabled: t.some,
		Run: w.askReport, Hint: "Export one page for a browser: pictures with a movable edge, masks, readings and the finding."})
	t.add(commands.Command{ID: "stills", Menu: "Roll", Title: "Export stills for a film…", Enabled: t.some,
		Run: w.askStills, Hint: "Export every frame as scanned and salvaged as stills of one size and place, numbered in order."})
	t.add(commands.Command{ID: "pocket", Menu: "Roll", Title: "Pocket card of the film…", Enabled: t.some,
		Run: w.askPocket, Hint: "Make up a small card for the camera bag: what becomes of which light at which exposure, and the film speed that the roll suggests."})
	t.add(commands.Command{ID: "pack", Menu: "Roll", Title: "Pack for a second opinion…", Enabled: t.some,
		Run: w.askPack, Hint: "Pack the roll into one file for a friend to judge; or, where it came in a pack, your marks to send back."})
	t.add(commands.Command{ID: "readings-out", Menu: "Roll", Title: "Export the readings…", Keys: ctrlShift(fyne.KeyE), Enabled: t.some,
		Run: w.askReadings, Hint: "Export all readings as JSON or CSV."})
	t.add(commands.Command{ID: "details", Menu: "Roll", Title: "Title block…", Keys: plain(fyne.KeyT), Enabled: t.some, Gap: true,
		Run: w.editRoll, Hint: "Write the title block: roll, stock, base exposure, judge, date."})
	t.add(commands.Command{ID: "labels", Menu: "Frames", Title: "Label the frames…", Keys: plain(fyne.KeyL), Enabled: t.some,
		Run: w.editLabels, Hint: "Write the stop of every frame by hand."})
	t.add(commands.Command{ID: "area", Menu: "Frames", Title: "Image area…", Keys: plain(fyne.KeyI), Enabled: t.some,
		Run: w.editArea, Hint: "Set by hand which part of the scan is measured."})
	t.add(commands.Command{ID: "place", Menu: "Frames", Title: "Place the frame by hand…", Keys: plain(fyne.KeyP), Enabled: t.some,
		Run: t.does(session.StartPlacing{}), Hint: "Lay the frame at the marker on the base frame by hand, under a difference view."})
	for i, name := range measure.AssumedProfiles() {
		stored := name
		if i == 0 {
			stored = "" // as a roll file has it
		}
		t.onOff(commands.Command{ID: "assume-" + name, Menu: "Frames", Sub: "Scans without a profile are", Title: name, Long: "Scans without a profile are " + name, Enabled: t.some, Gap: i == 0,
			Hint: "Say how scans that carry no colour profile are encoded; they are read anew. Scans with a profile are not touched by it."},
			t.does(session.AssumeProfile{Name: stored}), func() bool { return s.Roll().AssumedProfile == stored })
	}
	t.add(commands.Command{ID: "find", Menu: "Frames", Title: "Find missing scans…", Enabled: t.some, Run: w.askFind,
		Hint: "Say in which folder scans are now that are not where the roll file says."})
	t.add(commands.Command{ID: "next-roll", Menu: "Roll", Title: "Next roll", Keys: []commands.Key{{Name: fyne.KeyPageDown, Ctrl: true, Text: "PageDown"}}, Gap: true,
		Run: func() { w.turn(1) }, Hint: "Show the next of the rolls that are open, as it was left."})
	t.add(commands.Command{ID: "last-roll", Menu: "Roll", Title: "Roll before", Keys: []commands.Key{{Name: fyne.KeyPageUp, Ctrl: true, Text: "PageUp"}},
		Run: func() { w.turn(-1) }, Hint: "Show the roll before this one of those that are open."})
	t.add(commands.Command{ID: "close-roll", Menu: "Roll", Title: "Close the roll", Keys: ctrl(fyne.KeyW), Enabled: t.some, Run: w.closeRoll,
		Hint: "Close the roll and show the one beside it, or the start page. Marks that are not saved are asked about."})
}

// ofJudge adds verdicts, notes and the judge's range, and undo.
func (t *actions) ofJudge() {
	w, s := t.w, t.w.state
	t.add(commands.Command{ID: "undo", Menu: "Judge", Title: "Undo", Keys: ctrl(fyne.KeyZ), Run: t.does(session.Undo{}),
		Enabled: func() bool { return s.Undoes() != "" }, Hint: "Take back the last mark, label or title."})
	t.add(commands.Command{ID: "redo", Menu: "Judge", Title: "Redo", Keys: append(ctrlShift(fyne.KeyZ), ctrl(fyne.KeyY)...), Run: t.does(session.Redo{}),
		Enabled: func() bool { return s.Redoes() != "" }, Hint: "Do again what was taken back."})
	run, is := t.judge(roll.Holds)
	t.onOff(commands.Command{ID: "holds", Menu: "Judge", Title: "Holds", Long: "This frame holds", Keys: plain(fyne.KeyH), Enabled: t.some, Gap: true,
		Hint: "This frame holds: as good as the base for this use. Again takes it back."}, run, is)
	run, is = t.judge(roll.Strains)
	t.onOff(commands.Command{ID: "strains", Menu: "Judge", Title: "Strains", Long: "This frame strains", Keys: plain(fyne.KeyS), Enabled: t.some,
		Hint: "This frame strains: usable with work and a visible cost."}, run, is)
	run, is = t.judge(roll.Breaks)
	t.onOff(commands.Command{ID: "breaks", Menu: "Judge", Title: "Breaks", Long: "This frame breaks", Keys: plain(fyne.KeyB), Enabled: t.some,
		Hint: "This frame breaks: not usable."}, run, is)
	t.add(commands.Command{ID: "note", Menu: "Judge", Title: "Write a note", Keys: []commands.Key{{Name: fyne.KeyReturn}, {Name: fyne.KeyEnter, Text: "Enter"}}, Enabled: t.some,
		Run: func() { w.win.Canvas().Focus(w.bar.note) }, Hint: "Write a note on this frame; Return or Escape ends it."})
	t.add(commands.Command{ID: "lower", Menu: "Judge", Title: "From here", Long: "Range from here", Keys: []commands.Key{{Name: fyne.KeyLeftBracket, Text: "["}}, Enabled: t.some, Gap: true,
		Run:  func() { w.apply(session.SetRangeEnd{Stop: s.Marker()}) },
		Hint: "Put the lower end of your range at the marker. Both ends are posts on the axis that can be dragged."})
	t.add(commands.Command{ID: "upper", Menu: "Judge", Title: "To here", Long: "Range to here", Keys: []commands.Key{{Name: fyne.KeyRightBracket, Text: "]"}}, Enabled: t.some,
		Run: func() { w.apply(session.SetRangeEnd{Upper: true, Stop: s.Marker()}) }, Hint: "Put the upper end of your range at the marker."})
	t.add(commands.Command{ID: "no-range", Menu: "Judge", Title: "Take the range away", Hint: "Take both ends of your range away.", Run: t.does(session.SetRange{}),
		Enabled: func() bool { return s.Range() != nil }})
	t.add(commands.Command{ID: "blind", Menu: "Judge", Title: "Judge blind…", Enabled: t.some, Gap: true, Run: w.askBlind,
		Hint: "Judge the frames in random order without labels, each several times; what is broken off goes on from here."})
	t.add(commands.Command{ID: "blind-result", Menu: "Judge", Title: "What blind judging came to…", Enabled: t.some, Run: w.showBlind,
		Hint: "Show your blind verdicts over stops, where you contradict yourself, and the range that follows with its error."})
	t.add(commands.Command{ID: "finding", Menu: "Judge", Title: "Finding in your words…", Enabled: t.some, Gap: true, Run: w.editFinding,
		Hint: "Write what the roll comes to in your own words, beside the measured finding: both are exported."})
	t.add(commands.Command{ID: "done", Menu: "Judge", Title: "Done: keep my marks, show the others'…", Long: "Done judging", Enabled: t.some, Gap: true, Run: w.endSitting,
		Hint: "Keep your marks as an opinion of today, and show those of the other judges beside them."})
	t.add(commands.Command{ID: "again", Menu: "Judge", Title: "Judge this roll again…", Enabled: t.some, Run: w.beginSitting,
		Hint: "Keep your marks so far as an opinion, and judge the roll anew with all opinions hidden."})
	t.add(commands.Command{ID: "take-in", Menu: "Judge", Title: "Take in a friend's marks…", Enabled: t.some, Run: w.askTakeIn,
		Hint: "Add the marks in a pack that came back, beside yours; nothing of yours is changed."})
}

// ofView adds where the marker stands, how many pictures there are and how near.
func (t *actions) ofView() {
	w, s := t.w, t.w.state
	t.add(commands.Command{ID: "up", Menu: "View", Title: "One frame up", Keys: []commands.Key{{Name: fyne.KeyUp, Text: "Up"}}, Enabled: t.some,
		Run: t.does(session.Step{Frames: 1}), Hint: "Move the marker one frame up: more exposure."})
	t.add(commands.Command{ID: "down", Menu: "View", Title: "One frame down", Keys: []commands.Key{{Name: fyne.KeyDown, Text: "Down"}}, Enabled: t.some,
		Run: t.does(session.Step{Frames: -1}), Hint: "Move the marker one frame down: less exposure."})
	t.add(commands.Command{ID: "glide-up", Group: "View", Title: "Glide up", Keys: []commands.Key{{Name: fyne.KeyUp, Shift: true, Text: "Up"}}, Enabled: t.some,
		Run: t.does(session.Glide{Stops: 0.1}), Hint: "Glide a tenth of a stop up: pictures between the frames, interpolated from the measured response."})
	t.add(commands.Command{ID: "glide-down", Group: "View", Title: "Glide down", Keys: []commands.Key{{Name: fyne.KeyDown, Shift: true, Text: "Down"}}, Enabled: t.some,
		Run: t.does(session.Glide{Stops: -0.1}), Hint: "Glide a tenth of a stop down."})
	t.add(commands.Command{ID: "base", Menu: "View", Title: "To the base frame", Keys: []commands.Key{{Name: fyne.Key0, Text: "0"}}, Enabled: t.some,
		Run: func() { w.apply(session.Go{Frame: s.Base()}) }, Hint: "Move the marker to the base frame."})
	t.add(commands.Command{ID: "other-up", Group: "View", Title: "Left picture up", Keys: []commands.Key{{Name: fyne.KeyRight, Text: "Right"}}, Enabled: t.some,
		Run: t.does(session.StepOther{Frames: 1}), Hint: "Two pictures, or an edge: move the left one a frame up."})
	t.add(commands.Command{ID: "other-down", Group: "View", Title: "Left picture down", Keys: []commands.Key{{Name: fyne.KeyLeft, Text: "Left"}}, Enabled: t.some,
		Run: t.does(session.StepOther{Frames: -1}), Hint: "Two pictures, or an edge: move the left one a frame down."})
	run, is := t.layout(session.One)
	t.onOff(commands.Command{ID: "one", Menu: "View", Title: "One", Long: "One picture", Keys: plain(fyne.Key1), Gap: true,
		Hint: "Show one picture: the frame at the marker."}, run, is)
	run, is = t.layout(session.Pair)
	t.onOff(commands.Command{ID: "pair", Menu: "View", Title: "Two", Long: "Two pictures", Keys: plain(fyne.Key2),
		Hint: "Show two pictures: the base, or the frame chosen with Left and Right, beside the frame at the marker."}, run, is)
	run, is = t.layout(session.Grid)
	t.onOff(commands.Command{ID: "grid", Menu: "View", Title: "All", Long: "All frames", Keys: plain(fyne.Key3),
		Hint: "Show all frames at once, over above under as on the ladder."}, run, is)
	run, is = t.layout(session.Beside)
	t.onOff(commands.Command{ID: "beside", Menu: "View", Title: "Base, scan, corrected", Long: "Base, scan and corrected", Keys: plain(fyne.Key4),
		Hint: "Show three pictures: the base frame, the frame at the marker as it was scanned, and the same as it is salvaged or corrected (G, V)."}, run, is)
	t.add(commands.Command{ID: "fit", Menu: "View", Title: "Fit", Long: "Fit the picture", Keys: plain(fyne.KeyF), Gap: true,
		Run: func() { w.pictures.group.Fit() }, Hint: "Fit the image area into the picture."})
	t.add(commands.Command{ID: "actual", Menu: "View", Title: "1:1", Long: "Actual pixels, 1:1", Keys: plain(fyne.KeyA),
		Run: func() { w.pictures.group.OneToOne() }, Hint: "Show actual pixels: one pixel of the scan on one of the screen."})
	t.add(commands.Command{ID: "in", Menu: "View", Title: "Zoom in", Keys: []commands.Key{{Name: fyne.KeyEqual, Text: "+"}, {Name: fyne.KeyPlus, Text: "+"}, {Name: fyne.KeyEqual, Shift: true, Text: "+"}},
		Run: func() { w.pictures.group.ZoomIn() }, Hint: "Zoom in; the wheel over the picture does the same."})
	t.add(commands.Command{ID: "out", Menu: "View", Title: "Zoom out", Keys: []commands.Key{{Name: fyne.KeyMinus, Text: "−"}},
		Run: func() { w.pictures.group.ZoomOut() }, Hint: "Zoom out."})
	t.onOff(commands.Command{ID: "detail", Menu: "View", Title: "Detail on the ladder", Keys: plain(fyne.KeyZ), Enabled: t.some, Gap: true,
		Hint: "Choose a detail of the scene by a click or a drag on a picture: the ladder shows it of every frame, pixel for pixel."},
		t.does(session.ChooseDetail{}), func() bool { _, on := s.Detail(); return on })
	run, is = t.layout(session.Edge)
	t.onOff(commands.Command{ID: "edge", Menu: "View", Title: "Edge", Keys: plain(fyne.Key5),
		Hint: "Show two frames in one picture, with an edge between them to drag: at its left the base, or the frame chosen with Left and Right; at its right the frame at the marker."}, run, is)
	t.add(commands.Command{ID: "edge-turn", Group: "View", Title: "Turn the edge", Keys: []commands.Key{{Name: fyne.Key5, Shift: true, Text: "5"}},
		Run:  func() { w.apply(session.SetLayout{Layout: session.Edge}); w.pictures.group.TurnEdge() },
		Hint: "Turn the edge between two frames from upright to level, or back. Dragging its round knob turns it freely; a double click on the handle centres it."})
	t.onOff(commands.Command{ID: "hold-base", Menu: "View", Title: "Base frame, while held", Keys: []commands.Key{{Name: fyne.KeySpace, Text: "Space"}}, Enabled: t.some,
		Hint: "Hold Space: the base frame stands in the same place for as long as the key is down."},
		func() { w.holder.toggle(session.HeldBase) }, func() bool { return s.Held() == session.HeldBase })
	t.onOff(commands.Command{ID: "hold-scan", Menu: "View", Title: "Scan alone, while held", Keys: plain(fyne.KeyY), Enabled: t.some,
		Hint: "Hold Y: the frame as it was scanned, without correction, salvage, masks and difference, for as long as the key is down."},
		func() { w.holder.toggle(session.HeldScan) }, func() bool { return s.Held() == session.HeldScan })
	t.add(commands.Command{ID: "surround-up", Group: "View", Title: "Surround lighter", Enabled: t.some, Keys: plain(fyne.Key9),
		Run: t.does(session.StepSurround{Steps: 1}), Hint: "Make the neutral grey around the pictures lighter. It is kept with the roll."})
	t.add(commands.Command{ID: "surround-down", Group: "View", Title: "Surround darker", Enabled: t.some, Keys: plain(fyne.Key8),
		Run: t.does(session.StepSurround{Steps: -1}), Hint: "Make the neutral grey around the pictures darker."})
	t.add(commands.Command{ID: "no-detail", Menu: "View", Title: "Whole frames on the ladder", Keys: []commands.Key{{Name: fyne.KeyZ, Shift: true}},
		Enabled: func() bool { _, on := s.Detail(); return on }, Run: t.does(session.NoDetail{}), Hint: "Show the whole frames on the ladder again."})
}

// ofMasks adds what lies over the pictures or stands in their place.
func (t *actions) ofMasks() {
	s := t.w.state
	run, is := t.mask(session.Blown)
	t.onOff(commands.Command{ID: "blown", Menu: "Compare", Title: "Blown", Long: "Mask: Blown", Keys: plain(fyne.KeyO), Gap: true,
		Hint: "Mark what is Blown: pixels at the scan's ceiling in any channel. The figure is their share of the image area."}, run, is)
	run, is = t.mask(session.Blocked)
	t.onOff(commands.Command{ID: "blocked", Menu: "Compare", Title: "Blocked", Long: "Mask: Blocked", Keys: plain(fyne.KeyU),
		Hint: "Mark what is Blocked: pixels at the scan's floor in any channel. The figure is their share of the image area."}, run, is)
	run, is = t.mask(session.Noisy)
	t.onOff(commands.Command{ID: "noisy", Menu: "Compare", Title: "Noisy", Long: "Mask: Noisy", Keys: plain(fyne.KeyN),
		Hint: "Mark what is Noisy: areas whose noise passes the limit once the frame is brought to the base frame's brightness."}, run, is)
	run, is = t.mask(session.Lost)
	t.onOff(commands.Command{ID: "lost", Menu: "Compare", Title: "Lost", Long: "Mask: Lost", Keys: plain(fyne.KeyX),
		Hint: "Mark what the base frame shows and this frame has lost: no salvage brings it back. The figure is its share of the image area."}, run, is)
	run, is = t.mask(session.Dust)
	t.onOff(commands.Command{ID: "dust", Menu: "Compare", Title: "Dust", Long: "Mask: Dust", Keys: plain(fyne.KeyJ),
		Hint: "Mark dust, scratches and what moved: places that the other frames do not bear out. They are not compared. The figure is their share of the image area."}, run, is)
	run, is = t.differ(session.LightDifference)
	t.onOff(commands.Command{ID: "difference", Menu: "Compare", Title: "Difference", Long: "Difference in light", Keys: plain(fyne.KeyD), Enabled: t.some,
		Hint: "Show every frame as its difference against the base frame: plain grey where both agree, brightness aside."},
		run, is)
	run, is = t.differ(session.ColourDifference)
	t.onOff(commands.Command{ID: "difference-colour", Menu: "Compare", Title: "Difference in colour", Keys: []commands.Key{{Name: fyne.KeyD, Shift: true, Text: "D"}}, Enabled: t.some,
		Hint: "Show what every frame, as it is shown, differs in colour from the base frame: black where both agree, white from 10 ΔE00. With salvage shown (G) it is what salvage leaves."},
		run, is)
	t.onOff(commands.Command{ID: "curve", Menu: "Pages", Title: "Curve", Long: "Response curve", Keys: plain(fyne.KeyC), Enabled: t.some,
		Hint: "Show the measured response in the pictures' place: density against exposure, with toe, straight line and shoulder."},
		t.does(session.ToggleCurve{}), s.Curve)
}

// ofPages adds pages beside the pictures, corrections that are shown, and help.
func (t *actions) ofPages() {
	s := t.w.state
	t.onOff(commands.Command{ID: "pictures", Menu: "Pages", Title: "Pictures", Long: "The pictures alone", Keys: []commands.Key{{Name: fyne.KeyEscape, Text: "Esc"}},
		Hint: "Close the page that is open: the ladder and the pictures alone."},
		t.does(session.ShowPictures{}), func() bool { return s.Panel() == session.NoPanel && !s.Curve() })
	run, is := t.panel(session.ReadingsPanel)
	t.onOff(commands.Command{ID: "readings", Menu: "Pages", Title: "Readings", Long: "Readings and histogram", Keys: plain(fyne.KeyR), Gap: true,
		Hint: "Open or close the large histogram and the readings of the frame at the marker."},
		run, is)

	run, is = t.panel(session.BandsPanel)
	t.onOff(commands.Command{ID: "bands", Menu: "Pages", Title: "Bands", Long: "Tonal bands and casts", Keys: plain(fyne.KeyK),
		Hint: "Open or close the casts of the tonal bands in the a*b* plane and in words, their noise and their detail."},
		run, is)
	run, is = t.panel(session.PatchesPanel)
	t.onOff(commands.Command{ID: "patches", Menu: "Pages", Title: "Patches", Keys: plain(fyne.KeyQ),
		Hint: "Open or close the page of patches: named places of the scene, read in every frame."},
		run, is)
	run, is = t.panel(session.SalvagePanel)
	t.onOff(commands.Command{ID: "salvage", Menu: "Pages", Title: "Salvage", Long: "Salvage and its cost", Keys: plain(fyne.KeyW),
		Hint: "Open or close the page of what salvage of this frame costs, the measured range and the finding."},
		run, is)
	run, is = t.panel(session.CorrectionPanel)
	t.onOff(commands.Command{ID: "correction", Menu: "Pages", Title: "Correction", Long: "Correction of the pictures", Keys: plain(fyne.KeyE),
		Hint: "Open or close the page on which all frames are corrected alike, or one frame by hand."},
		run, is)
	run, is = t.panel(session.OpinionsPanel)
	t.onOff(commands.Command{ID: "opinions", Menu: "Pages", Title: "Opinions", Long: "Opinions of all judges",
		Hint: "Open or close the page on which all judges' marks stand along the ladder, hidden until yours are done."},
		run, is)
	t.onOff(commands.Command{ID: "corrected", Menu: "Compare", Title: "Corrected", Long: "Show corrected", Keys: plain(fyne.KeyV), Enabled: t.some, Gap: true,
		Hint: "Show all frames with the correction that is theirs alike, or as scanned. Readings are always of the scans."},
		t.does(session.ToggleCorrected{}), func() bool { return s.Corrected() && s.Roll().View != nil })
	t.onOff(commands.Command{ID: "salvaged", Menu: "Compare", Title: "Salvaged", Long: "Show salvaged", Keys: plain(fyne.KeyG), Enabled: t.some,
		Hint: "Show every frame brought towards the base frame at the chosen grade, or as scanned."},
		t.does(session.ToggleSalvaged{}), func() bool { on, _ := s.Salvaged(); return on })

	t.onOff(commands.Command{ID: "costs", Menu: "Compare", Title: "Costs on the ladder", Keys: plain(fyne.KeyM), Enabled: t.some,
		Hint: "Show what salvage of each frame costs, with the limits as lines to drag and the measured range in white."},
		t.does(session.ToggleCosts{}), s.OnLadder)
	t.add(commands.Command{ID: "grade", Menu: "Compare", Title: "Next grade of salvage", Keys: []commands.Key{{Name: fyne.KeyG, Shift: true}}, Enabled: t.some,
		Run: t.does(session.NextGrade{}), Hint: "Show the next grade of salvage: exposure, balance, curves, by hand."})
}

// ofHelp adds what explains the window.
func (t *actions) ofHelp() {
	w := t.w
	t.add(commands.Command{ID: "palette", Menu: "Help", Title: "Find a command…", Keys: []commands.Key{{Name: fyne.KeySlash, Text: "/"}}, Run: w.showPalette,
		Hint: "Find any command by a word of it, with its key and whether it can be done now."})
	t.add(commands.Command{ID: "explain", Menu: "Help", Title: "What is this?", Keys: plain(fyne.KeyF2), Enabled: t.some, Run: w.explainHere,
		Hint: "Explain what the pointer is over on the ladder or a page, else the verdict of the frame at the marker. Resting the pointer does the same."})
	t.add(commands.Command{ID: "keys", Menu: "Help", Title: "Keys", Keys: []commands.Key{{Name: fyne.KeyF1}}, Run: w.showKeys,
		Hint: "Show all keys, in groups."})
	t.add(commands.Command{ID: "manual", Menu: "Help", Title: "Manual…", Run: func() { w.showManual("") },
		Hint: "Read the manual, or search all of its pages."})
	t.add(commands.Command{ID: "tour", Menu: "Help", Title: "Tour over the sample roll", Run: w.takeTour,
		Hint: "Show in seven steps what the window does, over the sample roll."})
	t.add(commands.Command{ID: "about", Menu: "Help", Title: "What Stopladder measures", Gap: true, Run: w.showAbout,
		Hint: "Say what the program measures and what it does not."})
}

// menus are the names of the menus, in order.
var menus = []string{"Roll", "Frames", "Judge", "View", "Compare", "Pages", "Help"}

// showMenu rebuilds the main menu: enabled and checked entries follow the
// session, and the recent rolls the settings.
func (w *Window) showMenu() {
	menu := w.cmds.Menu(menus...)
	if len(w.settings.Recent) > 0 {
		var items []*fyne.MenuItem
		for _, p := range w.settings.Recent {
			items = append(items, fyne.NewMenuItem(legible.Line(p), func() { w.openPaths([]string{p}) }))
		}
		recent := fyne.NewMenuItem("Recent rolls", nil)
		recent.ChildMenu = fyne.NewMenu("", items...)
		first := menu.Items[0]
		first.Items = append(first.Items[:2], append([]*fyne.MenuItem{recent}, first.Items[2:]...)...)
	}
	quit := fyne.NewMenuItem("Quit", func() { w.leaveAll("Quit", w.close) })
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
		it := fyne.NewMenuItem(row.VerdictWord(v), func() { w.apply(session.SetVerdict{Frame: frame, Verdict: v}) })
		it.Checked = w.state.Roll().Frames[frame].Verdict == v
		items = append(items, it)
	}
	return items
}

// frameMenu opens the menu of one frame on the ladder.
func (w *Window) frameMenu(frame int, at fyne.Position) {
	f := w.state.Roll().Frames[frame]
	items := append(w.verdictItems(frame),
		fyne.NewMenuItemSeparator(),
		fyne.NewMenuItem("Write a note", func() { w.win.Canvas().Focus(w.bar.note) }),
		fyne.NewMenuItem("Label the frames…", w.editLabels),
	)
	left := fyne.NewMenuItem("Show at the left of two", func() { w.apply(session.ShowLeft{File: f.File}) })
	base := fyne.NewMenuItem("Make this the base frame", func() { w.apply(session.MakeBase{File: f.File}) })
	base.Disabled = frame == w.state.Base()
	again := fyne.NewMenuItem("Read the scan again", func() { w.apply(session.ReadAgain{File: f.File}) })
	_, again.Disabled = w.state.Reading()
	out := fyne.NewMenuItem("Leave out of this roll", func() { w.apply(session.LeaveOut{File: f.File}) })
	out.Disabled = w.state.Roll().Demo != ""
	items = append(items, left, fyne.NewMenuItemSeparator(), base, again, out)
	widget.ShowPopUpMenuAtPosition(fyne.NewMenu("", items...), w.win.Canvas(), at)
}
