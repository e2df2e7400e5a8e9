package pick

import (
	"os"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"

	_ "stopladder/ui/early"
	"stopladder/ui/theme"
)

func TestMain(m *testing.M) {
	test.NewApp().Settings().SetTheme(theme.Neutral{})
	os.Exit(m.Run())
}

func shown(t *testing.T, options ...string) (*One, fyne.Window, *[]string) {
	t.Helper()
	var told []string
	o := New(options, func(s string) { told = append(told, s) })
	w := test.NewTempWindow(t, container.NewWithoutLayout(o))
	w.Resize(fyne.NewSize(400, 300))
	o.Move(fyne.NewPos(20, 10))
	o.Resize(o.MinSize())
	return o, w, &told
}

func press(w fyne.Window, names ...fyne.KeyName) {
	for _, n := range names {
		w.Canvas().Focused().TypedKey(&fyne.KeyEvent{Name: n})
	}
}

// A click opens the list, a click on a line chooses it, one beside it changes nothing.
func TestByMouse(t *testing.T) {
	o, w, told := shown(t, "one", "two", "three")
	o.SetSelected("one")
	test.Tap(o)
	if !o.Opened() {
		t.Fatal("a click opens nothing")
	}
	l := o.list
	at := fyne.CurrentApp().Driver().AbsolutePositionForObject(l.lines[2])
	test.TapCanvas(w.Canvas(), at.Add(fyne.NewPos(10, 10)))
	if o.Selected != "three" || o.Opened() || w.Canvas().Overlays().Top() != nil {
		t.Errorf("a click on a line chose %q, open %v", o.Selected, o.Opened())
	}
	if !o.Focused() {
		t.Error("the field has not the keyboard after its list closed")
	}
	test.Tap(o)
	test.TapCanvas(w.Canvas(), fyne.NewPos(390, 290))
	if o.Opened() || o.Selected != "three" {
		t.Errorf("a click beside the list: open %v, %q", o.Opened(), o.Selected)
	}
	if len(*told) != 2 {
		t.Errorf("told %q", *told)
	}
}

// Up, Down and letters choose without the list; Space opens it, Return chooses there,
// Escape leaves it as it was.
func TestByKeys(t *testing.T) {
	o, w, _ := shown(t, "apple", "banana", "blood orange", "cherry")
	w.Canvas().Focus(o)
	press(w, fyne.KeyDown)
	if o.Selected != "apple" {
		t.Errorf("Down from nothing chose %q", o.Selected)
	}
	press(w, fyne.KeyUp)
	if o.Selected != "apple" {
		t.Errorf("Up from the first chose %q", o.Selected)
	}
	for _, want := range []string{"banana", "blood orange", "banana"} {
		o.TypedRune('B')
		if o.Selected != want {
			t.Errorf("the letter chose %q, want %q", o.Selected, want)
		}
	}
	press(w, fyne.KeySpace, fyne.KeyEnd, fyne.KeyUp, fyne.KeyReturn)
	if o.Selected != "blood orange" || o.Opened() {
		t.Errorf("in the list chosen %q, open %v", o.Selected, o.Opened())
	}
	press(w, fyne.KeySpace, fyne.KeyHome, fyne.KeyEscape)
	if o.Selected != "blood orange" || o.Opened() {
		t.Errorf("after Escape %q, open %v", o.Selected, o.Opened())
	}
	o.Disable()
	o.open()
	if o.Opened() {
		t.Error("a field that is off opens")
	}
}

// A key that the field has no use for is the window's.
func TestOtherKeysGoOn(t *testing.T) {
	o, w, _ := shown(t, "one", "two")
	var got []fyne.KeyName
	w.Canvas().SetOnTypedKey(func(e *fyne.KeyEvent) { got = append(got, e.Name) })
	w.Canvas().Focus(o)
	press(w, fyne.KeyF1, fyne.KeyLeft)
	if len(got) != 2 {
		t.Errorf("the window got %v", got)
	}
	press(w, fyne.KeyEscape)
	if w.Canvas().Focused() != nil {
		t.Error("Escape does not give the keyboard back")
	}
}

// A long list stays in the window, wherever its field stands, and scrolls.
func TestALongListStaysInTheWindow(t *testing.T) {
	var many []string
	for i := range 60 {
		many = append(many, "A rather long name of a camera, number "+string(rune('a'+i%26)))
	}
	o, w, _ := shown(t, many...)
	for _, at := range []fyne.Position{{X: 20, Y: 10}, {X: 300, Y: 250}, {X: 100, Y: 130}} {
		o.Move(at)
		o.open()
		pos, size := o.list.place(w.Canvas().Size())
		if pos.X < 0 || pos.Y < 0 || pos.X+size.Width > 400 || pos.Y+size.Height > 300 || size.Height < 3*lineHeight {
			t.Errorf("field at %v: the list is at %v, %v", at, pos, size)
		}
		press(w, fyne.KeyEnd)
		if y := o.list.scroll.Offset.Y; y < 60*lineHeight-size.Height-1 {
			t.Errorf("field at %v: the last line is not in sight, offset %g", at, y)
		}
		press(w, fyne.KeyEscape)
	}
	if w := o.MinSize().Width; w > widest {
		t.Errorf("the field wants %g", w)
	}
}

func TestFitted(t *testing.T) {
	if s := fitted("short", 300); s != "short" {
		t.Error(s)
	}
	s := fitted("a very long name that has no room", 80)
	if width(s) > 80 || []rune(s)[len([]rune(s))-1] != '…' {
		t.Errorf("%q is %g wide", s, width(s))
	}
}
