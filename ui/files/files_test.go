package files

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/theme"
	"stopladder/ui/veil"
)

func folder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for _, n := range []string{"scan 10.tif", "scan 2.TIF", "notes.txt", ".hidden.tif"} {
		if err := os.WriteFile(filepath.Join(dir, n), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "older"), 0o700); err != nil {
		t.Fatal(err)
	}
	return dir
}

func names(es []Entry) (out []string) {
	for _, e := range es {
		out = append(out, e.Name)
	}
	return out
}

func TestListOrdersAsPeopleCount(t *testing.T) {
	es, err := List(folder(t), []string{".tif"})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := names(es), []string{"older", "scan 2.TIF", "scan 10.tif"}; !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if _, err := List(filepath.Join(t.TempDir(), "gone"), nil); err == nil {
		t.Error("a folder that is not there was listed")
	}
}

func show(t *testing.T, a Ask) (*Chooser, fyne.Window) {
	t.Helper()
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	win := test.NewTempWindow(t, widget.NewLabel(""))
	win.Resize(fyne.NewSize(1280, 800))
	c := Show(win, a)
	win.Canvas().Capture() // lays it out
	return c, win
}

// click clicks a row of the listing, the first is 0.
func click(c *Chooser, row int, mods fyne.KeyModifier) {
	c.list.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(60, headHeight+rowHeight*(float32(row)+0.5))}, Button: desktop.MouseButtonPrimary, Modifier: mods})
}

func TestChooseSeveralScans(t *testing.T) {
	dir := folder(t) // older, scan 2.TIF, scan 10.tif
	var got []string
	c, win := show(t, Ask{Title: "Open scans", Exts: []string{".tif"}, Many: true, Folder: dir, Verb: "Open", Done: func(p []string) { got = p }})
	if !c.Answer("Open").Off {
		t.Error("nothing is chosen, yet Open can be pressed")
	}
	if win.Canvas().Focused() != fyne.Focusable(c.list) {
		t.Error("the list has not the keyboard")
	}
	clock := time.Now()
	c.list.now = func() time.Time { clock = clock.Add(time.Second); return clock } // no two clicks are a double one
	two, ten := filepath.Join(dir, "scan 2.TIF"), filepath.Join(dir, "scan 10.tif")
	for name, pick := range map[string]struct {
		do   func()
		want []string
	}{
		"click":          {func() { click(c, 1, 0); click(c, 2, 0) }, []string{ten}},
		"Ctrl and click": {func() { click(c, 1, 0); click(c, 2, fyne.KeyModifierShortcutDefault) }, []string{two, ten}},
		"Ctrl again": {func() {
			click(c, 1, 0)
			click(c, 2, fyne.KeyModifierShortcutDefault)
			click(c, 1, fyne.KeyModifierShortcutDefault)
		}, []string{ten}},
		"Shift and click": {func() { click(c, 2, 0); click(c, 1, fyne.KeyModifierShift) }, []string{two, ten}},
		"letters":         {func() { test.Type(c.list, "scan 1") }, []string{ten}},
		"all":             {func() { c.list.TypedShortcut(&fyne.ShortcutSelectAll{}) }, []string{two, ten}},
		"keys": {func() {
			click(c, 0, 0)
			c.list.TypedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
			c.list.mods = func() fyne.KeyModifier { return fyne.KeyModifierShift }
			c.list.TypedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
			c.list.mods = func() fyne.KeyModifier { return 0 }
		}, []string{two, ten}},
	} {
		got = nil
		c.goTo(dir)
		if name == "letters" {
			c.list.now = time.Now
		}
		pick.do()
		c.finish()
		if !reflect.DeepEqual(got, pick.want) {
			t.Errorf("%s: %q, want %q", name, got, pick.want)
		}
		c.list.now = func() time.Time { clock = clock.Add(time.Second); return clock }
	}
	got = nil
	c.Answer(wholeFolder).OnTap()
	if !reflect.DeepEqual(got, []string{dir}) {
		t.Errorf("whole folder gave %q", got)
	}
}

