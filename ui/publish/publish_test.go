package publish

import (
	"context"
	"reflect"
	"strings"
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

// A few frames are named by their stops, and details are lifted, where the page shows either.
func TestWhatAnArrangementAloneHas(t *testing.T) {
	p, last := page(t, &settings.Sheet{Arrangement: "single"})
	if len(p.own.Objects) != 2 || p.own.Objects[1] != p.frames {
		t.Fatal("the frames cannot be named")
	}
	p.frames.SetText("0, +1")
	if got := p.Sheet().Options.Frames; !reflect.DeepEqual(got, []int{1, 2}) {
		t.Errorf("frames %v", got)
	}
	p.frames.SetText("+7")
	(*last)(context.Background())()
	if got := p.Sheet().Options.Frames; got != nil || !strings.Contains(p.told.Text, "+7") {
		t.Errorf("frames %v, told %q", got, p.told.Text)
	}
	p.arrange.SetSelected(arrangementWords[plate.Details])
	if len(p.own.Objects) != 2 || p.own.Objects[1] != p.lift || p.Sheet().Lift != nil {
		t.Fatal("details are not lifted as they are chosen")
	}
	p.lift.SetSelectedIndex(4)
	if l := p.Sheet().Lift; l == nil || *l != 3 {
		t.Errorf("lifted by %v", l)
	}
	p.arrange.SetSelected(arrangementWords[plate.Wide])
	if len(p.own.Objects) != 0 || p.Sheet().Lift != nil || p.Sheet().Options.Frames != nil {
		t.Error("the wide page keeps what others have")
	}
}
