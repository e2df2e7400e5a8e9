package scan

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// zeroPNG is a PNG whose rows are zeros.
func zeroPNG(t testing.TB, w, h int, depth, kind, interlace byte, rowBytes int) []byte {
	t.Helper()
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	b := append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(head, depth, kind, 0, 0, interlace))...)
	var packed bytes.Buffer
	z, err := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	if err != nil {
		t.Fatal(err)
	}
	zeros := make([]byte, 1<<20)
	for n := h * rowBytes; n > 0; n -= len(zeros) {
		z.Write(zeros[:min(n, len(zeros))])
	}
	z.Close()
	return append(append(b, pngChunk("IDAT", packed.Bytes())...), pngChunk("IEND", nil)...)
}

// progressiveHead is a progressive JPEG of that size without pixels to speak of, but
// as long as a promise of them asks for.
func progressiveHead(w, h int) []byte {
	b := []byte{0xFF, 0xD8, 0xFF, 0xC2, 0, 17, 8, byte(h >> 8), byte(h), byte(w >> 8), byte(w), 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0}
	b = append(b, 0xFF, 0xDA, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 0, 0)
	return append(b, make([]byte, w*h/2000+1)...)
}

const bombMemory = 768 << 20 // of memory of its own: what reading any scan must do with here

// Bombs of every format are read, or refused with a sentence, by a process that the
// system allows less memory than their pixels would take. Each was killed by it, or
// took gigabytes, before PNGs were read by rows and JPEGs had a budget.
func TestBombs(t *testing.T) {
	if path := os.Getenv("STOPLADDER_BOMB"); path != "" {
		bombChild(t, path)
		return
	}
	for _, c := range []struct {
		name string
		make func() []byte
		says string
	}{
		{"grey1.png", func() []byte { return zeroPNG(t, 30000, 12000, 1, 0, 0, 1+3750) }, "rows 12000"},            // 2.2 GB as code values
		{"rgba16.png", func() []byte { return zeroPNG(t, 9000, 9000, 16, 6, 0, 1+72000) }, "rows 9000"},            // 648 MB decoded
		{"interlaced.png", func() []byte { return zeroPNG(t, 20000, 20000, 8, 2, 1, 60001) }, "of memory at once"}, // 1.6 GB decoded
		{"progressive.jpg", func() []byte { return progressiveHead(20000, 20000) }, "of memory at once"},           // 6 GB of coefficients
		{"deflate.tif", func() []byte { return bombTIFF(t, 12000, 12000) }, "rows 12000"},                          // 864 MB as code values
	} {
		path := filepath.Join(t.TempDir(), c.name)
		b := c.make()
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(os.Args[0], "-test.run=^TestBombs$", "-test.v")
		cmd.Env = append(os.Environ(), "STOPLADDER_BOMB="+path)
		out, err := cmd.CombinedOutput()
		if err != nil || !strings.Contains(string(out), c.says) {
			t.Errorf("%s of %s: %v\n%.2000s", c.name, byteSize(int64(len(b))), err, out)
			continue
		}
		for line := range strings.Lines(string(out)) {
			if strings.HasPrefix(line, "BOMB") {
				t.Logf("%s of %s: %s", c.name, byteSize(int64(len(b))), strings.TrimSpace(line))
			}
		}
	}
}

// bombChild reads a bomb under the limit, as a look does.
func bombChild(t *testing.T, path string) {
	if err := unix.Setrlimit(unix.RLIMIT_DATA, &unix.Rlimit{Cur: bombMemory, Max: bombMemory}); err != nil {
		t.Fatal(err)
	}
	src, err := Open(path, DefaultBounds)
	var s Sweeper
	if err == nil {
		s, err = Ready(context.Background(), src, nil)
	}
	rows := 0
	if err == nil {
		err = s.Sweep(context.Background(), SweepOptions{Workers: 1}, func() func(Block) error {
			return func(b Block) error { rows += len(b.Rows) / (3 * src.Info().Width); return nil }
		})
	}
	fmt.Printf("BOMB rows %d %v\n", rows, err)
}

func bombTIFF(t testing.TB, w, h int) []byte {
	t.Helper()
	var packed bytes.Buffer
	z, _ := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	zeros := make([]byte, 1<<20)
	for n := 6 * w * h; n > 0; n -= len(zeros) {
		z.Write(zeros[:min(n, len(zeros))])
	}
	z.Close()
	return buildTIFF(binary.LittleEndian, with(rgb16(uint32(w), uint32(h)), map[uint16]any{tagCompression: []uint16{8}}), packed.Bytes())
}
