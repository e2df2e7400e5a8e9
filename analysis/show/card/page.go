package card

import (
	"image/color"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// page is what stands on one page, in millimetres.
type page struct{ drawing.List }

const (
	black = 0x00
	dark  = 0x40
	mid   = 0x90
	light = 0xec
	paper = 0xff
)

// rulerEm is the size in which type is measured: unhinted, its width grows evenly with
// its size.
const rulerEm = 64.0

func style(em float64, bold bool, grey uint8) paint.Style {
	st := paint.Style{Size: em, Col: ink(grey)}
	if bold {
		st = st.Bold()
	}
	return st
}

func ink(grey uint8) color.NRGBA { return color.NRGBA{grey, grey, grey, 255} }

// slack is how much wider a line may be in the PDF, whose type is not kerned.
const slack = 0.97

func width(s string, em float64, bold bool) float64 {
	return drawing.Gauge.Width(s, style(rulerEm, bold, 0)) * em / rulerEm
}

func fit(s string, em float64, bold bool, most float64) string {
	return drawing.Gauge.Ellipsis(s, style(rulerEm, bold, 0), slack*most*rulerEm/em)
}

func wrap(s string, em float64, most float64, lines int) []string {
	return drawing.Gauge.Wrap(s, style(rulerEm, false, 0), slack*most*rulerEm/em, lines)
}

func (p *page) text(x, y, em float64, bold bool, align paint.Align, grey uint8, s string) {
	if s != "" {
		p.Add(drawing.Text{At: drawing.Pt{X: x, Y: y}, S: s, Style: style(em, bold, grey).Aligned(align)})
	}
}

func (p *page) rule(x0, x1, y, width float64, grey uint8) {
	p.Add(drawing.Segment(x0, y, x1, y, width, ink(grey)))
}
