package scan

import (
	"encoding/binary"
	"math"
)

// sampleKind is how a number is stored.
type sampleKind int

const (
	kindUint sampleKind = iota
	kindFloat
)

// predictor is what was done to the samples of a row before compression.
type predictor int

const (
	predictNone       predictor = iota
	predictHorizontal           // differences of neighbouring samples (TIFF 6.0, section 14)
	predictFloat                // differences of the bytes' planes (Adobe, TIFF technical note 3)
)

// sampler turns rows as they are stored into 16-bit code values. It belongs to
// one goroutine.
type sampler struct {
	l       *tiffLayout
	scratch []byte   // a row that may be changed
	planes  []byte   // a row for the floating-point predictor
	samples []uint16 // a row before its samples are placed
	wide    *wideCodes
}

// place puts one row of a chunk into its place among RGB codes; dst has three
// for every pixel of the row that lies in the picture.
func (s *sampler) place(dst []uint16, raw []byte, plane int) {
	l := s.l
	step := l.chunkSamples()
	if l.photo == photoRGB && step == 3 {
		s.decode(dst, raw) // samples are in their places already
		return
	}
	n := len(dst) / 3
	if s.samples == nil {
		s.samples = make([]uint16, l.chunkW*step)
	}
	row := s.samples[:n*step]
	s.decode(row, raw)
	switch {
	case l.converted():
		if s.wide == nil {
			s.wide = newWideCodes(l)
		}
		used := 3
		if l.photo == photoSeparated {
			used = 4
		}
		for i := range n {
			c := s.wide.of(row[i*step : i*step+used])
			dst[3*i], dst[3*i+1], dst[3*i+2] = c[0], c[1], c[2]
		}
	case l.photo == photoRGB && l.planar:
		for i, v := range row {
			dst[3*i+plane] = v
		}
	case l.photo == photoRGB:
		for i := range n {
			p := row[i*step : i*step+3]
			dst[3*i], dst[3*i+1], dst[3*i+2] = p[0], p[1], p[2]
		}
	case l.photo == photoPalette:
		for i := range n {
			copy(dst[3*i:3*i+3], l.palette[3*(int(row[i*step])&l.paletteMask):])
		}
	default:
		flip := uint16(0)
		if l.photo == photoWhiteIsZero {
			flip = uint16(l.max())
		}
		for i := range n {
			v := row[i*step] ^ flip
			dst[3*i], dst[3*i+1], dst[3*i+2] = v, v, v
		}
	}
}

