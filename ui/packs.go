package ui

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/pack"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/packing"
	"stopladder/analysis/show/report"
	"stopladder/ui/ask"
	"stopladder/ui/files"
	"stopladder/ui/page"
	"stopladder/ui/page/opinions"
	"stopladder/ui/pick"
	"stopladder/ui/session"
)

// newOpinions makes the page of all judges' marks.
func (w *Window) newOpinions(host page.Host) *opinions.Page {
	pack := w.chip("pack", "Pack…")
	return opinions.New(w.state, host, pack, w.chip("done", "Done"), pack, w.chip("take-in", "Take in…"), w.chip("again", "Judge again"))
}

// isPack reports whether a path is called as packs are.
func isPack(path string) bool { return strings.EqualFold(filepath.Ext(path), pack.Ext) }

// opened is what a path that was asked for comes to: a path to open, or an answer to take in.
type opened struct {
	path   string
	answer *pack.Pack
	fresh  bool // a roll that was just unpacked, or was before
}

// unpacked opens a pack: a roll is unpacked into a folder beside it, or beside that where
// something else stands there; an answer is read.
func unpacked(ctx context.Context, path string, progress func(float64)) (opened, error) {
	p, err := pack.Open(path)
	if err != nil {
		return opened{}, err
	}
	defer p.Close()
	if p.Kind == pack.Answer {
		return opened{answer: p}, nil
	}
	dir := pack.Folder(path)
	for n := 2; ; n++ {
		file, err := p.Unpack(ctx, dir, today(), progress)
		var there *pack.ThereError
		if errors.As(err, &there) && n < 100 {
			dir = fmt.Sprintf("%s %d", pack.Folder(path), n)
			continue
		}
		return opened{path: file, fresh: true}, err
	}
}

// askTakeIn asks for a pack whose marks are taken into the roll in front.
func (w *Window) askTakeIn() {
	w.choose(files.Ask{Title: "Take in a friend's marks", Exts: []string{pack.Ext}, Folder: w.settings.Folder, Verb: "Take in", Done: func(paths []string) {
		path := paths[0]
		w.chores.Start("take in", func(context.Context, func(func())) func() {
			p, err := pack.Open(path)
			if err == nil {
				p.Close()
			}
			return func() {
				if err != nil {
					w.say("Not taken in", err)
					return
				}
				w.takeIn(p)
			}
		})
	}})
}

// takeAnswer takes an answer into the open roll that it is of, and says where there is none.
func (w *Window) takeAnswer(p *pack.Pack) {
	for _, o := range w.tabs.all {
		if _, err := opinion.Merge(w.stateOf(o).Roll().Clone(), opinion.Given(p.Roll)); err == nil && len(w.stateOf(o).Roll().Frames) > 0 {
			w.bring(o)
			w.takeIn(p)
			return
		}
	}
	w.say("Not taken in", fmt.Errorf("%q has the marks of %s and no pictures: open the roll that was packed, and take them in there", filepath.Base(p.Path()), nameOr(p.From, "a friend")))
}

func nameOr(name, other string) string {
	if name == "" {
		return other
	}
	return legible.Line(name)
}

// takeIn takes the marks of a pack into the roll in front.
func (w *Window) takeIn(p *pack.Pack) {
	list := opinion.Given(p.Roll)
	out, err := opinion.Merge(w.state.Roll().Clone(), list)
	if err != nil {
		w.say("Not taken in", err)
		return
	}
	w.apply(session.TakeIn{Opinions: list})
	if w.state.Panel() != session.OpinionsPanel {
		w.apply(session.TogglePanel{Panel: session.OpinionsPanel})
	}
	var who []string
	for _, m := range out.Added {
		who = append(who, nameOr(m.Judge, "a judge without a name"))
	}
	words := "The marks of " + strings.Join(who, ", ") + " stand beside yours. Save the roll to keep them."
	if len(who) == 0 {
		words = "The roll has these marks already."
	}
	if opinion.Hidden(w.state.Roll()) {
		words += " They are hidden until you are done."
	}
	for i, s := range out.Problems {
		w.apply(session.Notify{Notice: session.Notice{ID: fmt.Sprintf("taken in %d", i), Text: s}})
	}
	w.apply(session.Notify{Notice: session.Notice{ID: "taken in", Text: words}})
}

