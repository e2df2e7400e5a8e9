package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"

	"golang.org/x/image/tiff"

	"stopladder/analysis/scan"
)

// What a comparison with a decoder of another making came to.
const (
	refAgrees   = "agrees"
	refDiffers  = "differs"
	refStricter = "the program refuses or says what is missing, the other decoder reads"
	refRefuses  = "the other decoder refuses"
	refBoth     = "both refuse"
	refApart    = "cannot be compared"
)

// refMost is the number of pixels up to which files are compared: a damaged header may
// promise more.
const refMost = 4 << 20

// compareDecoders reads a file by the program's scan.Source and by a decoder of another
// making (Go's image/png and image/jpeg, golang.org/x/image/tiff) and compares the code
// values. words says where they differ, or what the other decoder said.
func compareDecoders(path string) (verdict, words string) {
	defer func() {
		if r := recover(); r != nil { // x/image/tiff is not made for hostile files
			verdict, words = refRefuses, fmt.Sprint(r)
		}
	}()
	text, err := os.ReadFile(path)
	if err != nil {
		return refApart, err.Error()
	}
	info, codes, whole := readByProgram(path)
	other, err := decodeByOther(text)
	switch {
	case errors.Is(err, errTooLarge):
		return refApart, "too large"
	case err != nil && !whole:
		return refBoth, ""
	case err != nil:
		return refRefuses, err.Error()
	case !whole:
		return refStricter, ""
	case info.Orientation > 1 || !opaque(other):
		return refApart, "turned, or with an alpha channel"
	case other.Bounds().Dx() != info.Width || other.Bounds().Dy() != info.Height:
		return refDiffers, fmt.Sprintf("%d x %d pixels, the other decoder has %v", info.Width, info.Height, other.Bounds().Size())
	}
	return compareCodes(info, codes, other)
}

// readByProgram returns the code values of a scan; whole is false where some are missing
// or the program says anything of the file.
func readByProgram(path string) (info scan.Info, codes []uint16, whole bool) {
	src, err := scan.Open(path, scan.DefaultBounds)
	if err != nil {
		return info, nil, false
	}
	info = src.Info()
	if info.Width*info.Height > refMost {
		return info, nil, false
	}
	err = src.Stream(context.Background(), func(_ int, rows []uint16) error {
		codes = append(codes, rows...)
		return nil
	})
	return info, codes, err == nil
}

var errTooLarge = errors.New("more pixels than are compared")

func decodeByOther(text []byte) (image.Image, error) {
	config, decode := png.DecodeConfig, png.Decode
	switch {
	case bytes.HasPrefix(text, []byte{0xff, 0xd8}):
		config, decode = jpeg.DecodeConfig, jpeg.Decode
	case !bytes.HasPrefix(text, []byte("\x89PNG")):
		config, decode = tiff.DecodeConfig, tiff.Decode
	}
	c, err := config(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	if c.Width > refMost || c.Height > refMost || c.Width*c.Height > refMost {
		return nil, errTooLarge
	}
	return decode(bytes.NewReader(text))
}

func opaque(m image.Image) bool {
	o, ok := m.(interface{ Opaque() bool })
	return ok && o.Opaque()
}

// compareCodes holds code values against a picture. JPEG's chroma may be brought to full
// size in more than one way: there only grey files and files without reduced chroma are
// compared, to two codes of rounding.
func compareCodes(info scan.Info, codes []uint16, other image.Image) (verdict, words string) {
	slack := 0
	if m, ok := other.(*image.YCbCr); ok {
		if m.SubsampleRatio != image.YCbCrSubsampleRatio444 {
			return refApart, "reduced chroma"
		}
		slack = 2
	}
	if len(codes) != 3*info.Width*info.Height {
		return refDiffers, fmt.Sprintf("%d code values for %d x %d pixels", len(codes), info.Width, info.Height)
	}
	b := other.Bounds()
	for y := range info.Height {
		for x := range info.Width {
			r, g, bl, _ := other.At(b.Min.X+x, b.Min.Y+y).RGBA()
			if info.Bits == 8 {
				r, g, bl = r>>8, g>>8, bl>>8
			}
			at := 3 * (y*info.Width + x)
			for c, want := range [3]uint32{r, g, bl} {
				if d := int(codes[at+c]) - int(want); d > slack || d < -slack {
					return refDiffers, fmt.Sprintf("channel %d at (%d, %d): %d, the other decoder has %d", c, x, y, codes[at+c], want)
				}
			}
		}
	}
	return refAgrees, ""
}

// refusedBySecond asks libvips, where it is installed, whether it reads a file without a
// warning: one decoder alone may refuse what is sound, for it does not know all of TIFF.
func refusedBySecond(path string) (refused, asked bool) {
	vips, err := exec.LookPath("vips")
	if err != nil {
		return false, false
	}
	return exec.Command(vips, "avg", path+"[fail-on=warning]").Run() != nil, true
}
