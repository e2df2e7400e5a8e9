package scan

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// buildTIFF writes a TIFF from a table of tags and the data of its chunks, in
// either byte order, so that sound and hostile files alike can be made. Values
// are []uint16 (SHORT), []uint32 (LONG) or []byte (UNDEFINED). Offsets and counts
// of the chunks are added unless the table has them. The directory stands
// before the pixels, so that a cut file keeps it.
func buildTIFF(order binary.AppendByteOrder, tags map[uint16]any, chunks ...[]byte) []byte {
	tags = cloneTags(tags)
	offsetTag, countTag := uint16(tagStripOffsets), uint16(tagStripByteCounts)
	if _, tiled := tags[tagTileWidth]; tiled {
		offsetTag, countTag = tagTileOffsets, tagTileByteCounts
	}
	counts := make([]uint32, len(chunks))
	for i, c := range chunks {
		counts[i] = uint32(len(c))
	}
	_, ownOffsets := tags[offsetTag]
	if !ownOffsets {
		tags[offsetTag] = make([]uint32, len(chunks))
	}
	if _, ok := tags[countTag]; !ok {
		tags[countTag] = counts
	}
	write := func(start uint32) ([]byte, uint32) {
		if !ownOffsets {
			offsets := make([]uint32, len(chunks))
			for i, at := 0, start; i < len(chunks); i++ {
				offsets[i] = at
				at += counts[i]
			}
			tags[offsetTag] = offsets
		}
		b := []byte("II")
		if order.String() == "BigEndian" {
			b = []byte("MM")
		}
		b = order.AppendUint16(b, 42)
		b = order.AppendUint32(b, 8)
		b = order.AppendUint16(b, uint16(len(tags)))
		keys := make([]uint16, 0, len(tags))
		for k := range tags {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		var extra []byte
		extraAt := uint32(8 + 2 + 12*len(tags) + 4)
		for _, k := range keys {
			var data []byte
			var kind, count int
			switch v := tags[k].(type) {
			case []uint16:
				kind, count = 3, len(v)
				for _, x := range v {
					data = order.AppendUint16(data, x)
				}
			case []uint32:
				kind, count = 4, len(v)
				for _, x := range v {
					data = order.AppendUint32(data, x)
				}
			case []byte:
				kind, count, data = 7, len(v), v
			}
			b = order.AppendUint16(b, k)
			b = order.AppendUint16(b, uint16(kind))
			b = order.AppendUint32(b, uint32(count))
			if len(data) <= 4 {
				b = append(b, append(bytes.Clone(data), 0, 0, 0, 0)[:4]...)
				continue
			}
			b = order.AppendUint32(b, extraAt+uint32(len(extra)))
			extra = append(extra, data...)
			if len(extra)%2 != 0 {
				extra = append(extra, 0)
			}
		}
		b = order.AppendUint32(b, 0)
		return append(b, extra...), uint32(len(b) + len(extra))
	}
	_, start := write(0)
	b, _ := write(start)
	for _, c := range chunks {
		b = append(b, c...)
	}
	return b
}

func cloneTags(tags map[uint16]any) map[uint16]any {
	c := make(map[uint16]any, len(tags))
	for k, v := range tags {
		c[k] = v
	}
	return c
}

// with returns the tags with some changed; a nil value removes a tag.
func with(tags map[uint16]any, changes map[uint16]any) map[uint16]any {
	c := cloneTags(tags)
	for k, v := range changes {
		if v == nil {
			delete(c, k)
		} else {
			c[k] = v
		}
	}
	return c
}

// rgb16 is the table of an ordinary 16-bit scan.
func rgb16(w, h uint32) map[uint16]any {
	return map[uint16]any{
		tagImageWidth: []uint32{w}, tagImageLength: []uint32{h}, tagBitsPerSample: []uint16{16, 16, 16},
		tagCompression: []uint16{1}, tagPhotometric: []uint16{2}, tagSamplesPerPixel: []uint16{3}, tagRowsPerStrip: []uint32{h},
	}
}

// words are n samples that differ everywhere.
func words(order binary.AppendByteOrder, n int) (data []byte, codes []uint16) {
	for i := range n {
		v := uint16(i*2654435761>>7 + i)
		codes = append(codes, v)
		data = order.AppendUint16(data, v)
	}
	return data, codes
}

func saved(t testing.TB, name string, b []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
