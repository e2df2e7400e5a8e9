package pocketcard

import (
	"fmt"
	"image"
	"io"
	"math"
	"strings"

	"stopladder/analysis/film/pocket"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/pdfmarks"
	"stopladder/analysis/show/pngwrite"
)

const pointsPerMM = 72 / 25.4

// PDF writes the card as a PDF with embedded type; text stays text.
func PDF(w io.Writer, c *pocket.Card, h Head, size Size) error {
	list := Draw(c, h, size)
	pdf := pdfmarks.New("mm", size.Width, size.Height, pdfmarks.Meta{Title: list.Title, Subject: list.Desc, Creator: h.Software, Made: h.Made})
	pdf.AddPage()
	pdfmarks.Add(pdf, pointsPerMM, list.Marks...)
	return pdf.Output(w)
}

// Image draws the card, so many pixels across; 0 is the size's own.
func Image(c *pocket.Card, h Head, size Size, across int) *image.RGBA {
	if across <= 0 {
		across = size.Pixels
	}
	scale := float64(across) / size.Width
	list := Draw(c, h, size)
	img := image.NewRGBA(image.Rect(0, 0, across, int(math.Round(size.Height*scale))))
	p := paint.New(img, scale)
	p.Fill(img.Rect, white)
	list.Paint(p, img.Rect)
	return img
}

// PNG writes the card as a PNG; that of a page prints in its size.
func PNG(w io.Writer, c *pocket.Card, h Head, size Size) error {
	m := pngwrite.Meta{Software: pngwrite.Program}
	if size != Phone {
		m.PPI = 300
	}
	return pngwrite.Encode(w, Image(c, h, size, 0), m)
}

// Text writes the card as plain text.
func Text(w io.Writer, c *pocket.Card, h Head) error {
	var b strings.Builder
	title, under := h.name()
	fmt.Fprintln(&b, title)
	if under != "" {
		fmt.Fprintln(&b, under)
	}
	fmt.Fprintf(&b, "\n%-8s", "light")
	for _, e := range exposures() {
		fmt.Fprintf(&b, " %-9s", "exp. "+stops.Label(e))
	}
	fmt.Fprintln(&b)
	for _, l := range lights(1) {
		fmt.Fprintf(&b, "%-8s", stops.Label(l))
		for _, e := range exposures() {
			cell := c.At(l, e)
			word := cell.State.Word()
			if cell.Near {
				word += " *"
			}
			fmt.Fprintf(&b, " %-9s", word)
		}
		fmt.Fprintln(&b)
	}
	fmt.Fprint(&b, "* near a border: another word is possible within the error\n\n")
	for _, s := range c.Lines() {
		fmt.Fprintln(&b, s.Text)
	}
	fmt.Fprintln(&b)
	for _, s := range c.Basis() {
		fmt.Fprintln(&b, s)
	}
	_, err := io.WriteString(w, trimmed(b.String()))
	return err
}

// trimmed takes away spaces at the ends of lines.
func trimmed(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " ")
	}
	return strings.Join(lines, "\n")
}
