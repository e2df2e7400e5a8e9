package main

import (
	"encoding/json"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
	"unsafe"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
)

// Where words stand in the window, for a mouse that must find them: the test binary is the
// program (see TestMain), and beside it tells in this file, a few times a second.
const whereFile = "where.json"

// word is a text in the window, in units of the toolkit, from the upper left corner; Layer
// is 0 for the window itself and counts up with what lies over it.
type word struct {
	Text       string
	X, Y, W, H float32
	Layer      int
}

// tellWhere writes where words stand, for as long as the program runs.
func tellWhere(dir string) {
	for range time.Tick(250 * time.Millisecond) {
		if fyne.CurrentApp() == nil {
			continue
		}
		fyne.Do(func() {
			var words []word
			for _, w := range fyne.CurrentApp().Driver().AllWindows() {
				c := w.Canvas()
				seen(c.Content(), 0, &words)
				seen(menuOf(c), menuLayer, &words)
				for i, o := range c.Overlays().List() {
					seen(o, i+1, &words)
				}
			}
			b, _ := json.Marshal(words)
			name := filepath.Join(dir, whereFile)
			if os.WriteFile(name+".new", b, 0o600) == nil {
				_ = os.Rename(name+".new", name)
			}
		})
	}
}

// menuLayer is that of the menu bar and of what is open of it.
const menuLayer = 5

// menuOf returns the menu bar of a window, which the toolkit hands out to nobody.
func menuOf(c fyne.Canvas) fyne.CanvasObject {
	v := reflect.ValueOf(c).Elem().FieldByName("menu")
	if !v.IsValid() {
		return nil
	}
	o, _ := reflect.NewAt(v.Type(), unsafe.Pointer(v.UnsafeAddr())).Elem().Interface().(fyne.CanvasObject)
	return o
}

// seen collects the texts of an object that is seen.
func seen(o fyne.CanvasObject, layer int, words *[]word) {
	if o == nil || !o.Visible() {
		return
	}
	switch x := o.(type) {
	case *canvas.Text:
		p := fyne.CurrentApp().Driver().AbsolutePositionForObject(o)
		*words = append(*words, word{x.Text, p.X, p.Y, o.Size().Width, o.Size().Height, layer})
	case *fyne.Container:
		for _, c := range x.Objects {
			seen(c, layer, words)
		}
	case *container.Clip:
		seen(x.Content, layer, words)
	case fyne.Widget:
		for _, c := range test.WidgetRenderer(x).Objects() {
			seen(c, layer, words)
		}
	}
}

// words returns what stands in the window.
func (s *screen) words() (words []word) {
	if b, err := os.ReadFile(filepath.Join(s.home, whereFile)); err == nil {
		_ = json.Unmarshal(b, &words) // the file is replaced as a whole
	}
	return words
}

// is reports whether a word is a text, be it a menu's entry with its key, or a switch with
// its figure.
func (w word) is(text string) bool {
	return w.W > 0 && (w.Text == text || strings.HasPrefix(w.Text, text+"  "))
}

// says reports whether a text stands in the window.
func (s *screen) says(text string) bool {
	return slices.ContainsFunc(s.words(), func(w word) bool { return w.is(text) })
}

// find waits for a text in the window; of several it returns the one that lies over the
// others, and of those the last one.
func (s *screen) find(text string) (at word) {
	s.t.Helper()
	s.wait(fmt.Sprintf("%q in the window", text), 30*time.Second, func() bool {
		at.Layer = -1
		for _, w := range s.words() {
			if w.is(text) && w.Layer >= at.Layer {
				at = w
			}
		}
		return at.Layer >= 0
	})
	return at
}

// click presses on a text.
func (s *screen) click(text string) {
	s.t.Helper()
	at := s.find(text)
	x, y := int(at.X+min(at.W, 30)/2), int(at.Y+at.H/2)
	s.tool("xdotool", "mousemove", fmt.Sprint(x), fmt.Sprint(y))
	time.Sleep(150 * time.Millisecond)
	s.tool("xdotool", "click", "1")
	time.Sleep(500 * time.Millisecond)
}

// judged is what the test reads of a saved roll.
type judged struct {
	Title  string
	Frames []struct {
		File, Verdict, Note string
		Stop                float64
	}
}

func readRoll(t *testing.T, path string) (j judged, text string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &j); err != nil {
		t.Fatal(err)
	}
	return j, string(b)
}

func (j judged) verdict(stop float64) string {
	for _, f := range j.Frames {
		if f.Stop == stop {
			return f.Verdict
		}
	}
	return "no such frame"
}

