package main

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/ui/meter"
	"stopladder/ui/pick"
	"stopladder/ui/tick"
)

// controls are what a form is filled in with.
func controls() fyne.CanvasObject {
	box := container.NewVBox()
	for _, s := range []struct {
		name string
		set  func(p *pick.One, t *tick.Tick)
	}{
		{"at rest", func(*pick.One, *tick.Tick) {}},
		{"under the pointer", func(p *pick.One, t *tick.Tick) { p.MouseIn(nil); t.MouseIn(nil) }},
		{"has the keyboard", func(p *pick.One, t *tick.Tick) { p.FocusGained(); t.FocusGained() }},
		{"on", func(p *pick.One, t *tick.Tick) { p.SetSelectedIndex(2); t.SetChecked(true) }},
		{"cannot be changed", func(p *pick.One, t *tick.Tick) { p.Disable(); t.SetChecked(true); t.Disable() }},
		{"nothing chosen", func(p *pick.One, _ *tick.Tick) { p.Selected = "" }},
	} {
		p := pick.New([]string{"base first", "under to over", "a name that is a good deal longer than its field"}, nil)
		p.Selected = "base first"
		t := tick.New("Base frame once more", nil)
		s.set(p, t)
		box.Add(named(s.name, container.NewHBox(sized(200, 0, p), t)))
	}
	for _, v := range []float64{0, 0.37, 1} {
		m := meter.New()
		m.SetValue(v)
		box.Add(named("how far something is", sized(320, 0, m)))
	}
	return box
}
