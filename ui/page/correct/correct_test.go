package correct

import (
	"slices"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/correction"
	"stopladder/ui/page/pagetest"
	"stopladder/ui/session"
)

// The page over one measured roll: what it changes, and what it explains.
func TestCorrection(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Apply, b.Host, widget.NewLabel("shown"))
	b.Apply(session.Go{Frame: b.State.Base()})
	b.Apply(session.Step{Frames: 1})
	b.Apply(session.TogglePanel{Panel: session.CorrectionPanel}) // what its steps cost is measured while it is open
	b.Lay(p)

	// Every step, slide, the limit and the curve has a card.
	explained := func() (titles []string) {
		for _, s := range p.steps {
			s.head.OnHover(5, 5, true)
			titles = append(titles, b.Card().Title)
			if len(b.Card().Text) < 2 {
				t.Errorf("%s: %q", s.name, b.Card().Text)
			}
			s.head.OnHover(0, 0, false)
			if !b.Card().Empty() {
				t.Errorf("%s: the card stays when the pointer leaves", s.name)
			}
		}
		for _, s := range append(slices.Clone(p.slides[:]), p.limit) {
			s.OnHover(5, 5, true)
			titles = append(titles, b.Card().Title)
			if len(b.Card().Text) == 0 || !strings.Contains(b.Card().Title, s.Name) {
				t.Errorf("%s: %+v", s.Name, b.Card())
			}
		}
		p.curve.plane.OnHover(5, 5, true)
		return append(titles, b.Card().Title)
	}
	if n := len(explained()); n != session.StepCount+session.SliderCount+2 {
		t.Errorf("%d cards", n)
	}
	if c := b.Card(); !strings.Contains(strings.Join(c.Text, " "), "changes no reading") {
		t.Errorf("alike for all frames: %q", c.Text)
	}

	// A slide is dragged: what is shown changes, readings do not.
	lift := p.slides[session.LiftSlider]
	at := fyne.NewPos(lift.Size().Width/2, 25)
	lift.Dragged(&fyne.DragEvent{PointEvent: fyne.PointEvent{Position: at}})
	lift.DragEnd()
	if v := b.State.Settings().Lift; v <= 0 || v != lift.Value() {
		t.Errorf("after the drag the lift is %g, the slide at %g", v, lift.Value())
	}
	if !strings.Contains(p.words.Text, "lift") {
		t.Errorf("in words: %q", p.words.Text)
	}
	lift.DoubleTapped(nil)
	if v := b.State.Settings().Lift; v != 0 {
		t.Errorf("a double click leaves %g", v)
	}

	// By hand the steps cost something, which heads and cards tell.
	test.Tap(p.one)
	p.change("exposure", true, func(s *correction.Settings) { s.Exposure = 2 })
	for n := 0; n < 2000; n++ {
		if c := b.State.StepCosts(b.State.Current()); c != nil && c.Steps[session.ExposureStep].Used {
			break
		}
		b.Pump()
	}
	p.Changed(session.All)
	b.Draw()
	first := p.steps[session.ExposureStep]
	if !first.known || !strings.Contains(first.words, "the limit") || !strings.HasPrefix(first.words, first.short) {
		t.Errorf("the head of a step that costs says %q", first.words)
	}
	first.head.OnHover(5, 5, true)
	if all := strings.Join(b.Card().Text, " "); !strings.Contains(all, "Without it") || !strings.Contains(all, "the limit for Holds") {
		t.Errorf("its card: %q", all)
	}
	p.slides[session.ExposureSlider].OnHover(5, 5, true)
	if all := strings.Join(b.Card().Text, " "); !strings.Contains(all, "As it stands the frame") {
		t.Errorf("the card of its slide: %q", all)
	}
	explained()

	// On the base frame there is nothing to correct by hand.
	b.Apply(session.Go{Frame: b.State.Base()})
	if p.slides[0].Off != true {
		t.Error("the base frame can be corrected by hand")
	}
	first.head.OnHover(5, 5, true)
	if !strings.Contains(strings.Join(b.Card().Text, " "), "the base frame") {
		t.Errorf("on the base frame: %q", b.Card().Text)
	}
}
