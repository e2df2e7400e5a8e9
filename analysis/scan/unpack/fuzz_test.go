package unpack

import (
	"bytes"
	"compress/zlib"
	"io"
	"testing"

	"golang.org/x/image/tiff/lzw"
)

const fuzzMost = 1 << 20

// compare reads src to its end in pieces of two sizes, which must agree, and
// holds what came against what another decoder makes of it.
func compare(t *testing.T, d Decoder, src, want []byte, complete bool) {
	got, err := all(d, bytes.NewReader(src), fuzzMost, 997)
	again, err2 := all(d, iotest{bytes.NewReader(src)}, fuzzMost, 65536)
	if !bytes.Equal(got, again) || (err == nil) != (err2 == nil) {
		t.Fatalf("%d bytes and %v in small pieces, %d and %v in large ones", len(got), err, len(again), err2)
	}
	if err != nil && err != ErrCorrupt && err != io.ErrUnexpectedEOF {
		t.Fatal(err)
	}
	if complete && len(want) <= fuzzMost && !bytes.Equal(got, want) {
		t.Fatalf("%d bytes, the other decoder has %d; %v", len(got), len(want), err)
	}
	if n := min(len(got), len(want)); !bytes.Equal(got[:n], want[:n]) {
		t.Fatalf("the first %d bytes differ from the other decoder's", n)
	}
}

// iotest gives one to three bytes at a time.
type iotest struct{ r *bytes.Reader }

func (r iotest) Read(b []byte) (int, error) { return r.r.Read(b[:min(len(b), 1+r.r.Len()%3)]) }

// FuzzDeflate: any bytes give what compress/zlib gives.
func FuzzDeflate(f *testing.F) {
	for _, b := range pictures() {
		for _, level := range []int{-2, 0, 1, 9} {
			f.Add(zipped(f, level, b[:min(len(b), 3000)]))
		}
	}
	f.Add([]byte{0x78, 0x9c, 3, 0})
	wrong := zipped(f, 6, []byte("a strip of a picture"))
	wrong[len(wrong)-1]++
	f.Add(wrong)
	var d Deflate
	f.Fuzz(func(t *testing.T, b []byte) {
		var want []byte
		z, err := zlib.NewReader(bytes.NewReader(b))
		if err == nil {
			want, err = io.ReadAll(io.LimitReader(z, fuzzMost+1))
		}
		compare(t, &d, b, want, err == nil)
		// The checksum: what compress/zlib finds sound is, and what fails its
		// checksum there fails it here.
		if len(want) > fuzzMost {
			return
		}
		d.Reset(bytes.NewReader(b))
		if got, short := d.Next(len(want)); short != nil || !bytes.Equal(got, want) {
			return
		}
		if check := d.Check(fuzzMost); err == nil && check != nil || err == zlib.ErrChecksum && check != ErrCorrupt {
			t.Fatalf("the checksum is %v here, %v in compress/zlib", check, err)
		}
	})
}

// plainLZW decodes by the letter of TIFF 6.0, section 13, with a table of strings.
// What the specification leaves open, a table that is full and not cleared, goes
// on with the table as it is. full says that this happened.
func plainLZW(src []byte) (out []byte, full bool) {
	var table [][]byte
	width, acc, have := 9, uint32(0), 0
	var last []byte
	for _, v := range src {
		acc, have = acc<<8|uint32(v), have+8
		for have >= width {
			code := int(acc >> (have - width) & (1<<width - 1))
			have -= width
			if code == lzwEnd {
				return out, full
			}
			if code == lzwClear {
				table, width, last = nil, 9, nil
				continue
			}
			var s []byte
			switch {
			case code < 256:
				s = []byte{byte(code)}
			case code-lzwFirst < len(table):
				s = table[code-lzwFirst]
			case code-lzwFirst == len(table) && last != nil && len(table) < lzwCodes-lzwFirst:
				s = append(last[:len(last):len(last)], last[0])
			default:
				return out, full
			}
			if len(out)+len(s) > fuzzMost {
				return append(out, s...)[:fuzzMost], full
			}
			out = append(out, s...)
			if last != nil && len(table) < lzwCodes-lzwFirst {
				table = append(table, append(last[:len(last):len(last)], s[0]))
				switch lzwFirst + len(table) {
				case 511, 1023, 2047:
					width++
				case 4095: // the encoder should have cleared: decoders differ from here
					full = true
				}
			}
			last = s
		}
	}
	return out, full
}

// FuzzLZW: any bytes give what the plain decoder gives, and what
// golang.org/x/image/tiff/lzw reads is read alike.
func FuzzLZW(f *testing.F) {
	for _, b := range pictures() {
		f.Add(lzwEncode(b[:min(len(b), 9000)]))
	}
	f.Add([]byte{0x80, 0x40, 0x20})
	var d LZW
	f.Fuzz(func(t *testing.T, b []byte) {
		plain, full := plainLZW(b)
		compare(t, &d, b, plain, true)
		if !full {
			want, err := io.ReadAll(io.LimitReader(lzw.NewReader(bytes.NewReader(b), lzw.MSB, 8), fuzzMost+1))
			compare(t, &d, b, want, err == nil)
		}
	})
}

// FuzzPackBits: against a reading by the letter of the specification.
func FuzzPackBits(f *testing.F) {
	f.Add([]byte{0xFE, 0xAA, 0x02, 0x80, 0x00, 0x2A, 0xFD, 0xAA, 0x80})
	f.Fuzz(func(t *testing.T, b []byte) {
		var want []byte
		for i := 0; i < len(b); {
			n := int(int8(b[i]))
			i++
			if n >= 0 {
				want = append(want, b[i:min(i+n+1, len(b))]...)
				i += n + 1
			} else if n > -128 && i < len(b) {
				want = append(want, bytes.Repeat(b[i:i+1], 1-n)...)
				i++
			}
		}
		compare(t, new(PackBits), b, want, true)
	})
}
