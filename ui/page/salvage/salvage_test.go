package salvage

import (
	"testing"

	"fyne.io/fyne/v2/test"

	"stopladder/analysis/judge/criteria"
	"stopladder/ui/page/pagetest"
	"stopladder/ui/session"
)

// A grade is shown and taken back by its chip, limits are chosen by theirs, and the chips say
// what is chosen whoever chose it.
func TestSalvage(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Apply, b.Host)
	b.Apply(session.Go{Frame: 0})
	b.Lay(p)
	for i, g := range criteria.Grades()[:3] {
		test.Tap(p.grades[i])
		if on, now := b.State.Salvaged(); !on || now != g || !p.grades[i].On {
			t.Errorf("%s: salvaged %v by %s, its chip %v", g, on, now, p.grades[i].On)
		}
	}
	test.Tap(p.grades[2])
	if on, _ := b.State.Salvaged(); on || p.grades[2].On {
		t.Error("again does not take it back")
	}
	for i, s := range criteria.Named() {
		test.Tap(p.sets[i])
		if !b.State.Roll().LimitSet().Same(s) {
			t.Errorf("%s: the limits are %s", s.Name, b.State.Roll().LimitSet().Title())
		}
		for k, c := range p.sets {
			if c.On != (k == i) {
				t.Errorf("%s chosen: the chip of %s is %v", s.Name, c.Text, c.On)
			}
		}
	}
	told := 0
	for y := 10.0; y < 300; y += 6 {
		p.tables.Paper().OnHover(60, y, true)
		if !b.Card().Empty() {
			told++
		}
	}
	if told < 10 {
		t.Errorf("%d places of the figures are explained", told)
	}
}
