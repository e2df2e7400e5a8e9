package ask

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/theme"
)

func press(o fyne.Focusable, k fyne.KeyName) { o.TypedKey(&fyne.KeyEvent{Name: k}) }

func TestKeysOnACard(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	win := test.NewTempWindow(t, widget.NewLabel(""))
	win.Resize(fyne.NewSize(900, 600))
	k := win.Canvas()
	var card *Card
	k.SetOnTypedKey(func(*fyne.KeyEvent) { t.Error("a key goes behind the card") })
	a, b := NewEntry(k, "one"), NewEntry(k, "two")
	kept, other := 0, 0
	ask := func() {
		card = Show(k, Spec{Title: "A question", Content: container.NewVBox(a, b), First: a, Answers: []Answer{
			{Text: "Cancel"}, {Text: "Other", Do: func() { other++ }}, {Text: "Keep", Main: true, Do: func() { kept++ }}}})
		On(card, a, b)
	}
	ask()
	if k.Focused() != fyne.Focusable(a) || a.SelectedText() != "one" {
		t.Fatalf("the first entry has not the keyboard, or %q is chosen", a.SelectedText())
	}
	test.Type(a, "1")
	if a.Text != "1" {
		t.Errorf("typing gives %q", a.Text)
	}
	press(a, fyne.KeyDown)
	if k.Focused() != fyne.Focusable(b) {
		t.Error("Down does not go to the next entry")
	}
	press(b, fyne.KeyUp)
	press(a, fyne.KeyReturn)
	if kept != 1 || card.Shown() {
		t.Error("Return in an entry is not the main answer")
	}
	ask()
	press(a, fyne.KeyEscape)
	if kept != 1 || other != 0 || card.Shown() {
		t.Error("Escape in an entry does not close the card")
	}
	ask()
	seen := map[string]bool{}
	for range 5 { // round
		k.FocusNext()
		for _, c := range card.chips {
			if c.Focused() {
				seen[c.Text] = true
			}
		}
	}
	if len(seen) != 3 {
		t.Errorf("Tab reaches the answers %v", seen)
	}
	k.Focus(card.Answer("Other"))
	press(k.Focused(), fyne.KeySpace)
	if other != 1 || card.Shown() {
		t.Error("Space does not give the answer that has the keyboard")
	}
	ask()
	k.Focus(card.Answer("Cancel"))
	press(k.Focused(), fyne.KeyEscape)
	if card.Shown() {
		t.Error("Escape on an answer does not close the card")
	}
	ask()
	test.Tap(card.Answer("Cancel"))
	if card.Shown() || kept != 1 || other != 1 {
		t.Error("a click on Cancel does something else")
	}
}

func TestAnswerThatIsOff(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	win := test.NewTempWindow(t, widget.NewLabel(""))
	win.Resize(fyne.NewSize(900, 600))
	off, done := true, 0
	card := Show(win.Canvas(), Spec{Title: "A question", Content: Text("x"), Answers: []Answer{
		{Text: "Cancel"}, {Text: "Go", Main: true, Stay: true, Off: func() bool { return off }, Do: func() { done++ }}}})
	card.Main()
	test.Tap(card.Answer("Go"))
	if done != 0 || !card.Answer("Go").Off {
		t.Error("what is off was done")
	}
	off = false
	card.Changed()
	card.Main()
	if done != 1 || !card.Shown() {
		t.Error("it cannot be done, or the card did not stay")
	}
}

// The name of a file is chosen without its ending.
func TestStemIsChosen(t *testing.T) {
	test.NewTempApp(t)
	win := test.NewTempWindow(t, widget.NewLabel(""))
	e := NewEntry(win.Canvas(), "Courtyard sheet.png")
	e.Stem = true
	win.SetContent(e)
	win.Canvas().Focus(e)
	if got := e.SelectedText(); got != "Courtyard sheet" {
		t.Errorf("chosen is %q", got)
	}
	test.Type(e, "x")
	if e.Text != "x.png" {
		t.Errorf("typing gives %q", e.Text)
	}
}
