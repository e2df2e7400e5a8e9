// Package pocketcard draws the pocket card of a measured roll (package film/pocket) for the
// camera bag: a page of A7 or A6 to print, a picture for a phone, plain text, and JSON
// (assets/schema/pocket-1.json).
//
// A card is laid out once, in millimetres, and drawn by two pens, so that PDF and PNG are
// the same. Rows are as fine as stays legible: thirds, halves or whole stops.
package pocketcard

import (
	"fmt"
	"strings"
	"time"

	"stopladder/analysis/film/pocket"
	"stopladder/analysis/judge/roll"
)

// Size is what a card is drawn on.
type Size struct {
	Name, Words   string
	Width, Height float64 // mm, upright; of Phone such that its type is as large as on paper
	Pixels        int     // across, of a PNG
}

// The sizes. Paper is that of ISO 216 at 300 dots an inch.
var (
	A7    = Size{"A7", "A7, 74 × 105 mm", 74, 105, 874}
	A6    = Size{"A6", "A6, 105 × 148 mm", 105, 148, 1240}
	Phone = Size{"phone", "Phone, 1080 × 2160 pixels", 74, 148, 1080}
)

// Sizes returns all of them.
func Sizes() []Size { return []Size{A7, A6, Phone} }

// ParseSize finds a size by its name, in either case.
func ParseSize(text string) (Size, error) {
	for _, s := range Sizes() {
		if strings.EqualFold(s.Name, strings.TrimSpace(text)) {
			return s, nil
		}
	}
	return Size{}, fmt.Errorf("%q is no size of a pocket card: write A7, A6 or phone", text)
}

// Head is what stands over a card.
type Head struct {
	Title, Stock, Exposure, Date string
	Software                     string    // "Stopladder 1.2"
	Made                         time.Time // zero: 1970 in the PDF
}

// HeadOf takes it from a roll.
func HeadOf(r *roll.Roll, software string) Head {
	return Head{Title: r.Called(), Stock: r.Stock, Exposure: r.Exposure, Date: r.Date, Software: software}
}

// Texts returns all that a person wrote of a card.
func (h Head) Texts() []string { return []string{h.Title, h.Stock, h.Exposure, h.Date} }

// name is the card's first line, and what stands under it.
func (h Head) name() (title, under string) {
	title, under = h.Stock, h.Title
	if title == "" {
		title, under = h.Title, ""
	}
	if title == "" {
		title = "Pocket card"
	}
	if under == title {
		under = ""
	}
	for _, s := range []string{h.Exposure, h.Date} {
		if s != "" && under != "" {
			under += ", "
		}
		under += s
	}
	return title, under
}

// steps of the rows, finest first.
var steps = []float64{1.0 / 3, 1.0 / 2, 1}

// lights returns the lights of a card's rows, from the top.
func lights(step float64) (out []float64) {
	n := int((pocket.Lightest-pocket.Darkest)/step + 0.5)
	for i := range n + 1 {
		out = append(out, pocket.Lightest-float64(i)*step)
	}
	return out
}

// exposures returns the exposure errors of a card's columns, from the left.
func exposures() (out []float64) {
	for e := pocket.Least; e <= pocket.Most; e++ {
		out = append(out, e)
	}
	return out
}
