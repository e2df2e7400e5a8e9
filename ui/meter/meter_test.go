package meter

import (
	"math"
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

// The bar is as long as the share, and what is no share stays within its track.
func TestTheBarIsTheShare(t *testing.T) {
	m := New()
	test.NewTempWindow(t, m)
	m.Resize(fyne.NewSize(244, 26))
	r := test.WidgetRenderer(m).(*renderer)
	for v, want := range map[float64]struct {
		width float32
		words string
	}{0: {0, "0 %"}, 0.5: {100, "50 %"}, 1: {200, "100 %"}, 7: {200, "100 %"}, -1: {0, "0 %"}, math.NaN(): {0, "0 %"}} {
		m.SetValue(0.3)
		m.SetValue(v)
		if w := r.bar.Size().Width; w != want.width || r.text.Text != want.words {
			t.Errorf("%g: %g units, %q", v, w, r.text.Text)
		}
	}
}
