package publish

import (
	"context"
	"reflect"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"

	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/ui/settings"
)

// page returns a page over a roll that was not read, and the work that it last asked for.
func page(t *testing.T, was *settings.Sheet) (*Page, *func(ctx context.Context) func()) {
	t.Helper()
	test.NewTempApp(t)
	last := new(func(ctx context.Context) func())
	r := rowtest.Roll(nil, -1, 0, 1)
	return New(Host{
		Sheet: func() *publish.Sheet { return &publish.Sheet{Roll: r, Software: "test"} },
		Start: func(work func(ctx context.Context) func()) { *last = work },
		Scale: func() float32 { return 1 },
	}, was, fyne.NewSize(600, 400), "So far nothing is judged."), last
}

// What was chosen last is chosen again, and what is shown is the page that will be written.
func TestChoicesAreKept(t *testing.T) {
	was := &settings.Sheet{Arrangement: "ladder", Ground: "white", Shape: "3:2", Width: 3840, Masks: true, Kind: "jpeg", P3: true}
	p, last := page(t, was)
	if got := *p.Chosen(); got != *was {
		t.Errorf("%+v, not %+v", got, *was)
	}
	s := p.Sheet()
	if !reflect.DeepEqual(s.Options, plate.Options{Arrangement: plate.Ladder, Ground: plate.White, Shape: plate.Shape3x2, Width: 3840, Masks: true}) {
		t.Errorf("%+v", s.Options)
	}
	if p.Ext() != ".jpg" {
		t.Error(p.Ext())
	}
	(*last)(context.Background())()
	if p.image.Image == nil || p.image.Image.Bounds().Dx() < 200 {
		t.Error("no page is shown: "+p.told.Text, p.image.Image.Bounds())
	}
}

// What is not known any more stands for the default, and what a kind of file cannot have
// cannot be chosen.
func TestChoicesOfAnotherVersion(t *testing.T) {
	p, _ := page(t, &settings.Sheet{Arrangement: "pyramid", Ground: "pink", Width: 3, Kind: "gif"})
	if s := p.Sheet(); s.Options.Arrangement != plate.Wide || s.Options.Ground != plate.Dark || s.Options.Width != plate.DefaultWidth || s.Format != publish.FormatPNG {
		t.Errorf("%+v", s.Options)
	}
	for i, k := range kinds {
		p.kind.SetSelectedIndex(i)
		p.space.SetSelectedIndex(1)
		if err := p.Sheet().Check(); err != nil {
			t.Errorf("%s: %v", k.id, err)
		}
		for j := range plate.Arrangements() {
			p.arrange.SetSelectedIndex(j)
			if err := p.Sheet().Check(); err != nil {
				t.Errorf("%s as %s: %v", plate.Arrangements()[j], k.id, err)
			}
		}
		p.arrange.SetSelectedIndex(0)
	}
}
