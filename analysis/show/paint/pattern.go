package paint

import (
	"image"
	"image/color"
)

// Kind is one of the masks.
type Kind int

// The masks of the method, each with a pattern of its own, so that colour is
// never the only sign.
const (
	Blown   Kind = iota // rising diagonal lines
	Blocked             // dots
	Noisy               // short dashes
	Lost                // standing crosses
	Dust                // small open squares
)

// MaskColour returns the colour of a mask.
func MaskColour(k Kind) color.NRGBA {
	switch k {
	case Blown:
		return ReddishPurple
	case Blocked:
		return BluishGreen
	case Lost:
		return Blue
	case Dust:
		return Vermilion
	}
	return Yellow
}

// Period is the side of the square, in pattern pixels, after which every
// pattern repeats.
const Period = 24

// Pattern returns the opacity 0..255 of a mask's colour at a device pixel. Patterns
// are anchored to device pixels, not to the picture, so that they keep their size
// under zoom; on a display of scale 2 pass x/2, y/2. Strong (the scan is clipped) has
// a tinted ground between fuller marks, weak (the film is flat) has the marks alone
// and lighter.
func Pattern(k Kind, x, y int, strong bool) (alpha uint8) {
	return patterns[k.index()][b2i(strong)][mod(y)*Period+mod(x)]
}

// Mask returns Pattern with the kind bound, for inner loops: row y of the pattern
// repeats every Period values.
func Mask(k Kind, strong bool) (rows *[Period * Period]uint8) {
	return &patterns[k.index()][b2i(strong)]
}

func (k Kind) index() int {
	if k < Blown || k > Dust {
		return int(Noisy)
	}
	return int(k)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

func mod(v int) int {
	v %= Period
	if v < 0 {
		v += Period
	}
	return v
}

var patterns = func() (p [5][2][Period * Period]uint8) {
	for k := Blown; k <= Dust; k++ {
		for y := 0; y < Period; y++ {
			for x := 0; x < Period; x++ {
				on := mark(k, x, y)
				i := y*Period + x
				p[k][0][i] = uint8(float64(150) * on)
				p[k][1][i] = uint8(84 + float64(255-84)*on)
			}
		}
	}
	return
}()

// mark returns the coverage 0..1 of the pattern's marks.
func mark(k Kind, x, y int) float64 {
	switch k {
	case Blown: // lines that rise to the right, one every 6 pixels
		switch (x + y) % 6 {
		case 0:
			return 1
		case 1, 5:
			return 0.45
		}
	case Blocked: // round dots of 2 pixels, staggered, every 6 pixels
		if y%12 >= 6 {
			x += 3
		}
		if x%6 < 2 && y%6 < 2 {
			return 1
		}
	case Noisy: // dashes of 5 pixels, every 8, in rows of 4, staggered
		if y%8 >= 4 {
			x += 4
		}
		if y%4 == 0 && x%8 < 5 {
			return 1
		}
	case Lost: // standing crosses of 5 pixels, every 8, staggered
		if y%16 >= 8 {
			x += 4
		}
		if u, v := x%8, y%8; u < 5 && v < 5 && (u == 2 || v == 2) {
			return 1
		}
	case Dust: // open squares of 4 pixels, every 6: a speck is small, and must hold one
		if u, v := x%6, y%6; u < 4 && v < 4 && (u == 0 || u == 3 || v == 0 || v == 3) {
			return 1
		}
	}
	return 0
}

// FillMask covers r with a mask's pattern, scaled to whole device pixels per
// unit so that it looks alike on every display.
func (c *Canvas) FillMask(r image.Rectangle, k Kind, strong bool) {
	r = r.Intersect(c.clip)
	s := max(1, int(c.Scale+0.5))
	col := MaskColour(k)
	rows := Mask(k, strong)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := rows[mod(floorDiv(y, s))*Period:]
		o := c.Img.PixOffset(r.Min.X, y)
		for x := r.Min.X; x < r.Max.X; x++ {
			if a := row[mod(floorDiv(x, s))]; a > 0 {
				over(c.Img.Pix[o:o+4:o+4], col, uint32(a))
			}
			o += 4
		}
	}
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
