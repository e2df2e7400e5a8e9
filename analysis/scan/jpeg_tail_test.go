package scan

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
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

// A JPEG that lacks but its end mark is read, and it is told; so is one with something
// behind the mark read, without a word.
func TestJPEGWithoutItsEndIsTold(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * 7)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	whole := b.Bytes()
	for _, c := range []struct {
		name string
		text []byte
		told bool
	}{{"whole", whole, false}, {"without its end", whole[:len(whole)-2], true}, {"half of its end", whole[:len(whole)-1], true}, {"more behind it", append(bytes.Clone(whole), "more"...), false}} {
		path := filepath.Join(t.TempDir(), "a.jpg")
		if err := os.WriteFile(path, c.text, 0o600); err != nil {
			t.Fatal(err)
		}
		src, err := Open(path, DefaultBounds)
		if err != nil {
			t.Fatal(c.name, err)
		}
		rows := 0
		err = src.Stream(context.Background(), func(y int, pix []uint16) error { rows += len(pix) / (3 * 64); return nil })
		told := strings.Contains(strings.Join(src.Info().Notes, " "), "last bytes are missing")
		var short *TruncatedError
		if told != c.told || err != nil && !errors.As(err, &short) || !c.told && (err != nil || rows != 48) {
			t.Errorf("%s: told %v, %d rows, %v", c.name, told, rows, err)
		}
	}
}

// A header that does not fit its checksum is no header; what is said of colours is ignored
// then, and told. Found by the siege.
func TestPNGChunksThatDoNotFitTheirChecksums(t *testing.T) {
	img := image.NewRGBA64(image.Rect(0, 0, 64, 48))
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	const afterHeader = 8 + 8 + 13 + 4
	gamma := append(append([]byte{0, 0, 0, 4}, "gAMA"...), 0, 0, 0xB1, 0x8F, 1, 2, 3, 4) // 1, 2, 3, 4 is no checksum of it
	with := append(append(bytes.Clone(b.Bytes()[:afterHeader]), gamma...), b.Bytes()[afterHeader:]...)
	broken := bytes.Clone(b.Bytes())
	broken[afterHeader-1] ^= 1
	for name, text := range map[string][]byte{"header": broken, "gamma": with} {
		path := filepath.Join(t.TempDir(), "a.png")
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		src, err := Open(path, DefaultBounds)
		var format *FormatError
		switch {
		case name == "header" && !errors.As(err, &format):
			t.Errorf("a damaged header: %v", err)
		case name == "gamma" && (err != nil || !strings.Contains(strings.Join(src.Info().Notes, " "), "(gAMA) is damaged")):
			t.Errorf("a damaged gamma: %v", err)
		}
	}
}
