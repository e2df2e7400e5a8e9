package scene

import (
	"context"
	"fmt"
	"math"
)

// Upsample enlarges a picture by Catmull-Rom interpolation of its log light
// (no ringing below zero) and adds procedural micro texture, because an
// enlargement alone has none at pixel scale and a 50-megapixel scan of film
// does. The texture is an invention for tests of size, not the ray tracer's:
// at most +-4 % of the light, octaves below the original pixel only, so that
// means over an original pixel stay. Whole pictures only get larger.
func Upsample(ctx context.Context, r *Radiance, w, h int, progress func(done float64)) (*Radiance, error) {
	if w < r.W || h < r.H {
		return nil, fmt.Errorf("a scene of %d x %d pixels cannot be enlarged to %d x %d", r.W, r.H, w, h)
	}
	if err := checkSize(w, h); err != nil {
		return nil, err
	}
	src := make([]float32, len(r.Pix))
	for i, v := range r.Pix {
		src[i] = float32(math.Log2(math.Max(float64(v), 1e-9)))
	}
	sx, sy := float64(r.W)/float64(w), float64(r.H)/float64(h)
	type tap struct {
		at [4]int
		k  [4]float32
	}
	taps := func(n, size int, s float64) []tap {
		t := make([]tap, n)
		for i := range t {
			p := (float64(i)+0.5)*s - 0.5
			f := math.Floor(p)
			u := p - f
			k := [4]float64{(-u + 2*u*u - u*u*u) / 2, (2 - 5*u*u + 3*u*u*u) / 2, (u + 4*u*u - 3*u*u*u) / 2, (-u*u + u*u*u) / 2}
			for j := range 4 {
				t[i].at[j] = max(0, min(int(f)+j-1, size-1))
				t[i].k[j] = float32(k[j])
			}
		}
		return t
	}
	tx, ty := taps(w, r.W, sx), taps(h, r.H, sy)
	out := New(w, h)
	err := rows(ctx, h, progress, func(y int) {
		line := make([]float32, 3*r.W)
		t := &ty[y]
		for j := range 4 {
			k, row := t.k[j], src[3*r.W*t.at[j]:][:3*r.W]
			for i, v := range row {
				line[i] += k * v
			}
		}
		dst := out.Pix[3*w*y:][:3*w]
		for x := range tx {
			t := &tx[x]
			m := float32(0.024) * (micro(x, y, 1) + 0.7*micro(x/2, y/2, 2))
			for c := range 3 {
				l := t.k[0]*line[3*t.at[0]+c] + t.k[1]*line[3*t.at[1]+c] + t.k[2]*line[3*t.at[2]+c] + t.k[3]*line[3*t.at[3]+c]
				dst[3*x+c] = exp2(l + m)
			}
		}
	})
	return out, err
}

func micro(x, y, seed int) float32 {
	return float32(int32(hash32(uint32(x), uint32(y), uint32(seed)))) * (1.0 / (1 << 31))
}

// exp2 is 2^x to about 1e-4 relative, for a range of a hundred octaves.
func exp2(x float32) float32 {
	f := float32(math.Floor(float64(x)))
	u := x - f
	p := 1 + u*(0.69583282+u*(0.22606716+u*0.07810018))
	return p * math.Float32frombits(uint32(int32(f)+127)<<23)
}
