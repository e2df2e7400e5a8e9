package paint

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/go-text/typesetting/fontscan"
)

// withFonts runs a test as on a system with some fonts, nil for none.
func withFonts(t *testing.T, fonts func() []fontscan.Footprint) {
	t.Helper()
	reset := func(f func() []fontscan.Footprint) {
		type_.Lock()
		defer type_.Unlock()
		fontsOf, system.looked, system.had, type_.faces = f, false, nil, nil
	}
	was := fontsOf
	reset(fonts)
	t.Cleanup(func() { reset(was) })
}

func darkOf(c *Canvas) (n int, r image.Rectangle) {
	b := c.Img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if c.Img.Pix[c.Img.PixOffset(x, y)] < 128 {
				n++
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return n, r
}

func sheetOf(w, h int) *Canvas {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	return New(img, 1)
}

var ink = Style{Size: 24, Col: color.NRGBA{A: 255}}

// Where no font has a character its code is drawn: nobody's words are dropped.
func TestWithoutFontsCodesAreDrawn(t *testing.T) {
	withFonts(t, func() []fontscan.Footprint { return nil })
	c := sheetOf(400, 60)
	if a, b := c.Width("写 x", ink), c.Width(`\u5199 x`, ink); a != b {
		t.Errorf("%g wide, its code %g", a, b)
	}
	c.Text(5, 40, "写 x", ink)
	d := sheetOf(400, 60)
	d.Text(5, 40, `\u5199 x`, ink)
	if a, _ := darkOf(c); a == 0 {
		t.Error("nothing is drawn")
	} else if b, _ := darkOf(d); a < b*95/100 || a > b*105/100 { // hinting aside
		t.Errorf("%d pixels of ink, its code has %d", a, b)
	}
	if got := Lacking("写真 a", "真 é"); got != "写真" {
		t.Errorf("lacking: %q", got)
	}
}

// Every script that a font of the system has is drawn, shaped, and in its direction.
func TestScriptsOfTheSystem(t *testing.T) {
	samples := map[string]string{"Arabic": "مرحبا", "Hebrew": "שלום", "Georgian": "ფილმი", "Armenian": "Ֆիլմ", "Han": "写真の幅", "Hangul": "필름", "mixed": "roll שלום 写 +1"}
	look := os.Getenv("STOPLADDER_LOOK")
	drawn := 0
	for name, s := range samples {
		if lacking := Lacking(s); lacking != "" {
			t.Logf("no font here has %q of %s", lacking, name)
			continue
		}
		drawn++
		c := sheetOf(400, 60)
		w := c.Width(s, ink)
		c.Text(10, 40, s, ink)
		n, r := darkOf(c)
		if n < 60 || w < 20 || float64(r.Max.X) > 10+w+4 || r.Min.X < 6 {
			t.Errorf("%s: %d pixels of ink in %v, %g wide", name, n, r, w)
		}
		if short := c.Ellipsis(s, ink, w*0.6); !strings.HasSuffix(short, "…") || c.Width(short, ink) > w*0.6 {
			t.Errorf("%s: shortened to %q", name, short)
		}
		for _, l := range c.Wrap(strings.Repeat(s+" ", 6), ink, 120, 0) {
			if c.Width(l, ink) > 120 {
				t.Errorf("%s: the line %q is %g wide", name, l, c.Width(l, ink))
			}
		}
		paths, ow := Outlines(s, ink)
		if len(paths) == 0 || ow < w*0.97 || ow > w*1.03 {
			t.Errorf("%s: %d parts of outlines, %g wide against %g", name, len(paths), ow, w)
		}
		if look != "" {
			if f, err := os.Create(filepath.Join(look, name+".png")); err == nil {
				_ = png.Encode(f, c.Img)
				f.Close()
			}
		}
	}
	if drawn == 0 {
		t.Skip("no font of this system has any of the scripts")
	}
	// Arabic letters join: set together they are narrower than apart.
	if Lacking(samples["Arabic"]) == "" {
		c, apart := sheetOf(1, 1), 0.0
		for _, r := range samples["Arabic"] {
			apart += c.Width(string(r), ink)
		}
		if together := c.Width(samples["Arabic"], ink); together > 0.9*apart {
			t.Errorf("Arabic is not joined: %g together, %g apart", together, apart)
		}
	}
}
