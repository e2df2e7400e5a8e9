package unpack

import (
	"encoding/binary"
	"io"
	"math/bits"
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
	// lzwHead is where decoded bytes begin in the window: before them stand the 256
	// single bytes, which are strings as all others are.
	lzwHead = 256
	// lzwStep is what is copied at a time. A string is copied in whole steps, so that
	// up to so many bytes behind it are written, which the next one overwrites.
	lzwStep  = 16
	lzwSlack = lzwLongest + 5*lzwStep
)

// LZW decodes TIFF 6.0, section 13: codes of 9 to 12 bits, most significant bit
// first, the width growing one code early.
//
// Every string in the table is a piece of what has been decoded already, and is
// known by its place there: a code costs one load from the table, one copy within
// the window and one store into the table, without a branch on the length of the
// string unless it is a long one.
type LZW struct {
	in  input
	out window // from lzwHead on; before it the single bytes

	bit int // of the byte at in.pos, how many bits have been read already

	// strings holds, for every code below next, its string.
	strings [lzwCodes]lzwString

	next    int  // the code that comes into being next
	width   uint // of a code, in bits
	last    int  // where the string before stands; it ends where the window does. 0 after a clear
	history int  // where the oldest string in use may stand
	frozen  int  // once the table is full: the end of what it refers to
	ended   bool
	goal    int // decode no further than about here in the window
}

// lzwString is a string in the window: its first and its last byte. Of a code that
// stands for none the first is behind the last.
type lzwString struct{ first, last uint32 }

// lzwNone is a table without strings but the single bytes.
var lzwNone = func() (t [lzwCodes]lzwString) {
	for i := range t {
		t[i] = lzwString{1, 0}
		if i < 256 {
			t[i] = lzwString{uint32(i), uint32(i)}
		}
	}
	return t
}()

// Reset begins anew.
func (z *LZW) Reset(src io.Reader) {
	z.in.reset(src)
	if z.out.buf == nil {
		z.out.buf = make([]byte, lzwWindow)
		for i := range lzwHead {
			z.out.buf[i] = byte(i)
		}
		z.strings, z.next = lzwNone, lzwFirst
	}
	z.out.reset()
	z.out.read, z.out.end = lzwHead, lzwHead
	z.bit, z.ended = 0, false
	z.clear()
}

func (z *LZW) clear() {
	copy(z.strings[lzwFirst:z.next], lzwNone[lzwFirst:])
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
	need := n + lzwSlack + 64
	if z.frozen > 0 && w.read > z.frozen {
		// The table is full: what came after is referred to by nobody.
		copy(w.buf[z.frozen:], w.buf[w.read:w.end])
		w.end -= w.read - z.frozen
		w.read = z.frozen
	}
	if len(w.buf)-w.read >= need && len(w.buf)-w.end >= lzwSlack+64 {
		return
	}
	if from := min(z.history, w.read) - lzwHead; from > 0 {
		copy(w.buf[lzwHead:], w.buf[lzwHead+from:w.end])
		w.read -= from
		w.end -= from
		z.history -= from
		z.last = max(0, z.last-from)
		z.frozen = max(0, z.frozen-from)
		for c := lzwFirst; c < z.next; c++ {
			z.strings[c].first -= uint32(from)
			z.strings[c].last -= uint32(from)
		}
	}
	if len(w.buf)-w.read < need || len(w.buf)-w.end < lzwSlack+64 {
		w.grow(min(2*len(w.buf), lzwMostHistory) + need)
	}
}

// run decodes until the window is full or the data ends.
func (z *LZW) run() error {
	for most := min(len(z.out.buf)-lzwSlack, z.goal); z.out.end < most; {
		if z.last > 0 {
			if z.fast(); z.out.end >= most {
				break
			}
		}
		if err := z.code(); err != nil || z.ended {
			return err
		}
	}
	return nil
}

