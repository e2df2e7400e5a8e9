package theme_test

import (
	"image/color"
	"math"
	"testing"

	"fyne.io/fyne/v2"
	ftheme "fyne.io/fyne/v2/theme"

	"stopladder/ui/chip"
	"stopladder/ui/theme"
)

// contrast is the contrast ratio of the Web Content Accessibility Guidelines 2.2 (W3C),
// which asks for 4.5 to 1 of text of this size (1.4.3).
func contrast(a, b color.Color) float64 {
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

func luminance(c color.Color) float64 {
	v := color.NRGBAModel.Convert(c).(color.NRGBA)
	lin := func(u uint8) float64 {
		x := float64(u) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(v.R) + 0.7152*lin(v.G) + 0.0722*lin(v.B)
}

// menuKey is the colour of a key in a menu of the toolkit, over a ground (shortcutColor of its
// widget/menu_item.go, 2.7.4).
func menuKey(text, over color.Color) color.Color {
	r, g, b, a := text.RGBA()
	a = uint32(float32(a) * 0.95)
	k := color.NRGBA{R: uint8(r), G: uint8(g), B: uint8(b), A: uint8(a)}
	or, _, _, _ := over.RGBA()
	v := uint8((uint32(k.R)*uint32(k.A) + (or>>8)*(255-uint32(k.A))) / 255)
	return color.NRGBA{v, v, v, 255}
}

func TestContrastOfText(t *testing.T) {
	if c := contrast(color.White, color.Black); math.Abs(c-21) > 1e-9 { // as the guidelines say
		t.Fatalf("white on black has %g", c)
	}
	for i := range 16 {
		on, hovering, off, main := i&1 != 0, i&2 != 0, i&4 != 0, i&8 != 0
		l := chip.Colours(on, hovering, off, main)
		for what, c := range map[string]color.Color{"text": l.Text, "key": l.Key} {
			if v := contrast(c, l.Back); v < 4.5 {
				t.Errorf("%s of a chip (on %v, hovering %v, off %v, main %v): %.2f:1", what, on, hovering, off, main, v)
			}
		}
	}
	col := func(n fyne.ThemeColorName) color.Color { return theme.Neutral{}.Color(n, 0) }
	for _, c := range []struct {
		what     string
		text, on color.Color
	}{
		{"text", theme.Text, theme.Raised}, {"text", theme.Text, theme.Hover}, {"text", theme.Text, theme.Line},
		{"quiet text", theme.Quiet, theme.Surface}, {"quiet text", theme.Quiet, theme.Raised}, {"quiet text", theme.Quiet, theme.Well},
		{"placeholder", col(ftheme.ColorNamePlaceHolder), col(ftheme.ColorNameInputBackground)},
		{"placeholder", col(ftheme.ColorNamePlaceHolder), theme.Raised},
		{"disabled", col(ftheme.ColorNameDisabled), col(ftheme.ColorNameMenuBackground)},
		{"disabled", col(ftheme.ColorNameDisabled), col(ftheme.ColorNameDisabledButton)},
		{"disabled", col(ftheme.ColorNameDisabled), col(ftheme.ColorNameInputBackground)},
		{"text of the toolkit", col(ftheme.ColorNameForeground), theme.Line},
		{"key in a menu", menuKey(col(ftheme.ColorNameForeground), theme.Raised), theme.Raised},
		{"error", col(ftheme.ColorNameError), theme.Surface},
		{"link", col(ftheme.ColorNameHyperlink), theme.Surface},
	} {
		if v := contrast(c.text, c.on); v < 4.5 {
			t.Errorf("%s %v on %v: %.2f:1", c.what, c.text, c.on, v)
		}
	}
}
