package tick

import (
	"os"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	_ "stopladder/ui/early"
	"stopladder/ui/theme"
)

func TestMain(m *testing.M) {
	test.NewApp().Settings().SetTheme(theme.Neutral{})
	os.Exit(m.Run())
}

func TestATickTurns(t *testing.T) {
	var told []bool
	x := New("Base frame once more", func(on bool) { told = append(told, on) })
	w := test.NewTempWindow(t, x)
	var passed []fyne.KeyName
	w.Canvas().SetOnTypedKey(func(e *fyne.KeyEvent) { passed = append(passed, e.Name) })
	key := func(n fyne.KeyName) { x.TypedKey(&fyne.KeyEvent{Name: n}) }
	test.Tap(x)
	w.Canvas().Focus(x)
	if !x.Focused() {
		t.Error("Tab does not reach it")
	}
	key(fyne.KeySpace)
	key(fyne.KeySpace)
	x.SetChecked(true) // as it is already
	if !x.Checked || len(told) != 3 {
		t.Errorf("on %v, told %v", x.Checked, told)
	}
	key(fyne.KeyReturn)
	key(fyne.KeyUp)
	if len(passed) != 2 {
		t.Errorf("the window got %v", passed)
	}
	x.Disable()
	test.Tap(x)
	key(fyne.KeySpace)
	if !x.Checked || !x.Disabled() || len(told) != 3 {
		t.Error("a tick that is off turns")
	}
}
