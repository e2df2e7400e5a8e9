package paint

import (
	"image/color"
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
)

// contrast is the contrast ratio of WCAG 2.x, 1..21: of relative luminances, whose
// linear light is go-colorful's.
func contrast(a, b color.NRGBA) float64 {
	lum := func(c color.NRGBA) float64 {
		o, _ := colorful.MakeColor(c)
		r, g, b := o.LinearRgb()
		return 0.2126*r + 0.7152*g + 0.0722*b
	}
	la, lb := lum(a), lum(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// Ratios worked from the formula of WCAG 2.x (relative luminance, contrast
// ratio), and the two borderline greys that are commonly quoted for it.
func TestContrastValues(t *testing.T) {
	white, dark := Hex(0xFFFFFF), Hex(0x1E1E1E)
	for _, v := range []struct {
		a, b color.NRGBA
		want float64
		dp   float64
	}{
		{Hex(0x000000), white, 21, 0.0005},
		{Hex(0x0000FF), white, 8.592, 0.0005},
		{Hex(0x767676), white, 4.542, 0.0005},
		{Hex(0x777777), white, 4.478, 0.0005},
		{Orange, white, 2.25, 0.005},
		{Orange, dark, 7.40, 0.005},
		{SkyBlue, white, 2.31, 0.005},
		{SkyBlue, dark, 7.22, 0.005},
		{BluishGreen, white, 3.42, 0.005},
		{BluishGreen, dark, 4.87, 0.005},
		{Yellow, dark, 12.61, 0.005},
		{Vermilion, white, 3.87, 0.005},
		{Vermilion, dark, 4.31, 0.005},
		{ReddishPurple, white, 3.06, 0.005},
		{ReddishPurple, dark, 5.45, 0.005},
	} {
		for _, got := range []float64{contrast(v.a, v.b), contrast(v.b, v.a)} {
			if math.Abs(got-v.want) > v.dp {
				t.Errorf("contrast of %v and %v is %.4f, want %.3f", v.a, v.b, got, v.want)
			}
		}
	}
}

// WCAG 2.x AA: 4.5 for text, 3 for graphics that carry meaning.
func TestPaletteContrast(t *testing.T) {
	for name, p := range map[string]*Palette{"Dark": &Dark, "Sheet": &Sheet} {
		grounds := map[string]color.NRGBA{"surround": p.Surround, "panel": p.Panel, "current": p.Current, "well": p.Well}
		for g, ground := range grounds {
			for what, v := range map[string]struct {
				c    color.NRGBA
				need float64
			}{
				"text": {p.Text, 4.5}, "dim": {p.Dim, 4.5}, "strong": {p.Strong, 3}, "judge": {p.Judge, 3}, "measured": {p.White, 3},
			} {
				if got := contrast(v.c, ground); got < v.need {
					t.Errorf("%s: %s on %s has %.2f, needs %.1f", name, what, g, got, v.need)
				}
			}
		}
		for k, c := range append(p.Channel[:], p.Blown, p.Blocked, p.Noisy) {
			if got := contrast(c, p.Well); got < 3 {
				t.Errorf("%s: mark %d on a plot has %.2f, needs 3", name, k, got)
			}
		}
	}
}

// Chrome is neutral: a coloured surround spoils a judgement of colour.
func TestChromeIsNeutral(t *testing.T) {
	for name, p := range map[string]*Palette{"Dark": &Dark, "Sheet": &Sheet} {
		for i, c := range []color.NRGBA{p.Surround, p.Panel, p.Current, p.Well, p.Rule, p.Strong, p.Text, p.Dim, p.White} {
			if c.R != c.G || c.G != c.B || c.A != 255 {
				t.Errorf("%s: chrome colour %d is %v", name, i, c)
			}
		}
	}
}

func TestPatternsDiffer(t *testing.T) {
	for k := Blown; k <= Noisy; k++ {
		weak, strong := 0, 0
		for y := -Period; y < Period; y++ {
			for x := -Period; x < Period; x++ {
				w, s := Pattern(k, x, y, false), Pattern(k, x, y, true)
				weak, strong = weak+int(w), strong+int(s)
				if s < w {
					t.Fatalf("kind %d at %d,%d: strong %d is weaker than weak %d", k, x, y, s, w)
				}
				if Pattern(k, x+Period, y, true) != s || Pattern(k, x, y+Period, true) != s {
					t.Fatalf("kind %d does not repeat at %d,%d", k, x, y)
				}
				if Mask(k, true)[mod(y)*Period+mod(x)] != s {
					t.Fatalf("Mask and Pattern differ at %d,%d", x, y)
				}
			}
		}
		if weak == 0 || strong < 2*weak {
			t.Errorf("kind %d: two strengths too close: %d and %d", k, weak, strong)
		}
		for j := k + 1; j <= Noisy; j++ {
			same := 0
			a, b := Mask(k, false), Mask(j, false)
			for i := range a {
				if (a[i] > 0) == (b[i] > 0) {
					same++
				}
			}
			if same > Period*Period*9/10 {
				t.Errorf("patterns %d and %d are alike in %d of %d pixels", k, j, same, Period*Period)
			}
		}
	}
	// The lines of Blown rise to the right: the pattern repeats up and to the right.
	for i := 0; i < Period; i++ {
		if Pattern(Blown, i, 3, true) != Pattern(Blown, i+1, 2, true) {
			t.Fatal("Blown does not rise to the right")
		}
	}
	if Pattern(Kind(-1), 0, 0, true) != Pattern(Noisy, 0, 0, true) {
		t.Error("an unknown kind must draw something")
	}
}
