package render

import (
	"image"
	"testing"

	"golang.org/x/image/math/f64"
)

func BenchmarkBetween1400x1200(b *testing.B) {
	p := benchPicture()
	q := p
	turned := f64.Aff3{1, 0.002, 3, -0.002, 1, 5}
	q.ToThis = &turned
	dst := image.NewRGBA(image.Rect(0, 0, 1400, 1200))
	v := View{0.5, 0.5, 0.2}
	tables := [2]*[3][]uint32{{}, {}}
	for i, t := range tables {
		for k := range t {
			t[k] = make([]uint32, 1<<16)
			for c := range t[k] {
				moved, weight := c, c
				if i == 1 {
					moved, weight = min(c+c/3, 1<<16-1), 1<<16-1-c
				}
				t[k][c] = uint32(moved)<<16 | uint32(weight)
			}
		}
	}
	bt := &Between{Lower: p, Upper: q, LowerTable: tables[0], UpperTable: tables[1]}
	all := Overlay{Blown: true, Blocked: true}
	s := NewSampler(100 << 20)
	for _, c := range []struct {
		name  string
		draft bool
		o     Overlay
		s     *Sampler
	}{{"fine", false, Overlay{}, s}, {"fineMasks", false, all, s}, {"draft", true, Overlay{}, s}, {"unsampled", false, Overlay{}, nil}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				c.s.Between(dst, bt, v, c.o, c.draft)
			}
		})
	}
	b.Run("differenceLight", func(b *testing.B) {
		for b.Loop() {
			s.Difference(dst, p, q, v, DifferenceOptions{}, false)
		}
	})
	b.Run("differenceColour", func(b *testing.B) {
		for b.Loop() {
			s.Difference(dst, p, q, v, DifferenceOptions{Kind: DifferenceColour}, false)
		}
	})
}
