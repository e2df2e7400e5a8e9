package unpack

import (
	"encoding/binary"
	"io"
)

const (
	deflateHistory = 32 << 10
	deflateWindow  = 192 << 10
	longestMatch   = 258
	// What the fast loop may write beyond the byte it checked for: four literal
	// entries of two bytes each, one match, and a store of eight bytes.
	deflateSlack = 4*2 + longestMatch + 8
)

// Deflate decodes a zlib stream (RFC 1950, RFC 1951), which both Deflate
// compressions of TIFF are. Check verifies the checksum at the stream's end.
type Deflate struct {
	in  input
	out window
	sum adler // of what was handed out

	bits  uint64 // unread bits, the next one lowest
	count uint   // of them

	state   deflateState
	last    bool // the block is the last one
	stored  int  // bytes left of a stored block
	goal    int  // decode no further than about here in the window
	lit     litTable
	dist    distTable
	lengths [288 + 32]uint8
}

type deflateState uint8

const (
	deflateStart deflateState = iota // before the zlib header
	deflateHeader
	deflateStored
	deflateCodes
	deflateDone
)

// Reset begins anew.
func (z *Deflate) Reset(src io.Reader) {
	z.in.reset(src)
	z.out.reset()
	z.sum.reset()
	z.bits, z.count, z.state, z.last = 0, 0, deflateStart, false
}

// Next is described at Decoder.
func (z *Deflate) Next(n int) ([]byte, error) {
	b, err := z.out.next(n, z.more)
	z.sum.add(b)
	return b, err
}

// Check reads on to the end of the stream, at most about most bytes of what it
// holds, and compares its checksum. It returns ErrCorrupt where that does not fit or
// what is left cannot be decoded, and io.ErrUnexpectedEOF where it ends in between.
// A stream that goes on for longer, or that ends before its checksum or with a whole
// block, cannot be checked and passes.
func (z *Deflate) Check(most int) error {
	for z.state != deflateDone || z.out.end > z.out.read {
		if z.state == deflateHeader && !z.last && !z.need(1) && z.in.why() == io.ErrUnexpectedEOF {
			return nil
		}
		b, err := z.Next(max(1, min(z.out.end-z.out.read, 64<<10)))
		if err != nil && z.state != deflateDone {
			return err
		}
		if most -= len(b); most < 0 {
			return nil
		}
	}
	z.drop(z.count % 8)
	var want uint32
	for i := range 4 {
		v, ok := z.take(8)
		if !ok && i == 0 && z.in.why() == io.ErrUnexpectedEOF {
			return nil
		}
		if !ok {
			return z.in.why()
		}
		want = want<<8 | uint32(v)
	}
	if want != z.sum.sum() {
		return ErrCorrupt
	}
	return nil
}

func (z *Deflate) more(n int) error {
	need := n + 2*deflateSlack
	if z.out.buf == nil {
		z.out.grow(max(deflateWindow, 2*deflateHistory+need))
	}
	if from := min(z.out.read, z.out.end-deflateHistory); from > 0 && (len(z.out.buf)-z.out.end < deflateWindow/4 || len(z.out.buf)-z.out.read < need) {
		z.out.slide(from)
	}
	z.out.grow(z.out.read + need)
	z.goal = z.out.read + n
	return z.step()
}

// step decodes up to the end of a block, or until the window is full.
func (z *Deflate) step() error {
	switch z.state {
	case deflateStart:
		head, ok := z.take(16)
		if !ok {
			return z.in.why()
		}
		cmf, flg := head&255, head>>8
		if cmf&15 != 8 || cmf>>4 > 7 || (cmf<<8|flg)%31 != 0 || flg&0x20 != 0 {
			return ErrCorrupt
		}
		z.state = deflateHeader
	case deflateHeader:
		if z.last {
			z.state = deflateDone
			return nil
		}
		return z.header()
	case deflateStored:
		return z.copyStored()
	case deflateCodes:
		return z.codes()
	case deflateDone:
		return io.ErrUnexpectedEOF
	}
	return nil
}

// need brings at least n <= 48 bits in, if the source has them.
func (z *Deflate) need(n uint) bool {
	for z.count < n {
		if !z.in.fill(1) {
			return false
		}
		z.bits |= uint64(z.in.buf[z.in.pos]) << z.count
		z.in.pos++
		z.count += 8
	}
	return true
}

func (z *Deflate) drop(n uint) {
	z.bits >>= n
	z.count -= n
}

// take reads n <= 16 bits.
func (z *Deflate) take(n uint) (int, bool) {
	if !z.need(n) {
		return 0, false
	}
	v := int(z.bits & (1<<n - 1))
	z.drop(n)
	return v, true
}