// decode turns stored samples into code values, as many as dst has.
func (s *sampler) decode(dst []uint16, raw []byte) {
	l := s.l
	step := l.chunkSamples()
	little := l.order == binary.LittleEndian
	switch {
	case l.bits < 16 && l.bits != 8:
		s.decodeBits(dst, raw)
	case l.bits == 8 && l.predict == predictHorizontal:
		sum8(dst, raw, step)
	case l.bits == 8:
		raw = raw[:len(dst)]
		for i := range dst {
			dst[i] = uint16(raw[i])
		}
	case l.bits == 16 && l.kind == kindUint && l.predict == predictHorizontal:
		if little {
			sum16(dst, raw, step)
		} else {
			sum16big(dst, raw, step)
		}
	case l.bits == 16 && l.kind == kindUint:
		raw = raw[:2*len(dst)]
		switch {
		case little == littleEndian:
			copy(bytesView(dst), raw)
		case little:
			for i := range dst {
				dst[i] = uint16(raw[2*i]) | uint16(raw[2*i+1])<<8
			}
		default:
			for i := range dst {
				dst[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
			}
		}
	default:
		s.decodeWide(dst, raw)
	}
}

// sum8 adds up differences of bytes.
func sum8(dst []uint16, raw []byte, step int) {
	raw = raw[:len(dst)]
	if step == 3 {
		var r, g, b uint8
		for i := 0; i+2 < len(dst); i += 3 {
			p, q := raw[i:i+3:i+3], dst[i:i+3:i+3]
			r, g, b = r+p[0], g+p[1], b+p[2]
			q[0], q[1], q[2] = uint16(r), uint16(g), uint16(b)
		}
		return
	}
	for c := range step {
		var v uint8
		for i := c; i < len(dst); i += step {
			v += raw[i]
			dst[i] = uint16(v)
		}
	}
}

// sum16 adds up differences of words, low byte first.
func sum16(dst []uint16, raw []byte, step int) {
	raw = raw[:2*len(dst)]
	if step == 3 {
		// Four samples at a time would need lanes of 16 bits that do not carry
		// into each other; three plain sums keep up with the decompressors.
		var r, g, b uint16
		for i := 0; i+2 < len(dst); i += 3 {
			p, q := raw[2*i:2*i+6:2*i+6], dst[i:i+3:i+3]
			w := uint64(binary.LittleEndian.Uint32(p))
			r, g, b = r+uint16(w), g+uint16(w>>16), b+binary.LittleEndian.Uint16(p[4:])
			q[0], q[1], q[2] = r, g, b
		}
		return
	}
	for c := range step {
		var v uint16
		for i := c; i < len(dst); i += step {
			v += binary.LittleEndian.Uint16(raw[2*i:])
			dst[i] = v
		}
	}
}

// sum16big is sum16 for the high byte first.
func sum16big(dst []uint16, raw []byte, step int) {
	raw = raw[:2*len(dst)]
	if step == 3 {
		var r, g, b uint16
		for i := 0; i+2 < len(dst); i += 3 {
			p, q := raw[2*i:2*i+6:2*i+6], dst[i:i+3:i+3]
			w := binary.BigEndian.Uint32(p)
			r, g, b = r+uint16(w>>16), g+uint16(w), b+binary.BigEndian.Uint16(p[4:])
			q[0], q[1], q[2] = r, g, b
		}
		return
	}
	for c := range step {
		var v uint16
		for i := c; i < len(dst); i += step {
			v += binary.BigEndian.Uint16(raw[2*i:])
			dst[i] = v
		}
	}
}

// decodeBits reads samples of 1 to 15 bits, which are packed from the highest bit
// of a byte on whatever the byte order, and spreads them over the whole range, or
// leaves them as they are when they are indices into a palette.
func (s *sampler) decodeBits(dst []uint16, raw []byte) {
	bits := uint(s.l.bits)
	top := uint32(1)<<bits - 1
	full := uint32(s.l.max())
	if s.l.photo == photoPalette {
		full = top
	}
	var acc uint32
	var have uint
	at := 0
	for i := range dst {
		for have < bits {
			acc = acc<<8 | uint32(raw[at])
			at++
			have += 8
		}
		have -= bits
		dst[i] = uint16((acc>>have&top*full + top/2) / top)
	}
}

// decodeWide reads numbers of 32 bits and floating-point numbers.
func (s *sampler) decodeWide(dst []uint16, raw []byte) {
	l := s.l
	step := l.chunkSamples()
	order := l.order
	size := l.bits / 8
	if l.predict != predictNone {
		if s.scratch == nil {
			s.scratch, s.planes = make([]byte, len(raw)), make([]byte, len(raw))
		}
		copy(s.scratch, raw)
		raw = s.scratch[:len(raw)]
	}
	switch {
	case l.predict == predictFloat:
		sumFloat(s.planes[:len(raw)], raw, step, size)
		raw, order = s.planes[:len(raw)], binary.BigEndian
	case l.predict == predictHorizontal && size == 4:
		for i := 4 * step; i+3 < len(raw); i += 4 {
			order.PutUint32(raw[i:], order.Uint32(raw[i:])+order.Uint32(raw[i-4*step:]))
		}
	case l.predict == predictHorizontal:
		for i := 2 * step; i+1 < len(raw); i += 2 {
			order.PutUint16(raw[i:], order.Uint16(raw[i:])+order.Uint16(raw[i-2*step:]))
		}
	}
	for i := range dst {
		switch {
		case size == 3: // the upper 16 bits
			if p := raw[3*i : 3*i+3]; order.String() == "BigEndian" {
				dst[i] = uint16(p[0])<<8 | uint16(p[1])
			} else {
				dst[i] = uint16(p[2])<<8 | uint16(p[1])
			}
		case size == 2:
			dst[i] = codeOf(halfFloat(order.Uint16(raw[2*i:])))
		case l.kind == kindFloat:
			dst[i] = codeOf(math.Float32frombits(order.Uint32(raw[4*i:])))
		default:
			dst[i] = uint16(order.Uint32(raw[4*i:]) >> 16)
		}
	}
}

// sumFloat undoes the floating-point predictor: differences of bytes, step apart,
// over a row whose samples were split into planes of bytes, highest first. What
// comes out is high byte first whatever the file's order.
func sumFloat(dst, raw []byte, step, size int) {
	for i := step; i < len(raw); i++ {
		raw[i] += raw[i-step]
	}
	n := len(raw) / size
	for i := range n {
		for b := range size {
			dst[size*i+b] = raw[b*n+i]
		}
	}
}

// codeOf maps 0..1 to 0..65535. What lies outside, and what is no number, goes to
// the nearer end.
func codeOf(v float32) uint16 {
	if !(v > 0) {
		return 0
	}
	if v >= 1 {
		return 65535
	}
	return uint16(float64(v)*65535 + 0.5)
}

// halfFloat reads IEEE 754 binary16.
func halfFloat(h uint16) float32 {
	sign, exp, frac := float32(1), int(h>>10&31), float32(h&1023)
	if h>>15 != 0 {
		sign = -1
	}
	switch exp {
	case 0:
		return sign * frac / (1 << 24)
	case 31:
		if frac != 0 {
			return float32(math.NaN())
		}
		return sign * float32(math.Inf(1))
	}
	return sign * float32(math.Ldexp(float64(1024+frac), exp-25))
}
