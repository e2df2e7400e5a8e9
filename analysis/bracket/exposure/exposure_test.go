package exposure

import (
	"math"
	"testing"
)

// near checks got against a published figure to half of its last digit.
func near(t *testing.T, what string, got, want, half float64) {
	t.Helper()
	if !(math.Abs(got-want) <= half) {
		t.Errorf("%s = %v, published %v", what, got, want)
	}
}

// Figures of the APEX system (ASA PH2.5-1960, ANSI PH3.49-1971; Kerr, "APEX",
// 2007) and of the meter equations of ISO 2720:1974.
func TestAPEX(t *testing.T) {
	near(t, "Av of f/1", Av(1), 0, 1e-12)
	near(t, "Av of f/8", Av(8), 6, 1e-12)
	near(t, "Tv of 1 s", Tv(1), 0, 1e-12)
	near(t, "Tv of 1/128 s", Tv(1.0/128), 7, 1e-12)
	near(t, "EV of f/16, 1/100", EV(16, 1.0/100), 14.644, 5e-4)
	near(t, "EV of f/16, 1/125", EV(16, 1.0/125), 14.966, 5e-4)
	near(t, "EV of f/16, 1/128", EV(16, 1.0/128), 15, 1e-12)
	near(t, "stops of f/8 against f/11 exact", EV(math.Sqrt(128), 1)-EV(8, 1), 1, 1e-12)
	near(t, "stops of 1/60 to 1/125 as engraved", EV(8, 1.0/125)-EV(8, 1.0/60), 1.059, 5e-4)
}

func TestMeters(t *testing.T) {
	near(t, "EV of 8 cd/m2, S100, K12.5", Reflected(8, 100, 12.5), EV(8, 1), 1e-9)
	near(t, "EV of 160 lux, S100, C250", Incident(160, 100, 250), EV(8, 1), 1e-9)
	near(t, "EV of 0.125 cd/m2, S100", Reflected(0.125, 100, 12.5), 0, 1e-12)
	near(t, "EV of 2.5 lux, S100", Incident(2.5, 100, 250), 0, 1e-12)
	near(t, "EV of 10 000 lux, S400", Incident(10_000, 400, CFlat), 13.966, 5e-4)
	near(t, "EV of 64 000 lux, S100", Incident(64_000, 100, CFlat), EV(16, 1.0/100), 1e-9)
	// A diffuse card of reflectance pi K/C gives both meters the same exposure.
	for k, reflectance := range map[float64]float64{12.5: 0.157, 14: 0.176} {
		lux := 1000.0
		near(t, "both meters on a card", Reflected(lux*reflectance/math.Pi, 100, k), Incident(lux, 100, 250), 0.005)
	}
}

// ISO speeds, arithmetic and logarithmic (ISO 6, ISO 2240, ISO 5800 tables).
func TestDegrees(t *testing.T) {
	for s, want := range map[float64]int{25: 15, 50: 18, 64: 19, 80: 20, 100: 21, 125: 22, 160: 23, 200: 24, 400: 27, 800: 30, 1600: 33} {
		if got := Degrees(s); got != want {
			t.Errorf("ISO %v is %d°, published %d°", s, got, want)
		}
	}
}

func TestDensity(t *testing.T) {
	near(t, "a stop", StopDensity, 0.30103, 5e-6)
	near(t, "a third of a stop", StopDensity/3, 0.1003, 5e-5)
	near(t, "stops of log exposure 1.30", DensityStops(1.30), 1.30/math.Log10(2), 1e-12)
	// ISO 6:1993: 0.80 of density over 1.30 of log exposure; a stop is 0.185 D.
	near(t, "density of a stop at gradient 0.615", StopDensity*0.80/1.30, 0.185, 5e-4)
}

// The full-stop series with their exact values, and how far the engraved figures
// stand from them (standard series of ISO 516 and ISO 517; deviations computed).
func TestMarks(t *testing.T) {
	for nominal, want := range map[float64]float64{
		1: 1, 1.4: 1.4142, 2: 2, 2.8: 2.8284, 4: 4, 5.6: 5.6569, 8: 8, 11: 11.3137, 16: 16, 22: 22.6274, 32: 32, 45: 45.2548, 64: 64,
	} {
		m, ok := Find(Apertures(), nominal)
		if !ok || m.Sixths%6 != 0 {
			t.Errorf("f/%v: %+v, %v", nominal, m, ok)
		}
		near(t, "f/"+m.Text, m.Exact, want, 5e-5)
	}
	for nominal, want := range map[float64]float64{
		30: 32, 15: 16, 8: 8, 4: 4, 2: 2, 1: 1, 1. / 2: 1. / 2, 1. / 4: 1. / 4, 1. / 8: 1. / 8, 1. / 15: 1. / 16, 1. / 30: 1. / 32, 1. / 60: 1. / 64, 1. / 125: 1. / 128,
		1. / 250: 1. / 256, 1. / 500: 1. / 512, 1. / 1000: 1. / 1024, 1. / 2000: 1. / 2048, 1. / 4000: 1. / 4096, 1. / 8000: 1. / 8192,
	} {
		m, ok := Find(Times(), nominal)
		if !ok || m.Sixths%6 != 0 {
			t.Errorf("%v s: %+v, %v", nominal, m, ok)
		}
		near(t, m.Text+" s", m.Exact, want, want*1e-12)
		near(t, "Tv of "+m.Text+" s", Tv(m.Exact), float64(m.Sixths)/6, 1e-12)
	}
	off := func(m Mark, ok bool) float64 {
		if !ok {
			return math.NaN()
		}
		return math.Abs(math.Log2(m.Nominal / m.Exact))
	}
	for _, s := range []float64{1. / 15, 1. / 30, 1. / 60, 15, 30} {
		near(t, "deviation of a time", off(Find(Times(), s)), 0.093, 5e-4)
	}
	near(t, "deviation of 6 s", off(Find(Times(), 6)), 0.082, 5e-4)
	near(t, "deviation of 1/6 s", off(Find(Times(), 1./6)), 0.082, 5e-4)
	near(t, "deviation of f/11", 2*off(Find(Apertures(), 11)), 0.081, 5e-4)
	near(t, "deviation of f/22", 2*off(Find(Apertures(), 22)), 0.081, 5e-4)
	near(t, "deviation of f/1.2", 2*off(Find(Apertures(), 1.2)), 0.141, 5e-4)
	for i, m := range Times() {
		if got, ok := Find(Times(), m.Nominal); !ok || got != m {
			t.Errorf("time %d (%s) is taken for %s", i, m.Text, got.Text)
		}
	}
	for i, m := range Apertures() {
		if got, ok := Find(Apertures(), m.Nominal); !ok || got != m {
			t.Errorf("aperture %d (%s) is taken for %s", i, m.Text, got.Text)
		}
	}
	for _, n := range []float64{0, -1, 1.7, 4.7, 9.5, 19, 300, math.NaN(), math.Inf(1)} {
		if m, ok := Find(Apertures(), n); ok {
			t.Errorf("f/%v is taken for f/%s", n, m.Text)
		}
	}
}
