package sheet_test

import (
	"context"
	"errors"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"strings"
	"testing"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/analysis/show/sheet"

	xdraw "golang.org/x/image/draw"
)

var update = flag.Bool("update", false, "draw the golden pictures anew")

// The whole sheet, reduced to a quarter.
func TestGoldenSheet(t *testing.T) {
	img := mustDraw(t, input(-1, 0, 1), 1600)
	small := image.NewRGBA(image.Rect(0, 0, img.Rect.Dx()/4, img.Rect.Dy()/4))
	xdraw.BiLinear.Scale(small, small.Rect, img, img.Rect, draw.Src, nil)
	rowtest.Golden(t, small, "testdata/sheet.png", *update)
}

func mustDraw(t *testing.T, in sheet.Input, width int) *image.RGBA {
	t.Helper()
	img, err := sheet.Draw(context.Background(), in, sheet.Options{Width: width})
	if err != nil {
		t.Fatal(err)
	}
	if img.Rect.Dx() != width || !img.Opaque() {
		t.Fatalf("a sheet of %v, opaque %v", img.Rect, img.Opaque())
	}
	return img
}

func TestWidthIsChecked(t *testing.T) {
	for _, w := range []int{0, -1, sheet.MinWidth - 1, sheet.MaxWidth + 1} {
		if _, err := sheet.Draw(context.Background(), input(0), sheet.Options{Width: w}); err == nil || !strings.Contains(err.Error(), "choose") {
			t.Errorf("width %d: %v", w, err)
		}
	}
}

func TestNothingAndLittle(t *testing.T) {
	mustDraw(t, sheet.Input{}, 1600)
	mustDraw(t, sheet.Input{Frames: []sheet.Frame{{}, {Data: &row.Data{}}}, Range: &roll.Range{Lo: 2, Hi: 3}}, 1600)
	mustDraw(t, sheet.FromRoll(film.New(&roll.Roll{Frames: []roll.Frame{{Stop: 1, Note: "x"}, {Stop: -1}}, Marks: []roll.Marks{{Judge: "J"}}}), render.Shown{}, ""), 1600)
	long := strings.Repeat("a very long word of the roll, ", 40)
	in := input(0, 1)
	in.Title, in.Stock, in.Exposure, in.Judge, in.Date = long, long, long, long, long
	in.Notes = []string{long, long}
	in.Frames[0].Data.Note, in.Frames[0].Data.File = long, long
	mustDraw(t, in, 1600)
}

// The caller's frames are not changed: the window goes on drawing them.
func TestInputIsLeftAlone(t *testing.T) {
	in := input(-1, 1, 0)
	in.Frames[1].Data.Current = true
	before := *in.Frames[1].Data
	mustDraw(t, in, 1600)
	if d := in.Frames[1].Data; d.Current != before.Current || d.Scales != before.Scales || in.Frames[0].Data.Stop != -1 {
		t.Error("the input was changed")
	}
}

// The judge's range is the only amber on the sheet, and is there when marked.
func TestRangeIsDrawn(t *testing.T) {
	amber := func(img *image.RGBA, x int) (ys []int) {
		for y := range img.Rect.Dy() {
			if img.RGBAAt(x, y) == (color.RGBA{0xE6, 0x9F, 0x00, 255}) {
				ys = append(ys, y)
			}
		}
		return
	}
	in := input(-1, 0, 1)
	img := mustDraw(t, in, 1600)
	if ys := amber(img, 5); len(ys) != 4 { // two lines of 1.5 units, run to the edge
		t.Errorf("amber at the edge in rows %v", ys)
	}
	in.Range = nil
	img = mustDraw(t, in, 1600)
	n := 0
	for x := range 1600 {
		n += len(amber(img, x))
	}
	if n != 0 {
		t.Errorf("%d amber pixels on a sheet without a range", n)
	}
}

func TestPicturesAreAskedForAtTheirSize(t *testing.T) {
	in := input(-1, 0, 1)
	asked := 0
	for i := range in.Frames {
		in.Frames[i].Picture = func(_ context.Context, w, h int) (*image.RGBA, error) {
			asked++
			if w < 300 || h < 200 || w > 800 {
				t.Errorf("asked for %d x %d", w, h)
			}
			if i == 1 {
				return nil, errors.New("courtyard_0.tif is gone: put it back or open the roll again")
			}
			img := image.NewRGBA(image.Rect(0, 0, w, h))
			draw.Draw(img, img.Rect, image.NewUniform(color.RGBA{200, 10, 10, 255}), image.Point{}, draw.Src)
			return img, nil
		}
	}
	img := mustDraw(t, in, 1600)
	if asked != 3 {
		t.Errorf("asked %d times", asked)
	}
	red := 0
	for i := 0; i < len(img.Pix); i += 4 {
		if img.Pix[i] == 200 && img.Pix[i+1] == 10 {
			red++
		}
	}
	if red < 2*300*200 {
		t.Errorf("two pictures cover %d pixels", red)
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	in := input(-1, 0, 1)
	in.Frames[1].Picture = func(ctx context.Context, _, _ int) (*image.RGBA, error) {
		cancel()
		return nil, ctx.Err()
	}
	if _, err := sheet.Draw(ctx, in, sheet.Options{Width: 1600}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// Type keeps to a size that can be read: the smallest on the sheet is 9 units,
// 10 pixels at the least width.
func TestSmallestTypeCanBeRead(t *testing.T) {
	c := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), sheet.MinWidth/1440.0)
	if px := c.U(9); px < 10 {
		t.Errorf("%v pixels", px)
	}
}

func BenchmarkSheet(b *testing.B) {
	in := input(-3, -2, -1, 0, 1, 2, 3, 4)
	b.ResetTimer()
	for b.Loop() {
		if _, err := sheet.Draw(context.Background(), in, sheet.Options{Width: 3200}); err != nil {
			b.Fatal(err)
		}
	}
}
