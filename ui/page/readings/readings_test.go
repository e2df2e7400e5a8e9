package readings

import (
	"strings"
	"testing"

	"stopladder/ui/page/pagetest"
	"stopladder/ui/session"
)

// The page follows the marker, and explains the plot and what the figures are.
func TestReadings(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Host)
	b.Lay(p)
	least := p.tables.Paper().MinSize().Height
	if least < 300 {
		t.Errorf("the figures are %g units high", least)
	}
	p.plot.OnHover(100, 60, true)
	if c := b.Card(); c.Title != "Histogram" || !p.hover.Hover {
		t.Errorf("over the plot: %+v", c)
	}
	p.plot.OnHover(0, 0, false)
	if !b.Card().Empty() || p.hover.Hover {
		t.Error("the card stays when the pointer leaves the plot")
	}
	told := map[string]bool{}
	for y := 10.0; y < 420; y += 6 {
		p.tables.Paper().OnHover(60, y, true)
		if c := b.Card(); !c.Empty() {
			told[strings.Fields(c.Title)[0]] = true
		}
	}
	for _, want := range []string{"Mean", "Ceiling", "Blown", "Blocked"} {
		if !told[want] {
			t.Errorf("%s is not explained; explained are %v", want, told)
		}
	}
	b.Apply(session.Step{Frames: 1})
	b.Draw()
}
