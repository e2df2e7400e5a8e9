package main

import (
	"image"
	"image/color"
	"net/url"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
	"stopladder/ui/ask"
	"stopladder/ui/card"
	"stopladder/ui/chip"
	"stopladder/ui/commands"
	"stopladder/ui/files"
	"stopladder/ui/ladder"
	"stopladder/ui/manual"
	"stopladder/ui/page"
	"stopladder/ui/page/bands"
	"stopladder/ui/page/correct"
	"stopladder/ui/page/curve"
	"stopladder/ui/page/opinions"
	"stopladder/ui/page/patches"
	"stopladder/ui/page/readings"
	"stopladder/ui/page/salvage"
	"stopladder/ui/palette"
	"stopladder/ui/pane"
	"stopladder/ui/paper"
	"stopladder/ui/session"
	"stopladder/ui/slide"
	"stopladder/ui/start"
	"stopladder/ui/theme"
	"stopladder/ui/tour"
	"stopladder/ui/veil"
)

// bench is the sample roll that the exhibits show.
type bench struct {
	state  *session.State
	runner *session.Runner
	demo   *simulate.Demo
	do     func(func())
	follow []func(session.Parts) // of what is shown
}

const side = 480 // pixels of a frame: read in a second or two

func newBench(do func(func())) (*bench, error) {
	d, err := simulate.NewDemoOf("reversal", side, side)
	if err != nil {
		return nil, err
	}
	b := &bench{demo: d, do: do}
	b.state = session.New(load.Options{Open: b.open})
	b.runner = session.NewRunner(do, b.apply)
	return b, nil
}

func (b *bench) open(r *roll.Roll, i int) (scan.Source, error) {
	return load.DemoFrame(b.demo, r.Frames[i])
}

// read opens the sample roll and begins to read it.
func (b *bench) read() {
	r := &roll.Roll{Title: b.demo.Title, Stock: b.demo.Stock, Demo: b.demo.Kind}
	stops := b.demo.Stops()
	for i, n := range b.demo.Names() {
		r.Frames = append(r.Frames, roll.Frame{File: n, Stop: stops[i], Origin: roll.FromDemo})
	}
	b.apply(session.Open{Job: load.Of(r)})
}

func (b *bench) apply(c session.Change) {
	e := b.state.Apply(c)
	b.runner.Follow(e)
	for _, f := range b.follow {
		f(e.Redraw)
	}
}

// exhibit is one widget in its states.
type exhibit struct {
	name   string
	object func() fyne.CanvasObject
}

func exhibits(win fyne.Window, b *bench) []exhibit {
	host := page.Host{Hint: func(string) {}, Do: b.do, Copy: func(string) {}, Refuse: func(string, error) {}, Export: func(page.Export) {}}
	followed := func(p page.Page) func() fyne.CanvasObject {
		return func() fyne.CanvasObject {
			b.follow = []func(session.Parts){func(c session.Parts) {
				if !b.state.Empty() {
					p.Changed(c)
				}
			}}
			if !b.state.Empty() {
				p.Changed(session.All)
			}
			return p.Content()
		}
	}
	step := container.NewHBox(
		chip.New("One frame up", "", func() { b.apply(session.Step{Frames: 1}) }),
		chip.New("One frame down", "", func() { b.apply(session.Step{Frames: -1}) }),
		chip.New("By hand", "", func() { b.apply(session.CorrectByHand{On: !b.state.ByHand()}) }))
	beside := func(f func() fyne.CanvasObject) func() fyne.CanvasObject {
		return func() fyne.CanvasObject {
			return container.NewBorder(page.Padded(0, 8, 0, 0, step), nil, sized(page.Width, 0, f()), nil, nil)
		}
	}
	return []exhibit{
		{"chip", func() fyne.CanvasObject { return chips() }},
		{"slide", func() fyne.CanvasObject { return slides() }},
		{"controls", func() fyne.CanvasObject { return controls() }},
		{"ladder", func() fyne.CanvasObject { return ladders(b) }},
		{"pictures", func() fyne.CanvasObject { return pictures(b) }},
		{"card", func() fyne.CanvasObject { return cards(b) }},
		{"curve", followed(curve.New(b.state, b.apply, host))},
		{"readings", beside(followed(readings.New(b.state, host)))},
		{"bands", beside(followed(bands.New(b.state, host)))},
		{"patches", beside(followed(patches.New(b.state, b.apply, host)))},
		{"salvage", beside(followed(salvage.New(b.state, b.apply, host)))},
		{"opinions", beside(followed(opinions.New(b.state, host, nil)))},
		{"correction", beside(followed(correct.New(b.state, b.apply, host, chip.New("Show corrected", "V", func() {}))))},
		{"start page", startPage},
		{"over the window", func() fyne.CanvasObject { return overs(win) }},
	}
}

