package paint

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"
	"testing"
)

// area is the sum of coverage in pixels of white on black.
func area(img *image.RGBA) float64 {
	sum := 0.0
	for i := 0; i < len(img.Pix); i += 4 {
		sum += float64(img.Pix[i]) / 255
	}
	return sum
}

var white = Hex(0xFFFFFF)

// Areas against geometry.
func TestShapesHaveTheirArea(t *testing.T) {
	for _, v := range []struct {
		name string
		want float64
		draw func(c *Canvas)
	}{
		{"disc", math.Pi * 20 * 20, func(c *Canvas) { c.Disc(50.3, 49.7, 20, white) }},
		{"ring", math.Pi * (20*20 - 17*17), func(c *Canvas) { c.Ring(50, 50, 20, 3, white) }},
		{"polygon", 30 * 40 / 2, func(c *Canvas) { c.Area([]Pt{{10, 10}, {40, 10}, {10, 50}}, white) }},
		{"line", 50 * 3, func(c *Canvas) { c.Line(10, 10, 40, 50, 3, white) }},
		{"round rectangle", 40*30 - (4-math.Pi)*8*8, func(c *Canvas) { c.RoundRect(image.Rect(10, 10, 50, 40), 8, white) }},
		{"frame", 40*30 - 36*26, func(c *Canvas) { c.Frame(image.Rect(10, 10, 50, 40), 2, white) }},
	} {
		c, img := blank(100, 100)
		v.draw(c)
		if got := area(img); math.Abs(got-v.want) > 0.01*v.want {
			t.Errorf("%s covers %.1f pixels, want %.1f", v.name, got, v.want)
		}
	}
}

// A joined line is one flat colour: overlaps at the joins must not add up.
func TestPolylineIsFlat(t *testing.T) {
	c, img := blank(60, 60)
	c.Polyline([]Pt{{5, 50}, {30, 5}, {55, 50}, {5, 20}, {math.NaN(), 3}, {9, 9}, {12, 12}}, 4, Alpha(white, 0.5))
	for i := 0; i < len(img.Pix); i += 4 {
		if img.Pix[i] > 129 {
			t.Fatalf("pixel %d is %d", i/4, img.Pix[i])
		}
	}
}

// Fill must lay colours over as image/draw does.
func TestFillAgreesWithImageDraw(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		a := image.NewRGBA(image.Rect(0, 0, 9, 7))
		draw.Draw(a, a.Rect, image.NewUniform(Hex(rng.Uint32()&0xFFFFFF)), image.Point{}, draw.Src)
		b := image.NewRGBA(a.Rect)
		copy(b.Pix, a.Pix)
		r := image.Rect(rng.IntN(12)-2, rng.IntN(12)-2, rng.IntN(12)-2, rng.IntN(12)-2)
		col := Hex(rng.Uint32())
		col.A = uint8(rng.UintN(256))
		New(a, 1).Fill(r, col)
		draw.Draw(b, r, image.NewUniform(col), image.Point{}, draw.Over)
		for i := range a.Pix {
			if d := int(a.Pix[i]) - int(b.Pix[i]); d > 1 || d < -1 {
				t.Fatalf("%v with %v: byte %d is %d, image/draw has %d", r, col, i, a.Pix[i], b.Pix[i])
			}
		}
	}
}

