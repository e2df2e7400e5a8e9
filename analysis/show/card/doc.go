// Package card draws the field card of a plan: a page to print, as PDF or as PNG,
// with the frames to tick, what they get, and room for what really happened; and a
// plain-text card for a phone. A plan with a log comes out ticked and with the real
// stops.
//
// Pages are laid out once, in millimetres, and drawn by two pens, so that PDF and
// PNG are the same card. Type is as large as lets everything stand on one page;
// where even the smallest type does not, the frames go on over further pages.
package card

import (
	"fmt"
	"strings"
)

// Size is a page of ISO 216.
type Size struct {
	Name          string
	Width, Height float64 // mm, upright
}

// The pages that a card may have.
var (
	A6 = Size{"A6", 105, 148}
	A5 = Size{"A5", 148, 210}
	A4 = Size{"A4", 210, 297}
)

// Sizes returns all of them, smallest first.
func Sizes() []Size { return []Size{A6, A5, A4} }

// ParseSize finds a page by its name, in either case.
func ParseSize(text string) (Size, error) {
	for _, s := range Sizes() {
		if strings.EqualFold(s.Name, strings.TrimSpace(text)) {
			return s, nil
		}
	}
	return Size{}, fmt.Errorf("%q is no page of a card: write A6, A5 or A4", text)
}
