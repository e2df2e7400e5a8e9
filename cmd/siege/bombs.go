package main

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"os"
	"path/filepath"
)

// bombs are small files that ask for much: each stands beside two sound frames, which
// must have their readings, within the memory that a child may have.
func bombs(s *siege, dir string) error {
	w := &worker{s: s}
	defer w.end()
	for range 6 {
		kind := s.rng.IntN(len(bombKinds))
		b := bombKinds[kind]
		paths, err := writeRoll(filepath.Join(dir, "roll"), 0)
		if err != nil {
			return err
		}
		os.Remove(paths[0])
		bomb := filepath.Join(filepath.Dir(paths[0]), "-1"+b.ext)
		text, err := b.make(s)
		if err != nil {
			return err
		}
		if err := os.WriteFile(bomb, text, 0o666); err != nil {
			return err
		}
		out := filepath.Join(dir, "out.json")
		os.Remove(out)
		code, words, ok := w.call("measure", filepath.Dir(bomb), "--json", out)
		s.tried("bombs: " + b.name)
		s.judge("a bomb, "+b.name, code, words, ok)
		if ok {
			s.sound(out, "0.tif")
			s.sound(out, "+1.tif")
		}
		w.end() // every bomb meets a program that has its memory before it
		os.RemoveAll(filepath.Dir(bomb))
	}
	return nil
}

var bombKinds = []struct {
	name, ext string
	make      func(s *siege) ([]byte, error)
}{
	{"PNG of one colour", ".png", func(s *siege) ([]byte, error) {
		depth, colour := []byte{8, 16}[s.rng.IntN(2)], []byte{0, 2, 6}[s.rng.IntN(3)]
		samples := map[byte]int{0: 1, 2: 3, 6: 4}[colour]
		w, h := 2000+s.rng.IntN(9000), 2000+s.rng.IntN(9000)
		return onePNG(w, h, depth, colour, byte(s.rng.IntN(2)), int64(h)*int64(1+w*samples*int(depth)/8))
	}},
	{"PNG that promises more than it has", ".png", func(s *siege) ([]byte, error) {
		return onePNG(60000+s.rng.IntN(30000), 20000+s.rng.IntN(20000), 16, 6, 0, 1<<20)
	}},
	{"Deflate TIFF of one colour", ".tif", func(s *siege) ([]byte, error) {
		w, h := 2000+s.rng.IntN(9000), 2000+s.rng.IntN(9000)
		return oneTIFF(uint32(w), uint32(h), int64(w)*int64(h)*6)
	}},
	{"TIFF that promises more than it has", ".tif", func(s *siege) ([]byte, error) {
		return oneTIFF(s.rng.Uint32N(2_000_000), s.rng.Uint32N(2_000_000), 1<<16)
	}},
	{"JPEG whose header promises more", ".jpg", func(s *siege) ([]byte, error) {
		b, err := encoded(3, 0, 1)
		if i := bytes.Index(b, []byte{0xff, 0xc0}); i > 0 {
			binary.BigEndian.PutUint16(b[i+5:], uint16(1000+s.rng.IntN(64000)))
			binary.BigEndian.PutUint16(b[i+7:], uint16(1000+s.rng.IntN(64000)))
			if s.rng.IntN(2) == 0 {
				b[i+1] = 0xc2 // progressive
			}
		}
		return b, err
	}},
}

// zeros deflates so many zeros.
func zeros(n int64) ([]byte, error) {
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	chunk := make([]byte, 1<<20)
	for ; n > 0; n -= int64(len(chunk)) {
		if _, err := z.Write(chunk[:min(n, int64(len(chunk)))]); err != nil {
			return nil, err
		}
	}
	return b.Bytes(), z.Close()
}

// onePNG is a PNG of zeros, so many bytes of them.
func onePNG(w, h int, depth, colour, interlaced byte, bytesOfPixels int64) ([]byte, error) {
	pixels, err := zeros(bytesOfPixels)
	if err != nil {
		return nil, err
	}
	out := bytes.NewBufferString("\x89PNG\r\n\x1a\n")
	chunk := func(kind string, data []byte) {
		body := append([]byte(kind), data...)
		out.Write(binary.BigEndian.AppendUint32(nil, uint32(len(data))))
		out.Write(body)
		out.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(body)))
	}
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	chunk("IHDR", append(head, depth, colour, 0, 0, interlaced))
	chunk("IDAT", pixels)
	chunk("IEND", nil)
	return out.Bytes(), nil
}

// oneTIFF is a 16-bit RGB TIFF of one Deflate strip of zeros, so many bytes of them.
func oneTIFF(w, h uint32, bytesOfPixels int64) ([]byte, error) {
	pixels, err := zeros(bytesOfPixels)
	if err != nil {
		return nil, err
	}
	le := binary.LittleEndian
	entries := [][4]uint32{{256, 4, 1, w}, {257, 4, 1, h}, {258, 3, 1, 16}, {259, 3, 1, 8}, {262, 3, 1, 2}, {273, 4, 1, 0}, {277, 3, 1, 3}, {278, 4, 1, h}, {279, 4, 1, uint32(len(pixels))}}
	at := uint32(8 + 2 + 12*len(entries) + 4)
	entries[5][3] = at
	b := le.AppendUint16(append([]byte("II*\x00"), 8, 0, 0, 0), uint16(len(entries)))
	for _, e := range entries {
		b = le.AppendUint16(le.AppendUint16(b, uint16(e[0])), uint16(e[1]))
		b = le.AppendUint32(le.AppendUint32(b, e[2]), e[3])
	}
	return append(le.AppendUint32(b, 0), pixels...), nil
}
