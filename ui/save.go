package ui

import (
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stopladder/analysis/judge/roll"
	"stopladder/ui/files"
)

// save writes the roll file, asking for a name when it has none. then, which
// may be nil, runs only when the roll is safe on the disk.
func (w *Window) save(then func()) {
	if w.sess.Path == "" {
		w.saveAs(then)
		return
	}
	w.saveTo(w.sess.Path, then)
}

func (w *Window) saveAs(then func()) {
	dir, name := w.settings.Folder, fileName(w.rollName())
	if w.sess.Path != "" {
		dir, name = filepath.Dir(w.sess.Path), filepath.Base(w.sess.Path)
	} else if w.sess.Roll.Demo == "" && !w.sess.Empty() {
		dir = filepath.Dir(w.sess.Roll.Frames[0].File)
	}
	w.choose(files.Ask{Title: "Save the roll file", Exts: []string{roll.Ext}, Save: true, Folder: dir, Name: name, Verb: "Save",
		Done: func(paths []string) { w.saveTo(paths[0], then) }})
}

// fileName makes a title fit for a file name on any system.
func fileName(title string) string {
	s := strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
			return '-'
		}
		return r
	}, strings.TrimSpace(title))
	if s == "" || strings.Trim(s, ".") == "" {
		return "roll"
	}
	return s
}

func (w *Window) saveTo(path string, then func()) {
	if err := w.sess.Roll.Save(path); err != nil {
		w.say("Not saved", err)
		return
	}
	w.sess.MarkSaved(path)
	if w.loading {
		w.savedWithout = path // the hashes of its scans follow when they are known
	}
	w.settings.Opened(path)
	w.dropBackup()
	w.status.hint("Saved " + filepath.Base(path))
	if then != nil {
		then()
	}
}

// startJournal begins to keep recovery copies, and offers what an earlier
// session left when it died.
func (w *Window) startJournal(home string) {
	if home == "" {
		return
	}
	j, err := roll.OpenJournal(filepath.Join(home, "recovery"))
	if err != nil {
		w.notices.add(notice{id: "journal", text: "Marks that are not saved would not survive a crash: " + sentence(err.Error())})
		return
	}
	w.journal = j
	found, err := j.Orphans()
	if err != nil {
		w.notices.add(notice{id: "journal", text: "What an earlier session may have left could not be looked at: " + sentence(err.Error())})
	}
	for i, r := range found {
		w.recovered = append(w.recovered, notice{
			id:     "recovered " + itoa(i),
			text:   "Stopladder ended before " + recoveredName(r) + " was saved (" + r.When.Local().Format(time.DateTime) + "). Your marks are still there.",
			action: "Take them up again",
			run:    func() { w.forget(i); w.takeUp(r) },
			other:  "Throw them away",
			runOther: func() {
				w.forget(i)
				if err := r.Discard(); err != nil {
					w.say("Not thrown away", err)
				}
			},
		})
	}
}

// forget stops offering what an earlier session left.
func (w *Window) forget(i int) {
	id := "recovered " + itoa(i)
	w.recovered = slices.DeleteFunc(w.recovered, func(n notice) bool { return n.id == id })
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
	w.confirmLeave("Open the recovered roll", func() {
		w.openRoll(r.Roll, r.SavedAs, true)
		if w.keep(w.sess.Roll.Clone(), w.sess.Path) == nil {
			_ = r.Discard() // a copy too many does no harm
		}
	})
}

// backupDelay is how long after a change the recovery copy is written.
const backupDelay = 400 * time.Millisecond

// keepBackup writes a recovery copy soon, off the window's goroutine, and takes
// it away when everything is saved.
func (w *Window) keepBackup() {
	if w.journal == nil {
		return
	}
	if w.backup != nil {
		w.backup.Stop()
		w.backup = nil
	}
	if !w.sess.Unsaved() || w.sess.Empty() {
		w.dropBackup()
		return
	}
	copied, path := w.sess.Roll.Clone(), w.sess.Path
	w.backup = time.AfterFunc(backupDelay, func() {
		if err := w.keep(copied, path); err != nil {
			w.do(func() {
				w.notices.add(notice{id: "journal", text: "Marks that are not saved would not survive a crash: " + sentence(err.Error())})
			})
		}
	})
}

// keep writes a recovery copy. It is called by the timer's goroutine and by the
// window's.
func (w *Window) keep(r *roll.Roll, path string) error {
	w.journalMu.Lock()
	defer w.journalMu.Unlock()
	if w.journal == nil {
		return nil
	}
	return w.journal.Keep(r, path)
}

func (w *Window) dropBackup() {
	if w.backup != nil {
		w.backup.Stop()
	}
	w.journalMu.Lock()
	defer w.journalMu.Unlock()
	if w.journal != nil {
		_ = w.journal.Clear() // a copy of saved work does no harm
	}
}

// endJournal ends the keeping of recovery copies. What was not saved, and not
// given up on purpose, stays for the next session to find.
func (w *Window) endJournal() {
	if w.backup != nil {
		w.backup.Stop()
	}
	w.journalMu.Lock()
	defer w.journalMu.Unlock()
	if w.journal != nil {
		_ = w.journal.Close()
		w.journal = nil
	}
}