// Curve is checked against the general stroke and the general fill.
func TestCurveAgreesWithPolyline(t *testing.T) {
	for name, f := range map[string]func(u float64) float64{
		"flat":   func(float64) float64 { return 0.5 },
		"slope":  func(u float64) float64 { return 0.1 + 0.8*u },
		"wave":   func(u float64) float64 { return 0.5 + 0.4*math.Sin(9*u) },
		"spike":  func(u float64) float64 { return 0.05 + 0.9*math.Exp(-math.Pow((u-0.6)/0.02, 2)) },
		"barely": func(u float64) float64 { return 0.02 + 0.001*u },
	} {
		const w, h = 200, 80
		var ys []float64
		var pts []Pt
		for i := range w {
			v := f((float64(i) + 0.5) / w)
			ys = append(ys, v)
			pts = append(pts, Pt{10 + float64(i) + 0.5, 10 + (1-v)*h})
		}
		r := image.Rect(10, 10, 10+w, 10+h)
		ca, a := blank(220, 100)
		ca.Curve(r, ys, 2, white, color.NRGBA{})
		cb, b := blank(220, 100)
		cb.Clipped(r).Polyline(pts, 2, white)
		if ga, gb := area(a), area(b); math.Abs(ga-gb) > 0.06*gb {
			t.Errorf("%s: the line covers %.1f, a stroke covers %.1f", name, ga, gb)
		}
		cc, fill := blank(220, 100)
		cc.Curve(r, ys, 0, color.NRGBA{}, white)
		want := 0.0
		for _, v := range ys {
			want += v * h
		}
		if got := area(fill); math.Abs(got-want) > 0.01*want+1 {
			t.Errorf("%s: the fill covers %.1f, want %.1f", name, got, want)
		}
	}
}

// Whatever is asked for, nothing is drawn outside the clip and nothing panics.
func FuzzClip(f *testing.F) {
	f.Add(1.0, 2.0, 30.0, 40.0, 2.0, uint8(3))
	f.Add(-1e9, 1e9, math.Inf(1), math.NaN(), -3.0, uint8(0))
	src := image.NewRGBA(image.Rect(0, 0, 5, 4))
	for i := range src.Pix {
		src.Pix[i] = 255
	}
	f.Fuzz(func(t *testing.T, x0, y0, x1, y1, width float64, n uint8) {
		if math.Abs(width) > 1e4 {
			return
		}
		c, img := blank(64, 48)
		clip := image.Rect(20, 10, 44, 38)
		c = c.Clipped(clip)
		i := func(v float64) int {
			if math.IsNaN(v) {
				return 7
			}
			return int(math.Max(-500, math.Min(500, v)))
		}
		r := image.Rect(i(x0), i(y0), i(x1), i(y1))
		c.Line(x0, y0, x1, y1, width, white)
		c.Disc(x0, y0, x1, white)
		c.Ring(x0, y0, y1, width, white)
		c.Area([]Pt{{x0, y0}, {x1, y1}, {x0, y1}}, white)
		c.RoundRect(r, width, white)
		c.Fill(r, Alpha(white, 0.3))
		c.Frame(r, width, white)
		c.FillMask(r, Kind(n%3), n > 9)
		c.Picture(r, src)
		c.Text(math.Max(-1e6, math.Min(1e6, x0)), math.Max(-1e6, math.Min(1e6, y0)), "Holds", Style{Size: 12, Col: white, Align: Align(n % 3)})
		ys := make([]float64, int(n))
		for k := range ys {
			ys[k] = x0 * float64(k)
		}
		c.Curve(r, ys, width, white, Alpha(white, 0.5))
		if got := inked(img); !got.In(clip) {
			t.Fatalf("ink %v outside %v", got, clip)
		}
	})
}

func TestFit(t *testing.T) {
	for _, v := range []struct {
		in   image.Rectangle
		w, h int
		want image.Rectangle
	}{
		{image.Rect(0, 0, 100, 100), 3, 2, image.Rect(0, 16, 100, 83)},
		{image.Rect(0, 0, 100, 20), 1, 1, image.Rect(40, 0, 60, 20)},
		{image.Rect(5, 5, 5, 9), 1, 1, image.Rect(5, 5, 5, 5)},
		{image.Rect(0, 0, 10, 10), 0, 4, image.Rect(0, 0, 0, 0)},
		{image.Rect(0, 0, 10, 10), 9000, 1, image.Rect(0, 4, 10, 5)},
	} {
		if got := Fit(v.in, v.w, v.h); got != v.want {
			t.Errorf("%d:%d in %v is %v, want %v", v.w, v.h, v.in, got, v.want)
		}
	}
}
