package files

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"
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

func TestPickSeveralScans(t *testing.T) {
	test.NewTempApp(t)
	win := test.NewTempWindow(t, widget.NewLabel(""))
	dir := folder(t)
	var got []string
	c := newChooser(win, Ask{Title: "Open scans", Exts: []string{".tif"}, Many: true, Folder: dir, Verb: "Open",
		Done: func(p []string) { got = p }})
	if !c.accept.Disabled() {
		t.Error("nothing is picked, yet Open is enabled")
	}
	c.tap(2)
	c.tap(1)
	c.finish()
	want := []string{filepath.Join(dir, "scan 2.TIF"), filepath.Join(dir, "scan 10.tif")}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	c.whole.OnTapped()
	if !reflect.DeepEqual(got, []string{dir}) {
		t.Errorf("whole folder gave %q", got)
	}
	c.tap(0)
	if c.dir != filepath.Join(dir, "older") || c.files() != 0 {
		t.Errorf("tapping a folder led to %s", c.dir)
	}
}

func TestSaveAddsTheExtension(t *testing.T) {
	test.NewTempApp(t)
	win := test.NewTempWindow(t, widget.NewLabel(""))
	dir := folder(t)
	var got []string
	c := newChooser(win, Ask{Exts: []string{".stopladder"}, Save: true, Folder: dir, Name: "roll", Verb: "Save",
		Done: func(p []string) { got = p }})
	c.finish()
	if want := []string{filepath.Join(dir, "roll.stopladder")}; !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
