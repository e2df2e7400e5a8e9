package main

import (
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	"stopladder/ui/theme"
)

// Every exhibit can be built and drawn, before the roll is open and after it is read.
func TestEveryExhibit(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	calls := make(chan func(), 1<<16)
	b, err := newBench(func(f func()) { calls <- f })
	if err != nil {
		t.Fatal(err)
	}
	win := test.NewTempWindow(t, nil)
	win.Resize(fyne.NewSize(1280, 800))
	draw := func() {
		for i, e := range exhibits(win, b) {
			win.SetContent(hall(win, b, e.name))
			img := win.Canvas().Capture()
			colours := map[uint32]bool{}
			for y := 0; y < 800; y += 4 {
				for x := 260; x < 1280; x += 4 {
					r, g, bl, _ := img.At(x, y).RGBA()
					colours[r>>8<<16|g>>8<<8|bl>>8] = true
				}
			}
			if len(colours) < 3 && !b.state.Empty() {
				t.Errorf("exhibit %d, %s: nothing is drawn (%d colours)", i, e.name, len(colours))
			}
		}
	}
	draw()
	b.read()
	end := time.Now().Add(2 * time.Minute)
	for b.runner.Busy() {
		select {
		case f := <-calls:
			f()
		case <-time.After(20 * time.Millisecond):
		}
		if time.Now().After(end) {
			t.Fatal("the sample roll was not read within two minutes")
		}
	}
	draw()
}

// Every package of the window that has a widget of its own is shown.
func TestNoWidgetIsLeftOut(t *testing.T) {
	shown := map[string]bool{}
	for _, name := range []string{"exhibits.go", "controls.go"} {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range f.Imports {
			shown[strings.Trim(i.Path.Value, `"`)] = true
		}
	}
	whole := map[string]bool{"stopladder/ui/planner": true, "stopladder/ui/shelf": true} // windows of their own
	err := filepath.WalkDir("../../ui", func(name string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return err
		}
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		dir, _ := filepath.Rel("../..", filepath.Dir(name))
		if pkg := "stopladder/" + filepath.ToSlash(dir); pkg != "stopladder/ui" && !whole[pkg] && !shown[pkg] && strings.Contains(string(text), "ExtendBaseWidget") {
			t.Errorf("%s has a widget (%s) that the gallery does not show", pkg, name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
