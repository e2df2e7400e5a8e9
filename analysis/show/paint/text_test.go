package paint

import (
	"image"
	"math"
	"strings"
	"sync"
	"testing"

	"golang.org/x/image/font/sfnt"

	"stopladder/assets"
)

func blank(w, h int) (*Canvas, *image.RGBA) {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	c := New(img, 1)
	c.Fill(img.Rect, Hex(0))
	return c, img
}

// inked is the bounding box of everything that is not black.
func inked(img *image.RGBA) image.Rectangle {
	var r image.Rectangle
	for y := img.Rect.Min.Y; y < img.Rect.Max.Y; y++ {
		for x := img.Rect.Min.X; x < img.Rect.Max.X; x++ {
			if p := img.RGBAAt(x, y); p.R > 8 {
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return r
}

// Both fonts must hold every sign that the program sets itself.
func TestFontsHaveTheSigns(t *testing.T) {
	for name, data := range map[string][]byte{"Regular": assets.FontRegular, "Medium": assets.FontMedium} {
		f, err := sfnt.Parse(data)
		if err != nil {
			t.Fatal(name, err)
		}
		var b sfnt.Buffer
		for _, r := range "0123456789+\u2212…½⅓⅔¼¾±Δ×–·*'%<>:;,./()éüß\u2009" {
			if g, err := f.GlyphIndex(&b, r); err != nil || g == 0 {
				t.Errorf("%s has no %q", name, r)
			}
		}
		// Cap uses the font's own figure.
		m, err := sfnt.Parse(data)
		if err != nil {
			t.Fatal(err)
		}
		if up := m.UnitsPerEm(); math.Abs(capOverEm-1456/float64(up)) > 0.001 {
			t.Errorf("%s: capitals over em are %v", name, 1456/float64(up))
		}
	}
}

func TestFiguresAreTabular(t *testing.T) {
	c, _ := blank(10, 10)
	for _, w := range []Weight{Regular, Medium} {
		st := Style{Size: 13, Weight: w}
		want := c.Width("0000", st)
		for d := '1'; d <= '9'; d++ {
			if got := c.Width(strings.Repeat(string(d), 4), st); got != want {
				t.Errorf("weight %d: %c is %v wide, 0 is %v", w, d, got/4, want/4)
			}
		}
		if c.Width("1171", st) != want {
			t.Error("figures are kerned against each other")
		}
	}
}

func TestTextStaysInItsBox(t *testing.T) {
	c, img := blank(300, 60)
	for _, size := range []float64{9, 11.5, 14, 30} {
		for _, align := range []Align{Left, Right, Centre} {
			for _, s := range []string{"Hxg 65\u2009535", "A sentence that is far longer than the box that it is set in, certainly", "\u2212⅔", "\xff\xfe broken", "tab\tline\nend"} {
				c.Fill(img.Rect, Hex(0))
				box := image.Rect(40, 10, 220, 50)
				w := c.TextIn(box, s, Style{Size: size, Align: align, Col: Hex(0xFFFFFF)})
				got := inked(img)
				// Side bearings may overhang the advance by a pixel.
				if got.Min.X < box.Min.X-1 || got.Max.X > box.Max.X+1 || got.Min.Y < box.Min.Y || got.Max.Y > box.Max.Y {
					t.Errorf("%q at %v: ink %v leaves %v", s, size, got, box)
				}
				if w > float64(box.Dx()) || got.Empty() {
					t.Errorf("%q at %v: %v wide in %d, ink %v", s, size, w, box.Dx(), got)
				}
				mid := float64(got.Min.X+got.Max.X) / 2
				switch align {
				case Right:
					if box.Max.X-got.Max.X > 4 {
						t.Errorf("%q is not set to the right: %v", s, got)
					}
				case Centre:
					if math.Abs(mid-130) > 5 {
						t.Errorf("%q is not centred: %v", s, mid)
					}
				}
			}
		}
	}
}

// Capitals stand in the middle of their box.
func TestCapitalsAreCentred(t *testing.T) {
	c, img := blank(100, 41)
	c.TextIn(img.Rect, "HHH", Style{Size: 20, Col: Hex(0xFFFFFF)})
	got := inked(img)
	if up, down := got.Min.Y, 41-got.Max.Y; up-down > 1 || down-up > 1 {
		t.Errorf("%d above, %d below", up, down)
	}
	if h := float64(got.Dy()); math.Abs(h-c.Cap(Style{Size: 20})) > 1 {
		t.Errorf("capitals are %v high, Cap says %v", h, c.Cap(Style{Size: 20}))
	}
}

func FuzzEllipsis(f *testing.F) {
	f.Add("Courtyard at noon", 40.0, 12.0)
	f.Add("", 0.0, 0.0)
	f.Add("\xff\xf0漢字 \u2212⅓", 17.3, 9.0)
	c := New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1)
	f.Fuzz(func(t *testing.T, s string, width, size float64) {
		if !(size > 0 && size < 200) || len(s) > 400 {
			return
		}
		st := Style{Size: size}
		if got := c.Ellipsis(s, st, width); got != "" && c.Width(got, st) > width {
			t.Fatalf("%q in %v is %v wide", got, width, c.Width(got, st))
		}
		for _, line := range c.Wrap(s, st, width, 3) {
			if w := c.Width(line, st); w > width && len([]rune(line)) > 1 {
				t.Fatalf("line %q in %v is %v wide", line, width, w)
			}
		}
	})
}

func TestWrap(t *testing.T) {
	c, _ := blank(1, 1)
	st := Style{Size: 12}
	long := "the scanner and the lab's settings are in every figure"
	rows := c.Wrap(long, st, 100, 0)
	if len(rows) < 3 || strings.Join(rows, " ") != long {
		t.Errorf("%q", rows)
	}
	if rows = c.Wrap(long, st, 100, 2); len(rows) != 2 || !strings.HasSuffix(rows[1], "…") {
		t.Errorf("%q", rows)
	}
	if rows = c.Wrap("one\n\ntwo", st, 100, 0); len(rows) < 2 || rows[0] != "one" || rows[len(rows)-1] != "two" {
		t.Errorf("%q", rows)
	}
	if rows = c.Wrap("Donaudampfschifffahrtsgesellschaft", st, 40, 0); strings.Join(rows, "") != "Donaudampfschifffahrtsgesellschaft" {
		t.Errorf("%q", rows)
	}
	if rows = c.Wrap("", st, 40, 0); rows != nil {
		t.Errorf("%q", rows)
	}
}

func BenchmarkText(b *testing.B) {
	c, _ := blank(400, 40)
	st := Style{Size: 12, Col: Hex(0xFFFFFF)}
	for b.Loop() {
		c.Text(2, 20, "Blocked 12.3 %, sky thin, warm light", st)
	}
}

// Canvases over different images share the cache of glyphs.
func TestConcurrentText(t *testing.T) {
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			c, img := blank(200, 30)
			for i := range 60 {
				c.Text(2, 20, "Holds 12.3 %", Style{Size: 8 + float64((i*7+g)%130)/4, Col: Hex(0xFFFFFF)})
			}
			if inked(img).Empty() {
				t.Error("nothing drawn")
			}
		}()
	}
	wg.Wait()
}

// Widths scale with the size, kerning included.
func TestWidthsScale(t *testing.T) {
	c, _ := blank(1, 1)
	for _, s := range []string{"AVATAR To scan's court", "rt", "n'", "Holds"} {
		for _, w := range []Weight{Regular, Medium} {
			big := c.Width(s, Style{Size: 256, Weight: w}) / 256
			for _, size := range []float64{9, 11.5, 15} {
				if got := c.Width(s, Style{Size: size, Weight: w}) / size; math.Abs(got-big) > 0.02*big {
					t.Errorf("%q at %v is %.3f em wide, at 256 %.3f", s, size, got, big)
				}
			}
		}
	}
}
