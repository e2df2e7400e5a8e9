package paint

import (
	"image/color"
	"math"
)

// Palette is the chrome and the colours that carry meaning. Chrome is neutral
// grey: a coloured surround spoils a judgement of colour (ISO 3664 asks for a
// neutral one).
type Palette struct {
	Surround color.NRGBA // behind everything
	Panel    color.NRGBA // a rung, a pane
	Current  color.NRGBA // the rung at the marker
	Well     color.NRGBA // the ground of a plot
	Rule     color.NRGBA // lines of plots and tables
	Strong   color.NRGBA // the stop axis and frames of plots; 3:1 on every ground
	Text     color.NRGBA
	Dim      color.NRGBA // secondary text, still 4.5:1 on every ground
	White    color.NRGBA // the measured range
	Judge    color.NRGBA // the judge's range, the only accent

	Channel                 [3]color.NRGBA // R, G, B
	Blown, Blocked, Noisy   color.NRGBA
	Lost, Dust              color.NRGBA
	ShadowDot, MidDot, High color.NRGBA // dots of the tonal bands: told apart by lightness alone
}

// Hex returns an opaque colour from 0xRRGGBB.
func Hex(v uint32) color.NRGBA {
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// Alpha returns col with an opacity of 0..1.
func Alpha(col color.NRGBA, a float64) color.NRGBA {
	col.A = uint8(math.Round(255 * math.Max(0, math.Min(1, a))))
	return col
}

// Colours with a meaning: Okabe & Ito, "Color Universal Design", 2008.
var (
	Orange        = Hex(0xE69F00)
	SkyBlue       = Hex(0x56B4E9)
	BluishGreen   = Hex(0x009E73)
	Yellow        = Hex(0xF0E442)
	Vermilion     = Hex(0xD55E00)
	ReddishPurple = Hex(0xCC79A7)
	Blue          = Hex(0x0072B2)
)

func marks(p Palette) Palette {
	p.Judge = Orange
	p.Channel = [3]color.NRGBA{Vermilion, BluishGreen, SkyBlue}
	p.Blown, p.Blocked, p.Noisy, p.Lost, p.Dust = ReddishPurple, BluishGreen, Yellow, Blue, Vermilion
	p.ShadowDot, p.MidDot, p.High = Hex(0x000000), Hex(0x8C8C8C), Hex(0xFFFFFF)
	return p
}

// Dark is the window's chrome.
var Dark = marks(Palette{
	Surround: Hex(0x3A3A3A),
	Panel:    Hex(0x424242),
	Current:  Hex(0x4D4D4D),
	Well:     Hex(0x2C2C2C),
	Rule:     Hex(0x5E5E5E),
	Strong:   Hex(0x9E9E9E),
	Text:     Hex(0xEDEDED),
	Dim:      Hex(0xC0C0C0),
	White:    Hex(0xFFFFFF),
})

// Sheet is the ground of the exported picture: a lighter neutral than the
// window's, so that a print is not all ink, and dark enough for the amber range.
var Sheet = marks(Palette{
	Surround: Hex(0x474747),
	Panel:    Hex(0x525252),
	Current:  Hex(0x525252),
	Well:     Hex(0x2C2C2C),
	Rule:     Hex(0x6C6C6C),
	Strong:   Hex(0xA8A8A8),
	Text:     Hex(0xF4F4F4),
	Dim:      Hex(0xC8C8C8),
	White:    Hex(0xFFFFFF),
})
