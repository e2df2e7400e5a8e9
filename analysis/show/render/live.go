package render

import "stopladder/analysis/scan/colour"

// codeLayer draws a layer from code values: they are interpolated at the device
// pixels, taken to light, corrected, and taken to display bytes. So a correction
// that changes with every movement of a slide costs what the device pixels cost,
// however large the scan.
type codeLayer struct {
	codeLevel
	space  *colour.Space
	adjust *Correction
}

func (p *Picture) codeLayer(l codeLevel) *codeLayer {
	return &codeLayer{codeLevel: l, space: p.Look.ColourSpace(), adjust: p.Adjust}
}

// codes returns room for n pixels.
func (b *rowBuf) codes(n int) []uint16 {
	if cap(b.code) < 3*n {
		b.code = make([]uint16, 3*n)
	}
	return b.code[:3*n]
}

// show takes code values to display bytes.
func (l *codeLayer) show(dst []uint8, code []uint16, buf *rowBuf) {
	if cap(buf.light) < len(code) {
		buf.light = make([]float32, len(code))
	}
	lin := buf.light[:len(code)]
	l.space.Linear(lin, code)
	l.adjust.rgba(dst, lin)
}

func (l codeLevel) nearestColumns(out []uint16, y int, cols []int32) {
	src := l.pix[3*l.w*y:][:3*l.w]
	for _, x := range cols {
		p, q := src[3*x:3*x+3:3*x+3], out[:3:3]
		q[0], q[1], q[2] = p[0], p[1], p[2]
		out = out[3:]
	}
}

// mixedColumns interpolates between rows ya and yb, the latter with the weight wy
// of 256, and columns ca and cb, the latter with wx. The four weights add up to
// 65536, so that equal codes stay what they are.
func (l codeLevel) mixedColumns(out []uint16, ya, yb int, wy uint32, ca, cb []int32, wx []uint32) {
	top, bottom := l.pix[3*l.w*ya:][:3*l.w], l.pix[3*l.w*yb:][:3*l.w]
	cb, wx = cb[:len(ca)], wx[:len(ca)]
	for i, x := range ca {
		j, k := 3*int(x), 3*int(cb[i])
		p, q, r, s := top[j:j+3:j+3], top[k:k+3:k+3], bottom[j:j+3:j+3], bottom[k:k+3:k+3]
		d := wx[i] * wy
		b, e := wx[i]<<8-d, wy<<8-d
		a := 1<<16 - b - e - d
		const round = 1 << 15
		o := out[:3:3]
		o[0] = uint16((uint32(p[0])*a + uint32(q[0])*b + uint32(r[0])*e + uint32(s[0])*d + round) >> 16)
		o[1] = uint16((uint32(p[1])*a + uint32(q[1])*b + uint32(r[1])*e + uint32(s[1])*d + round) >> 16)
		o[2] = uint16((uint32(p[2])*a + uint32(q[2])*b + uint32(r[2])*e + uint32(s[2])*d + round) >> 16)
		out = out[3:]
	}
}