// fast decodes four codes at a time while there is plenty of input and room and the
// width stays what it is. A code that is special it leaves to code: one that clears or
// ends, or that stands for the string that comes into being with it, or for none.
//
// It is passed once for every code of a file, and so keeps no more in hand than fits
// into the registers of a processor.
func (z *LZW) fast() {
	limit := 1<<z.width - 1 // at this code the next ones are longer
	if z.width == 12 {
		limit = lzwCodes
	}
	dst := z.out.buf[:min(len(z.out.buf), z.goal+lzwSlack)]
	at, last := z.out.end, z.last
	src := z.in.buf[:z.in.end]
	bit := uint(z.in.pos)<<3 + uint(z.bit)
	width := z.width & 15
	mask := (uint64(1)<<width - 1) & (lzwCodes - 1)
	free := z.strings[z.next:limit:limit]
	for len(free) >= 4 && at+lzwSlack <= len(dst) && int(bit>>3)+8 <= len(src) {
		codes := binary.BigEndian.Uint64(src[bit>>3:]) << (bit & 7)
		to := (*[4 * lzwStep]byte)(dst[at : at+4*lzwStep : at+4*lzwStep])
		o := 0
		codes = bits.RotateLeft64(codes, int(width))
		s := z.strings[codes&mask]
		n := s.last - s.first
		if n >= lzwStep {
			break
		}
		f := int(s.first)
		*(*[lzwStep]byte)(to[o : o+lzwStep]) = *(*[lzwStep]byte)(dst[f : f+lzwStep : f+lzwStep])
		free[0] = lzwString{uint32(last), uint32(at + o)}
		bit += width
		last = at + o
		o += int(n) + 1
		codes = bits.RotateLeft64(codes, int(width))
		s = z.strings[codes&mask]
		n = s.last - s.first
		if n >= lzwStep {
			free, at = free[1:], at+o
			break
		}
		f = int(s.first)
		*(*[lzwStep]byte)(to[o : o+lzwStep]) = *(*[lzwStep]byte)(dst[f : f+lzwStep : f+lzwStep])
		free[1] = lzwString{uint32(last), uint32(at + o)}
		bit += width
		last = at + o
		o += int(n) + 1
		codes = bits.RotateLeft64(codes, int(width))
		s = z.strings[codes&mask]
		n = s.last - s.first
		if n >= lzwStep {
			free, at = free[2:], at+o
			break
		}
		f = int(s.first)
		*(*[lzwStep]byte)(to[o : o+lzwStep]) = *(*[lzwStep]byte)(dst[f : f+lzwStep : f+lzwStep])
		free[2] = lzwString{uint32(last), uint32(at + o)}
		bit += width
		last = at + o
		o += int(n) + 1
		codes = bits.RotateLeft64(codes, int(width))
		s = z.strings[codes&mask]
		n = s.last - s.first
		if n >= lzwStep {
			free, at = free[3:], at+o
			break
		}
		f = int(s.first)
		*(*[lzwStep]byte)(to[o : o+lzwStep]) = *(*[lzwStep]byte)(dst[f : f+lzwStep : f+lzwStep])
		free[3] = lzwString{uint32(last), uint32(at + o)}
		bit += width
		last = at + o
		o += int(n) + 1
		free = free[4:]
		at += o
	}
	z.in.pos, z.bit = int(bit>>3), int(bit&7)
	z.out.end, z.last, z.next = at, last, limit-len(free)
	z.grown()
}

// grown sees to what depends on how many codes there are.
func (z *LZW) grown() {
	switch {
	case z.next == lzwCodes:
		if z.frozen == 0 {
			z.frozen = z.out.end
		}
	case z.next+1 == 1<<z.width && z.width < 12:
		z.width++
	}
}

// code decodes one code, with all checks. There is room for the longest string.
func (z *LZW) code() error {
	if z.unread() < int(z.width) {
		if z.in.fill(8); z.unread() < int(z.width) {
			return z.in.why()
		}
	}
	var acc uint32 // three bytes hold the longest code wherever it begins
	for i := range 3 {
		acc <<= 8
		if z.in.pos+i < z.in.end {
			acc |= uint32(z.in.buf[z.in.pos+i])
		}
	}
	code := int(acc << (8 + z.bit) >> (32 - z.width))
	z.bit += int(z.width)
	z.in.pos += z.bit >> 3
	z.bit &= 7
	switch code {
	case lzwClear:
		z.clear()
		return nil
	case lzwEnd:
		z.ended = true
		return nil
	}
	at := z.out.end
	made := lzwString{uint32(z.last), uint32(at)} // the string before and the first byte of this one
	s := z.strings[code]
	if code >= z.next {
		if code > z.next || z.last == 0 || z.next == lzwCodes {
			return ErrCorrupt
		}
		s = made
	}
	n := int(s.last) - int(s.first) + 1
	if n <= 0 || n > lzwLongest || at+n > len(z.out.buf) {
		return ErrCorrupt // cannot be; a guard against our own mistakes
	}
	copyWithin(z.out.buf, at, int(s.first), n)
	z.out.end += n
	if z.last > 0 && z.next < lzwCodes {
		z.strings[z.next] = made
		z.next++
		z.grown()
	}
	z.last = at
	return nil
}

// unread returns how many bits of the input are at hand.
func (z *LZW) unread() int { return 8*(z.in.end-z.in.pos) - z.bit }

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
