package ui

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/headless"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/stills"
	"stopladder/ui/ask"
	"stopladder/ui/files"
	"stopladder/ui/pick"
	"stopladder/ui/tick"
)

// What the window offers for stills.
var (
	stillSizes = []struct {
		words string
		w, h  int
	}{
		{"3840 × 2160", stills.Width, stills.Height},
		{"2160 × 3840, upright", stills.Height, stills.Width},
		{"1920 × 1080", 1920, 1080},
		{"1080 × 1920, upright", 1080, 1920},
	}
	stillBetween = []struct {
		words string
		n     int
	}{{"the frames alone", 0}, {"4 between two frames", 4}, {"9 between two frames", 9}, {"24 between two frames", 24}}
	stillLabels = []struct {
		words string
		says  stills.Says
	}{{"stop and how it is shown", stills.Stop}, {"verdict and what decided too", stills.Verdict}, {"none", stills.Nothing}}
	stillCorners = []string{"bottom left", "bottom right", "top left", "top right"} // in the order of stills.Corner
	stillPlaces  = []string{"filled, from the middle", "the whole picture", "what the pictures show now"}
)

// askStills asks for what the stills of a film show, and for the folder that they go to.
func (w *Window) askStills() {
	f := w.newStillForm()
	w.ask(ask.Spec{Title: "Export stills for a film", Content: f.object, Width: 600, Height: 400,
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Choose the folder…", Main: true, Off: func() bool { return len(f.grades()) == 0 }, Do: func() {
			set, err := f.set()
			if err != nil {
				w.say("No stills", err)
				return
			}
			w.choose(files.Ask{Title: "A folder for the stills", Save: true, Into: true, Folder: w.exportFolder(), Name: fileName(w.state.Name()) + " stills", Verb: "Export",
				Done: func(paths []string) { w.exportStills(set, paths[0]) }})
		}}}})
}

// stillForm is what is asked of stills.
type stillForm struct {
	w                                 *Window
	size, between, says, corner, area *pick.One
	shown                             []*tick.Tick // as scanned, then each grade
	count                             *widget.Label
	object                            fyne.CanvasObject
}

func (w *Window) newStillForm() *stillForm {
	f := &stillForm{w: w, count: widget.NewLabel("")}
	f.count.Wrapping = fyne.TextWrapWord
	one := func(words []string) *pick.One {
		s := pick.New(words, func(string) { f.tell() })
		s.SetSelectedIndex(0)
		return s
	}
	var sizes, between, says []string
	for _, x := range stillSizes {
		sizes = append(sizes, x.words)
	}
	for _, x := range stillBetween {
		between = append(between, x.words)
	}
	for _, x := range stillLabels {
		says = append(says, x.words)
	}
	f.size, f.between, f.says, f.corner, f.area = one(sizes), one(between), one(says), one(stillCorners), one(stillPlaces)
	checks := container.NewHBox()
	for _, g := range f.all() {
		word := "as scanned"
		if g != "" {
			word = g.InWords()
		}
		c := tick.New(word, func(bool) { f.tell() })
		c.Checked = g != criteria.Hand
		f.shown = append(f.shown, c)
		checks.Add(c)
	}
	if !w.state.Glides() {
		f.between.Disable()
	}
	f.object = container.NewVBox(
		ask.Text("Every frame as scanned and salvaged, the same part of the scene in the same place, numbered in order. PNG, sRGB."),
		container.New(layout.NewFormLayout(),
			widget.NewLabel("Size"), f.size,
			widget.NewLabel("Frames shown"), checks,
			widget.NewLabel("Part of the scene"), f.area,
			widget.NewLabel("Pictures"), f.between,
			widget.NewLabel("Label"), container.NewGridWithColumns(2, f.says, f.corner)),
		f.count)
	f.tell()
	return f
}

func (f *stillForm) all() []criteria.Grade {
	return append([]criteria.Grade{""}, criteria.Grades()...)
}

// grades returns how the frames are to be shown.
func (f *stillForm) grades() (out []criteria.Grade) {
	for i, g := range f.all() {
		if i < len(f.shown) && f.shown[i].Checked {
			out = append(out, g)
		}
	}
	return out
}

// set plans the stills that are asked for.
func (f *stillForm) set() (*stills.Set, error) {
	s := f.w.state
	if done, all := s.Read(); done < all {
		return nil, errors.New("wait until all scans are read and compared")
	}
	grades := f.grades()
	if len(grades) == 0 {
		return nil, errors.New("choose how the frames are shown")
	}
	size := stillSizes[max(0, f.size.SelectedIndex())]
	o := stills.Options{W: size.w, H: size.h, Grades: grades, Corrected: s.Corrected(), Between: stillBetween[max(0, f.between.SelectedIndex())].n,
		Label: stills.Label{Says: stillLabels[max(0, f.says.SelectedIndex())].says, Corner: stills.Corner(max(0, f.corner.SelectedIndex()))}}
	switch f.area.SelectedIndex() {
	case 1:
		o.Place.Whole = true
	case 2:
		v, pw, ph := f.w.pictures.group.Seen()
		if pw > 0 && ph > 0 {
			o.Place = stills.Place{X: v.U, Y: v.V, Zoom: v.Zoom * math.Min(float64(o.W)/float64(pw), float64(o.H)/float64(ph))}
		}
	}
	return s.Stills(o)
}

// tell says how many stills it will be, and what is to be known of them.
func (f *stillForm) tell() {
	if f.area == nil || len(f.shown) < len(f.all()) {
		return
	}
	set, err := f.set()
	if err != nil {
		f.count.SetText("So far: " + err.Error() + ".")
		return
	}
	text := fmt.Sprintf("%d stills.", len(set.List()))
	if by, larger := set.Enlarged(); larger {
		text += fmt.Sprintf(" The scans are smaller: a pixel of them takes %.1f of a still.", by)
	}
	f.count.SetText(text)
}

// exportStills writes the stills into a folder, which is made if it is not there.
func (w *Window) exportStills(set *stills.Set, dir string) {
	g := w.guarded()
	made := false
	if _, err := os.Stat(dir); err != nil {
		if err := os.MkdirAll(dir, 0o777); err != nil {
			w.say("Not exported", err)
			return
		}
		made = true
	}
	end := func(err error) bool {
		if err != nil && made {
			os.Remove(dir) // only an empty one goes
		}
		return err == nil
	}
	for _, one := range set.List() {
		if err := g.Writes(filepath.Join(dir, one.Name)); !end(err) {
			w.say("Not exported", err)
			return
		}
	}
	shown, open := w.state.Roll(), w.sources.open
	w.running("stills", func(ctx context.Context, progress func(float64)) error {
		err := set.WriteFolder(ctx, dir, "Stopladder "+headless.Version, func(i int) (scan.Source, error) { return open(shown, i) }, g.Still,
			func(done, total int) { progress(float64(done) / float64(total)) })
		end(err)
		return err
	}, func() { w.exported("stills", dir, true) })
}
