package curve

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/ui/page/pagetest"
)

// The response is explained, copied and exported in each kind that its ending names.
func TestCurve(t *testing.T) {
	b := pagetest.Open(t, "../../../testdata/rolls/hand-held")
	p := New(b.State, b.Apply, b.Host)
	b.Lay(p)
	if p.data.Curve == nil {
		t.Fatalf("the roll has no response: %s", p.data.Reason)
	}
	p.paper.OnHover(120, 80, true)
	if b.Card().Title != "Response" || !p.hover.Hover {
		t.Errorf("over the plot: %+v", b.Card())
	}
	p.paper.OnHover(0, 0, false)
	if !b.Card().Empty() {
		t.Error("the card stays")
	}
	p.copy()
	if strings.Count(b.Copied, "\n") < 10 {
		t.Errorf("copied is %q", b.Copied)
	}
	p.export()
	if len(b.Exports) != 1 {
		t.Fatalf("%d exports are offered; refused: %q", len(b.Exports), b.Refused)
	}
	for ext, head := range map[string]string{".png": "\x89PNG", ".svg": "<svg", ".csv": ""} {
		path := filepath.Join(t.TempDir(), "curve"+ext)
		if err := b.Exports[0].Write(path); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(path)
		if err != nil || len(text) < 200 || !strings.Contains(string(text[:100]), head) {
			t.Errorf("%s: %d bytes, %v", ext, len(text), err)
		}
	}
	p.data.Curve = nil
	p.export()
	p.copy()
	if len(b.Exports) != 1 || b.Refused == "" {
		t.Error("without a response something is exported")
	}
}
