package patches

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fyne.io/fyne/v2/test"

	"stopladder/analysis/show/row"
	"stopladder/ui/page/pagetest"
	"stopladder/ui/session"
)

// Patches are suggested, chosen in the table, named, and exported; without any it says so.
func TestPatches(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Apply, b.Host)
	b.Lay(p)
	p.export()
	if b.Refused == "" || len(b.Exports) > 0 || p.plot.Visible() {
		t.Errorf("without a patch: refused %q, plotted %v", b.Refused, p.plot.Visible())
	}
	b.Apply(session.SuggestPatches{})
	for n := 0; b.State.Film().Patches() == nil && n < 500; n++ {
		b.Pump()
	}
	p.Changed(session.All)
	b.Draw()
	all := b.State.Roll().Patches
	if len(all) == 0 || !p.plot.Visible() {
		t.Fatalf("%d patches are suggested, plotted %v", len(all), p.plot.Visible())
	}
	if p.name.Text != all[b.State.Patch()].Name {
		t.Errorf("the name is %q, the patch is called %q", p.name.Text, all[b.State.Patch()].Name)
	}
	p.name.SetText("sunlit wall")
	p.name.OnSubmitted(p.name.Text)
	if got := b.State.Roll().Patches[b.State.Patch()].Name; got != "sunlit wall" {
		t.Errorf("it is called %q", got)
	}
	test.Tap(p.neutral)
	if on := b.State.Roll().Patches[b.State.Patch()].Neutral; on != p.neutral.On {
		t.Errorf("neutral %v, the chip %v", on, p.neutral.On)
	}
	p.plot.OnHover(60, 40, true)
	if b.Card().Title != "Patches over stops" || p.hover != 60 {
		t.Errorf("over the plot: %+v, at %d", b.Card(), p.hover)
	}
	was := b.State.Patch()
	for r := 0; r < len(all) && b.State.Patch() == was; r++ {
		p.tables.OnCell(row.Cell{Section: 0, Row: r, Col: -1})
	}
	if len(all) > 1 && b.State.Patch() == was {
		t.Error("a click on a row chooses nothing")
	}
	p.copy()
	if !strings.Contains(b.Copied, "sunlit wall") {
		t.Errorf("copied is %.200q", b.Copied)
	}
	p.export()
	for _, ext := range []string{".csv", ".png", ".svg"} {
		path := filepath.Join(t.TempDir(), "patches"+ext)
		if err := b.Exports[0].Write(path); err != nil {
			t.Fatal(err)
		}
		if st, err := os.Stat(path); err != nil || st.Size() < 200 {
			t.Errorf("%s: %v", ext, err)
		}
	}
}
