package start

import (
	"context"
	"image"
	"image/color"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"

	"stopladder/ui/chip"
	"stopladder/ui/theme"
)

func lightness(img *image.RGBA) (sum int) {
	for i := 0; i < len(img.Pix); i += 4 {
		sum += int(img.Pix[i]) + int(img.Pix[i+1]) + int(img.Pix[i+2])
	}
	return sum / (len(img.Pix) / 4)
}

// The picture is of one scene that gets lighter from frame to frame.
func TestPicture(t *testing.T) {
	s, err := Render(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Frames) != len(s.Stops) || len(s.Frames) < 5 {
		t.Fatalf("%d frames at %d stops", len(s.Frames), len(s.Stops))
	}
	for i := 1; i < len(s.Frames); i++ {
		if s.Stops[i] <= s.Stops[i-1] || lightness(s.Frames[i]) <= lightness(s.Frames[i-1]) {
			t.Errorf("at %g it is no lighter than at %g", s.Stops[i], s.Stops[i-1])
		}
	}
}

func TestPage(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(theme.Neutral{})
	opened := ""
	p := New(container.NewVBox(), []Way{{Chip: chip.New("Open scans", "", func() {}), Text: "x"}}, func(s string) { opened = s })
	img := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	p.Show(&Strip{Stops: []float64{-1, 0, 1}, Frames: []*image.RGBA{img, img, img}})
	p.Recent([]string{"/rolls/yard/may.stopladder"})
	for _, size := range []fyne.Size{fyne.NewSize(1280, 760), fyne.NewSize(640, 500), fyne.NewSize(2560, 1400)} {
		win := test.NewTempWindow(t, p.Object)
		win.Resize(size)
		seen := win.Canvas().Capture()
		white, accent := 0, 0
		for y := range seen.Bounds().Dy() {
			for x := range seen.Bounds().Dx() {
				switch color.NRGBAModel.Convert(seen.At(x, y)) {
				case color.NRGBA{255, 255, 255, 255}:
					white++
				case theme.Accent:
					accent++
				}
			}
		}
		if white < 3000 || accent < 100 {
			t.Errorf("at %v the picture has %d pixels of its frames and %d of the range", size, white, accent)
		}
	}
	c := p.recent.Objects[1].(*fyne.Container).Objects[0].(*chip.Chip)
	test.Tap(c)
	if opened != "/rolls/yard/may.stopladder" {
		t.Errorf("opened %q", opened)
	}
}
