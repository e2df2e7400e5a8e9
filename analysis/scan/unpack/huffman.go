package unpack

import "math/bits"

// Tables of Huffman codes for looking up the next bits of a Deflate stream. An
// entry says all about what the bits stand for:
//
//	bits 0-5    how many bits it takes, extra bits included
//	bits 6-7    how many literals; 0: a length, a distance, or one of the rare ones
//	bits 8-11   how many of the bits are extra bits
//	bit  12     rare: the end of the block, a pointer to a second table, no code
//	bit  13     the end of the block
//	bit  14     a pointer
//	bits 16-31  literals, lowest first; or a base; or where the second table is
const (
	oneLit   = 1 << 6
	twoLits  = 2 << 6
	flagLits = 3 << 6
	flagRare = 1 << 12
	flagEnd  = 1 << 13
	flagSub  = 1 << 14
	noCode   = flagRare

	litBits     = 11
	litMask     = 1<<litBits - 1
	litSubMask  = 1<<(15-litBits) - 1
	litIndex    = 8191
	distBits    = 8
	distMask    = 1<<distBits - 1
	distSubMask = 1<<(15-distBits) - 1
	distIndex   = 4095
)

type (
	litTable  [litIndex + 1]uint32  // 2048, and at most 144 second tables of 16
	distTable [distIndex + 1]uint32 // 256, and at most 16 second tables of 128
	lenTable  [128]uint16           // value, and from bit 8 on its bits; 0: no code
)

var litEntries, distEntries = symbolEntries()

// symbolEntries returns the entries of all symbols but for the bits of their codes
// (RFC 1951, 3.2.5).
func symbolEntries() (lit [288]uint32, dist [32]uint32) {
	for i := range 256 {
		lit[i] = uint32(i)<<16 | oneLit
	}
	lit[256] = noCode | flagEnd
	base := uint32(3)
	for i := range uint32(28) {
		extra := max(i/4, 1) - 1
		lit[257+i] = base<<16 | extra<<8 | extra
		base += 1 << extra
	}
	lit[285] = 258 << 16
	lit[286], lit[287] = noCode, noCode
	base = 1
	for i := range uint32(30) {
		extra := max(i/2, 1) - 1
		dist[i] = base<<16 | extra<<8 | extra
		base += 1 << extra
	}
	dist[30], dist[31] = noCode, noCode
	return lit, dist
}

// code is one symbol's code, its bits in the order of reading from bit 0 on.
type code struct {
	symbol uint16
	bits   uint16
	length uint8
}

// assign gives every symbol that has one its code (RFC 1951, 3.2.2), shortest
// first and then by symbol, or false when the lengths are not those of a prefix
// code. A code may be incomplete only when it has a single symbol, or none.
func assign(buf *[288]code, lengths []uint8) (codes []code, complete, ok bool) {
	var count [16]int
	for _, l := range lengths {
		count[l&15]++
	}
	used := len(lengths) - count[0]
	count[0] = 0
	var at, next [17]int
	left := 1
	for l := 1; l < 16; l++ {
		next[l+1] = (next[l] + count[l]) << 1
		at[l+1] = at[l] + count[l]
		if left = left<<1 - count[l]; left < 0 {
			return nil, false, false
		}
	}
	complete = left == 0
	if !complete && used > 1 || used == 1 && count[1] != 1 {
		return nil, false, false
	}
	for s, l := range lengths {
		if l &= 15; l != 0 {
			buf[at[l]] = code{uint16(s), bits.Reverse16(uint16(next[l])) >> (16 - l), l}
			at[l]++
			next[l]++
		}
	}
	return buf[:used], complete, true
}

func (t *litTable) build(lengths []uint8) bool {
	var buf [288]code
	codes, complete, ok := assign(&buf, lengths)
	if !ok {
		return false
	}
	if !complete {
		for i := range t[:litMask+1] {
			t[i] = noCode
		}
	}
	second := litMask + 1
	shortest := uint8(15)
	for _, c := range codes {
		s, l, code := c.symbol, c.length, int(c.bits)
		e := litEntries[s] + uint32(l)
		if l <= litBits {
			if s < 256 {
				shortest = min(shortest, l)
			}
			for i := code; i <= litMask; i += 1 << l {
				t[i] = e
			}
			continue
		}
		// Codes come in ascending order, so that a second table is begun by the
		// one whose rest is all zeros.
		if code>>litBits == 0 {
			t[code] = noCode | flagSub | uint32(second)<<16
			second += litSubMask + 1
		}
		at := int(t[code&litMask] >> 16)
		for i := code >> litBits; i <= litSubMask; i += 1 << (l - litBits) {
			t[at+i] = e
		}
	}
	if 2*shortest > litBits {
		return true
	}
	// Two literals in one entry, where both fit. Downwards: the second one is
	// looked up at a lower place, where entries are still of one.
	for i := litMask; i >= 0; i-- {
		e := t[i]
		if e&flagLits == 0 {
			continue
		}
		f := t[i>>(e&63)]
		if n := e&63 + f&63; f&flagLits == oneLit && n <= litBits {
			t[i] = n | twoLits | e&0xFF0000 | f&0xFF0000<<8
		}
	}
	return true
}

func (t *distTable) build(lengths []uint8) bool {
	var buf [288]code
	codes, complete, ok := assign(&buf, lengths)
	if !ok {
		return false
	}
	if !complete {
		for i := range t[:distMask+1] {
			t[i] = noCode
		}
	}
	second := distMask + 1
	for _, c := range codes {
		s, l, code := c.symbol, c.length, int(c.bits)
		e := distEntries[s] + uint32(l)
		if l <= distBits {
			for i := code; i <= distMask; i += 1 << l {
				t[i] = e
			}
			continue
		}
		if code>>distBits == 0 {
			t[code] = noCode | flagSub | uint32(second)<<16
			second += distSubMask + 1
		}
		at := int(t[code&distMask] >> 16)
		for i := code >> distBits; i <= distSubMask; i += 1 << (l - distBits) {
			t[at+i] = e
		}
	}
	return true
}

func (t *lenTable) build(lengths []uint8) bool {
	var buf [288]code
	codes, _, ok := assign(&buf, lengths)
	if !ok {
		return false
	}
	for _, c := range codes {
		s, l, code := c.symbol, c.length, int(c.bits)
		for i := code; i < len(t); i += 1 << l {
			t[i] = s | uint16(l)<<8
		}
	}
	return true
}