// header reads the head of a block (RFC 1951, 3.2.3).
func (z *Deflate) header() error {
	kind, ok := z.take(3)
	if !ok {
		return z.in.why()
	}
	z.last = kind&1 != 0
	switch kind >> 1 {
	case 0:
		z.drop(z.count % 8)
		n, ok1 := z.take(16)
		inverse, ok2 := z.take(16)
		if !ok1 || !ok2 {
			return z.in.why()
		}
		if n != ^inverse&0xFFFF {
			return ErrCorrupt
		}
		z.stored, z.state = n, deflateStored
		return nil
	case 1:
		fixedLengths(&z.lengths)
		if !z.lit.build(z.lengths[:288]) || !z.dist.build(z.lengths[288:]) {
			return ErrCorrupt
		}
	case 2:
		if err := z.readLengths(); err != nil {
			return err
		}
	default:
		return ErrCorrupt
	}
	z.state = deflateCodes
	return nil
}

func fixedLengths(l *[288 + 32]uint8) {
	for i := range 288 {
		switch {
		case i < 144:
			l[i] = 8
		case i < 256:
			l[i] = 9
		case i < 280:
			l[i] = 7
		default:
			l[i] = 8
		}
	}
	for i := range 32 {
		l[288+i] = 5
	}
}

// lengthOrder is the order of the code length codes (RFC 1951, 3.2.7).
var lengthOrder = [19]int{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15}

func (z *Deflate) readLengths() error {
	head, ok := z.take(14)
	if !ok {
		return z.in.why()
	}
	nLit, nDist, nLen := head&31+257, head>>5&31+1, head>>10+4
	if nLit > 286 {
		return ErrCorrupt
	}
	var lens [19]uint8
	for _, at := range lengthOrder[:nLen] {
		v, ok := z.take(3)
		if !ok {
			return z.in.why()
		}
		lens[at] = uint8(v)
	}
	var code lenTable
	if !code.build(lens[:]) {
		return ErrCorrupt
	}
	all := &z.lengths
	for i := 0; i < nLit+nDist; {
		z.need(7) // fewer may be enough
		e := code[z.bits&127]
		n := uint(e >> 8)
		if n == 0 {
			return ErrCorrupt
		}
		if n > z.count {
			return z.in.why()
		}
		z.drop(n)
		v, repeat := uint8(e), 1
		switch {
		case v == 16:
			if i == 0 {
				return ErrCorrupt
			}
			v = all[i-1]
			repeat, ok = z.take(2)
			repeat += 3
		case v == 17:
			v = 0
			repeat, ok = z.take(3)
			repeat += 3
		case v == 18:
			v = 0
			repeat, ok = z.take(7)
			repeat += 11
		}
		if !ok {
			return z.in.why()
		}
		if i+repeat > nLit+nDist {
			return ErrCorrupt
		}
		for range repeat {
			all[i] = v
			i++
		}
	}
	if all[256] == 0 { // a block that cannot end
		return ErrCorrupt
	}
	if !z.dist.build(all[nLit:nLit+nDist]) || !z.lit.build(all[:nLit]) {
		return ErrCorrupt
	}
	return nil
}

func (z *Deflate) copyStored() error {
	for z.stored > 0 {
		room := z.out.buf[z.out.end:]
		if len(room) == 0 {
			return nil
		}
		if z.count > 0 { // whole bytes that were read ahead
			room[0] = byte(z.bits)
			z.drop(8)
			z.out.end++
			z.stored--
			continue
		}
		if !z.in.fill(1) {
			return z.in.why()
		}
		n := copy(room[:min(len(room), z.stored)], z.in.buf[z.in.pos:z.in.end])
		z.in.pos += n
		z.out.end += n
		z.stored -= n
	}
	z.state = deflateHeader
	return nil
}

// codes decodes the symbols of a block.
func (z *Deflate) codes() error {
	for {
		if z.fast(); z.state != deflateCodes {
			return nil
		}
		if len(z.out.buf)-z.out.end < deflateSlack || z.out.end >= z.goal {
			return nil
		}
		// Near the end of the input: one symbol, with all checks.
		z.in.fill(64)
		if err := z.symbol(); err != nil || z.state != deflateCodes {
			return err
		}
	}
}

