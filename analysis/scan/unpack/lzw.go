package unpack

import (
	"encoding/binary"
	"io"
)

const (
	lzwClear = 256
	lzwEnd   = 257
	lzwFirst = 258
	lzwCodes = 4096

	lzwLongest = lzwCodes // a string grows by one byte a code
	// No string table has seen more than this before it is full: 3838 codes,
	// each of a string one byte longer than the one before.
	lzwMostHistory = (lzwCodes - lzwFirst) * (lzwCodes - lzwFirst + 1) / 2
	lzwWindow      = 256 << 10
)

// LZW decodes TIFF 6.0, section 13: codes of 9 to 12 bits, most significant bit
// first, the width growing one code early.
//
// Every string in the table is a piece of what has been decoded already. Strings
// of up to seven bytes, which noise consists of, are kept in the table itself, so
// that a code costs one load and one store without a branch on its length; longer
// ones are copied from where they were decoded.
type LZW struct {
	in  input
	out window

	bits  uint64 // unread bits, the next one on top
	count uint   // of them

	// short is the first seven bytes of a string, lowest first, and on top its
	// length, 8 standing for all lengths above seven.
	short [lzwCodes]uint64
	// long is where a string stands in out, and from bit 32 on its length.
	long [lzwCodes]uint64

	next    int    // the code that comes into being next
	width   uint   // of a code, in bits
	last    uint64 // short form of the string before, 0 after a clear
	lastAt  int    // and where it stands
	lastLen int
	history int // where the oldest string in use may stand
	frozen  int // once the table is full: the end of what it refers to
	ended   bool
	goal    int // decode no further than about here in the window
}

// Reset begins anew.
func (z *LZW) Reset(src io.Reader) {
	z.in.reset(src)
	if z.out.buf == nil {
		z.out.buf = make([]byte, lzwWindow)
		for i := range 256 {
			z.short[i] = uint64(i) | 1<<56
		}
	}
	z.out.reset()
	z.bits, z.count, z.ended = 0, 0, false
	z.clear()
}

func (z *LZW) clear() {
	z.next, z.width, z.last = lzwFirst, 9, 0
	z.history, z.frozen = z.out.end, 0
}

// Next is described at Decoder.
func (z *LZW) Next(n int) ([]byte, error) { return z.out.next(n, z.more) }

func (z *LZW) more(n int) error {
	if z.ended {
		return io.ErrUnexpectedEOF
	}
	z.room(n)
	z.goal = z.out.read + n
	return z.run()
}

// room makes sure that n bytes from the read position on, and one string more,
// fit into the window.
func (z *LZW) room(n int) {
	w := &z.out
	need := n + lzwLongest + 64
	if z.frozen > 0 && w.read > z.frozen {
		// The table is full: what came after is referred to by nobody.
		copy(w.buf[z.frozen:], w.buf[w.read:w.end])
		w.end -= w.read - z.frozen
		w.read = z.frozen
	}
	if len(w.buf)-w.read >= need && len(w.buf)-w.end >= lzwLongest+64 {
		return
	}
	if from := min(z.history, w.read); from > 0 {
		w.slide(from)
		z.history -= from
		z.lastAt -= from
		if z.frozen > 0 {
			z.frozen -= from
		}
		for c := lzwFirst; c < z.next; c++ {
			z.long[c] -= uint64(from)
		}
	}
	if len(w.buf)-w.read < need || len(w.buf)-w.end < lzwLongest+64 {
		w.grow(min(2*len(w.buf), lzwMostHistory) + need)
	}
}

