package unpack

import "encoding/binary"

// adler is the running checksum of RFC 1950, 8.2 (Adler-32). The standard library's
// hash/adler32, which the tests compare it with, adds byte by byte, at a tenth of
// what decoding itself takes; this one adds eight bytes at a time in lanes of 16
// bits.
type adler struct{ s1, s2 uint32 }

// Adler32 returns the checksum of a run of bytes: what follows a stream of RFC 1950 that is
// written.
func Adler32(b []byte) uint32 {
	var a adler
	a.reset()
	a.add(b)
	return a.sum()
}

const (
	adlerMod = 65521
	// adlerBlock is the bytes that are added in lanes at a time, 22 times eight: the
	// sums of sums stay below 16 bits, 255 x 21 x 22 / 2 being 58905.
	adlerBlock = 22 * 8
	// adlerMost is the bytes after which the sums must be reduced (as in zlib).
	adlerMost = 5552
	lanes     = 0x00FF00FF00FF00FF
)

func (a *adler) reset() { a.s1, a.s2 = 1, 0 }

func (a *adler) sum() uint32 { return a.s2<<16 | a.s1 }

func (a *adler) add(b []byte) {
	for len(b) > 0 {
		n := min(len(b), adlerMost)
		a.piece(b[:n])
		b = b[n:]
		a.s1 %= adlerMod
		a.s2 %= adlerMod
	}
}

// piece adds at most adlerMost bytes.
func (a *adler) piece(b []byte) {
	s1, s2 := a.s1, a.s2
	for len(b) >= adlerBlock {
		p := (*[adlerBlock]byte)(b)
		b = b[adlerBlock:]
		// Of every lane: its sum, and the sum of its sums before each step, which
		// is what it adds to s2 eight times over.
		var even, odd, evens, odds uint64
		for i := 0; i <= adlerBlock-16; i += 16 {
			x, y := binary.LittleEndian.Uint64(p[i:i+8]), binary.LittleEndian.Uint64(p[i+8:i+16])
			evens += even
			odds += odd
			even += x & lanes
			odd += x >> 8 & lanes
			evens += even
			odds += odd
			even += y & lanes
			odd += y >> 8 & lanes
		}
		s2 += adlerBlock*s1 + 8*(across(evens)+across(odds))
		// Within a step the first byte is added eight times, the last one once.
		for lane := range uint32(4) {
			e, o := uint32(even>>(16*lane)&0xFFFF), uint32(odd>>(16*lane)&0xFFFF)
			s1 += e + o
			s2 += (8-2*lane)*e + (7-2*lane)*o
		}
	}
	for _, v := range b {
		s1 += uint32(v)
		s2 += s1
	}
	a.s1, a.s2 = s1, s2
}

// across adds up the four lanes of a word.
func across(v uint64) uint32 {
	return uint32(v&0xFFFF + v>>16&0xFFFF + v>>32&0xFFFF + v>>48)
}
