package correct

import (
	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/explain"
	"stopladder/ui/session"
)

// What a step and a slide are in the manual's glossary, and what the hand does with them.
var (
	stepWords = [session.StepCount]struct{ title, word, use string }{
		session.ExposureStep:  {"Exposure", "exposure of a correction", ""},
		session.BalanceStep:   {"Balance", "balance", "A click on something grey sets it too: Pick a neutral."},
		session.LiftStep:      {"Shadow lift", "shadow lift", "The mask Noisy follows it."},
		session.BlackStep:     {"Black point", "black point", ""},
		session.HighlightStep: {"Highlight compression", "highlight compression", ""},
		session.CurveStep:     {"Curve", "curve", "Click on the curve to make a point, and drag it; a double click takes it away."},
	}
	slideStep = [session.SliderCount]session.HandStep{
		session.ExposureSlider: session.ExposureStep, session.WarmSlider: session.BalanceStep, session.TintSlider: session.BalanceStep,
		session.LiftSlider: session.LiftStep, session.BlackSlider: session.BlackStep, session.HighlightSlider: session.HighlightStep,
	}
	slideWords = map[session.Slider]string{session.WarmSlider: "mired", session.TintSlider: "CC"} // the others are their step's
)

const dragged = "Drag it, or turn the wheel over it; a double click puts it back."

// stepCard explains a step as it stands.
func (p *Page) stepCard(k session.HandStep) explain.Card { return explain.Correction(p.explained(k)) }

// explained returns a step with what it costs the frame at the marker.
func (p *Page) explained(k session.HandStep) explain.Step {
	w := stepWords[k]
	e := explain.Step{Title: w.title, Word: w.word, Use: w.use, Hand: p.state.ByHand(), Now: -1, Set: p.state.Roll().LimitSet().Title()}
	i := p.state.Current()
	e.Base = e.Hand && i == p.state.Base()
	if c := p.costsOf(i, e); c != nil {
		x := c.Steps[k]
		e.Cost = &explain.StepCost{Used: x.Used, By: x.By, Before: x.Before, After: x.After, Share: x.Share,
			Limit: p.state.Film().Limits().Limits[x.By].Holds}
	}
	return e
}

// costsOf returns the costs of the steps, nil where none are measured.
func (p *Page) costsOf(i int, e explain.Step) *session.StepCosts {
	if i < 0 || !e.Hand || e.Base {
		return nil
	}
	return p.state.StepCosts(i)
}

// slideCard explains a slide: its step, how it stands, and where the limits lie on it.
func (p *Page) slideCard(k session.Slider) explain.Card {
	s := p.slides[k]
	e := p.explained(slideStep[k])
	e.Title, e.Value, e.Use = s.Name, s.Words(s.Value()), dragged
	if w := slideWords[k]; w != "" {
		e.Word = w
	}
	if c := p.costsOf(p.state.Current(), e); c != nil && len(c.Courses[k].Values) > 1 {
		e.Now = c.Courses[k].Level(s.Value())
		for _, m := range s.Limits() {
			e.Ends = append(e.Ends, s.Words(m.At)+" "+m.Words)
		}
	}
	return explain.Correction(e)
}

// limitCard explains the limit of what is Noisy.
func (p *Page) limitCard() explain.Card {
	c := explain.Plot("Noisy above  "+p.limit.Words(p.limit.Value()), "Noisy",
		"The limit, of noise in L* at the base frame's brightness and through the lift that is shown; "+number.Fixed(measure.NoisyLimit, 1)+" is common practice. N shows what passes it. "+dragged)
	if i := p.state.Current(); i >= 0 {
		c.Text = append(c.Text, p.noisyWords(i))
	}
	return c
}
