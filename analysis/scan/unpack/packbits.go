package unpack

import "io"

// PackBits decodes TIFF 6.0, section 9.
type PackBits struct {
	in  input
	out window
	// What is left of a run.
	left   int
	repeat bool
	value  byte
}

// Reset begins anew.
func (p *PackBits) Reset(src io.Reader) {
	p.in.reset(src)
	p.out.reset()
	p.left = 0
}

// Next is described at Decoder.
func (p *PackBits) Next(n int) ([]byte, error) {
	p.out.read, p.out.end = 0, 0 // nothing refers back
	p.out.grow(n)
	err := p.run(p.out.buf[:n])
	return p.out.take(n), err
}

func (p *PackBits) run(dst []byte) error {
	at := 0
	defer func() { p.out.end = at }()
	for at < len(dst) {
		if p.left == 0 {
			if !p.in.fill(1) {
				return p.in.why()
			}
			head := int8(p.in.buf[p.in.pos])
			p.in.pos++
			switch {
			case head >= 0:
				p.left, p.repeat = int(head)+1, false
			case head == -128:
				continue
			default:
				if !p.in.fill(1) {
					return p.in.why()
				}
				p.value = p.in.buf[p.in.pos]
				p.in.pos++
				p.left, p.repeat = 1-int(head), true
			}
		}
		k := min(p.left, len(dst)-at)
		if p.repeat {
			run := dst[at : at+k]
			for i := range run {
				run[i] = p.value
			}
		} else {
			if !p.in.fill(1) {
				return p.in.why()
			}
			k = copy(dst[at:at+k], p.in.buf[p.in.pos:p.in.end])
			p.in.pos += k
		}
		at += k
		p.left -= k
	}
	return nil
}
