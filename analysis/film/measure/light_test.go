package measure

import (
	"math/rand/v2"
	"testing"

	"stopladder/analysis/scan/colour"
)

// nearest against a search of the whole table.
func TestNearestCode(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	steps := make([]uint32, 65536)
	for i := range steps {
		steps[i] = uint32(i/5000) * 1e8
	}
	flat := make([]uint32, 300)
	srgb := newLightTable(colour.AssumedSRGB(65535), 4)
	small := newLightTable(colour.AssumedSRGB(255), 49)
	for name, light := range map[string][]uint32{"sRGB": srgb.light[0], "8 bits": small.light[0], "steps": steps, "flat": flat, "one": {7}} {
		table := newCodeTable(light)
		check := func(v uint32) {
			best := 0
			gap := func(k int) uint32 { return max(v, light[k]) - min(v, light[k]) }
			if name == "sRGB" { // ascending without steps: only neighbours matter
				best = max(0, table.first(v, 0, len(light)-1)-2)
			}
			for k := best; k < len(light) && (name != "sRGB" || k < best+5); k++ {
				if gap(k) < gap(best) {
					best = k
				}
			}
			var filled [1]uint16
			table.fill(filled[:], []uint32{v}, 1)
			if v < 1<<32-1 && int(filled[0]) != int(table.nearest(v)) {
				t.Fatalf("%s: light %d is code %d in a row, %d alone", name, v, filled[0], table.nearest(v))
			}
			if got := int(table.nearest(v)); got != best {
				t.Fatalf("%s: light %d is code %d, want %d (%d, %d)", name, v, got, best, light[got], light[best])
			}
		}
		for range 3000 {
			check(rng.Uint32() >> (rng.Uint32() % 32))
		}
		for i := 0; i < len(light); i += max(1, len(light)/1000) {
			check(light[i])
		}
		check(0)
		check(1<<32 - 1)
	}
}
