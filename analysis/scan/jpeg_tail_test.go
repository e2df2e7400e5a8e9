package scan

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"
)

// A JPEG whose last bytes are zeros, however few, has lost what stood there: a decoder
// takes zeros for a picture that goes on, and libjpeg and Go's own reader call such a file
// cut short. Found by the siege's comparison with other decoders.
func TestFewZerosAtTheEndOfAJPEGAreTold(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for y := range 48 {
		for x := range 64 {
			img.SetRGBA(x, y, color.RGBA{uint8(x*67 + y*31), uint8(x * y), uint8(y*91 - x*13), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	for _, zeros := range []int{40, 100, 300} {
		text := bytes.Clone(b.Bytes())
		clear(text[len(text)-zeros:])
		path := filepath.Join(t.TempDir(), "a.jpg")
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		src, err := Open(path, DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		err = src.Stream(context.Background(), func(int, []uint16) error { return nil })
		var short *TruncatedError
		if !errors.As(err, &short) || short.RowsRead >= 48 {
			t.Errorf("%d zeros: %v", zeros, err)
		}
	}
}
