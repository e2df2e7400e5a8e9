// Package correct is the page on which the correction of all frames is made, or that of one
// frame by hand. One set of slides serves both, so that the two are made in the same
// words.
package correct

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/session"
	"stopladder/ui/slide"
)

// Page is the page.
type Page struct {
	state  *session.State
	apply  func(session.Change)
	host   page.Host
	object fyne.CanvasObject
	whose  *widget.Label
	all    *chip.Chip
	one    *chip.Chip
	words  *widget.Label
	costs  *widget.Label // of a correction by hand

	costsBox fyne.CanvasObject
	noisy    *widget.Label // what the lift and the limit make of the frame
	curve    *curveEdit

	slides [session.SliderCount]*slide.Slide
	limit  *slide.Slide
	steps  []*step
	box    *fyne.Container // of the steps, in the order in which they are shown
	order  orderOf
}

// orderOf is what the order of the steps was made for. It changes when another frame is
// corrected, or its costs become known: never under a hand that drags.
type orderOf struct {
	file  string
	known bool
}

// New returns the page of a state. shown is the window's switch of the correction of all
// frames.
func New(state *session.State, apply func(session.Change), h page.Host, shown fyne.CanvasObject) *Page {
	p := &Page{state: state, apply: apply, host: h}
	stopWords := func(v float64) string { return number.Signed(v, 2) + " stops" }
	none := func(s session.Slider, name string, step float64, words func(float64) string) *slide.Slide {
		lo, hi := s.Bounds()
		return p.slide(s, name, lo, hi, 0, step, words)
	}
	exposure := none(session.ExposureSlider, "Brighter or darker", 0.05, stopWords)
	mired := none(session.WarmSlider, "Cooler – warmer", 1, func(v float64) string { return number.Signed(v, 0) + " mired" })
	tint := none(session.TintSlider, "Green – magenta", 0.01, func(v float64) string { return ccWords(v, "magenta", "green") })
	lift := none(session.LiftSlider, "Deep shadows brighter", 0.05, stopWords)
	black := none(session.BlackSlider, "Becomes black", 0.0005, func(v float64) string { return fmt.Sprintf("%.2f %% of white", 100*v) })
	high := none(session.HighlightSlider, "Brought back under white", 0.01, func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) })
	p.limit = slide.New("Noisy above", 0.5, 12, measure.NoisyLimit, 0.1, func(v float64) string { return number.Fixed(v, 1) + " L*" })
	h.Explain(&p.limit.Paper, p.limitCard)
	p.limit.OnChange = func(v float64, done bool) { apply(session.SetNoisyLimit{Limit: v, Done: done}) }
	p.noisy = widget.NewLabel("")
	p.noisy.Wrapping = fyne.TextWrapWord
	p.all = h.Chip("All frames alike", "The slides correct all frames alike: only what is shown, never what is measured.",
		func() { apply(session.CorrectByHand{}) })
	p.one = h.Chip("This frame by hand", "The slides correct the frame at the marker alone: a salvage by hand, whose cost is measured.",
		func() { apply(session.CorrectByHand{On: true}) })
	picks := h.Chip("Pick a neutral", "Click on something grey in a picture: the balance makes it neutral.",
		func() { apply(session.Pick{For: session.PickNeutral}) })
	reset := h.Chip("Reset", "Put all slides back.", func() { p.change("put back", true, func(s *correction.Settings) { *s = correction.Settings{} }) })
	copied := h.Chip("Copy to all frames…", "Give this frame's correction by hand to every other frame but the base.",
		func() { apply(session.CopyHand{}) })
	steps := container.NewGridWithColumns(6)
	for _, c := range correction.Directions() {
		steps.Add(h.Chip("+5 "+c.Letter, "Add a filter step of 5 CC "+c.Name+".", func() {
			p.change("balance", true, func(s *correction.Settings) { s.RG, s.BG = s.RG+0.05*c.RG, s.BG+0.05*c.BG })
		}))
	}
	p.whose = widget.NewLabel("")
	p.whose.Wrapping = fyne.TextWrapWord
	p.words = widget.NewLabel("")
	p.words.Wrapping = fyne.TextWrapWord
	p.costs = widget.NewLabel("")
	p.costs.Wrapping = fyne.TextWrapWord
	p.costsBox = page.Flush(p.costs)
	p.curve = newCurveEdit(p)
	p.steps = []*step{
		newStep(session.ExposureStep, exposure),
		newStep(session.BalanceStep, mired, tint, steps, container.NewHBox(picks)),
		newStep(session.LiftStep, lift, p.limit, page.Flush(p.noisy)),
		newStep(session.BlackStep, black),
		newStep(session.HighlightStep, high),
		newStep(session.CurveStep, p.curve.object),
	}
	for _, s := range p.steps {
		h.Explain(s.head, func() explain.Card { return p.stepCard(s.which) })
	}
	p.box = container.NewVBox()
	p.arrange(nil)
	p.object = container.NewVScroll(page.Padded(4, 8, 10, 10, container.NewVBox(
		container.NewHBox(p.all, p.one),
		page.Flush(p.whose), p.costsBox, p.box,
		container.NewHBox(shown, reset, copied),
		page.Flush(p.words),
	)))
	return p
}

// slide makes a slide of the correction.
func (p *Page) slide(which session.Slider, name string, lo, hi, rest, step float64, words func(float64) string) *slide.Slide {
	s := slide.New(name, lo, hi, rest, step, words)
	p.host.Explain(&s.Paper, func() explain.Card { return p.slideCard(which) })
	s.OnChange = func(v float64, done bool) {
		p.change(name, done, func(x *correction.Settings) { which.Put(x, v) })
	}
	p.slides[which] = s
	return s
}

