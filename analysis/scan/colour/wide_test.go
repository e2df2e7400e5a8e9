package colour

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// Codes of the wide encoding, read back through the profile that is written for it,
// are the colours that went in: by ourselves and by Little CMS.
func TestWide(t *testing.T) {
	s, err := FromICC(WideProfile("Wide"), 3, 65535)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(1, 9))
	var device [][]float64
	var want []LAB
	for i := range 500 {
		c := LAB{float64(i) / 5, 0, 0}
		if i%2 == 1 {
			c.A, c.B = 60*rnd.Float64()-30, 60*rnd.Float64()-30
		}
		codes, inside := WideOfLab(c)
		if !inside {
			if i%2 == 0 {
				t.Fatalf("the neutral %v lies outside", c)
			}
			continue
		}
		if i%2 == 0 && (math.Abs(float64(codes[0])-655.35*c.L) > 1 || math.Abs(float64(codes[1])-655.35*c.L) > 1 || math.Abs(float64(codes[2])-655.35*c.L) > 1) {
			t.Fatalf("the neutral %v is %v", c, codes)
		}
		lin := make([]float32, 3)
		s.Linear(lin, codes[:])
		if d := DeltaE2000(LabOf(float64(lin[0]), float64(lin[1]), float64(lin[2])), c); d > .01 {
			t.Fatalf("%v came back %.4f dE00 away", c, d)
		}
		device = append(device, []float64{float64(codes[0]) / 65535, float64(codes[1]) / 65535, float64(codes[2]) / 65535})
		want = append(want, c)
	}
	path := filepath.Join(t.TempDir(), "wide.icc")
	if err := os.WriteFile(path, WideProfile("Wide"), 0o600); err != nil {
		t.Fatal(err)
	}
	for i, got := range littleCMS(t, path, 1, device) {
		if d := DeltaE2000(got, want[i]); d > .05 {
			t.Fatalf("Little CMS has %v for %v", got, want[i])
		}
	}
}

// Inks through a printing profile of the library's collection, against Little CMS.
func TestInksAgainstLittleCMS(t *testing.T) {
	tried := 0
	for _, path := range libraryProfiles(t) {
		p, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if string(p[16:20]) != "CMYK" {
			if _, err := FromCMYK(p); err == nil {
				t.Errorf("%s was taken for a printing profile", path)
			}
			continue
		}
		k, err := FromCMYK(p)
		if err != nil {
			t.Fatal(err)
		}
		rnd := rand.New(rand.NewPCG(2, 3))
		var inks, percent [][]float64
		for range 1000 {
			v := []float64{rnd.Float64(), rnd.Float64(), rnd.Float64(), rnd.Float64() * rnd.Float64()}
			inks = append(inks, v)
			// transicc takes inks in percent, littleCMS writes 255ths.
			percent = append(percent, []float64{v[0] / 2.55, v[1] / 2.55, v[2] / 2.55, v[3] / 2.55})
		}
		var all []float64
		for i, want := range littleCMS(t, path, 1, percent) {
			all = append(all, DeltaE2000(labOfXYZ(k.XYZ([4]float64(inks[i])), pcsWhite), want))
		}
		worst := slices.Max(all)
		t.Logf("%s, %s: dE00 median %.4f worst %.4f", filepath.Base(path), k.Name(), percentile(all, .5), worst)
		if worst > .3 {
			t.Errorf("%s: worst dE00 against Little CMS is %.3f", path, worst)
		}
		tried++
	}
	if tried == 0 {
		t.Error("no printing profile was tried")
	}
}

func BenchmarkInks(b *testing.B) {
	for _, path := range libraryProfiles(b) {
		if p, err := os.ReadFile(path); err == nil && string(p[16:20]) == "CMYK" {
			k, err := FromCMYK(p)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				k.XYZ([4]float64{.2, .3, .1, .05})
			}
		}
	}
}
