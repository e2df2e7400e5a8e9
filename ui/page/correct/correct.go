// Package correct is the page on which the correction of all frames is made, or that of one
// frame by hand. One set of slides serves both, so that the two are made in the same
// words.
package correct

import (
	"fmt"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
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
	noisy  *widget.Label // what the lift and the limit make of the frame
	curve  *curveEdit

	exposure, mired, tint, lift, black, high, limit *slide.Slide
}

// New returns the page of a state. shown is the window's switch of the correction of all
// frames.
func New(state *session.State, apply func(session.Change), h page.Host, shown fyne.CanvasObject) *Page {
	p := &Page{state: state, apply: apply, host: h}
	stopWords := func(v float64) string { return number.Signed(v, 2) + " stops" }
	p.exposure = p.slide("Exposure", -6, 6, 0, 0.05, stopWords, "Brighten or darken, in stops of exposure.",
		func(s *correction.Settings, v float64) { s.Exposure = v })
	p.mired = p.slide("Cooler – warmer", -120, 120, 0, 1, func(v float64) string { return number.Signed(v, 0) + " mired" },
		"Balance along daylight, in mired: to the right warmer.", func(s *correction.Settings, v float64) {
			_, t := correction.Split(s.RG, s.BG)
			s.RG, s.BG = correction.Join(v, t)
		})
	p.tint = p.slide("Green – magenta", -0.6, 0.6, 0, 0.01, func(v float64) string { return ccWords(v, "magenta", "green") },
		"Balance between green and magenta, in CC (hundredths of density).", func(s *correction.Settings, v float64) {
			m, _ := correction.Split(s.RG, s.BG)
			s.RG, s.BG = correction.Join(m, v)
		})
	p.lift = p.slide("Shadow lift", 0, 4, 0, 0.05, stopWords, "Lift the deep shadows, in stops; mid-grey and above stay.",
		func(s *correction.Settings, v float64) { s.Lift = v })
	p.limit = slide.New("Noisy above", 0.5, 12, measure.NoisyLimit, 0.1, func(v float64) string { return number.Fixed(v, 1) + " L*" })
	p.limit.Hint, p.limit.OnHint = "Noise in L* above which shadows count as Noisy (N shows them): at the base frame's brightness, and through the lift that is shown. Double click puts it back.", h.Hint
	p.limit.OnChange = func(v float64, done bool) { apply(session.SetNoisyLimit{Limit: v, Done: done}) }
	p.noisy = widget.NewLabel("")
	p.noisy.Wrapping = fyne.TextWrapWord
	p.black = p.slide("Black point", 0, 0.05, 0, 0.0005, func(v float64) string { return fmt.Sprintf("%.2f %% of white", 100*v) },
		"Take stray light off: what has this much light becomes black.", func(s *correction.Settings, v float64) { s.Black = v })
	p.high = p.slide("Highlight compression", 0, 1, 0, 0.01, func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
		"Bring what is brighter than white back under it, softly.", func(s *correction.Settings, v float64) { s.Highlights = v })

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
	p.curve = newCurveEdit(p)
	p.object = container.NewVScroll(page.Padded(4, 8, 10, 10, container.NewVBox(
		container.NewHBox(p.all, p.one),
		p.whose, p.costs,
		p.exposure, p.mired, p.tint, steps,
		container.NewHBox(picks),
		p.lift, p.limit, p.noisy, p.black, p.high,
		p.curve.object,
		container.NewHBox(shown, reset, copied),
		p.words,
	)))
	return p
}

// slide makes a slide whose value goes into the settings by set.
func (p *Page) slide(name string, lo, hi, rest, step float64, words func(float64) string, hint string, set func(s *correction.Settings, v float64)) *slide.Slide {
	s := slide.New(name, lo, hi, rest, step, words)
	s.Hint, s.OnHint = hint+" Double click puts it back.", p.host.Hint
	s.OnChange = func(v float64, done bool) {
		p.change(name, done, func(x *correction.Settings) { set(x, v) })
	}
	return s
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
		setText(p.whose, "Frame "+name+", by hand.")
	default:
		setText(p.whose, "Shown on all frames alike; the readings stay those of the scans.")
	}
	v := s.Settings()
	m, t := correction.Split(v.RG, v.BG)
	for _, x := range []struct {
		s *slide.Slide
		v float64
	}{{p.exposure, v.Exposure}, {p.mired, m}, {p.tint, t}, {p.lift, v.Lift}, {p.black, v.Black}, {p.high, v.Highlights}} {
		x.s.Set(x.v)
		x.s.Disable(off)
	}
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
	if p.costs.Visible() != (costs != "") {
		if costs != "" {
			p.costs.Show()
		} else {
			p.costs.Hide()
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
