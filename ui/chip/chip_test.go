package chip

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
)

func TestPressed(t *testing.T) {
	test.NewTempApp(t)
	n := 0
	c := New("Save", "S", func() { n++ })
	win := test.NewTempWindow(t, container.NewHBox(c))
	test.Tap(c)
	if n != 1 || win.Canvas().Focused() != nil {
		t.Errorf("a click: %d times, the keyboard is %v", n, win.Canvas().Focused())
	}
	win.Canvas().Focus(c)
	for _, k := range []fyne.KeyName{fyne.KeyReturn, fyne.KeyEnter, fyne.KeySpace} {
		c.TypedKey(&fyne.KeyEvent{Name: k})
	}
	if n != 4 {
		t.Errorf("Return, Enter and Space: %d times, want 4", n)
	}
	c.Disable()
	test.Tap(c)
	c.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if n != 4 {
		t.Error("a chip that is off was pressed")
	}
}

func TestOtherKeysGoOn(t *testing.T) {
	test.NewTempApp(t)
	c := New("Save", "S", func() { t.Error("pressed") })
	win := test.NewTempWindow(t, container.NewHBox(c))
	var keys []fyne.KeyName
	var runes []rune
	win.Canvas().SetOnTypedKey(func(k *fyne.KeyEvent) { keys = append(keys, k.Name) })
	win.Canvas().SetOnTypedRune(func(r rune) { runes = append(runes, r) })
	win.Canvas().Focus(c)
	c.TypedKey(&fyne.KeyEvent{Name: fyne.KeyUp})
	c.TypedRune('/')
	if len(keys) != 1 || keys[0] != fyne.KeyUp || len(runes) != 1 || runes[0] != '/' {
		t.Errorf("went on to the window: %v %q", keys, runes)
	}
	c.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if win.Canvas().Focused() != nil {
		t.Error("Escape leaves the keyboard where it was")
	}
}

func TestHeldWhilePressed(t *testing.T) {
	test.NewTempApp(t)
	var told []bool
	c := New("Base", "Space", nil)
	c.OnPress = func(down bool) { told = append(told, down) }
	test.NewTempWindow(t, container.NewHBox(c))
	c.MouseDown(nil)
	c.MouseOut() // the pointer leaves while the button is down
	c.MouseUp(nil)
	if len(told) != 2 || !told[0] || told[1] {
		t.Errorf("told %v, want down and up once each", told)
	}
}

// Rows leave keys out before they ask for more room than there is.
func TestRowLeavesKeysOut(t *testing.T) {
	test.NewTempApp(t)
	a, b := New("One picture", "1", nil), New("Two pictures", "2", nil)
	row := container.New(&Row{}, a, b)
	win := test.NewTempWindow(t, row)
	full := a.MinSize().Width + b.MinSize().Width
	win.Resize(fyne.NewSize(full+60, 60))
	if a.Compact || b.Compact {
		t.Error("there is room, and the keys are left out")
	}
	row.Resize(fyne.NewSize(full-10, 30))
	if !a.Compact || !b.Compact {
		t.Error("there is no room, and the keys stay")
	}
}