func TestFoldersAreWalked(t *testing.T) {
	dir := folder(t)
	var got []string
	c, _ := show(t, Ask{Title: "Open scans", Exts: []string{".tif"}, Many: true, Folder: dir, Verb: "Open", Folders: []string{dir}, Rolls: []string{"/x/a.stopladder"},
		Done: func(p []string) { got = p }})
	clock := time.Now()
	c.list.now = func() time.Time { return clock }
	click(c, 0, 0)
	if c.dir != dir {
		t.Fatal("one click opens a folder")
	}
	click(c, 0, 0)
	if c.dir != filepath.Join(dir, "older") || !c.Answer(wholeFolder).Off {
		t.Errorf("a double click on a folder leads to %s", c.dir)
	}
	c.list.TypedKey(&fyne.KeyEvent{Name: fyne.KeyBackspace})
	if c.dir != dir || c.list.folder() != "older" {
		t.Errorf("Backspace leads to %s, cursor on %q", c.dir, c.list.folder())
	}
	c.list.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if c.dir != filepath.Join(dir, "older") {
		t.Error("Return does not open the folder")
	}
	c.path.SetText(filepath.Join(dir, "nothing"))
	c.path.OnReturn()
	if c.dir != filepath.Join(dir, "older") || c.status.Text == "" {
		t.Errorf("a folder that is not there leads to %s and says %q", c.dir, c.status.Text)
	}
	c.path.SetText(dir)
	c.path.OnReturn()
	clock = clock.Add(time.Minute)
	click(c, 1, 0)
	click(c, 1, 0)
	if !reflect.DeepEqual(got, []string{filepath.Join(dir, "scan 2.TIF")}) || c.Shown() {
		t.Errorf("a double click on a file gives %q", got)
	}
	c.Show()
	c.list.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if c.Shown() {
		t.Error("Escape does not close it")
	}
}

// A path can be written at once, Return goes there, and Return again opens the folder.
func TestAPathIsWrittenInTheList(t *testing.T) {
	dir := folder(t)
	var got []string
	c, win := show(t, Ask{Title: "Open scans", Exts: []string{".tif"}, Many: true, Folder: t.TempDir(), Verb: "Open", Done: func(p []string) { got = p }})
	press := func(n fyne.KeyName) { win.Canvas().Focused().TypedKey(&fyne.KeyEvent{Name: n}) }
	press(fyne.KeyReturn)
	if !c.Shown() || got != nil {
		t.Fatalf("Return in a folder without scans gives %q", got)
	}
	c.list.TypedRune('/')
	if win.Canvas().Focused() != fyne.Focusable(c.path) || c.path.Text != "/" {
		t.Fatalf("a stroke in the list leaves the path at %q", c.path.Text)
	}
	c.path.TypedRune('x')
	if c.path.Text != "/x" {
		t.Errorf("what is written goes to %q", c.path.Text)
	}
	c.path.SetText(dir)
	press(fyne.KeyReturn)
	if c.dir != dir || win.Canvas().Focused() != fyne.Focusable(c.list) {
		t.Fatalf("Return leads to %s", c.dir)
	}
	if c.Answer(wholeFolder).Key != "Return" {
		t.Error("nothing says that Return opens the folder")
	}
	click(c, 1, 0)
	if c.Answer(wholeFolder).Key != "" {
		t.Error("a file is chosen, and Return is still said to open the folder")
	}
	c.goTo(dir)
	press(fyne.KeyReturn)
	if !reflect.DeepEqual(got, []string{dir}) || c.Shown() {
		t.Errorf("Return again gives %q", got)
	}
}

func TestListIsSorted(t *testing.T) {
	dir := folder(t)
	if err := os.WriteFile(filepath.Join(dir, "scan 2.TIF"), []byte("larger than the other"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(filepath.Join(dir, "scan 2.TIF"), time.Now(), time.Now().Add(-time.Hour)); err != nil {
		t.Fatal(err)
	}
	c, _ := show(t, Ask{Exts: []string{".tif"}, Folder: dir, Verb: "Open"})
	w := c.list.Size().Width
	for _, x := range []struct {
		at   float32
		want []string
	}{{w - 60, []string{"older", "scan 2.TIF", "scan 10.tif"}}, {w - 60, []string{"older", "scan 10.tif", "scan 2.TIF"}},
		{w - dateWidth - 40, []string{"older", "scan 10.tif", "scan 2.TIF"}}, {40, []string{"older", "scan 2.TIF", "scan 10.tif"}}} {
		c.list.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(x.at, 5)}, Button: desktop.MouseButtonPrimary})
		if got := names(c.list.entries); !reflect.DeepEqual(got, x.want) {
			t.Errorf("sorted by the head at %g: %q", x.at, got)
		}
	}
}

func TestSaveAddsTheExtension(t *testing.T) {
	dir := folder(t)
	var got []string
	c, win := show(t, Ask{Exts: []string{".stopladder"}, Save: true, Folder: dir, Name: "roll", Verb: "Save", Done: func(p []string) { got = p }})
	if c.name.SelectedText() != "roll" || win.Canvas().Focused() != fyne.Focusable(c.name) {
		t.Error("the proposed name is not chosen for typing")
	}
	c.name.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	path := filepath.Join(dir, "roll.stopladder")
	if want := []string{path}; !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	got = nil
	c.Show()
	c.finish()
	card, ok := win.Canvas().Overlays().Top().(*veil.Veil)
	if got != nil || !ok || card == c.Veil {
		t.Fatal("a file that is there is written over unasked")
	}
	win.Canvas().Focused().TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if !reflect.DeepEqual(got, []string{path}) || c.Shown() {
		t.Errorf("Replace gives %q", got)
	}
}
