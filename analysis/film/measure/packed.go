package measure

import "encoding/binary"

// packed is one channel's counts of 16-bit codes in a fraction of the 512 kB that they
// take as whole numbers: a roll of a thousand scans keeps those of all of them. Counts
// stand one after the other as variable-length integers of seven bits a byte (one byte
// below 128 pixels, two below 16,384), a run of codes without pixels as 0 and its length.
type packed struct {
	text  []byte
	start []uint32 // of each block in text; runs end with their block
	below []uint64 // pixels below each block, and of all
	n     int      // codes
}

// packBlock is how many codes a block has, so that a sum unpacks at most two in part.
const packBlock = 1024

// packLeast is the number of codes from which packing is worth it.
const packLeast = 4 * packBlock

func pack(counts []uint64) *packed {
	p := &packed{n: len(counts)}
	all := uint64(0)
	text := make([]byte, 0, 2*len(counts))
	for at := 0; at < len(counts); at += packBlock {
		p.start, p.below = append(p.start, uint32(len(text))), append(p.below, all)
		block := counts[at:min(at+packBlock, len(counts))]
		for i := 0; i < len(block); i++ {
			n := block[i]
			all += n
			text = binary.AppendUvarint(text, n)
			if n != 0 {
				continue
			}
			run := 1
			for i+run < len(block) && block[i+run] == 0 {
				run++
			}
			text = binary.AppendUvarint(text, uint64(run))
			i += run - 1
		}
	}
	p.below = append(p.below, all)
	p.text = append(make([]byte, 0, len(text)), text...)
	return p
}

// block unpacks the k-th block to the front of dst, which has room for it.
func (p *packed) block(k int, dst []uint64) []uint64 {
	dst = dst[:min(packBlock, p.n-k*packBlock)]
	text := p.text[p.start[k]:]
	for i := 0; i < len(dst); {
		n, used := uint64(text[0]), 1
		if n >= 0x80 {
			n, used = binary.Uvarint(text)
		}
		text = text[used:]
		if n != 0 {
			dst[i] = n
			i++
			continue
		}
		run, used := binary.Uvarint(text)
		text = text[used:]
		clear(dst[i : i+int(run)])
		i += int(run)
	}
	return dst
}

func (p *packed) all() []uint64 {
	out := make([]uint64, p.n)
	for k := range p.start {
		p.block(k, out[k*packBlock:])
	}
	return out
}

// sum adds the counts of the codes lo to hi, both included.
func (p *packed) sum(lo, hi int) uint64 {
	lo, hi = max(0, lo), min(hi, p.n-1)
	if lo > hi {
		return 0
	}
	return p.under(hi+1) - p.under(lo)
}

// under adds the counts of all codes below v, 0..n.
func (p *packed) under(v int) uint64 {
	k := v / packBlock
	s := p.below[k]
	if rest := v % packBlock; rest > 0 {
		var buf [packBlock]uint64
		for _, n := range p.block(k, buf[:])[:rest] {
			s += n
		}
	}
	return s
}

// Channel returns the counts of a channel (0 red, 1 green, 2 blue), one for each code
// from 0 to Max. They may be the histogram's own: they are not to be changed.
func (h *Histogram) Channel(c int) []uint64 {
	if h.packed[c] != nil {
		return h.packed[c].all()
	}
	return h.Counts[c]
}

// sum adds a channel's pixels of the codes lo to hi, both included.
func (h *Histogram) sum(c, lo, hi int) uint64 {
	if h.packed[c] != nil {
		return h.packed[c].sum(lo, hi)
	}
	return sum(h.Counts[c], lo, hi)
}

// pack makes the histogram small once everything is counted.
func (h *Histogram) pack() {
	if h.Max+1 < packLeast {
		return
	}
	for c := range h.Counts {
		h.packed[c], h.Counts[c] = pack(h.Counts[c]), nil
	}
}
