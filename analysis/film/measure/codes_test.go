package measure

import (
	"testing"

	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// A linear scan in which every second code is in use has half of the codes of each
// stop: 65535/2^(k+2) of them, counted by hand from the definition.
func TestCodesPerStop(t *testing.T) {
	space, err := assumedSpace("Linear sRGB", 3, 65535)
	if err != nil {
		t.Fatal(err)
	}
	l := &Look{Info: scan.Info{Bits: 16, Channels: 3}, Space: space}
	l.Hist.Max = 65535
	for c := range l.Hist.Counts {
		l.Hist.Counts[c] = make([]uint64, 65536)
	}
	for v := 0; v <= 65535; v += 2 {
		l.Hist.Counts[1][v] = 3
	}
	got := l.CodesPerStop(10)
	for k, n := range got {
		want := 0
		for v := 2; v < 65535; v += 2 { // more than white/2^(k+1), at most white/2^k
			if v<<(k+1) > 65535 && v<<k <= 65535 {
				want++
			}
		}
		if n < want-1 || n > want+1 { // light is a float32: a code on the border may fall to either side
			t.Errorf("stop %d: %d codes, want %d", k, n, want)
		}
	}
	if got[9] > 70 || got[0] < 16000 {
		t.Errorf("%v", got)
	}
	srgb := &Look{Info: l.Info, Space: colour.AssumedSRGB(65535), Hist: l.Hist}
	if dark := srgb.CodesPerStop(10)[9]; dark < 2*got[9] {
		t.Errorf("a gamma leaves the dark stops more codes: %d against %d", dark, got[9])
	}
}