// endSitting keeps the marks as an opinion and shows those of others: under a name, and once
// the person knows what is still open.
func (w *Window) endSitting() {
	r := w.state.Roll()
	if _, ok := opinion.Own(r, ""); !ok {
		w.say("Not done yet", errors.New("nothing is judged yet: give frames a verdict (H, S, B), or mark your range"))
		return
	}
	words := "Your marks are kept as an opinion of today, which nothing changes any more. The others' are shown from now on; what you change afterwards is kept apart and does not count for agreement."
	if open := len(r.Frames) - r.Judged(); open > 0 {
		words = fmt.Sprintf("%d of %d frames have no verdict yet. ", open, len(r.Frames)) + words
	}
	name := w.entry(w.state.Judge())
	if name.Text == "" {
		name.SetText(w.settings.Judge)
	}
	form := container.New(layout.NewFormLayout(), widget.NewLabel("Judge"), name)
	c := w.ask(ask.Spec{Title: "You are done", Width: 560, First: name, Content: container.NewBorder(ask.Text(words), nil, nil, nil, form),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Done", Main: true, Off: func() bool { return strings.TrimSpace(name.Text) == "" }, Do: func() {
			w.named(strings.TrimSpace(name.Text))
			w.apply(session.EndSitting{Day: today()})
		}}}})
	ask.On(c, name)
	name.OnChanged = func(string) { c.Changed() }
}

// named writes who judges.
func (w *Window) named(judge string) {
	if judge == w.state.Judge() {
		return
	}
	w.settings.Judge = judge
	w.apply(session.SetDetails{Judge: judge})
}

// beginSitting judges the roll once more.
func (w *Window) beginSitting() {
	w.ask(ask.Spec{Title: "Judge this roll again", Width: 560,
		Content: ask.Text("Your marks so far are kept as an opinion. Verdicts, notes, range and finding begin anew, and all opinions are hidden until you are done. This cannot be taken back."),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Begin", Main: true, Do: func() {
			kept := today()
			if st, err := os.Stat(w.state.Roll().Path()); err == nil && !w.state.Unsaved() {
				kept = st.ModTime().Format(time.DateOnly)
			}
			w.apply(session.BeginSitting{Kept: kept, Day: today()})
		}}}})
}

// askPack packs the roll for a friend, or the marks to send back where it came in a pack.
func (w *Window) askPack() {
	if s := w.state.Roll().Sitting; s != nil && s.Pack != "" {
		w.askReply()
		return
	}
	if done, all := w.state.Read(); done < all {
		w.say("No pack yet", errors.New("wait until all scans are read and compared"))
		return
	}
	choice := pick.New([]string{"Light previews, to be judged at screen size", "The scans themselves"}, nil)
	choice.SetSelected(choice.Options[0])
	next := func() {
		scans := choice.Selected == choice.Options[1]
		w.choose(files.Ask{Title: "Pack the roll", Exts: []string{pack.Ext}, Save: true, Folder: w.exportFolder(), Name: fileName(w.state.Name()), Verb: "Pack",
			Done: func(paths []string) { w.pack(paths[0], scans) }})
	}
	w.ask(ask.Spec{Title: "Pack for a second opinion", Width: 560,
		Content: container.NewBorder(ask.Text("One file for a friend: the roll, the readings of your scans, and all opinions, which stay hidden until your friend is done. The answer comes back as a small pack: take it in here."), nil, nil, nil, choice),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Choose the file…", Main: true, Do: next}}})
}

// pack writes the pack.
func (w *Window) pack(path string, scans bool) {
	film, saved := w.state.Film(), today()
	if st, err := os.Stat(w.state.Roll().Path()); err == nil && !w.state.Unsaved() {
		saved = st.ModTime().Format(time.DateOnly)
	}
	w.export(path, "pack", func(ctx context.Context, progress func(float64)) error {
		var readings bytes.Buffer
		if err := report.Build(film, report.Options{Version: headless.Version}).EncodeJSON(&readings); err != nil {
			return err
		}
		made, err := packing.New(film, readings.Bytes(), packing.Options{Scans: scans, Program: headless.Version, Today: today(), Saved: saved})
		if err != nil {
			return err
		}
		if len(made.LeftOut) > 0 {
			return errors.New(strings.Join(made.LeftOut, "; ") + ": take it out of the roll, or bring it back")
		}
		return wholefile.Write(path, func(out io.Writer) error {
			return made.Write(ctx, out, func(done, total int) { progress(float64(done) / float64(total)) })
		})
	})
}

// askReply packs what goes back to the sender of the pack.
func (w *Window) askReply() {
	r := w.state.Roll()
	m, members, err := pack.Reply(r, headless.Version, today())
	if err != nil {
		w.say("Nothing to send back yet", err)
		return
	}
	w.choose(files.Ask{Title: "Pack your marks for " + nameOr(r.Sitting.From, "the sender"), Exts: []string{pack.Ext}, Save: true, Folder: filepath.Dir(filepath.Dir(r.Path())),
		Name: fileName(w.state.Name() + " by " + nameOr(m.From, "me")), Verb: "Pack", Done: func(paths []string) {
			w.export(paths[0], "pack", func(ctx context.Context, _ func(float64)) error {
				return wholefile.Write(paths[0], func(out io.Writer) error { return pack.Write(ctx, out, m, members) })
			})
		}})
}