// run decodes until the window is full or the data ends. It is one function however
// long, for it is passed once for every code of a file: taken apart, what stands in
// registers here (bits, place and the string before) would go through memory at
// every call.
func (z *LZW) run() error {
	dst := z.out.buf
	at := z.out.end
	most := min(len(dst)-lzwLongest-16, z.goal)
	bits, count := z.bits, z.count
	src, pos := z.in.buf[:z.in.end], z.in.pos
	next, width, last, lastAt, lastLen := z.next, z.width, z.last, z.lastAt, z.lastLen
	var err error
	for at < most {
		// The ordinary case: a string is known, four codes are in hand, none of them
		// is special.
	ordinary:
		for last != 0 && next < lzwCodes && pos+8 <= len(src) && at < most {
			bits |= binary.BigEndian.Uint64(src[pos:]) >> (count & 63)
			pos += int(63-count) >> 3
			count |= 56
			grow, down := 1<<width-1, 64-width
			for range 4 {
				code := int(bits >> (down & 63))
				if code >= next || code&^1 == lzwClear {
					break ordinary
				}
				bits <<= width & 63
				count -= width
				e := z.short[code&(lzwCodes-1)]
				start := at
				n := int(e >> 56)
				if n <= 7 {
					binary.LittleEndian.PutUint64(dst[at:], e)
				} else {
					l := z.long[code&(lzwCodes-1)]
					n = int(l >> 32)
					copyWithin(dst, at, int(uint32(l)), n)
				}
				at += n
				if last>>56 < 7 { // join, by hand
					last += 1<<56 + (e&255)<<(last>>56<<3&63)
				} else {
					last = last&(1<<56-1) | 8<<56
				}
				z.short[next&(lzwCodes-1)] = last
				z.long[next&(lzwCodes-1)] = uint64(lastAt) | uint64(lastLen+1)<<32
				last, lastAt, lastLen = e, start, n
				if next++; next == grow {
					if next == lzwCodes-1 {
						continue // codes grow no longer than 12 bits
					}
					width++
					continue ordinary
				}
				if next == lzwCodes {
					z.frozen = at
					continue ordinary
				}
				if at >= most {
					continue ordinary
				}
			}
		}
		if at >= most {
			break
		}
		if count < 12 {
			if pos+8 <= len(src) {
				bits |= binary.BigEndian.Uint64(src[pos:]) >> (count & 63)
				pos += int(63-count) >> 3
				count |= 56
			} else {
				z.in.pos = pos
				if z.in.fill(8) {
					src, pos = z.in.buf[:z.in.end], z.in.pos
					continue
				}
				src, pos = z.in.buf[:z.in.end], z.in.pos
				// Near the end, byte by byte. What a load of eight bytes left
				// below count is taken out first: it would be added twice.
				bits = bits >> (64 - count) << (64 - count)
				for count <= 56 && pos < len(src) {
					bits |= uint64(src[pos]) << (56 - count)
					pos++
					count += 8
				}
				if count < width {
					err = z.in.why()
					break
				}
			}
		}
		code := int(bits>>((64-width)&63)) & (lzwCodes - 1)
		if count < width { // the last bits of the data
			err = z.in.why()
			break
		}
		bits <<= width & 63
		count -= width
		if code >= next {
			if code > next || last == 0 || next >= lzwCodes {
				err = ErrCorrupt
				break
			}
			// The string that is about to come into being: the one before and its
			// own first byte.
			z.short[code], z.long[code] = join(last, last), uint64(lastAt)|uint64(lastLen+1)<<32
		} else if code == lzwClear || code == lzwEnd {
			if code == lzwEnd {
				z.ended = true
				break
			}
			z.out.end = at
			z.clear()
			next, width, last = z.next, z.width, 0
			continue
		}
		e := z.short[code]
		start := at
		n := int(e >> 56)
		if n <= 7 {
			binary.LittleEndian.PutUint64(dst[at:], e)
			at += n
		} else {
			l := z.long[code]
			from := int(uint32(l))
			n = int(l >> 32)
			if n > lzwLongest || from+n > at+1 || at+n > len(dst) {
				err = ErrCorrupt // cannot be; a guard against our own mistakes
				break
			}
			copyWithin(dst, at, from, n)
			at += n
		}
		if last != 0 {
			if next < lzwCodes {
				z.short[next] = join(last, e)
				z.long[next] = uint64(lastAt) | uint64(lastLen+1)<<32
				if next++; next+1 == 1<<width && width < 12 {
					width++
				}
				if next == lzwCodes {
					z.frozen = at
				}
			}
		} else if code >= 256 {
			err = ErrCorrupt
			break
		}
		last, lastAt, lastLen = e, start, n
	}
	z.bits, z.count, z.in.pos, z.out.end = bits, count, pos, at
	z.next, z.width, z.last, z.lastAt, z.lastLen = next, width, last, lastAt, lastLen
	return err
}

// join returns the short form of a string and the first byte of another.
func join(a, b uint64) uint64 {
	n := a >> 56
	if n < 7 {
		return a + 1<<56 | (b&255)<<(8*n&63)
	}
	return a&(1<<56-1) | 8<<56
}

// copyWithin copies n bytes forward from one place of b to a later one, as if
// byte by byte, so that a run repeats itself when they overlap. Up to seven
// bytes after the last may be written; b must have room for them, or they are
// not.
func copyWithin(b []byte, to, from, n int) {
	if to-from >= 8 && to+n+8 <= len(b) {
		for i := 0; i < n; i += 8 {
			binary.LittleEndian.PutUint64(b[to+i:], binary.LittleEndian.Uint64(b[from+i:]))
		}
		return
	}
	d := to - from
	if d >= n {
		copy(b[to:to+n], b[from:])
		return
	}
	for n > 0 { // each round doubles what there is to repeat
		k := copy(b[to:to+min(n, d)], b[from:from+d])
		to += k
		n -= k
		d += k
	}
}
