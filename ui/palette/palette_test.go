package palette

import (
	"slices"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/commands"
	"stopladder/ui/theme"
)

func setUp(t *testing.T) (win fyne.Window, p *Palette, done *[]string) {
	t.Helper()
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	win = test.NewTempWindow(t, widget.NewLabel(""))
	win.Resize(fyne.NewSize(1280, 800))
	done = new([]string)
	var table commands.Table
	for _, name := range []string{"Open scans…", "Save", "Save under another name…", "Blown", "Export the sheet…"} {
		table = append(table, &commands.Command{ID: name, Title: name, Menu: "Roll", Run: func() { *done = append(*done, name) }})
	}
	table.Find("Save").Why = func() string { return "no roll is open" }
	p = New(win.Canvas(), table)
	p.Show()
	return win, p, done
}

func press(p *Palette, names ...fyne.KeyName) {
	for _, n := range names {
		p.entry.TypedKey(&fyne.KeyEvent{Name: n})
	}
}

func TestTypeAndReturn(t *testing.T) {
	win, p, done := setUp(t)
	if win.Canvas().Focused() != p.entry {
		t.Fatal("the entry has not the keyboard")
	}
	test.Type(p.entry, "/sav") // with the stroke that opened it
	if got := p.Found(); !slices.Equal(got, []string{"Save", "Save under another name…"}) {
		t.Fatalf("found %q", got)
	}
	press(p, fyne.KeyReturn)
	if len(*done) != 0 || !p.Shown() {
		t.Error("a command that cannot be done was done, or closed the card")
	}
	press(p, fyne.KeyDown, fyne.KeyDown, fyne.KeyReturn)
	if !slices.Equal(*done, []string{"Save under another name…"}) || p.Shown() || win.Canvas().Overlays().Top() != nil {
		t.Errorf("done %q, shown %v", *done, p.Shown())
	}
	p.Show()
	if p.entry.Text != "" || len(p.Found()) != 5 {
		t.Error("it opens with the words of last time")
	}
	press(p, fyne.KeyEscape)
	if p.Shown() {
		t.Error("Escape did not close it")
	}
}

func TestMouse(t *testing.T) {
	win, p, done := setUp(t)
	win.Canvas().Capture() // lays and draws it
	p.list.Tapped(&fyne.PointEvent{Position: fyne.NewPos(40, lineHgt*3+5)})
	if !slices.Equal(*done, []string{"Blown"}) || p.Shown() {
		t.Errorf("a click on the fourth line did %q", *done)
	}
	p.Show()
	test.TapCanvas(win.Canvas(), fyne.NewPos(3, 3))
	if p.Shown() {
		t.Error("a click beside the card did not close it")
	}
	if len(*done) != 1 {
		t.Error("it did something all the same")
	}
}

// The groups stand in their order, in no more columns than there is room for, and none is
// taller than it must be.
func TestColumns(t *testing.T) {
	var groups []commands.Listed
	for i, n := range []int{8, 3, 8, 15, 12, 6, 2} {
		groups = append(groups, commands.Listed{Name: string(rune('a' + i)), Commands: make([]*commands.Command, n)})
	}
	for n := 1; n <= 4; n++ {
		cols, tall := columns(groups, n)
		var names string
		for _, c := range cols {
			var used float32
			for _, g := range c {
				names += g.Name
				used += keyHead + keyLine*float32(len(g.Commands))
			}
			if used > tall {
				t.Errorf("%d columns: one of %g in a page of %g", n, used, tall)
			}
		}
		if names != "abcdefg" || len(cols) > n {
			t.Errorf("%d columns: %d, in order %q", n, len(cols), names)
		}
		if n == 3 && tall > 620 {
			t.Errorf("three columns are %g high", tall)
		}
	}
}
