// Package theme is the look of the window: neutral greys, because a coloured
// surround spoils a judgement of colour (ISO 3664 asks for a neutral one), one
// accent, one typeface. It ignores the system's light or dark choice: the
// surround is part of the viewing condition.
package theme

import (
	"image/color"

	"fyne.io/fyne/v2"
	ftheme "fyne.io/fyne/v2/theme"

	"stopladder/assets"
)

// The greys of the chrome, dark to light. All are neutral (R = G = B).
var (
	Well    = grey(0x2A) // plots and entry fields
	Surface = grey(0x3A) // the surround of the pictures
	Raised  = grey(0x46) // bars, panels, buttons
	Hover   = grey(0x52)
	Line    = grey(0x5E)
	Quiet   = grey(0xB4) // secondary text, at least 4.5:1 on Raised and what is darker
	Text    = grey(0xE8)
	Accent  = color.NRGBA{0xE6, 0x9F, 0x00, 0xFF} // Okabe & Ito orange: the judge's range, and focus
	Main    = grey(0xC8)                          // ground of the answer that Return gives
	OnMain  = grey(0x18)
)

// The type scale, toolkit units: what a screen is called, what a part of it is called, what
// is read and pressed, and what stands beside that. Figures in plots go down to Figure.
const (
	Display = 22
	Title   = 19
	Head    = 15
	Body    = 13
	Small   = 12
	Figure  = 11
)

func grey(v uint8) color.NRGBA { return color.NRGBA{v, v, v, 0xFF} }

// Neutral is the theme of the program.
type Neutral struct{}

var _ fyne.Theme = Neutral{}

var (
	regular = fyne.NewStaticResource("Roboto-Regular.ttf", roomy(assets.FontRegular))
	medium  = fyne.NewStaticResource("Roboto-Medium.ttf", roomy(assets.FontMedium))
)

// Color implements fyne.Theme.
func (Neutral) Color(name fyne.ThemeColorName, _ fyne.ThemeVariant) color.Color {
	switch name {
	case ftheme.ColorNameBackground, ftheme.ColorNameOverlayBackground:
		return Surface
	case ftheme.ColorNameMenuBackground, ftheme.ColorNameHeaderBackground:
		return Raised
	case ftheme.ColorNameButton:
		return grey(0x50)
	case ftheme.ColorNameDisabledButton:
		return grey(0x40)
	case ftheme.ColorNameInputBackground:
		return Well
	case ftheme.ColorNameInputBorder, ftheme.ColorNameSeparator:
		return Line
	case ftheme.ColorNameForeground:
		return foreground{}
	case ftheme.ColorNamePlaceHolder, ftheme.ColorNameDisabled:
		return Quiet
	case ftheme.ColorNameHover:
		return color.NRGBA{0xFF, 0xFF, 0xFF, 0x18}
	case ftheme.ColorNamePressed:
		return color.NRGBA{0xFF, 0xFF, 0xFF, 0x30}
	case ftheme.ColorNameSelection, ftheme.ColorNameFocus:
		return color.NRGBA{0xFF, 0xFF, 0xFF, 0x2C}
	case ftheme.ColorNamePrimary, ftheme.ColorNameHyperlink, ftheme.ColorNameWarning:
		return Accent
	case ftheme.ColorNameForegroundOnPrimary, ftheme.ColorNameForegroundOnWarning:
		return grey(0x18)
	case ftheme.ColorNameScrollBar:
		return color.NRGBA{0xFF, 0xFF, 0xFF, 0x50}
	case ftheme.ColorNameScrollBarBackground, ftheme.ColorNameShadow:
		return color.NRGBA{0, 0, 0, 0x50}
	case ftheme.ColorNameError:
		return color.NRGBA{0xFF, 0x8C, 0x42, 0xFF} // Okabe & Ito vermilion, lighter: 4.5:1 on Surface
	case ftheme.ColorNameSuccess:
		return grey(0xC8)
	case ftheme.ColorNameForegroundOnError, ftheme.ColorNameForegroundOnSuccess:
		return grey(0x10)
	}
	return ftheme.DefaultTheme().Color(name, ftheme.VariantDark)
}

// foreground is Text as the toolkit's menus need it: they write the keys beside their items
// in this colour at 0.95 of its opacity, of which they keep the lower eight of sixteen bits.
// Of 0xFFC8, which is opaque to everything else, 0xFE are left; of 0xFFFF there would be
// 0x32, and keys nobody can read.
type foreground struct{}

// RGBA implements color.Color.
func (foreground) RGBA() (r, g, b, a uint32) {
	v := uint32(Text.R) * 0x101
	return v, v, v, 0xFFC8
}

// Font implements fyne.Theme.
func (Neutral) Font(s fyne.TextStyle) fyne.Resource {
	if s.Monospace || s.Symbol {
		return ftheme.DefaultTheme().Font(s)
	}
	if s.Bold {
		return medium
	}
	return regular
}

// Icon implements fyne.Theme.
func (Neutral) Icon(n fyne.ThemeIconName) fyne.Resource { return ftheme.DefaultTheme().Icon(n) }

// Size implements fyne.Theme.
func (Neutral) Size(n fyne.ThemeSizeName) float32 {
	switch n {
	case ftheme.SizeNameText:
		return Body
	case ftheme.SizeNamePadding:
		return 4
	case ftheme.SizeNameInnerPadding:
		return 6
	case ftheme.SizeNameInlineIcon:
		return 16
	case ftheme.SizeNameCaptionText:
		return Figure
	case ftheme.SizeNameHeadingText:
		return Title
	case ftheme.SizeNameSubHeadingText:
		return Head
	case ftheme.SizeNameInputRadius, ftheme.SizeNameSelectionRadius:
		return 3
	case ftheme.SizeNameScrollBar:
		return 12
	case ftheme.SizeNameScrollBarSmall:
		return 4
	}
	return ftheme.DefaultTheme().Size(n)
}
