package scan

import (
	"bytes"
	"encoding/binary"
	"testing"
)

// FuzzDirectories: any bytes are read as directories in bounded memory, and what
// they hold is asked for in every way.
func FuzzDirectories(f *testing.F) {
	data, _ := words(binary.LittleEndian, 12)
	f.Add(buildTIFF(binary.LittleEndian, rgb16(2, 2), data))
	f.Add(buildTIFF(binary.BigEndian, with(rgb16(2, 2), map[uint16]any{tagSubIFDs: []uint32{8, 8, 200}, tagEXIF: []uint32{8}, tagDescription: []byte("a scan")}), data))
	f.Add(append([]byte("II+\x00\x08\x00\x00\x00\x10\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x00\x00\x00\x00"), make([]byte, 40)...))
	f.Add([]byte("MM\x00*\x00\x00\x00\x08\x00\x01\x01\x00\x00\x04\x00\x00\x00\x01\x00\x00\x00\x05\x00\x00\x00\x08"))
	f.Fuzz(func(t *testing.T, b []byte) {
		dirs, err := readDirectories(bytes.NewReader(b), int64(len(b)))
		if (err == nil) != (len(dirs) > 0) || len(dirs) > maxDirectories {
			t.Fatalf("%d directories and %v", len(dirs), err)
		}
		for _, d := range dirs {
			for tag := range d.tags {
				if v, err := d.uints(tag); err == nil && len(v) > len(b) {
					t.Fatalf("tag %d has %d values in %d bytes", tag, len(v), len(b))
				}
				if s := d.text(tag); len(s) > 2000 {
					t.Fatalf("a text of %d bytes", len(s))
				}
				d.rational(tag)
				if n := len(d.below(tag)); n > maxDirectories {
					t.Fatalf("%d directories below", n)
				}
			}
		}
		if len(dirs) > 0 {
			d, choice := choosePicture(dirs)
			if d == nil {
				t.Fatal(choice)
			}
			describe(&Info{}, d, dirs[0])
		}
	})
}

// FuzzSamples: rows of every depth, order and predictor are decoded without a
// panic, and differences of 8, 16 and 32 bits add up as one sample after the
// other does.
func FuzzSamples(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, byte(16), byte(3), byte(1), false)
	f.Add([]byte{250, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}, byte(32), byte(1), byte(2), true)
	f.Add([]byte{0xAB, 0xCD, 0xEF}, byte(12), byte(2), byte(0), true)
	f.Fuzz(func(t *testing.T, b []byte, bits, step, predict byte, big bool) {
		l := &tiffLayout{bits: int(bits), samples: int(step%5) + 1, order: binary.LittleEndian, photo: photoBlackIsZero}
		var order binary.ByteOrder = binary.LittleEndian
		if big {
			order = binary.BigEndian
			l.order = order
		}
		if l.samples >= 3 {
			l.photo = photoRGB
		}
		switch {
		case predict%3 == 1 && (bits == 8 || bits == 16 || bits == 32):
			l.predict = predictHorizontal
		case predict%3 == 2 && (bits == 16 || bits == 32):
			l.kind, l.predict = kindFloat, predictFloat
		case !(bits >= 1 && bits <= 16 || bits == 24 || bits == 32):
			return
		}
		l.w = min(len(b)*8/l.bits/l.samples, 4096)
		if l.w == 0 {
			return
		}
		l.chunkW = l.w
		raw := b[:l.rowBytes()]
		dst := make([]uint16, 3*l.w)
		s := &sampler{l: l}
		s.place(dst, raw, 0)
		first := append([]uint16(nil), dst...)
		s.place(dst, raw, 0)
		sameCodes(t, "twice", dst, first)
		for i, v := range dst {
			if int(v) > l.max() {
				t.Fatalf("code %d of at most %d", v, l.max())
			}
			if l.predict != predictHorizontal {
				continue
			}
			c := i % 3
			if l.photo != photoRGB {
				c = 0
			}
			var sum uint32
			for x := 0; x <= i/3; x++ {
				switch at := x*l.samples + c; bits {
				case 8:
					sum += uint32(raw[at])
				case 16:
					sum += uint32(order.Uint16(raw[2*at:]))
				case 32:
					sum += order.Uint32(raw[4*at:])
				}
			}
			want := uint16(sum)
			if bits == 8 {
				want &= 255
			} else if bits == 32 {
				want = uint16(sum >> 16)
			}
			if v != want {
				t.Fatalf("code %d is %d, want %d", i, v, want)
			}
			if i > 300 {
				break
			}
		}
	})
}
