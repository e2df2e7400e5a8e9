package exposure

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Half stops between the full ones: exact powers (computed), figures as older
// lenses carry them (from memory).
func TestHalfMarks(t *testing.T) {
	for nominal, want := range map[float64]float64{1.7: 1.6818, 2.4: 2.3784, 3.3: 3.3636, 4.8: 4.7568, 6.7: 6.7272, 9.5: 9.5137, 13: 13.4543, 19: 19.0273} {
		m, ok := Find(HalfApertures(), nominal)
		if !ok || m.Sixths%6 != 3 {
			t.Errorf("f/%v: %+v, %v", nominal, m, ok)
		}
		near(t, "f/"+m.Text, m.Exact, want, 5e-5)
		near(t, "Av of f/"+m.Text, Av(m.Exact), float64(m.Sixths)/6, 1e-12)
	}
	for _, m := range HalfTimes() {
		near(t, "Tv of "+m.Text, Tv(m.Exact), float64(m.Sixths)/6, 1e-12)
		rounding := 0.1
		if m.Text == "1/20" { // the coarsest rounding of the series: 1/22.6
			rounding = 0.179
		}
		near(t, "engraved "+m.Text, math.Log2(m.Nominal/m.Exact), 0, rounding)
	}
	if n := len(Whole(Apertures())); n != 13 {
		t.Errorf("%d full apertures from f/1 to f/64, standard 13", n)
	}
}

// ISO speeds in both scales (ISO 6, ISO 2240, ISO 5800 tables).
func TestSpeedOf(t *testing.T) {
	for d, want := range map[int]float64{15: 25, 18: 50, 19: 64, 20: 80, 21: 100, 22: 125, 23: 160, 24: 200, 27: 400, 30: 800, 33: 1600} {
		if s, ok := SpeedOf(d); !ok || s != want {
			t.Errorf("%d° is ISO %v, published %v", d, s, want)
		}
	}
	if s, ok := SpeedOf(99); ok {
		t.Errorf("99° is ISO %v", s)
	}
	for i, s := range speeds {
		if i > 0 && Degrees(s)-Degrees(speeds[i-1]) != 1 {
			t.Errorf("ISO %v is not one degree over the one before", s)
		}
	}
}

// Corrected times by Tc = Tm^P: the worked example P = 1.31, 10 s to 20.4 s, and
// the table of it in the data-sheet form; Schwarzschild's 0.86 is P = 1.163.
func TestFailureByExponent(t *testing.T) {
	near(t, "10 s at P 1.31", Failure{P: 1.31}.Corrected(10), 20.4, 0.05)
	near(t, "1/0.86", 1/0.86, 1.163, 5e-4)
	for p, rows := range map[float64][][3]float64{
		1.20: {{2, 2.3, .20}, {4, 5.3, .40}, {8, 12.1, .60}, {15, 25.8, .78}, {30, 59.2, .98}, {60, 136.1, 1.18}},
		1.26: {{2, 2.4, .26}, {4, 5.7, .52}, {8, 13.7, .78}, {15, 30.3, 1.02}, {30, 72.6, 1.28}, {60, 174.0, 1.54}},
		1.31: {{2, 2.5, .31}, {4, 6.1, .62}, {8, 15.2, .93}, {15, 34.7, 1.21}, {30, 86.1, 1.52}, {60, 213.5, 1.83}},
		1.40: {{2, 2.6, .40}, {4, 7.0, .80}, {8, 18.4, 1.20}, {15, 44.3, 1.56}, {30, 116.9, 1.96}, {60, 308.6, 2.36}},
	} {
		f := Failure{P: p}
		for _, r := range rows {
			near(t, "corrected", f.Corrected(r[0]), r[1], 0.051)
			near(t, "stops lost", f.Loss(f.Corrected(r[0])), r[2], 0.0051)
		}
		for _, s := range []float64{1e-4, 0.5, 1} {
			if f.Corrected(s) != s || f.Loss(s) != 0 {
				t.Errorf("%v s is corrected to %v", s, f.Corrected(s))
			}
		}
	}
}

// Schwarzschild's law: lights I1, I2 blacken alike where I1 t1^p = I2 t2^p (K.
// Schwarzschild, Astrophysical Journal 11, 89, 1900, with p 0.86). What counts for the
// film is then I times the effective time, and the loss is (1-p) log2 t.
func TestFailureBySchwarzschild(t *testing.T) {
	const p = 0.86
	f := Failure{P: 1 / p}
	for _, t1 := range []float64{1, 2, 10, 60, 600} {
		for _, t2 := range []float64{1.5, 30, 3600} {
			i1 := 7.0
			i2 := i1 * math.Pow(t1/t2, p)
			near(t, "equal blackening", i1*f.Effective(t1)/(i2*f.Effective(t2)), 1, 1e-12)
		}
		near(t, "loss", f.Loss(t1), (1-p)*math.Log2(t1), 1e-12)
	}
	near(t, "loss of 100 s", f.Loss(100), 0.930, 5e-4) // 0.14 x 6.6439
}

// A table holds at its rows, rises everywhere, and is undone by Effective.
func TestFailureByTable(t *testing.T) {
	tables := []Failure{
		{Table: []Correction{{2, 3}, {10, 20}, {60, 180}}},
		{Table: []Correction{{0.5, 0.7}, {1, 2}}},
		{Table: []Correction{{4, 6}}},
		{Table: []Correction{{1, 1}, {10, 25}}},
		{P: 1.31}, {},
	}
	r := rand.New(rand.NewPCG(3, 4))
	for _, f := range tables {
		for _, row := range f.Table {
			near(t, "row", f.Corrected(row.Metered), row.Corrected, 1e-9)
		}
		for range 2000 {
			a := math.Exp2(r.Float64()*20 - 10)
			b := a * (1 + r.Float64())
			ca, cb := f.Corrected(a), f.Corrected(b)
			if ca < a*(1-1e-12) || cb < ca*(1-1e-12) {
				t.Fatalf("%+v: %v s to %v, %v s to %v", f, a, ca, b, cb)
			}
			near(t, "there and back", f.Effective(ca)/a, 1, 1e-9)
		}
	}
}
