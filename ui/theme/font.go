package theme

import "encoding/binary"

// roomy gives a font's lines one more sixteenth of an em below the baseline. The
// toolkit makes a line exactly as high as the font says and rounds down, and at
// small sizes the lowest row of g and j is then cut off. Only the line metrics
// (hhea descender, OS/2 typographic and Windows descenders) are changed.
func roomy(font []byte) []byte {
	out := append([]byte(nil), font...)
	if len(out) < 12 {
		return font
	}
	tables := int(binary.BigEndian.Uint16(out[4:]))
	em := uint16(2048)
	find := func(tag string) []byte {
		for i := range tables {
			e := 12 + 16*i
			if e+16 > len(out) {
				return nil
			}
			if string(out[e:e+4]) == tag {
				at, n := int(binary.BigEndian.Uint32(out[e+8:])), int(binary.BigEndian.Uint32(out[e+12:]))
				if at < 0 || n < 0 || at+n > len(out) {
					return nil
				}
				return out[at : at+n]
			}
		}
		return nil
	}
	if head := find("head"); len(head) >= 20 {
		em = binary.BigEndian.Uint16(head[18:])
	}
	more := em / 16
	if hhea := find("hhea"); len(hhea) >= 8 {
		binary.BigEndian.PutUint16(hhea[6:], binary.BigEndian.Uint16(hhea[6:])-more) // negative: further down
	}
	if os2 := find("OS/2"); len(os2) >= 78 {
		binary.BigEndian.PutUint16(os2[70:], binary.BigEndian.Uint16(os2[70:])-more)
		binary.BigEndian.PutUint16(os2[76:], binary.BigEndian.Uint16(os2[76:])+more)
	}
	return out
}
