package unpack

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"

	klauspost "github.com/klauspost/compress/zlib"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/image/tiff/lzw"
)

// pictures are bytes as pictures have them: flat, smooth, noisy, of few values.
func pictures() map[string][]byte {
	rng := rand.New(rand.NewPCG(1, 1))
	out := map[string][]byte{"empty": nil, "one": {7}, "flat": make([]byte, 1_000_000)}
	add := func(name string, n int, f func(i int) byte) {
		b := make([]byte, n)
		for i := range b {
			b[i] = f(i)
		}
		out[name] = b
	}
	add("noise", 700_000, func(int) byte { return byte(rng.Uint32()) })
	add("gauss", 700_000, func(i int) byte { return byte(20 * rng.NormFloat64()) })
	add("sixteen", 700_000, func(i int) byte {
		if i%2 == 0 {
			return byte(rng.Uint32())
		}
		return byte(i / 6000)
	})
	grain := 0 // samples of 16 bits, low byte first
	add("grain", 700_000, func(i int) byte {
		if i%2 == 0 {
			grain = 20_000 + i/40 + int(250*rng.NormFloat64())
			return byte(grain)
		}
		return byte(grain >> 8)
	})
	add("few", 500_000, func(int) byte { return byte(rng.Uint32() & 1) })
	add("ramp", 400_000, func(i int) byte { return byte(i) })
	add("runs", 600_000, func(i int) byte { return byte(i / (1 + i%977)) })
	return out
}

func zipped(t testing.TB, level int, b []byte) []byte {
	var out bytes.Buffer
	z, err := zlib.NewWriterLevel(&out, level)
	if err != nil {
		t.Fatal(err)
	}
	z.Write(b)
	z.Close()
	return out.Bytes()
}

// all reads n bytes in pieces of step.
func all(d Decoder, src io.Reader, n, step int) ([]byte, error) {
	d.Reset(src)
	var out []byte
	for len(out) < n {
		b, err := d.Next(min(step, n-len(out)))
		out = append(out, b...)
		if err != nil {
			return out, err
		}
	}
	return out, nil
}

// Deflate against the standard library's encoder, at all of its levels.
func TestDeflate(t *testing.T) {
	var d Deflate
	for name, b := range pictures() {
		for _, level := range []int{-2, 0, 1, 6, 9} {
			z := zipped(t, level, b)
			for _, step := range []int{1 << 20, 4321, 100_000} {
				got, err := all(&d, bytes.NewReader(z), len(b), step)
				if err != nil || !bytes.Equal(got, b) {
					t.Fatalf("%s at level %d in steps of %d: %d of %d bytes, %v", name, level, step, len(got), len(b), err)
				}
				if _, err := d.Next(1); err != io.ErrUnexpectedEOF {
					t.Errorf("%s: after the end: %v", name, err)
				}
			}
		}
	}
}

// LZW against an encoder of its own kind in this file, and what it wrote against
// golang.org/x/image/tiff/lzw as a second reader.
func TestLZW(t *testing.T) {
	var d LZW
	for name, b := range pictures() {
		z := lzwEncode(b)
		want, err := io.ReadAll(lzw.NewReader(bytes.NewReader(z), lzw.MSB, 8))
		if err != nil || !bytes.Equal(want, b) {
			t.Fatalf("%s: the encoder of the test is wrong: %v", name, err)
		}
		for _, step := range []int{1 << 20, 4321, 100_000, 7} {
			got, err := all(&d, bytes.NewReader(z), len(b), step)
			if err != nil || !bytes.Equal(got, b) {
				at := 0
				for at < len(got) && got[at] == b[at] {
					at++
				}
				t.Fatalf("%s in steps of %d: %d of %d bytes, wrong at %d, %v", name, step, len(got), len(b), at, err)
			}
			if _, err := d.Next(1); err != io.ErrUnexpectedEOF {
				t.Errorf("%s: after the end: %v", name, err)
			}
		}
	}
}

// Any codes, the table full and never cleared among them, against the plain decoder:
// strings of all lengths, some of which come into being with their own code.
func TestLZWCodes(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	var d LZW
	for round := range 40 {
		var src []byte
		var acc uint64
		have, width, next, known := uint(0), uint(9), lzwFirst, false
		for range 3000 + 300*round {
			code := rng.IntN(256)
			if pick := rng.IntN(100); known && next > lzwFirst && pick >= round {
				code = lzwFirst + rng.IntN(next-lzwFirst)
			}
			switch {
			case known && next < lzwCodes && rng.IntN(50) == 0:
				code = next
			case rng.IntN(20_000) == 0:
				code = lzwClear
			}
			acc = acc<<width | uint64(code)
			for have += width; have >= 8; have -= 8 {
				src = append(src, byte(acc>>(have-8)))
			}
			if code == lzwClear {
				width, next, known = 9, lzwFirst, false
				continue
			}
			if known && next < lzwCodes {
				if next++; next+1 == 1<<width && width < 12 {
					width++
				}
			}
			known = true
		}
		want, _ := plainLZW(src)
		compare(t, &d, src, want, true)
	}
}

