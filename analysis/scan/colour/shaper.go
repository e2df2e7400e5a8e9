package colour

// shaper is the matrix/TRC class of profile: a table per channel, then a
// matrix. It is exact but for the rounding of float32 and is unbounded.
type shaper struct {
	curve [3][]float32 // code -> linear light of the channel
	m     [9]float32   // channel light -> linear sRGB primaries
	plain bool         // the matrix is the identity
	bytes [3][]uint8   // code -> display byte, when plain
}

// identityTolerance: profiles round colorants to 1/65536, so an sRGB profile's
// matrix misses the identity by that; 2e-4 is 0.05 of a display byte at white.
const identityTolerance = 2e-4

func newShaper(curve [3][]float32, toSRGB mat3) *shaper {
	s := &shaper{curve: curve, m: matrix32(toSRGB), plain: true}
	for r := range 3 {
		for c := range 3 {
			want := 0.0
			if r == c {
				want = 1
			}
			if d := toSRGB[r][c] - want; d > identityTolerance || d < -identityTolerance {
				s.plain = false
			}
		}
	}
	if s.plain {
		for c := range curve {
			s.bytes[c] = make([]uint8, len(curve[c]))
			for i, v := range curve[c] {
				s.bytes[c][i] = display(v)
			}
		}
	}
	return s
}

func (s *shaper) linear(dst []float32, codes []uint16) {
	dst = dst[:len(codes)]
	m := s.m
	tr, tg, tb := s.curve[0], s.curve[1], s.curve[2]
	for i := 0; i+2 < len(codes); i += 3 {
		r, g, b := at(tr, codes[i]), at(tg, codes[i+1]), at(tb, codes[i+2])
		dst[i] = m[0]*r + m[1]*g + m[2]*b
		dst[i+1] = m[3]*r + m[4]*g + m[5]*b
		dst[i+2] = m[6]*r + m[7]*g + m[8]*b
	}
}

// at reads a table; a code beyond its end (a caller's mistake about the
// container) reads the last entry rather than ending the program.
func at[T any](t []T, code uint16) T {
	if int(code) < len(t) {
		return t[code]
	}
	return t[len(t)-1]
}

func (s *shaper) tone() *[3][]float32 { return &s.curve }

func (s *shaper) rgba(dst []uint8, codes []uint16) {
	n := len(codes) / 3
	dst = dst[: 4*n : 4*n]
	if s.plain {
		tr, tg, tb := s.bytes[0], s.bytes[1], s.bytes[2]
		for i := 0; i < n; i++ {
			p := codes[3*i : 3*i+3 : 3*i+3]
			q := dst[4*i : 4*i+4 : 4*i+4]
			q[0], q[1], q[2], q[3] = at(tr, p[0]), at(tg, p[1]), at(tb, p[2]), 255
		}
		return
	}
	m := s.m
	tr, tg, tb := s.curve[0], s.curve[1], s.curve[2]
	for i := 0; i < n; i++ {
		p := codes[3*i : 3*i+3 : 3*i+3]
		q := dst[4*i : 4*i+4 : 4*i+4]
		r, g, b := at(tr, p[0]), at(tg, p[1]), at(tb, p[2])
		q[0] = display(m[0]*r + m[1]*g + m[2]*b)
		q[1] = display(m[3]*r + m[4]*g + m[5]*b)
		q[2] = display(m[6]*r + m[7]*g + m[8]*b)
		q[3] = 255
	}
}
