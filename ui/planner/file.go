package planner

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/disk/filename"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/files"
)

// now returns the state that is saved or not.
func (p *Planner) now() string {
	text, _ := json.Marshal(plan.Draft{Form: p.form(), Log: p.log})
	return string(text)
}

// startNew begins another plan.
func (p *Planner) startNew() {
	p.leave(func() {
		p.log, p.path, p.file = nil, "", nil
		p.fill(p.first())
		p.settled()
		p.begin()
	})
}

// leave asks what to do with an unsaved plan before it goes on.
func (p *Planner) leave(goOn func()) {
	if p.now() == p.saved {
		goOn()
		return
	}
	ask.Show(p.win.Canvas(), ask.Spec{Title: "The plan is not saved", Content: ask.Text("What is typed and logged here would be lost."), Width: 480,
		Answers: []ask.Answer{{Text: "Go on without saving", Do: func() { p.settled(); goOn() }}, {Text: "Stay with this plan", Main: true}}})
}

func (p *Planner) say(title string, err error) {
	ask.Show(p.win.Canvas(), ask.Spec{Title: title, Content: ask.Text(sentence(err.Error())), Width: 480, Answers: []ask.Answer{{Text: "Close", Main: true}}})
}

func (p *Planner) name() string {
	if t := filename.Of(p.fields[plan.FieldTitle].text()); t != "" {
		return t
	}
	return "bracket"
}

func (p *Planner) askSave() {
	if p.file == nil || p.wrong > 0 {
		p.say("No plan to save yet", errors.New(p.waits()))
		return
	}
	name := p.name()
	if p.path != "" {
		name = strings.TrimSuffix(filepath.Base(p.path), plan.Ext)
	}
	files.Show(p.win, files.Ask{Title: "Save the plan; beside the scans it labels them", Exts: []string{plan.Ext}, Save: true, Folder: p.folder,
		Name: name, Verb: "Save", Done: func(paths []string) { p.save(paths[0]) }})
}

func (p *Planner) save(path string) {
	var err error
	if path == p.path {
		err = p.file.SaveBack(path, false)
	} else {
		err = p.file.Save(path)
	}
	var changed *plan.ChangedError
	if errors.As(err, &changed) {
		p.askChanged(path)
		return
	}
	if err != nil {
		p.say("Not saved", err)
		return
	}
	p.kept(path)
}

// askChanged asks which version of a plan to keep that another program has changed since
// it was opened here; the other one stays beside it.
func (p *Planner) askChanged(path string) {
	theirs := func() {
		if err := p.file.Save(plan.OtherPath(path)); err != nil {
			p.say("Nothing was changed", err)
			return
		}
		p.open(path)
	}
	mine := func() {
		if err := p.file.SaveBack(path, true); err != nil {
			p.say("Not saved", err)
			return
		}
		p.kept(path)
	}
	card := ask.Show(p.win.Canvas(), ask.Spec{Title: "Changed on disk", Width: 700,
		Content: ask.Text(fmt.Sprintf("%s was changed by another program since it was opened here, for example by an entry in its log. Whichever is kept, the other stays beside it as %s.",
			filepath.Base(path), filepath.Base(plan.OtherPath(path)))),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Keep theirs", Do: theirs}, {Text: "Save mine under another name…", Do: p.askSave}, {Text: "Keep mine", Main: true, Do: mine}}})
	p.answers = []*chip.Chip{card.Answer("Keep theirs"), card.Answer("Keep mine")}
}

// kept notes that the plan stands in its file.
func (p *Planner) kept(path string) {
	p.path, p.folder = path, filepath.Dir(path)
	p.settled()
	p.status.SetText("Saved " + filepath.Base(path))
}

func (p *Planner) askOpen() {
	p.leave(func() {
		files.Show(p.win, files.Ask{Title: "Open a plan", Exts: []string{plan.Ext}, Folder: p.folder, Verb: "Open",
			Done: func(paths []string) { p.open(paths[0]) }})
	})
}

// Path returns the file of the plan that is open, "" while it has none.
func (p *Planner) Path() string { return p.path }

// Open opens a plan file in place of what is there, after asking where that is not saved.
func (p *Planner) Open(path string) { p.leave(func() { p.open(path) }) }

func (p *Planner) open(path string) {
	f, err := plan.Load(path)
	if err != nil {
		p.say("Not opened", err)
		return
	}
	p.takeUp(f.Camera)
	f.Form.Camera = p.fields[plan.FieldCamera].text()
	p.log, p.path, p.folder, p.file = f.Log, path, filepath.Dir(path), f
	p.fill(f.Form)
	p.settled()
	p.begin()
	p.status.SetText("Opened " + filepath.Base(path))
}
