package plot

import (
	"flag"
	"image"
	"testing"

	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row/rowtest"
)

// At every size, in every kind of roll: no word leaves the plot or lies on another.
func TestWordsFit(t *testing.T) {
	for name, d := range kinds() {
		for _, s := range [][2]float64{{220, 160}, {240, 200}, {300, 210}, {320, 240}, {360, 260}, {420, 300}, {480, 600}, {560, 400}, {700, 300}, {760, 420}, {1200, 300}, {1200, 800}, {2400, 1600}} {
			checkWords(t, name, Response(d, s[0], s[1], &paint.Dark))
		}
	}
}

var update = flag.Bool("update", false, "draw the golden pictures anew")

func TestGoldenResponse(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 560, 400))
	Draw(paint.New(img, 1), img.Rect, odd(), Options{Hover: true, HoverX: 300})
	rowtest.Golden(t, img, "testdata/response.png", *update)
}

// The ends of the lines, the flags and the words are on the plot where there is
// room for them, so that a plot without words does not pass for one that fits.
func TestWordsAreThere(t *testing.T) {
	for name, want := range map[string][]string{
		"reversal": {"R", "G", "B", "toe", "straight line", "shoulder", "gamma", "scan ceiling", "scan floor", "−3", "0", "+4", "B  ≥ 8.0 stops"},
		"grey":     {"toe", "straight line", "shoulder", "1.78", "useful range 7.6 stops"},
		"odd":      {"R", "G", "B", "straight line", "shoulder", "+0.55"},
		"refused":  {"No response"},
	} {
		have := map[string]bool{}
		all, _ := texts(Response(kinds()[name], 560, 400, &paint.Dark))
		for _, s := range all {
			have[s.S] = true
		}
		for _, s := range want {
			if !have[s] {
				t.Errorf("%s: %q is not on the plot", name, s)
			}
		}
	}
}
