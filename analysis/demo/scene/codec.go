package scene

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
)

// The packed form of a Radiance: log2 of the light in steps of 1/128 stop from
// 2^-12 up (darker light is set to it), green as it is, red and blue as
// differences from green, each predicted from the left and upper neighbours and
// deflated. The quantisation error is 1/256 stop at most, 0.27 %. The picture
// is cut into stripes that unpack side by side.
//
//	"SLsc1" | width u32 | height u32 | stripes u32 | stripe bytes u32... | data
const (
	packMagic  = "SLsc1"
	packSteps  = 128
	packLowest = -12
	packMax    = 20 * packSteps
	stripes    = 8
)

func packCode(v float32) int32 {
	l := (math.Log2(math.Max(float64(v), 1e-9)) - packLowest) * packSteps
	return int32(clamp(math.Round(l), 0, packMax))
}

// predict is the median edge detector of LOCO-I (Weinberger et al. 2000).
func predict(a, b, c int32) int32 {
	switch {
	case c >= max(a, b):
		return min(a, b)
	case c <= min(a, b):
		return max(a, b)
	}
	return a + b - c
}

// Pack writes the packed form.
func (r *Radiance) Pack(w io.Writer) error {
	head := append([]byte(packMagic), make([]byte, 12)...)
	binary.LittleEndian.PutUint32(head[5:], uint32(r.W))
	binary.LittleEndian.PutUint32(head[9:], uint32(r.H))
	binary.LittleEndian.PutUint32(head[13:], stripes)
	var data []byte
	for s := range stripes {
		z, err := r.packStripe(s*r.H/stripes, (s+1)*r.H/stripes)
		if err != nil {
			return err
		}
		head = binary.LittleEndian.AppendUint32(head, uint32(len(z)))
		data = append(data, z...)
	}
	if _, err := w.Write(head); err != nil {
		return err
	}
	_, err := w.Write(data)
	return err
}

func (r *Radiance) packStripe(y0, y1 int) ([]byte, error) {
	n := r.W * (y1 - y0)
	plane := make([][]int32, 3)
	for c := range plane {
		plane[c] = make([]int32, n)
	}
	for i := range n {
		at := 3 * (y0*r.W + i)
		red, green, blue := packCode(r.Pix[at]), packCode(r.Pix[at+1]), packCode(r.Pix[at+2])
		plane[0][i], plane[1][i], plane[2][i] = green, red-green, blue-green
	}
	var raw []byte
	for _, p := range plane {
		lo, hi := make([]byte, n), make([]byte, n)
		for i := range p {
			var a, b, c int32
			if i%r.W > 0 {
				a = p[i-1]
			}
			if i >= r.W {
				b = p[i-r.W]
				if i%r.W > 0 {
					c = p[i-r.W-1]
				} else {
					a, c = b, b
				}
			} else {
				b, c = a, a
			}
			d := p[i] - predict(a, b, c)
			z := uint32(d<<1) ^ uint32(d>>31)
			lo[i], hi[i] = byte(z), byte(z>>8)
		}
		raw = append(append(raw, lo...), hi...)
	}
	var z bytes.Buffer
	f, err := flate.NewWriter(&z, flate.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := f.Write(raw); err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	return z.Bytes(), nil
}

var errPacked = errors.New("the packed scene is damaged")

// Unpack reads what Pack wrote.
func Unpack(b []byte) (*Radiance, error) {
	if len(b) < 17 || string(b[:5]) != packMagic {
		return nil, errPacked
	}
	w, h := int(binary.LittleEndian.Uint32(b[5:])), int(binary.LittleEndian.Uint32(b[9:]))
	n := int(binary.LittleEndian.Uint32(b[13:]))
	if err := checkSize(w, h); err != nil {
		return nil, fmt.Errorf("%w: %w", errPacked, err)
	}
	if n < 1 || n > h || n > 4096 || len(b) < 17+4*n {
		return nil, errPacked
	}
	r := New(w, h)
	light := make([]float32, packMax+1)
	for i := range light {
		light[i] = float32(math.Exp2(float64(i)/packSteps + packLowest))
	}
	errs := make([]error, n)
	var wg sync.WaitGroup
	at := 17 + 4*n
	for s := range n {
		size := int(binary.LittleEndian.Uint32(b[17+4*s:]))
		if size > len(b)-at {
			return nil, errPacked
		}
		z := b[at : at+size]
		at += size
		wg.Go(func() { errs[s] = r.unpackStripe(z, s*h/n, (s+1)*h/n, light) })
	}
	wg.Wait()
	return r, errors.Join(errs...)
}

func (r *Radiance) unpackStripe(z []byte, y0, y1 int, light []float32) error {
	n := r.W * (y1 - y0)
	raw := make([]byte, 6*n)
	if _, err := io.ReadFull(flate.NewReader(bytes.NewReader(z)), raw); err != nil {
		return errPacked
	}
	var plane [3][]int32
	for c := range plane {
		lo, hi := raw[2*c*n:(2*c+1)*n], raw[(2*c+1)*n:(2*c+2)*n]
		p := make([]int32, n)
		for y := 0; y < n; y += r.W {
			row := p[y : y+r.W]
			var up []int32
			if y > 0 {
				up = p[y-r.W : y]
			}
			var a, c0 int32
			for x := range row {
				v := uint32(lo[y+x]) | uint32(hi[y+x])<<8
				d := int32(v>>1) ^ -int32(v&1)
				var q int32
				if up == nil {
					q = a
				} else {
					b := up[x]
					if x == 0 {
						a, c0 = b, b
					}
					q = predict(a, b, c0)
					c0 = b
				}
				a = q + d
				row[x] = a
			}
		}
		plane[c] = p
	}
	pix := r.Pix[3*y0*r.W:]
	for i := range n {
		g := plane[0][i]
		red, blue := plane[1][i]+g, plane[2][i]+g
		if uint32(g) > packMax || uint32(red) > packMax || uint32(blue) > packMax {
			return errPacked
		}
		pix[3*i], pix[3*i+1], pix[3*i+2] = light[red], light[g], light[blue]
	}
	return nil
}
