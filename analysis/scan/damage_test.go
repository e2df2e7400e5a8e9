package scan

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"testing"
)

func deflated(t testing.TB, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zlib.NewWriter(&out)
	z.Write(b)
	z.Close()
	return out.Bytes()
}

// smooth is a 16-bit picture of light that changes slowly, with some noise: what
// Deflate finds matches in.
func smooth(w, h int) (data []byte, codes []uint16) {
	for i := range w * h {
		for c := range 3 {
			v := uint16(20000 + 40*(i%w) + 300*(i/w) + 7*c + i*2654435761>>24&15)
			codes = append(codes, v)
			data = binary.LittleEndian.AppendUint16(data, v)
		}
	}
	return data, codes
}

// A bit that is turned round anywhere in a Deflate strip or tile is found, and
// nothing from that strip's first row on is measured. The checksum of RFC 1950
// (Adler-32) tells, and compress/zlib agrees that each of them is damaged.
func TestDeflateDamage(t *testing.T) {
	const w, h, rows = 40, 60, 15
	data, codes := smooth(w, h)
	for _, c := range []struct {
		name    string
		changes map[uint16]any
		chunks  [][]byte
		across  int
	}{
		{"strips", map[uint16]any{tagRowsPerStrip: []uint32{rows}}, cut(data, rows*6*w), 1},
		{"one strip", nil, [][]byte{data}, 1},
		{"tiles", map[uint16]any{tagTileWidth: []uint32{16}, tagTileLength: []uint32{16}, tagRowsPerStrip: nil}, tiles(data, w, h, 16), 3},
		{"many tiles", map[uint16]any{tagTileWidth: []uint32{8}, tagTileLength: []uint32{8}, tagRowsPerStrip: nil}, tiles(data, w, h, 8), 5},
	} {
		var packed [][]byte
		for _, chunk := range c.chunks {
			packed = append(packed, deflated(t, chunk))
		}
		down := len(packed) / c.across
		each := h
		if down > 1 {
			each = map[int]int{1: rows, 3: 16, 5: 8}[c.across]
		}
		tags := with(rgb16(w, h), c.changes)
		tags[tagCompression] = []uint16{8}
		whole := buildTIFF(binary.LittleEndian, tags, packed...)
		sameCodes(t, c.name, held(t, saved(t, "a.tif", whole)).Pix, codes)
		flips := 0
		for i := range packed {
			for k := range 40 {
				bit := 16 + k*(8*len(packed[i])-16)/40 + k%7 // past the two bytes of the header
				hurt := make([][]byte, len(packed))
				copy(hurt, packed)
				hurt[i] = bytes.Clone(packed[i])
				hurt[i][min(bit/8, len(hurt[i])-1)] ^= 1 << (bit % 8)
				if z, err := zlib.NewReader(bytes.NewReader(hurt[i])); err == nil {
					if out, err := io.ReadAll(z); err == nil && bytes.Equal(out, c.chunks[i]) {
						continue // the bits that fill the last byte
					}
				}
				flips++
				src, err := Open(saved(t, "a.tif", buildTIFF(binary.LittleEndian, tags, hurt...)), DefaultBounds)
				if err != nil {
					t.Fatal(err)
				}
				p, err := Hold(context.Background(), src)
				var short *TruncatedError
				if !errors.As(err, &short) {
					t.Fatalf("%s: bit %d of chunk %d was turned round without a word (%v)", c.name, bit, i, err)
				}
				sentence(t, err, "a.tif")
				top := i / c.across * each
				if short.RowsRead != top || !short.Damaged {
					t.Fatalf("%s: bit %d of chunk %d, whose first row is %d: %d rows were read (%v)", c.name, bit, i, top, short.RowsRead, err)
				}
				sameCodes(t, "rows before the damage", p.Pix, codes[:3*w*top])
			}
		}
		if flips < 40*len(packed)*9/10 {
			t.Errorf("%s: only %d bits did harm", c.name, flips)
		}
	}
}

// tiles cuts 16-bit RGB data into square tiles, filled up with zeros.
func tiles(data []byte, w, h, side int) (out [][]byte) {
	for y := 0; y < h; y += side {
		for x := 0; x < w; x += side {
			tile := make([]byte, 6*side*side)
			for r := range min(side, h-y) {
				copy(tile[6*side*r:6*side*(r+1)], data[6*((y+r)*w+x):6*((y+r)*w+min(x+side, w))])
			}
			out = append(out, tile)
		}
	}
	return out
}

// A stream that goes on after the rows that are needed, as some writers leave the
// last strip, is sound as long as its checksum fits; one that lacks its checksum
// cannot be checked, and has all its rows.
func TestDeflateEnds(t *testing.T) {
	const w, h = 8, 10
	data, codes := smooth(w, h)
	for name, packed := range map[string][]byte{
		"goes on":     deflated(t, append(bytes.Clone(data), make([]byte, 5000)...)),
		"no checksum": deflated(t, data)[:len(deflated(t, data))-4],
	} {
		tags := with(rgb16(w, h), map[uint16]any{tagCompression: []uint16{8}})
		sameCodes(t, name, held(t, saved(t, "a.tif", buildTIFF(binary.LittleEndian, tags, packed))).Pix, codes)
	}
}