// fast decodes while there is plenty of input and room. What is damaged it
// leaves to symbol, which finds it again and says so.
//
// Of count the lower six bits alone count here: what is taken off it is the whole
// entry, of which they are the lower ones.
func (z *Deflate) fast() {
	room := min(len(z.out.buf), z.goal-1+deflateSlack)
	dst, at := z.out.buf[:room:room], z.out.end
	src := z.in.buf[z.in.pos:z.in.end:z.in.end]
	bits, count := z.bits, z.count
	for len(src) >= 16 && at+deflateSlack <= len(dst) {
		bits |= binary.LittleEndian.Uint64(src) << (count & 63)
		src = src[^count>>3&7:]
		count |= 56
		// 56 bits are there: four entries of at most 11. Two bytes are stored
		// always; when the entry is of one, the next overwrites the second.
		e := z.lit[bits&litMask]
		if e&flagLits != 0 {
			bits >>= e & 63
			count -= uint(e)
			binary.LittleEndian.PutUint16(dst[at:at+2:at+2], uint16(e>>16))
			at += int(e >> 6 & 3)
			if e = z.lit[bits&litMask]; e&flagLits != 0 {
				bits >>= e & 63
				count -= uint(e)
				binary.LittleEndian.PutUint16(dst[at:at+2:at+2], uint16(e>>16))
				at += int(e >> 6 & 3)
				if e = z.lit[bits&litMask]; e&flagLits != 0 {
					bits >>= e & 63
					count -= uint(e)
					binary.LittleEndian.PutUint16(dst[at:at+2:at+2], uint16(e>>16))
					at += int(e >> 6 & 3)
					if e = z.lit[bits&litMask]; e&flagLits != 0 {
						bits >>= e & 63
						count -= uint(e)
						binary.LittleEndian.PutUint16(dst[at:at+2:at+2], uint16(e>>16))
						at += int(e >> 6 & 3)
						continue
					}
				}
			}
			// A length and its distance take up to 48 bits.
			bits |= binary.LittleEndian.Uint64(src) << (count & 63)
			src = src[^count>>3&7:]
			count |= 56
		}
		if e&flagRare != 0 {
			if e&flagSub != 0 {
				e = z.lit[(int(e>>16)+int(bits>>litBits&litSubMask))&litIndex]
			}
			if e&flagLits != 0 {
				dst[at] = byte(e >> 16)
				at++
				bits >>= e & 63
				count -= uint(e)
				continue
			}
			if e&flagRare != 0 {
				if e&flagEnd != 0 {
					bits >>= e & 63
					count -= uint(e)
					z.state = deflateHeader
				}
				break
			}
		}
		extra := e >> 8 & 15
		length := int(e>>16) + int(bits>>((e-extra)&63)&(1<<extra-1))
		b := bits >> (e & 63)
		d := z.dist[b&distMask]
		if d&flagSub != 0 {
			d = z.dist[(int(d>>16)+int(b>>distBits&distSubMask))&distIndex]
		}
		extra = d >> 8 & 15
		back := int(d>>16) + int(b>>((d-extra)&63)&(1<<extra-1))
		if d&flagRare != 0 || back > at {
			break
		}
		bits = b >> (d & 63)
		count -= uint(e) + uint(d)
		if back >= 8 {
			from := at - back
			for i := 0; i < length; i += 8 {
				binary.LittleEndian.PutUint64(dst[at+i:], binary.LittleEndian.Uint64(dst[from+i:]))
			}
		} else {
			copyWithin(dst, at, at-back, length)
		}
		at += length
	}
	count &= 63
	z.bits, z.count, z.in.pos, z.out.end = bits&(1<<count-1), count, z.in.end-len(src), at
}

// symbol decodes one symbol; there is room for the longest.
func (z *Deflate) symbol() error {
	z.need(48) // less may be enough
	e := z.lit[z.bits&litMask]
	if e&flagSub != 0 {
		e = z.lit[(int(e>>16)+int(z.bits>>litBits&litSubMask))&litIndex]
	}
	if e&flagRare != 0 && e&flagEnd == 0 {
		if z.count < 15 && z.in.err != nil {
			return z.in.why()
		}
		return ErrCorrupt
	}
	if uint(e&63) > z.count {
		return z.in.why()
	}
	extra := e >> 8 & 15
	value := int(e>>16) + int(z.bits>>((e-extra)&63)&(1<<extra-1))
	z.drop(uint(e & 63))
	dst := z.out.buf
	switch {
	case e&flagLits != 0:
		binary.LittleEndian.PutUint16(dst[z.out.end:], uint16(value))
		z.out.end += int(e >> 6 & 3)
		return nil
	case e&flagEnd != 0:
		z.state = deflateHeader
		return nil
	}
	d := z.dist[z.bits&distMask]
	if d&flagSub != 0 {
		d = z.dist[(int(d>>16)+int(z.bits>>distBits&distSubMask))&distIndex]
	}
	if d&flagRare != 0 {
		if z.count < 15 && z.in.err != nil {
			return z.in.why()
		}
		return ErrCorrupt
	}
	if uint(d&63) > z.count {
		return z.in.why()
	}
	extra = d >> 8 & 15
	back := int(d>>16) + int(z.bits>>((d-extra)&63)&(1<<extra-1))
	z.drop(uint(d & 63))
	if back > z.out.end {
		return ErrCorrupt
	}
	copyWithin(dst, z.out.end, z.out.end-back, value)
	z.out.end += value
	return nil
}
