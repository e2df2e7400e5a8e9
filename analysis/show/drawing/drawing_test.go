package drawing

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"stopladder/analysis/show/paint"
)

func TestDashes(t *testing.T) {
	n, sum := 0, 0.0
	for _, d := range dashes([]Pt{{X: 0, Y: 0}, {X: 30, Y: 40}, {X: 60, Y: 0}}, 6, 4) {
		n++
		for i := 1; i < len(d); i++ {
			sum += math.Hypot(d[i].X-d[i-1].X, d[i].Y-d[i-1].Y)
		}
	}
	if n != 10 || math.Abs(sum-60) > 1e-6 {
		t.Errorf("%d dashes of %v in all", n, sum)
	}
}

// A frame lies inside its edges, over what was there before, painted and as SVG.
func TestFrame(t *testing.T) {
	white, black := color.NRGBA{255, 255, 255, 255}, color.NRGBA{0, 0, 0, 255}
	l := &List{W: 10, H: 10}
	l.Add(Rect(0, 0, 10, 10, white), Frame{Min: Pt{X: 2, Y: 3}, Max: Pt{X: 8, Y: 9}, Width: 1, Col: black})
	img := image.NewRGBA(image.Rect(0, 0, 20, 20))
	l.Paint(paint.New(img, 2), img.Rect)
	for y := range 20 {
		for x := range 20 {
			at := image.Pt(x, y)
			want := uint8(255)
			if at.In(image.Rect(4, 6, 16, 18)) && !at.In(image.Rect(6, 8, 14, 16)) {
				want = 0
			}
			if got := img.RGBAAt(x, y).R; got != want {
				t.Fatalf("%v is %d, not %d", at, got, want)
			}
		}
	}
	var b bytes.Buffer
	if err := l.SVG(&b); err != nil {
		t.Fatal(err)
	}
	if want := `<rect x="2.5" y="3.5" width="5" height="5" fill="none"`; !strings.Contains(b.String(), want) {
		t.Errorf("no %s in\n%s", want, b.String())
	}
}