// sized gives an object a least size.
func sized(w, h float32, o fyne.CanvasObject) fyne.CanvasObject {
	r := canvas.NewRectangle(color.Transparent)
	r.SetMinSize(fyne.NewSize(w, h))
	return container.NewStack(r, o)
}

func named(name string, o fyne.CanvasObject) fyne.CanvasObject {
	t := canvas.NewText(name, theme.Quiet)
	t.TextSize = theme.Small
	return container.NewBorder(nil, nil, sized(150, 0, container.NewHBox(container.NewCenter(t))), nil, container.NewHBox(o))
}

func chips() fyne.CanvasObject {
	swatch := image.NewRGBA(image.Rect(0, 0, 32, 24))
	paint.New(swatch, 2).FillMask(swatch.Rect, paint.Blown, true)
	box := container.NewVBox()
	for _, s := range []struct {
		name string
		set  func(c *chip.Chip)
	}{
		{"at rest", func(*chip.Chip) {}},
		{"on", func(c *chip.Chip) { c.On = true }},
		{"cannot be pressed", func(c *chip.Chip) { c.Off = true }},
		{"under the pointer", func(c *chip.Chip) { c.MouseIn(nil) }},
		{"has the keyboard", func(c *chip.Chip) { c.FocusGained() }},
		{"main answer", func(c *chip.Chip) { c.Main = true }},
		{"without its key", func(c *chip.Chip) { c.Compact = true }},
		{"with a swatch", func(c *chip.Chip) { c.Swatch = swatch }},
		{"one of a list", func(c *chip.Chip) { c.Leading = true }},
		{"a page", func(c *chip.Chip) { c.Tab = true }},
		{"the open page", func(c *chip.Chip) { c.Tab, c.On = true, true }},
	} {
		c := chip.New("Blown", "O", func() {})
		s.set(c)
		box.Add(named(s.name, c))
	}
	return box
}

func slides() fyne.CanvasObject {
	box := container.NewVBox()
	for _, s := range []struct {
		name string
		set  func(s *slide.Slide)
	}{
		{"at rest", func(*slide.Slide) {}},
		{"moved", func(s *slide.Slide) { s.Set(1.25) }},
		{"under the pointer", func(s *slide.Slide) { s.Set(-2); s.OnHover(1, 1, true) }},
		{"cannot be moved", func(s *slide.Slide) { s.Set(1.25); s.Disable(true) }},
		{"with limits", func(s *slide.Slide) {
			s.Set(0.5)
			s.SetLimits([]slide.Zone{{Lo: -6, Hi: -3, Level: 0}, {Lo: -3, Hi: -1, Level: 1}, {Lo: -1, Hi: 1.5, Level: 2}, {Lo: 1.5, Hi: 6, Level: 0}},
				[]slide.Mark{{At: -3, Words: "breaks by colour 6.0"}, {At: -1, Words: "strains"}, {At: 1.5, Words: "breaks by noise 6.0 L*"}})
		}},
	} {
		x := slide.New("Exposure", -6, 6, 0, 0.05, func(v float64) string { return number.Signed(v, 2) + " stops" })
		s.set(x)
		box.Add(named(s.name, sized(320, 0, x)))
	}
	return box
}

// ladders are the three densities.
func ladders(b *bench) fyne.CanvasObject {
	row := container.NewHBox()
	b.follow = nil
	for _, w := range []float32{ladder.AxisWidth, ladder.MarksWidth, 330, 620} {
		l := ladder.New(b.state, b.apply)
		b.follow = append(b.follow, l.Changed)
		row.Add(sized(w, 0, l))
	}
	return row
}

