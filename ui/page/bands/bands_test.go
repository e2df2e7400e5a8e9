package bands

import (
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	"stopladder/ui/chip"
	"stopladder/ui/page/pagetest"
	"stopladder/ui/session"
)

// Figures are copied as text, of the frame at the marker; plane and figures explain
// themselves.
func TestBands(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Host)
	b.Lay(p)
	p.plane.OnHover(10, 10, true)
	if b.Card().Title != "Casts of greys" || len(b.Card().Text) == 0 {
		t.Errorf("over the plane: %+v", b.Card())
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
	copied := func() string {
		for _, o := range test.LaidOutObjects(p.object) {
			if c, ok := o.(*chip.Chip); ok && c.Text == "Copy figures" {
				test.TapAt(c, fyne.NewPos(5, 5))
			}
		}
		return b.Copied
	}
	first := copied()
	if !strings.Contains(first, "Highlights\t") {
		t.Errorf("copied is %q", first)
	}
	b.Apply(session.Step{Frames: 1})
	if second := copied(); second == first {
		t.Error("the figures do not follow the marker")
	}
}
