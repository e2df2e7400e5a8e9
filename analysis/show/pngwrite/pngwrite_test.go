package pngwrite_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/show/pngwrite"
)

type chunk struct {
	kind string
	data []byte
}

// chunks takes a PNG apart and checks what W3C PNG asks of its structure.
func chunks(t *testing.T, b []byte) []chunk {
	t.Helper()
	if !bytes.HasPrefix(b, []byte("\x89PNG\r\n\x1a\n")) {
		t.Fatal("no PNG signature")
	}
	b = b[8:]
	var out []chunk
	for len(b) > 0 {
		if len(b) < 12 {
			t.Fatalf("%d bytes left over", len(b))
		}
		n := int(binary.BigEndian.Uint32(b))
		if n > len(b)-12 {
			t.Fatalf("chunk of %d bytes in %d", n, len(b))
		}
		if got := binary.BigEndian.Uint32(b[8+n:]); got != crc32.ChecksumIEEE(b[4:8+n]) {
			t.Fatalf("%s has a wrong checksum", b[4:8])
		}
		out = append(out, chunk{string(b[4:8]), b[8 : 8+n]})
		b = b[12+n:]
	}
	return out
}

func picture() *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, 13, 9))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * 7)
		if i%4 == 3 {
			img.Pix[i] = 255
		}
	}
	return img
}

func TestPNGIsTagged(t *testing.T) {
	var b bytes.Buffer
	if err := pngwrite.Encode(&b, picture(), pngwrite.Meta{PPI: 300, Title: "Café", Software: "Stopladder \u2212"}); err != nil {
		t.Fatal(err)
	}
	cs := chunks(t, b.Bytes())
	var order []string
	got := map[string][]byte{}
	for _, c := range cs {
		order = append(order, c.kind)
		got[c.kind] = c.data
	}
	if s := strings.Join(order, " "); s != "IHDR cHRM gAMA sRGB pHYs tEXt iTXt IDAT IEND" {
		t.Errorf("chunks %s", s)
	}
	// 300 ppi is 11811 pixels per metre; W3C PNG gives gamma 45455 beside sRGB.
	if want := []byte{0, 0, 0x2e, 0x23, 0, 0, 0x2e, 0x23, 1}; !bytes.Equal(got["pHYs"], want) {
		t.Errorf("pHYs % x", got["pHYs"])
	}
	if !bytes.Equal(got["sRGB"], []byte{0}) || binary.BigEndian.Uint32(got["gAMA"]) != 45455 || len(got["cHRM"]) != 32 {
		t.Errorf("sRGB % x gAMA % x cHRM % x", got["sRGB"], got["gAMA"], got["cHRM"])
	}
	if !bytes.Equal(got["tEXt"], []byte("Title\x00Caf\xe9")) || string(got["iTXt"]) != "Software\x00\x00\x00\x00\x00Stopladder \u2212" {
		t.Errorf("%q %q", got["tEXt"], got["iTXt"])
	}
	back, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	src := picture()
	for y := range 9 {
		for x := range 13 {
			if color.NRGBAModel.Convert(back.At(x, y)) != src.At(x, y) {
				t.Fatalf("pixel %d,%d is %v", x, y, back.At(x, y))
			}
		}
	}
}

// libvips reads the resolution and the pixels as they were meant.
func TestPNGByLibvips(t *testing.T) {
	vips, err := exec.LookPath("vipsheader")
	if err != nil {
		t.Skip("vipsheader (libvips-tools) is not installed")
	}
	path := filepath.Join(t.TempDir(), "sheet.png")
	if err := pngwrite.File(path, picture(), pngwrite.Meta{PPI: 254}); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(vips, "-a", path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, want := range []string{"width: 13", "height: 9", "bands: 3", "interpretation: srgb", "xres: 10", "yres: 10"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("libvips does not report %q:\n%s", want, out)
		}
	}
}

func TestWriteFileIsWholeOrNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "sheet.png")
	for range 2 { // the second time over the first
		if err := pngwrite.File(path, picture(), pngwrite.Meta{}); err != nil {
			t.Fatal(err)
		}
	}
	list, err := os.ReadDir(dir)
	if err != nil || len(list) != 1 {
		t.Errorf("%v %v", list, err)
	}
	missing := filepath.Join(dir, "nowhere", "sheet.png")
	err = pngwrite.File(missing, picture(), pngwrite.Meta{})
	if err == nil || !strings.Contains(err.Error(), "sheet.png") || strings.Contains(err.Error(), ".part") {
		t.Errorf("%v", err)
	}
	// A folder stands where the file should go: nothing is left behind.
	taken := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(taken, "x"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := pngwrite.File(taken, picture(), pngwrite.Meta{}); err == nil {
		t.Error("a folder was replaced")
	}
	if list, _ = os.ReadDir(dir); len(list) != 2 {
		t.Errorf("left behind: %v", list)
	}
}