// pictures are one, two, all, and two with an edge.
func pictures(b *bench) fyne.CanvasObject {
	grid := container.NewGridWithColumns(2)
	b.follow = nil
	for i := range 4 {
		g := pane.NewGroup(pane.Options{Do: b.do})
		fill := func(session.Parts) {
			var slots []pane.Slot
			for k, d := range b.state.Rows() {
				s := pane.Slot{ID: k, Label: d.Name(), Note: "as scanned", State: pane.Waiting}
				if d.Look != nil {
					s.State, s.Picture = pane.Ready, render.Picture{Look: d.Look, Rel: d.Rel}
				}
				slots = append(slots, s)
			}
			g.SetFrames(slots)
			if len(slots) < 6 {
				return
			}
			switch i {
			case 0:
				g.ShowOne(5)
				g.SetMasks(render.Overlay{Blown: true, Blocked: true})
			case 1:
				g.ShowPair(3, 5)
			case 2:
				g.ShowEdge(3, 5)
			case 3:
				g.ShowGrid(7, 6, 5, 4, 3, 2, 1, 0)
			}
		}
		fill(session.All)
		b.follow = append(b.follow, fill)
		grid.Add(g)
	}
	return grid
}

// cards are an explanation beside what it explains.
func cards(b *bench) fyne.CanvasObject {
	l := card.New(b.do)
	thing := canvas.NewRectangle(theme.Raised)
	thing.Resize(fyne.NewSize(120, 26))
	l.Show(explain.Card{Title: "Blown 17 %", Text: []string{"What stands in the manual's glossary.", "What the value means for this frame, and how it was measured."}}, fyne.NewPos(20, 20), thing.Size())
	thing.Move(fyne.NewPos(20, 20))
	return container.NewStack(container.NewWithoutLayout(thing), l.Object)
}

func startPage() fyne.CanvasObject {
	way := func(text, words string, main bool) start.Way {
		c := chip.New(text, "", func() {})
		c.Main = main
		return start.Way{Chip: c, Text: words}
	}
	p := start.New(container.NewVBox(), []start.Way{way("Open scans", "The scans of one bracket.", true), way("Plan a bracket", "Which exposures to make.", false)}, func(string) {})
	p.Recent([]string{"/rolls/yard.stopladder", "/rolls/harbour.stopladder"})
	return p.Object
}

// overs are what opens over the window.
func overs(win fyne.Window) fyne.CanvasObject {
	c := win.Canvas()
	table := commands.Table{
		{ID: "a", Menu: "View", Title: "One picture", Hint: "Show one picture.", Keys: []commands.Key{{Name: fyne.Key1}}, Run: func() {}},
		{ID: "b", Menu: "View", Title: "Two pictures", Hint: "Show two pictures.", Keys: []commands.Key{{Name: fyne.Key2}}, Run: func() {}, Why: func() string { return "only one frame is open" }},
	}
	note := paper.New(fyne.NewSize(10, 40), func(p *paint.Canvas, r image.Rectangle) { p.Fill(r, theme.Surface) })
	box := container.NewVBox(note)
	for _, o := range []struct {
		name string
		open func()
	}{
		{"a question", func() {
			ask.Show(c, ask.Spec{Title: "Unsaved marks", Content: ask.Text("Courtyard has marks that are not in a roll file yet."), Width: 500,
				Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Close without saving"}, {Text: "Save first", Main: true}}})
		}},
		{"find a command", func() { palette.New(c, table).Show() }},
		{"keys", func() { veil.New(c, palette.Keys(table, 700), veil.Middle(700, 400)).Show() }},
		{"choose files", func() {
			files.Show(win, files.Ask{Title: "Open scans", Exts: []string{".tif"}, Many: true, Verb: "Open"})
		}},
		{"name a file", func() {
			files.Show(win, files.Ask{Title: "Save the roll file", Exts: []string{".stopladder"}, Save: true, Name: "Courtyard", Verb: "Save"})
		}},
		{"manual", func() { manual.New(c, func(*url.URL) {}).Show() }},
		{"tour", func() {
			tour.New(c, []tour.Step{{Title: "This", Text: "A step of the tour.", Of: func() tour.Rect { return tour.Of(note) }}}).Show()
		}},
	} {
		box.Add(container.NewHBox(chip.New(o.name, "", o.open)))
	}
	return box
}
