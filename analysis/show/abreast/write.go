package abreast

import (
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/pdfmarks"
	"stopladder/analysis/show/pngwrite"
)

// Endings are those of the files that Write makes.
func Endings() []string { return []string{".png", ".svg", ".pdf"} }

// Width is the width of a page in units, unless another is asked for; Scale the pixels of a
// unit in a PNG.
const (
	Width = 1400.0
	Scale = 2.0
)

// maxPixels is the most that a PNG has.
const maxPixels = 250_000_000

// Image paints a drawing at so many pixels for a unit.
func Image(l *drawing.List, scale float64) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, int(math.Ceil(l.W*scale)), int(math.Ceil(l.H*scale))))
	c := paint.New(img, scale)
	l.Paint(c, img.Rect)
	return img
}

// Write writes a drawing in the format that an ending names.
func Write(w io.Writer, l *drawing.List, name, software string) error {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".svg":
		return l.SVG(w)
	case ".pdf":
		// A unit is a point: as large as is read at arm's length, and printed to fit.
		pdf := pdfmarks.New("pt", l.W, l.H, pdfmarks.Meta{Title: l.Title, Subject: l.Desc, Creator: software})
		pdf.AddPage()
		pdfmarks.Add(pdf, 1, l.Marks...)
		return pdf.Output(w)
	}
	scale := Scale
	for l.W*l.H*scale*scale > maxPixels && scale > 0.5 {
		scale /= 2
	}
	if l.W*l.H*scale*scale > maxPixels {
		return fmt.Errorf("the picture would have more than %d million pixels: choose fewer rolls, or write a PDF", maxPixels/1_000_000)
	}
	return pngwrite.Encode(w, Image(l, scale), pngwrite.Meta{PPI: 220, Title: l.Title, Software: software})
}