// arrange puts the steps in the order of what they cost, the dearest first, and those that
// cost nothing or are not used in rising effort; nil is in rising effort.
func (p *Page) arrange(c *session.StepCosts) {
	list := slices.Clone(p.steps)
	if c != nil {
		slices.SortStableFunc(list, func(a, b *step) int { return cmp.Compare(c.Steps[b.which].Share, c.Steps[a.which].Share) })
	}
	objects := make([]fyne.CanvasObject, len(list))
	for i, s := range list {
		objects[i] = s.object
	}
	if !slices.Equal(objects, p.box.Objects) {
		p.box.Objects = objects
		p.box.Refresh()
	}
}

// showCosts shows what the steps cost, and the limits on the slides.
func (p *Page) showCosts(i int, hand bool) {
	var c *session.StepCosts
	if hand {
		c = p.state.StepCosts(i)
	}
	if now := (orderOf{p.state.Roll().Frames[i].File, c != nil}); now != p.order {
		p.order = now
		p.arrange(c)
	}
	for _, s := range p.steps {
		s.show(c, p.state.Film().Comparison != nil, hand && i != p.state.Base())
	}
	taller := false
	for k, s := range p.slides {
		var zones []slide.Zone
		var marks []slide.Mark
		if c != nil {
			zones, marks = limitsOf(c.Courses[k], p.state.Film().Limits())
		}
		taller = s.SetLimits(zones, marks) || taller
	}
	if taller {
		p.object.Refresh()
	}
}

// limitsOf returns the limits on a slide as they are drawn.
func limitsOf(c session.Course, set criteria.Set) (zones []slide.Zone, marks []slide.Mark) {
	if len(c.Values) < 2 {
		return nil, nil
	}
	at := []float64{c.Values[0], c.Values[len(c.Values)-1]}
	for _, b := range c.Bounds {
		at = append(at, b.At)
		limit, word := set.Limits[b.By].Strains, "breaks"
		if b.Holds {
			limit, word = set.Limits[b.By].Holds, "strains"
		}
		marks = append(marks, slide.Mark{At: b.At, Words: word + " by " + b.By.Word() + " " + b.By.Words(limit)})
	}
	slices.Sort(at)
	slices.SortFunc(marks, func(a, b slide.Mark) int { return cmp.Compare(a.At, b.At) })
	for k := 1; k < len(at); k++ {
		if at[k] > at[k-1] {
			zones = append(zones, slide.Zone{Lo: at[k-1], Hi: at[k], Level: c.Level((at[k-1] + at[k]) / 2)})
		}
	}
	return zones, marks
}

// change makes one change of the settings that the slides show.
func (p *Page) change(what string, done bool, set func(s *correction.Settings)) {
	p.apply(session.Correct{What: what, Set: set, Done: done})
}

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(session.Parts) {
	s := p.state
	i, hand := s.Current(), s.ByHand()
	if i < 0 {
		return
	}
	f := s.Roll().Frames[i]
	name := stops.Label(f.Stop)
	p.all.Set(p.all.Text, !hand, false)
	p.one.Set(p.one.Text, hand, false)
	off := hand && i == s.Base()
	switch {
	case off:
		setText(p.whose, "The base frame is what the others are brought to: it has no salvage.")
	case hand && f.Hand == nil:
		setText(p.whose, "Frame "+name+" has no correction by hand yet; the slides begin at the salvage chosen last.")
	case hand:
		setText(p.whose, "Frame "+name+", by hand. The steps stand in the order of what they cost this frame.")
	default:
		setText(p.whose, "Shown on all frames alike; the readings stay those of the scans.")
	}
	v := s.Settings()
	for k, x := range p.slides {
		x.Set(session.Slider(k).Of(v))
		x.Disable(off)
	}
	p.showCosts(i, hand)
	p.limit.Set(s.Film().NoisyLimit())
	setText(p.noisy, p.noisyWords(i))
	p.curve.show(v, off)
	words := v.Words()
	if words == "" {
		words = "As scanned."
	}
	setText(p.words, words)
	costs := ""
	if hand && !off {
		costs = s.HandCostWords(i)
	}
	setText(p.costs, costs)
	if p.costsBox.Visible() != (costs != "") {
		if costs != "" {
			p.costsBox.Show()
		} else {
			p.costsBox.Hide()
		}
	}
}

// noisyWords returns what of a frame is Noisy, and what a lift has to do with it.
func (p *Page) noisyWords(i int) string {
	now, rel := p.state.NoisyShown(i), p.state.Frame(i).Relation
	if now == nil {
		return "Noisy is told when the roll is measured."
	}
	words := "Noisy: " + row.Percent(*now)
	if key, _ := p.state.Tone(); key != "" && rel.Noisy != nil {
		words += " as shown, " + row.Percent(*rel.Noisy) + " without the correction"
	}
	return words + "."
}

func setText(l *widget.Label, text string) {
	if l.Text != text {
		l.SetText(text)
	}
}

// ccWords writes a balance in CC with the colour that it adds.
func ccWords(v float64, plus, minus string) string {
	n := math.Round(100 * v)
	switch {
	case n > 0:
		return fmt.Sprintf("CC %.0f %s", n, plus)
	case n < 0:
		return fmt.Sprintf("CC %.0f %s", -n, minus)
	}
	return "CC 0"
}
