package ui

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"stopladder/analysis/show/pocketcard"
)

// The card stands on its page as it will be written, follows what is chosen, and is written
// in every kind.
func pocketCard(t *testing.T, w *Window) {
	w.askPocket()
	settled(t, w)
	p := w.pocketPage
	if p == nil || p.Card() == nil {
		t.Fatal("no card is shown")
	}
	if p.Card().Rated() != 400 {
		t.Errorf("the sample roll is metered at ISO %g", p.Card().Rated())
	}
	p.Choose(2, 2)
	settled(t, w)
	if p.Size() != pocketcard.Phone || p.Card().Kind() != "reversal" {
		t.Errorf("chosen: %s, %s", p.Size().Name, p.Card().Kind())
	}
	dir := t.TempDir()
	for kind, begins := range []string{"%PDF", "\x89PNG", "{"} {
		p.ChooseFile(kind)
		path := filepath.Join(dir, "card"+p.Ext())
		w.exportPocket(path, p)
		settled(t, w)
		text, err := os.ReadFile(path)
		if err != nil || !bytes.HasPrefix(text, []byte(begins)) {
			t.Errorf("%s: %v", path, err)
		}
		if p.Ext() == ".json" {
			var d pocketcard.Document
			if err := json.Unmarshal(text, &d); err != nil || len(d.Cells) == 0 {
				t.Errorf("JSON: %v, %d cells", err, len(d.Cells))
			}
		}
	}
	for over := w.win.Canvas().Overlays(); over.Top() != nil; {
		over.Top().Hide()
		over.Remove(over.Top())
	}
}
