package card

import (
	"image"
	"image/color"

	"stopladder/analysis/show/paint"
)

// page holds what stands on one page, in millimetres from its top left corner.
type page struct {
	size  Size
	texts []text
	lines []line
	boxes []box
}

type text struct {
	x, y  float64 // of the baseline
	em    float64 // mm
	bold  bool
	align paint.Align
	grey  uint8
	s     string
}

type line struct {
	x0, y0, x1, y1 float64
	width          float64
	grey           uint8
}

// box is filled with fill, and outlined where width is more than 0.
type box struct {
	x, y, w, h float64
	width      float64
	fill, grey uint8
}

const (
	black = 0x00
	dark  = 0x40
	mid   = 0x90
	light = 0xec
	paper = 0xff
)

// ruler measures type; unhinted, its width grows evenly with its size.
var ruler = paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1)

const rulerEm = 64.0

func style(em float64, bold bool, grey uint8) paint.Style {
	st := paint.Style{Size: em, Col: color.NRGBA{grey, grey, grey, 255}}
	if bold {
		st = st.Bold()
	}
	return st
}

// slack is how much wider a line may be in the PDF, whose type is not kerned.
const slack = 0.97

func width(s string, em float64, bold bool) float64 {
	return ruler.Width(s, style(rulerEm, bold, 0)) * em / rulerEm
}

func fit(s string, em float64, bold bool, most float64) string {
	return ruler.Ellipsis(s, style(rulerEm, bold, 0), slack*most*rulerEm/em)
}

func wrap(s string, em float64, most float64, lines int) []string {
	return ruler.Wrap(s, style(rulerEm, false, 0), slack*most*rulerEm/em, lines)
}

func (p *page) text(x, y, em float64, bold bool, align paint.Align, grey uint8, s string) {
	if s != "" {
		p.texts = append(p.texts, text{x, y, em, bold, align, grey, s})
	}
}

func (p *page) rule(x0, x1, y, width float64, grey uint8) {
	p.lines = append(p.lines, line{x0, y, x1, y, width, grey})
}
