package colour

import (
	"encoding/binary"
	"math"
	"unicode/utf16"
)

// MatrixProfile writes a small ICC v4.3 display profile: three primaries and a
// white as CIE xy, and one gamma (a power, 0.1 to 10) for all channels. desc is
// the name that programs show.
func MatrixProfile(desc string, primaries [3][2]float64, white [2]float64, gamma float64) []byte {
	return writeProfile(desc, primaries, white, parametric(0, gamma))
}

// SRGBProfile writes a small ICC v4.3 profile of sRGB with the exact curve of
// IEC 61966-2-1 as a parametric curve.
func SRGBProfile() []byte { return writeProfile("sRGB", srgbPrimaries, whiteD65, srgbCurve()) }

// srgbCurve is type 3: (aX+b)^g for X >= d, else cX (ICC.1:2010, table 65).
func srgbCurve() []byte {
	return parametric(3, 2.4, 1/1.055, 0.055/1.055, 1/12.92, srgbEncodedEnd)
}

// s15Fixed16 returns ICC's fixed-point number.
func s15Fixed16(b []byte, v float64) []byte {
	return binary.BigEndian.AppendUint32(b, uint32(int32(math.Round(v*65536))))
}

func parametric(kind uint16, params ...float64) []byte {
	b := append([]byte("para"), 0, 0, 0, 0)
	b = binary.BigEndian.AppendUint16(b, kind)
	b = append(b, 0, 0)
	for _, p := range params {
		b = s15Fixed16(b, p)
	}
	return b
}

func xyzTag(v [3]float64) []byte {
	b := append([]byte("XYZ "), 0, 0, 0, 0)
	for _, x := range v {
		b = s15Fixed16(b, x)
	}
	return b
}

// mlucTag returns a multi-localised text with one entry, in US English.
func mlucTag(text string) []byte {
	u := utf16.Encode([]rune(text))
	b := append([]byte("mluc"), 0, 0, 0, 0)
	b = binary.BigEndian.AppendUint32(b, 1)
	b = binary.BigEndian.AppendUint32(b, 12)
	b = append(b, "enUS"...)
	b = binary.BigEndian.AppendUint32(b, uint32(2*len(u)))
	b = binary.BigEndian.AppendUint32(b, 28)
	for _, c := range u {
		b = binary.BigEndian.AppendUint16(b, c)
	}
	return b
}

func writeProfile(desc string, primaries [3][2]float64, white [2]float64, curve []byte) []byte {
	w := xyToXYZ(white)
	chad := adaptation(w, pcsWhite)
	m := chad.mul(rgbToXYZ(primaries, white))
	column := func(c int) []byte { return xyzTag([3]float64{m[0][c], m[1][c], m[2][c]}) }
	sf32 := append([]byte("sf32"), 0, 0, 0, 0)
	for i := range 9 {
		sf32 = s15Fixed16(sf32, chad[i/3][i%3])
	}
	tags := []struct {
		sig  string
		data []byte // nil: the same data as the tag before
	}{
		{"desc", mlucTag(desc)},
		{"cprt", mlucTag("No copyright, use freely")},
		{"wtpt", xyzTag(pcsWhite)},
		{"chad", sf32},
		{"rXYZ", column(0)}, {"gXYZ", column(1)}, {"bXYZ", column(2)},
		{"rTRC", curve}, {"gTRC", nil}, {"bTRC", nil},
	}

	head := make([]byte, 128)
	binary.BigEndian.PutUint32(head[8:], 0x04300000) // version 4.3
	copy(head[12:], "mntrRGB XYZ ")
	copy(head[24:], []byte{0x07, 0xEA, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0}) // a fixed date keeps outputs identical
	copy(head[36:], "acsp")
	copy(head[68:], xyzTag(pcsWhite)[8:]) // illuminant

	table := binary.BigEndian.AppendUint32(nil, uint32(len(tags)))
	var body []byte
	start := 128 + 4 + 12*len(tags)
	var at, size int
	for _, t := range tags {
		if t.data != nil {
			at, size = start+len(body), len(t.data)
			body = append(body, t.data...)
			for len(body)%4 != 0 {
				body = append(body, 0)
			}
		}
		table = append(table, t.sig...)
		table = binary.BigEndian.AppendUint32(table, uint32(at))
		table = binary.BigEndian.AppendUint32(table, uint32(size))
	}
	out := append(append(head, table...), body...)
	binary.BigEndian.PutUint32(out, uint32(len(out)))
	return out
}