// A copy that was begun at its full size and not finished ends in zeros, from a
// block of the disk on. It is read as far as the copy went.
func TestUnfinishedCopy(t *testing.T) {
	const w, h = 300, 200
	data, codes := smooth(w, h)
	for _, c := range []struct {
		name    string
		changes map[uint16]any
		chunks  [][]byte
	}{
		{"one strip", nil, [][]byte{data}},
		{"strips", map[uint16]any{tagRowsPerStrip: []uint32{7}}, cut(data, 7*6*w)},
		{"tiles", map[uint16]any{tagTileWidth: []uint32{320}, tagTileLength: []uint32{32}, tagRowsPerStrip: nil}, nil},
	} {
		if c.chunks == nil {
			for y := 0; y < h; y += 32 {
				tile := make([]byte, 6*320*32)
				for r := range min(32, h-y) {
					copy(tile[6*320*r:], data[6*w*(y+r):6*w*(y+r+1)])
				}
				c.chunks = append(c.chunks, tile)
			}
		}
		b := buildTIFF(binary.LittleEndian, with(rgb16(w, h), c.changes), c.chunks...)
		start := len(b)
		for _, chunk := range c.chunks {
			start -= len(chunk)
		}
		const reached = 200 << 10 // the copy got so far
		for i := reached; i < len(b); i++ {
			b[i] = 0
		}
		rows := (reached - start) / (6 * w)
		if c.name == "tiles" {
			tile := (reached - start) / (6 * 320 * 32)
			rows = 32*tile + (reached-start-tile*6*320*32)/(6*320)
		}
		src, err := Open(saved(t, "a.tif", b), DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		if notes := strings.Join(src.Info().Notes, " "); !strings.Contains(notes, "not finished") {
			t.Errorf("%s: notes %q", c.name, notes)
		}
		p, err := Hold(context.Background(), src)
		var short *TruncatedError
		if !errors.As(err, &short) || short.RowsRead != rows {
			t.Errorf("%s: %v, want %d rows", c.name, err, rows)
			continue
		}
		sameCodes(t, c.name, p.Pix, codes[:3*w*rows])
	}
}

// Rows that are exactly zero at the end, where nothing shows why, are told; what is
// there is read.
func TestZeroRowsAreTold(t *testing.T) {
	const w, h = 100, 120
	data, _ := smooth(w, h)
	for i := 6 * w * 90; i < len(data); i++ {
		data[i] = 0
	}
	for name, c := range map[string]struct {
		tags   map[uint16]any
		chunks [][]byte
	}{
		"one strip": {rgb16(w, h), [][]byte{data}},
		"strips":    {with(rgb16(w, h), map[uint16]any{tagRowsPerStrip: []uint32{7}}), cut(data, 7*6*w)},
	} {
		src, err := Open(saved(t, "a.tif", buildTIFF(binary.LittleEndian, c.tags, c.chunks...)), DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		if notes := strings.Join(src.Info().Notes, " "); !strings.Contains(notes, "last 30 rows are exactly zero") {
			t.Errorf("%s: notes %q", name, notes)
		}
		if _, err := Hold(context.Background(), src); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// A corner of a turned picture on black is no unfinished copy, and few rows are
	// not worth a word.
	data, _ = smooth(w, h)
	for y := range h {
		for x := range w {
			if y > 60 && x > 5*(h-y) || y > h-1 {
				clear(data[6*(y*w+x) : 6*(y*w+x+1)])
			}
		}
	}
	src, err := Open(saved(t, "a.tif", buildTIFF(binary.LittleEndian, rgb16(w, h), data)), DefaultBounds)
	if err != nil || len(src.Info().Notes) > 0 {
		t.Errorf("a corner: %v, %q", err, src.Info().Notes)
	}
}

// Strips that lie on the same bytes, and strips that are far longer than their rows,
// are told with a row.
func TestOddStrips(t *testing.T) {
	const w, h, rows = 50, 40, 10
	data, _ := smooth(w, h)
	tags := with(rgb16(w, h), map[uint16]any{tagRowsPerStrip: []uint32{rows}})
	chunks := cut(data, rows*6*w)
	n := uint32(len(chunks[0]))
	at := uint32(len(buildTIFF(binary.LittleEndian, with(tags, map[uint16]any{tagStripOffsets: make([]uint32, 4)}), chunks...)) - len(data))
	for name, c := range map[string]struct {
		changes map[uint16]any
		says    string
	}{
		"sound":    {map[uint16]any{tagStripOffsets: []uint32{at, at + n, at + 2*n, at + 3*n}}, ""},
		"overlap":  {map[uint16]any{tagStripOffsets: []uint32{at, at + n, at + n + n/2, at + 3*n}}, "row 20 on the same bytes"},
		"the same": {map[uint16]any{tagStripOffsets: []uint32{at, at, at, at}}, "row 10 on the same bytes"},
		"backward": {map[uint16]any{tagStripOffsets: []uint32{at + 3*n, at + 2*n, at + n, at}}, ""},
		"long":     {map[uint16]any{tagStripByteCounts: []uint32{n, 3*n + 5000, n, n}, tagStripOffsets: []uint32{at, at + n, at + 2*n, at + 3*n}}, "row 10 is 13.7 kB long where its rows need 2.9 kB"},
	} {
		src, err := Open(saved(t, filepath.Base(name)+".tif", buildTIFF(binary.LittleEndian, with(tags, c.changes), chunks...)), DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		notes := strings.Join(src.Info().Notes, " ")
		if !strings.Contains(notes, c.says) || c.says == "" && notes != "" {
			t.Errorf("%s: notes %q, want %q", name, notes, c.says)
		}
	}
}
