package measure

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Packed counts are the counts, and their sums those that plain addition gives.
func TestPackedCountsAreTheCounts(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	kinds := map[string]func(v int) uint64{
		"none":        func(int) uint64 { return 0 },
		"few":         func(int) uint64 { return rng.Uint64N(100) * rng.Uint64N(2) },
		"many":        func(int) uint64 { return rng.Uint64N(1 << 32) },
		"one code":    func(v int) uint64 { return map[int]uint64{40000: 2_560_000_000}[v] },
		"ends":        func(v int) uint64 { return map[int]uint64{0: 127, 65535: 128, 65534: 1}[v] },
		"8 bit in 16": func(v int) uint64 { return map[bool]uint64{true: 16383 + uint64(v%3)}[v%257 == 0] },
	}
	for name, of := range kinds {
		for _, codes := range []int{65536, 5000} {
			plain := make([]uint64, codes)
			for v := range plain {
				plain[v] = of(v)
			}
			h := Histogram{Max: codes - 1, Counts: [3][]uint64{slices.Clone(plain), slices.Clone(plain), make([]uint64, codes)}}
			h.pack()
			if h.Counts[0] != nil || !slices.Equal(h.Channel(0), plain) || !slices.Equal(h.Channel(1), plain) || slices.Max(h.Channel(2)) != 0 {
				t.Errorf("%s, %d codes: unpacked counts differ", name, codes)
			}
			for range 300 {
				lo, hi := rng.IntN(codes+20)-10, rng.IntN(codes+20)-10
				if got, want := h.sum(0, lo, hi), sum(plain, lo, hi); got != want {
					t.Fatalf("%s, %d codes: %d pixels from %d to %d, want %d", name, codes, got, lo, hi, want)
				}
			}
		}
	}
}

// A thousand scans of 2.8 million pixels keep a histogram each within 300 kB, where plain
// counts take 1.5 MB.
func TestPackedCountsAreSmall(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 3))
	counts := make([]uint64, 65536)
	for range 2048 * 1365 {
		counts[min(65535, int(rng.ExpFloat64()*12000))]++
	}
	if n := 3 * len(pack(counts).text); n > 300_000 {
		t.Errorf("%d bytes", n)
	}
}
