package sheet

import (
	"image"
	"io"

	"stopladder/analysis/show/pngwrite"
)

// Meta is what the sheet's PNG says about itself.
type Meta = pngwrite.Meta

// WritePNG writes a sheet.
func WritePNG(w io.Writer, img image.Image, m Meta) error { return pngwrite.Encode(w, img, m) }

// WriteFile writes a sheet whole or not at all.
func WriteFile(path string, img image.Image, m Meta) error { return pngwrite.File(path, img, m) }
