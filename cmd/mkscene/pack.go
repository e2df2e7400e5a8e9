package main

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"io"
	"math"

	"stopladder/analysis/demo/scene"
)

// pack writes a picture in the packed form of package scene, cut into stripes.
func pack(w io.Writer, r *scene.Radiance) error {
	head := append([]byte(scene.Magic), make([]byte, 12)...)
	binary.LittleEndian.PutUint32(head[5:], uint32(r.W))
	binary.LittleEndian.PutUint32(head[9:], uint32(r.H))
	binary.LittleEndian.PutUint32(head[13:], stripes)
	var data []byte
	for s := range stripes {
		z, err := packStripe(r, s*r.H/stripes, (s+1)*r.H/stripes)
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

const stripes = 8

func packStripe(r *scene.Radiance, y0, y1 int) ([]byte, error) {
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
			d := p[i] - scene.Predict(a, b, c)
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

func packCode(v float32) int32 {
	l := (math.Log2(math.Max(float64(v), 1e-9)) - scene.LowestStop) * scene.StepsPerStop
	return int32(min(max(math.Round(l), 0), scene.MaxCode))
}
