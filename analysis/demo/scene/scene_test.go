package scene

import (
	"math"
	"slices"
	"testing"

	"stopladder/assets"
)

func place(t testing.TB, name string) Place {
	t.Helper()
	for _, p := range Places {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("no place %q", name)
	return Place{}
}

func courtyardPicture(t testing.TB) *Radiance {
	t.Helper()
	r, err := Embedded()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestGreys(t *testing.T) {
	r := courtyardPicture(t)
	for _, p := range Places {
		if p.Reflectance == 0 {
			continue
		}
		m := r.Mean(p)
		for c, v := range m {
			// The scale lies lower than the card and sees more of the paving:
			// up to 4 % of a difference in light is real.
			if e := v/p.Reflectance - 1; math.Abs(e) > 0.04 {
				t.Errorf("%s channel %d: light %.4f, reflectance %.4f (%+.1f %%)", p.Name, c, v, p.Reflectance, 100*e)
			}
		}
	}
	card := r.Mean(place(t, "grey card"))
	for c, v := range card {
		if math.Abs(v/0.18-1) > 0.01 {
			t.Errorf("grey card channel %d: %.4f, want 0.18 within 1 %%", c, v)
		}
	}
}

// TestRange holds the scene to the range of light that a test roll needs, in
// stops against the sunlit card.
func TestRange(t *testing.T) {
	r := courtyardPicture(t)
	for _, c := range []struct {
		name   string
		lo, hi float64
	}{
		{"sunlit white wall", 1.7, 2.7},
		{"clouds", 1.7, 3.2},
		{"blue sky", 0, 1.8},
		{"shaded white wall", 0, 1.3},
		{"deep shade", -6, -3},
		{"tiled floor in shade", -6, -3},
	} {
		s := math.Log2(r.Mean(place(t, c.name))[1] / 0.18)
		t.Logf("%-22s %+.2f stops", c.name, s)
		if s < c.lo || s > c.hi {
			t.Errorf("%s lies at %+.2f stops, want %v to %v", c.name, s, c.lo, c.hi)
		}
	}
	var all []float64
	for i := 1; i < len(r.Pix); i += 3 {
		all = append(all, math.Log2(float64(r.Pix[i])/0.18))
	}
	slices.Sort(all)
	lo, hi := all[len(all)/200], all[len(all)-len(all)/200]
	t.Logf("99 %% of the picture lies between %+.2f and %+.2f stops", lo, hi)
	if hi-lo < 6 || hi-lo > 11 {
		t.Errorf("the scene spans %.1f stops", hi-lo)
	}
}

func TestFinite(t *testing.T) {
	r := courtyardPicture(t)
	for i, v := range r.Pix {
		if !(v > 0) || v > 1000 {
			t.Fatalf("pixel %d is %v", i/3, v)
		}
	}
}

func TestPlacesInside(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range Places {
		if seen[p.Name] {
			t.Errorf("two places are named %s", p.Name)
		}
		seen[p.Name] = true
		if !(0 <= p.X0 && p.X0 < p.X1 && p.X1 <= 1 && 0 <= p.Y0 && p.Y0 < p.Y1 && p.Y1 <= 1) {
			t.Errorf("%+v", p)
		}
	}
}

func BenchmarkUnpack(b *testing.B) {
	for b.Loop() {
		if _, err := Unpack(assets.Courtyard); err != nil {
			b.Fatal(err)
		}
	}
}
