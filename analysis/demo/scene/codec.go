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
// is cut into stripes that unpack side by side. cmd/mkscene writes it.
//
//	"SLsc1" | width u32 | height u32 | stripes u32 | stripe bytes u32... | data
//
// Magic opens it, a code is (log2(light)-LowestStop)*StepsPerStop, and MaxCode the
// highest.
const (
	Magic        = "SLsc1"
	StepsPerStop = 128
	LowestStop   = -12
	MaxCode      = 20 * StepsPerStop
)

// Predict returns a value guessed from its neighbours at the left (a), above (b)
// and above left (c): the median edge detector of LOCO-I (Weinberger et al.
// 2000).
func Predict(a, b, c int32) int32 {
	switch {
	case c >= max(a, b):
		return min(a, b)
	case c <= min(a, b):
		return max(a, b)
	}
	return a + b - c
}

var errPacked = errors.New("the packed scene is damaged")

// Unpack reads the packed form.
func Unpack(b []byte) (*Radiance, error) {
	if len(b) < 17 || string(b[:5]) != Magic {
		return nil, errPacked
	}
	w, h := int(binary.LittleEndian.Uint32(b[5:])), int(binary.LittleEndian.Uint32(b[9:]))
	n := int(binary.LittleEndian.Uint32(b[13:]))
	if err := CheckSize(w, h); err != nil {
		return nil, fmt.Errorf("%w: %w", errPacked, err)
	}
	if n < 1 || n > h || n > 4096 || len(b) < 17+4*n {
		return nil, errPacked
	}
	r := New(w, h)
	light := make([]float32, MaxCode+1)
	for i := range light {
		light[i] = float32(math.Exp2(float64(i)/StepsPerStop + LowestStop))
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
					q = Predict(a, b, c0)
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
		if uint32(g) > MaxCode || uint32(red) > MaxCode || uint32(blue) > MaxCode {
			return errPacked
		}
		pix[3*i], pix[3*i+1], pix[3*i+2] = light[red], light[g], light[blue]
	}
	return nil
}
