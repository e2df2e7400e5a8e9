package card

import (
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/show/explain"
	"stopladder/ui/theme"
)

// A card lies wholly inside the window and not on what it explains, wherever that is.
func TestACardCoversNothingOfWhatItExplains(t *testing.T) {
	all, size := fyne.NewSize(1280, 800), fyne.NewSize(width, 180)
	for x := float32(0); x < 1280; x += 61 {
		for y := float32(0); y < 790; y += 53 {
			at, of := fyne.NewPos(x, y), fyne.NewSize(40, 24)
			p := beside(at, of, size, all)
			if p.X < 0 || p.Y < 0 || p.X+size.Width > all.Width || p.Y+size.Height > all.Height {
				t.Fatalf("beside %v it stands at %v", at, p)
			}
			if p.X < at.X+of.Width && at.X < p.X+size.Width && p.Y < at.Y+of.Height && at.Y < p.Y+size.Height {
				t.Fatalf("beside %v it stands at %v, on what it explains", at, p)
			}
		}
	}
}

// A card comes when the pointer rests, and one that was asked for before the pointer left
// does not come late.
func TestACardComesAfterARest(t *testing.T) {
	app := test.NewApp()
	app.Settings().SetTheme(theme.Neutral{})
	queue := make(chan func(), 8)
	l := New(func(f func()) { queue <- f })
	l.Rest = time.Millisecond
	l.Object.Resize(fyne.NewSize(800, 600))
	l.Ask(explain.Card{Title: "Blown", Text: []string{"Gone at the light end."}}, fyne.Position{}, fyne.NewSize(10, 10))
	(<-queue)()
	if l.Shown().Title != "Blown" || len(l.Object.Objects) < 3 {
		t.Fatalf("shown: %+v", l.Shown())
	}
	l.Ask(explain.Card{Title: "Noisy", Text: []string{"x"}}, fyne.Position{}, fyne.NewSize(10, 10))
	if l.Shown().Title == "Blown" {
		t.Error("the card of another thing stays")
	}
	late := <-queue
	l.Hide()
	late()
	if !l.Shown().Empty() || len(l.Object.Objects) != 0 {
		t.Errorf("a late card: %+v", l.Shown())
	}
}