// lzwEncode writes TIFF 6.0, section 13, with a map as its table.
func lzwEncode(b []byte) []byte {
	var out []byte
	var acc uint64
	var have uint
	width := uint(9)
	put := func(code int) {
		acc = acc<<width | uint64(code)
		have += width
		for have >= 8 {
			out = append(out, byte(acc>>(have-8)))
			have -= 8
		}
	}
	table := map[[2]int]int{}
	next := lzwFirst
	put(lzwClear)
	prefix := -1
	for _, v := range b {
		if prefix < 0 {
			prefix = int(v)
			continue
		}
		if code, ok := table[[2]int{prefix, int(v)}]; ok {
			prefix = code
			continue
		}
		put(prefix)
		table[[2]int{prefix, int(v)}] = next
		next++
		switch next {
		case 512, 1024, 2048: // the entry 511 was added
			width++
		case 4095:
			put(lzwClear)
			clear(table)
			next, width = lzwFirst, 9
		}
		prefix = int(v)
	}
	if prefix >= 0 {
		put(prefix)
		switch next + 1 { // the last code counts as well
		case 512, 1024, 2048:
			width++
		}
	}
	put(lzwEnd)
	if have > 0 {
		out = append(out, byte(acc<<(8-have)))
	}
	return out
}

func TestPackBits(t *testing.T) {
	// The example of TIFF 6.0, page 42.
	packed := []byte{0xFE, 0xAA, 0x02, 0x80, 0x00, 0x2A, 0xFD, 0xAA, 0x03, 0x80, 0x00, 0x2A, 0x22, 0xF7, 0xAA}
	want := []byte{0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A, 0xAA, 0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A, 0x22, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA}
	var d PackBits
	for step := 1; step < 30; step++ {
		got, err := all(&d, bytes.NewReader(packed), len(want), step)
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("steps of %d: %x, %v", step, got, err)
		}
	}
	if _, err := d.Next(1); err != io.ErrUnexpectedEOF {
		t.Errorf("after the end: %v", err)
	}
}

func BenchmarkDecoders(b *testing.B) {
	src := pictures()
	for _, name := range []string{"gauss", "sixteen", "grain", "runs"} {
		z, l := zipped(b, 6, src[name]), lzwEncode(src[name])
		for kind, c := range map[string]struct {
			d Decoder
			b []byte
		}{"deflate": {new(Deflate), z}, "klauspost": {new(otherDeflate), z}, "lzw": {new(LZW), l}} {
			b.Run(fmt.Sprintf("%s/%s", kind, name), func(b *testing.B) {
				b.SetBytes(int64(len(src[name])))
				for b.Loop() {
					if _, err := all(c.d, bytes.NewReader(c.b), len(src[name]), 42000); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// otherDeflate is the Deflate of github.com/klauspost/compress, which ours has to be
// faster than: else that should stand in its place.
type otherDeflate struct {
	r   io.Reader
	buf []byte
}

func (z *otherDeflate) Reset(src io.Reader) { z.r, _ = klauspost.NewReader(src) }

func (z *otherDeflate) Next(n int) ([]byte, error) {
	if len(z.buf) < n {
		z.buf = make([]byte, n)
	}
	_, err := io.ReadFull(z.r, z.buf[:n])
	return z.buf[:n], err
}

// Zstandard against the library's encoder at its levels, damaged and cut. (Files of
// libtiff's own encoder are read in package scan.)
func TestZstd(t *testing.T) {
	var d Zstd
	for name, b := range pictures() {
		for _, level := range []zstd.EncoderLevel{zstd.SpeedFastest, zstd.SpeedDefault, zstd.SpeedBestCompression} {
			e, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(level), zstd.WithEncoderCRC(true))
			if err != nil {
				t.Fatal(err)
			}
			z := e.EncodeAll(b, nil)
			for _, step := range []int{1 << 20, 4321} {
				got, err := all(&d, bytes.NewReader(z), len(b), step)
				if err != nil || !bytes.Equal(got, b) {
					t.Fatalf("%s: %d of %d bytes, %v", name, len(got), len(b), err)
				}
				if err := d.Check(1000); err != nil {
					t.Errorf("%s: %v", name, err)
				}
				if _, err := d.Next(1); err != io.ErrUnexpectedEOF {
					t.Errorf("%s: after the end: %v", name, err)
				}
			}
			if len(b) < 1000 {
				continue
			}
			if got, err := all(&d, bytes.NewReader(z[:len(z)/2]), len(b), 4321); err != io.ErrUnexpectedEOF || !bytes.HasPrefix(b, got) {
				t.Errorf("%s, cut: %d bytes, %v", name, len(got), err)
			}
			z[len(z)-2] ^= 4 // of the checksum
			_, err = all(&d, bytes.NewReader(z), len(b), 4321)
			if check := d.Check(1000); err != ErrCorrupt && check != ErrCorrupt {
				t.Errorf("%s: a checksum that does not fit: %v, %v", name, err, check)
			}
		}
	}
}
