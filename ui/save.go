package ui

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"stopladder/analysis/disk/filename"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/ui/files"
	"stopladder/ui/session"
)

// save writes the roll file, asking for a name when it has none. then, which
// may be nil, runs only when the roll is safe on the disk.
func (w *Window) save(then func()) {
	if w.state.Roll().Path() == "" {
		w.saveAs(then)
		return
	}
	w.saveTo(w.state.Roll().Path(), then)
}

func (w *Window) saveAs(then func()) {
	dir, name := w.settings.Folder, fileName(w.state.Name())
	if w.state.Roll().Path() != "" {
		dir, name = filepath.Dir(w.state.Roll().Path()), filepath.Base(w.state.Roll().Path())
	} else if w.state.Roll().Demo == "" && !w.state.Empty() {
		dir = filepath.Dir(w.state.Roll().Frames[0].File)
	}
	w.choose(files.Ask{Title: "Save the roll file", Exts: []string{roll.Ext}, Save: true, Folder: dir, Name: name, Verb: "Save",
		Done: func(paths []string) { w.saveTo(paths[0], then) }})
}

// fileName makes a title fit for a file name on any system.
func fileName(title string) string {
	if s := filename.Of(title); s != "" {
		return s
	}
	return "roll"
}

func (w *Window) saveTo(path string, then func()) {
	var g guard.Guard
	for _, f := range w.state.Roll().Frames {
		g.Reads(f.File)
	}
	if err := g.Reading(path); err != nil {
		w.say("Not saved", err)
		return
	}
	r := w.state.Keeping() // the file's own paths and name are written into it
	err := r.Save(path)
	var changed *roll.ChangedError
	if errors.As(err, &changed) {
		w.askChanged(changed, then)
		return
	}
	if err != nil {
		w.say("Not saved", err)
		return
	}
	w.saved(r)
	if then != nil {
		then()
	}
}

// saved notes that a roll is safe in its file.
func (w *Window) saved(r *roll.Roll) {
	w.apply(session.Saved{Roll: r})
	w.settings.Opened(r.Path())
	w.keepSettings() // it is reopened from that file
	w.dropBackup()
	w.status.hint("Saved " + filepath.Base(r.Path()))
}

// offerRecovered offers what an earlier session left when it died.
func (w *Window) offerRecovered() {
	j := w.tabs.front.copies.journal
	if j == nil {
		return
	}
	found, err := j.Orphans()
	if err != nil {
		w.apply(session.Notify{Notice: session.Notice{ID: "journal of before", Lasting: true, Text: "What an earlier session may have left could not be looked at: " + session.Sentence(err.Error())}})
	}
	for i, r := range found {
		id := "recovered " + strconv.Itoa(i)
		forget := func() { // it is dealt with
			w.recovered = slices.DeleteFunc(w.recovered, func(n session.Notice) bool { return n.ID == id })
		}
		w.recovered = append(w.recovered, session.Notice{
			ID:   id,
			Text: "Stopladder ended before " + recoveredName(r) + " was saved (" + r.When.Local().Format(time.DateTime) + "). Your marks are still there.",
			Actions: []session.Action{
				{Words: "Take them up again", Run: func() { forget(); w.takeUp(r) }},
				{Words: "Throw them away", Run: func() {
					forget()
					if err := r.Discard(); err != nil {
						w.say("Not thrown away", err)
					}
				}},
			},
		})
	}
}

// noJournal warns that marks which are not saved are not safe.
func (w *Window) noJournal(err error) {
	w.apply(session.Notify{Notice: session.Notice{ID: "journal", Lasting: true, Text: "Marks that are not saved would not survive a crash: " + session.Sentence(err.Error())}})
}

func recoveredName(r *roll.Recovered) string {
	switch {
	case r.Roll.Title != "":
		return r.Roll.Title
	case r.SavedAs != "":
		return filepath.Base(r.SavedAs)
	case len(r.Roll.Frames) > 0:
		return "the roll in " + filepath.Base(filepath.Dir(r.Roll.Frames[0].File))
	}
	return "a roll"
}

// takeUp opens recovered work. The copy is kept until this session has written
// its own.
func (w *Window) takeUp(r *roll.Recovered) {
	o := w.find(r.Roll)
	if o == nil { // reopened from its scans, before it had a file
		o = w.findScans(r.Roll)
	}
	if o != nil && !w.stateOf(o).Unsaved() { // reopened, as its file has it
		w.bring(o)
	} else {
		w.room()
	}
	w.apply(session.Open{Job: load.Of(r.Roll), Unsaved: true})
	w.showTabs()
	w.keepSettings()
	if w.tabs.front.copies.keep(context.Background(), w.state.Roll(), w.state.Roll().Path()) == nil {
		_ = r.Discard() // a copy too many does no harm
	}
}

// backupDelay is how long after a change the recovery copy is written.
const backupDelay = 400 * time.Millisecond

// backup is the name of the work of writing a recovery copy.
const backup = "backup"

// keepBackup writes a recovery copy soon, and takes it away when everything is saved.
func (w *Window) keepBackup() {
	if !w.state.Unsaved() || w.state.Empty() {
		w.dropBackup()
		return
	}
	r, path, copies := w.state.Roll(), w.state.Roll().Path(), w.tabs.front.copies
	w.runner.Start(backup, func(ctx context.Context, _ func(func())) func() {
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(backupDelay):
		}
		if err := copies.keep(ctx, r, path); err != nil {
			return func() { w.noJournal(err) }
		}
		return nil
	})
}

// dropBackup takes the recovery copy of the roll in front away.
func (w *Window) dropBackup() {
	w.runner.Stop(backup)
	w.tabs.front.copies.drop()
}

// endJournal ends the keeping of recovery copies. What was not saved, and not
// given up on purpose, stays for the next session to find.
func (w *Window) endJournal() {
	for _, o := range w.tabs.all {
		o.runner.Stop(backup)
		o.copies.close()
	}
}
