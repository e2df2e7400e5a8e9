package ui

import (
	"fmt"
	"image"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/session"
	"stopladder/ui/slide"
)

// correctPage is the page beside the pictures in which the correction of all
// frames is made, or that of one frame by hand. One set of slides serves both,
// so that the two are made in the same words.
type correctPage struct {
	w      *Window
	object fyne.CanvasObject
	whose  *widget.Label
	all    *chip.Chip
	one    *chip.Chip
	picks  *chip.Chip
	words  *widget.Label
	costs  *widget.Label // of a correction by hand
	noisy  *widget.Label // what the lift and the limit make of the frame
	curve  *curveEdit

	exposure, mired, tint, lift, black, high, limit *slide.Slide

	hand    bool // the slides are of the frame under the playhead, by hand
	editing bool // inside one drag: the next change amends the same step of undo
	moving  bool // the same, of the limit of Noisy
}

func newCorrectPage(w *Window) *correctPage {
	p := &correctPage{w: w}
	stopWords := func(v float64) string { return session.Figure(v, 2, true) + " stops" }
	p.exposure = p.slide("Exposure", -6, 6, 0, 0.05, stopWords, "Brighten or darken, in stops of exposure.",
		func(s *correction.Settings, v float64) { s.Exposure = v })
	p.mired = p.slide("Cooler – warmer", -120, 120, 0, 1, func(v float64) string { return session.Figure(v, 0, true) + " mired" },
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
	p.limit = slide.New("Noisy above", 0.5, 12, measure.NoisyLimit, 0.1, func(v float64) string { return session.Figure(v, 1, false) + " L*" })
	p.limit.Hint, p.limit.OnHint = "Noise in L* above which shadows count as Noisy (N shows them): at the base frame's brightness, and through the lift that is shown. Double click puts it back.", w.hint
	p.limit.OnChange = p.setLimit
	p.noisy = widget.NewLabel("")
	p.noisy.Wrapping = fyne.TextWrapWord
	p.black = p.slide("Black point", 0, 0.05, 0, 0.0005, func(v float64) string { return fmt.Sprintf("%.2f %% of white", 100*v) },
		"Take stray light off: what has this much light becomes black.", func(s *correction.Settings, v float64) { s.Black = v })
	p.high = p.slide("Highlight compression", 0, 1, 0, 0.01, func(v float64) string { return fmt.Sprintf("%.0f %%", 100*v) },
		"Bring what is brighter than white back under it, softly.", func(s *correction.Settings, v float64) { s.Highlights = v })

	p.all = chip.New("All frames alike", "", func() { p.turn(false) })
	p.all.Hint, p.all.OnHint = "The slides correct all frames alike: only what is shown, never what is measured.", w.hint
	p.one = chip.New("This frame by hand", "", func() { p.turn(true) })
	p.one.Hint, p.one.OnHint = "The slides correct the frame under the playhead alone: a salvage by hand, whose cost is measured.", w.hint
	p.picks = chip.New("Pick a neutral", "", p.pickNeutral)
	p.picks.Hint, p.picks.OnHint = "Click on something grey in a picture: the balance makes it neutral.", w.hint
	reset := chip.New("Reset", "", p.reset)
	reset.Hint, reset.OnHint = "Put all slides back.", w.hint
	copied := chip.New("Copy to all frames…", "", p.copyHand)
	copied.Hint, copied.OnHint = "Give this frame's correction by hand to every other frame but the base.", w.hint

	steps := container.NewGridWithColumns(6)
	for _, c := range correction.Directions() {
		b := chip.New("+5 "+c.Letter, "", func() {
			p.change("balance", true, func(s *correction.Settings) { s.RG, s.BG = s.RG+0.05*c.RG, s.BG+0.05*c.BG })
		})
		b.Hint, b.OnHint = "Add a filter step of 5 CC "+c.Name+".", w.hint
		steps.Add(b)
	}
	p.whose = widget.NewLabel("")
	p.whose.Wrapping = fyne.TextWrapWord
	p.words = widget.NewLabel("")
	p.words.Wrapping = fyne.TextWrapWord
	p.costs = widget.NewLabel("")
	p.costs.Wrapping = fyne.TextWrapWord
	p.curve = newCurveEdit(p)
	p.object = container.NewVScroll(padded(4, 8, 10, 10, container.NewVBox(
		container.NewHBox(p.all, p.one),
		p.whose, p.costs,
		p.exposure, p.mired, p.tint, steps,
		container.NewHBox(p.picks),
		p.lift, p.limit, p.noisy, p.black, p.high,
		p.curve.object,
		container.NewHBox(w.chip("corrected", ""), reset, copied),
		p.words,
	)))
	return p
}

// slide makes a slide whose value goes into the settings by set.
func (p *correctPage) slide(name string, lo, hi, rest, step float64, words func(float64) string, hint string, set func(s *correction.Settings, v float64)) *slide.Slide {
	s := slide.New(name, lo, hi, rest, step, words)
	s.Hint, s.OnHint = hint+" Double click puts it back.", p.w.hint
	s.OnChange = func(v float64, done bool) {
		p.change(name, done, func(x *correction.Settings) { set(x, v) })
	}
	return s
}

func (p *correctPage) content() fyne.CanvasObject { return p.object }

// settings are those that the slides show.
func (p *correctPage) settings() correction.Settings {
	s := p.w.sess
	if p.hand {
		return s.HandSettings(s.Current())
	}
	if s.Roll.View != nil {
		return *s.Roll.View
	}
	return correction.Settings{}
}

// change makes one change of the settings. All changes of one drag are one step
// of undo.
func (p *correctPage) change(what string, done bool, set func(s *correction.Settings)) {
	sess := p.w.sess
	i := sess.Current()
	if i < 0 || p.hand && i == sess.Base() {
		return
	}
	now := p.settings()
	set(&now)
	put := func(r *roll.Roll) {
		if p.hand {
			session.SetHand(r, i, &now)
			return
		}
		r.View = &now
		if now.IsZero() {
			r.View = nil
		}
	}
	// What is corrected is looked at: no slide moves without effect.
	if p.hand {
		sess.Salvaged, sess.Grade = true, session.HandGrade
	} else {
		sess.Corrected = true
	}
	if p.editing {
		sess.Amend(put)
	} else {
		sess.Edit("correction: "+what, put)
		p.editing = true
	}
	if done {
		p.editing = false
	}
	sess.Emit(session.ViewChanged)
}

// setLimit gives the roll another limit of Noisy, in one step of undo a drag.
func (p *correctPage) setLimit(v float64, done bool) {
	sess := p.w.sess
	put := func(r *roll.Roll) { session.SetNoisyLimit(r, v) }
	if p.moving {
		sess.Amend(put)
	} else {
		sess.Edit("limit of Noisy", put)
	}
	p.moving = !done
	sess.Relimit(done)
	sess.Emit(session.ViewChanged)
}

func (p *correctPage) turn(hand bool) {
	p.hand = hand
	p.editing = false
	p.show(session.ViewChanged)
}

func (p *correctPage) reset() {
	p.change("put back", true, func(s *correction.Settings) { *s = correction.Settings{} })
}

// copyHand gives the frame's own correction to all others.
func (p *correctPage) copyHand() {
	sess := p.w.sess
	if i := sess.Current(); i < 0 || !p.hand {
		p.w.status.hint("Only a correction of one frame by hand is copied; that of all frames is theirs already")
		return
	}
	now := p.settings()
	b := sess.Base()
	sess.Edit("copying a correction", func(r *roll.Roll) {
		for k := range r.Frames {
			if k != b {
				c := now.Clone()
				r.Frames[k].Hand = &c
			}
		}
	})
	sess.Emit(session.ViewChanged)
	p.w.status.hint("Every frame but the base has this correction by hand now; Ctrl+Z takes it back")
}

// pickNeutral waits for a click on a picture.
func (p *correctPage) pickNeutral() {
	w := p.w
	w.pickNext("Click on something that is neutral grey in the scene; Escape leaves.", func(i int, at image.Point) {
		line := w.sess.Frame(i).Row
		if line.Look == nil {
			return
		}
		px, ok := measure.PixelAt(line.Look, at.X, at.Y, 5)
		if !ok || px.Linear.R <= 0 || px.Linear.G <= 0 || px.Linear.B <= 0 || px.Blown > 0 || px.Blocked > 0 {
			w.status.hint("Nothing can be told from this spot: it is clipped. Click on another grey.")
			return
		}
		light := [3]float64{px.Linear.R, px.Linear.G, px.Linear.B}
		if salvage, _, _ := w.sess.Shown(i); !p.hand { // what is corrected for all is salvaged before
			for c := range light {
				light[c] = salvage.At(c, light[c])
			}
		}
		p.change("neutral picked", true, func(s *correction.Settings) { *s = s.NeutralAt(light) })
	})
}

func (p *correctPage) show(session.Changed) {
	sess := p.w.sess
	i := sess.Current()
	if i < 0 {
		return
	}
	name := stops.Label(sess.Roll.Frames[i].Stop)
	p.all.Set(p.all.Text, !p.hand, false)
	p.one.Set(p.one.Text, p.hand, false)
	off := p.hand && i == sess.Base()
	switch {
	case off:
		setText(p.whose, "The base frame is what the others are brought to: it has no salvage.")
	case p.hand && sess.Roll.Frames[i].Hand == nil:
		setText(p.whose, "Frame "+name+" has no correction by hand yet; the slides begin at the salvage chosen last.")
	case p.hand:
		setText(p.whose, "Frame "+name+", by hand.")
	default:
		setText(p.whose, "Shown on all frames alike; the readings stay those of the scans.")
	}
	s := p.settings()
	m, t := correction.Split(s.RG, s.BG)
	for _, x := range []struct {
		s *slide.Slide
		v float64
	}{{p.exposure, s.Exposure}, {p.mired, m}, {p.tint, t}, {p.lift, s.Lift}, {p.black, s.Black}, {p.high, s.Highlights}} {
		x.s.Set(x.v)
		x.s.Disable(off)
	}
	p.limit.Set(sess.NoisyLimit())
	setText(p.noisy, p.noisyWords(sess.Frame(i).Row.Rel))
	p.curve.show(s, off)
	words := s.Words()
	if words == "" {
		words = "As scanned."
	}
	costs := ""
	if p.hand && !off {
		p.w.measureHand()
		costs = sess.HandCostWords(i)
	}
	setText(p.costs, costs)
	if p.costs.Visible() != (costs != "") {
		if costs != "" {
			p.costs.Show()
		} else {
			p.costs.Hide()
		}
	}
	setText(p.words, words)
}

// noisyWords says what of the frame is Noisy, and what a lift has to do with it.
func (p *correctPage) noisyWords(rel *measure.Relation) string {
	now := p.w.noisyShown(rel)
	if now == nil {
		return "Noisy is told when the roll is measured."
	}
	words := "Noisy: " + row.Percent(*now)
	if p.w.sess.Toned() && rel.Noisy != nil {
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