// wholePicture waits for an exported picture and holds it against what a sheet must be.
func (s *screen) wholePicture(path string) {
	s.t.Helper()
	s.wait("the exported sheet", 2*time.Minute, func() bool { _, err := os.Stat(path); return err == nil })
	f, err := os.Open(path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		s.t.Fatal(err)
	}
	colours := map[[3]uint32]bool{}
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y += 5 {
		for x := b.Min.X; x < b.Max.X; x += 5 {
			r, g, bl, _ := img.At(x, y).RGBA()
			colours[[3]uint32{r >> 8, g >> 8, bl >> 8}] = true
		}
	}
	if b.Dx() < 800 || b.Dy() < 500 || len(colours) < 100 {
		s.t.Errorf("the sheet has %d x %d pixels and %d colours: no pictures stand on it", b.Dx(), b.Dy(), len(colours))
	}
}

func jobFolder(t *testing.T) string {
	dir := filepath.Join(t.TempDir(), "yard")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	bracket(t, dir)
	return dir
}

// The whole job by keys alone: title, verdicts, note, range, save, export. No letter that
// opens something is written into it.
func TestJobByKeys(t *testing.T) {
	dir := jobFolder(t)
	s := newScreen(t, 1280, 800)
	s.start(1280, 800, dir)
	s.find("Holds")
	time.Sleep(3 * time.Second)
	write := func(text string) {
		s.tool("xdotool", "type", "--delay", "60", text)
		time.Sleep(300 * time.Millisecond)
	}
	s.keys("t")
	s.find("Film stock")
	write("Yard")
	s.keys("Return")
	s.keys("h", "Up", "s", "bracketright", "Return")
	write("soft sky")
	s.keys("Return", "Down", "Down", "b", "bracketleft", "ctrl+s")
	path := filepath.Join(dir, "yard.stopladder")
	s.find("Save the roll file")
	write(path)
	s.keys("Return")
	s.wait("the roll file", 20*time.Second, func() bool { _, err := os.Stat(path); return err == nil })
	s.keys("ctrl+e")
	s.find("Choose the file…")
	s.keys("Return")
	sheet := filepath.Join(filepath.Dir(dir), "by keys.png")
	s.find("Export the sheet")
	time.Sleep(500 * time.Millisecond)
	write(sheet)
	s.keys("Return")
	s.wholePicture(sheet)
	j, text := readRoll(t, path)
	if j.Title != "Yard" {
		t.Errorf("the title is %q: the key that asks for it, or nothing, was written", j.Title)
	}
	if j.verdict(0) != "holds" || j.verdict(1) != "strains" || j.verdict(-1) != "breaks" {
		t.Errorf("verdicts: %q at 0, %q at +1, %q at -1", j.verdict(0), j.verdict(1), j.verdict(-1))
	}
	if !strings.Contains(text, `"soft sky"`) {
		t.Errorf("the note is not in the roll file:\n%s", tail(text))
	}
	if !strings.Contains(strings.ReplaceAll(text, " ", ""), `"lo":-1`) || !strings.Contains(strings.ReplaceAll(text, " ", ""), `"hi":1`) {
		t.Errorf("the range is not in the roll file:\n%s", tail(text))
	}
}

// The whole job by mouse alone.
func TestJobByMouse(t *testing.T) {
	dir := jobFolder(t)
	s := newScreen(t, 1280, 800)
	s.start(1280, 800, dir)
	s.find("Holds")
	time.Sleep(3 * time.Second)
	menu := func(name, item string) { s.click(name); s.click(item) }
	s.click("Holds")
	menu("View", "One frame up")
	s.click("Strains")
	s.click("To here")
	menu("View", "To the base frame")
	menu("View", "One frame down")
	s.click("Breaks")
	s.click("From here")
	s.click("Blown")
	menu("Roll", "Save")
	s.find("Save the roll file")
	s.click("Save")
	var path string
	s.wait("the roll file", 20*time.Second, func() bool {
		found, _ := filepath.Glob(filepath.Join(dir, "*.stopladder"))
		if len(found) > 0 {
			path = found[0]
		}
		return path != ""
	})
	menu("Roll", "Export the sheet…")
	s.click("Choose the file…")
	time.Sleep(500 * time.Millisecond)
	s.click("Export")
	var sheet string
	s.wait("the sheet", 2*time.Minute, func() bool {
		found, _ := filepath.Glob(filepath.Join(dir, "*.png"))
		if len(found) > 0 {
			sheet = found[0]
		}
		return sheet != ""
	})
	s.wholePicture(sheet)
	j, text := readRoll(t, path)
	if j.verdict(0) != "holds" || j.verdict(1) != "strains" || j.verdict(-1) != "breaks" {
		t.Errorf("verdicts: %q at 0, %q at +1, %q at -1", j.verdict(0), j.verdict(1), j.verdict(-1))
	}
	if flat := strings.ReplaceAll(text, " ", ""); !strings.Contains(flat, `"lo":-1`) || !strings.Contains(flat, `"hi":1`) {
		t.Errorf("the range is not in the roll file:\n%s", tail(text))
	}
}
