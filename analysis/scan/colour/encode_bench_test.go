package colour

import "testing"

func BenchmarkEncode(b *testing.B) {
	light, work, out := make([]float32, 3*6000), make([]float32, 3*6000), make([]uint16, 3*6000)
	for i := range light {
		light[i] = float32(i*7919%18000) / 18000
	}
	b.SetBytes(int64(len(out)))
	for b.Loop() {
		copy(work, light)
		SRGB.Encode(out, work)
	}
}
