package exposure

import (
	"math"
	"slices"
)

// Failure is how a film loses speed in long exposures. The zero value is a film
// that does not. A table goes before the exponent.
//
// With an exponent the corrected time is Tc = Tm^P for metered times over 1 s and
// Tm at or below it, as data sheets write Schwarzschild's law; his own p, in
// I t^p, is 1/P (0.86 is 1.163). No constant fits widely: the film maker's table
// goes first.
type Failure struct {
	P     float64      // exponent, 1 and over; 0 is none known
	Table []Correction // ascending; nil: by the exponent
}

// Correction is a row of a film maker's table, in seconds.
type Correction struct {
	Metered   float64
	Corrected float64
}

// Known reports whether there is anything to reckon with.
func (f Failure) Known() bool { return f.P > 0 || len(f.Table) > 0 }

// Corrected returns the time in seconds that does what metered seconds would do on a
// film without failure. Between the rows of a table it is interpolated on logarithms
// of both. Before its first row it rises from no correction at 1 s (one stop below the
// first row, where that is 1 s or shorter); above its last row the slope of the last
// two goes on.
func (f Failure) Corrected(metered float64) float64 {
	if len(f.Table) > 0 {
		return math.Exp2(f.along(math.Log2(metered), func(c Correction) (float64, float64) {
			return math.Log2(c.Metered), math.Log2(c.Corrected)
		}))
	}
	if f.P > 0 && metered > 1 {
		return math.Pow(metered, f.P)
	}
	return metered
}

// Effective is Corrected, solved: the metered time that so many seconds stand for.
func (f Failure) Effective(seconds float64) float64 {
	if len(f.Table) > 0 {
		return math.Exp2(f.along(math.Log2(seconds), func(c Correction) (float64, float64) {
			return math.Log2(c.Corrected), math.Log2(c.Metered)
		}))
	}
	if f.P > 0 && seconds > 1 {
		return math.Pow(seconds, 1/f.P)
	}
	return seconds
}

// Loss in stops of an exposure of so many seconds: 0 where there is none.
func (f Failure) Loss(seconds float64) float64 { return math.Log2(seconds / f.Effective(seconds)) }

// along follows a table as a line through its rows.
func (f Failure) along(x float64, row func(Correction) (x, y float64)) float64 {
	rows := f.Table
	if first := rows[0]; first.Corrected > first.Metered {
		from := 1.0
		if first.Metered <= 1 {
			from = first.Metered / 2
		}
		rows = append([]Correction{{from, from}}, rows...)
	}
	if x0, _ := row(rows[0]); x < x0 {
		return x
	}
	n := len(rows)
	if n == 1 {
		x0, y0 := row(rows[0])
		return x + y0 - x0
	}
	i, _ := slices.BinarySearchFunc(rows, x, func(c Correction, x float64) int {
		if at, _ := row(c); at < x {
			return -1
		}
		return 1
	})
	i = min(max(i, 1), n-1)
	x0, y0 := row(rows[i-1])
	x1, y1 := row(rows[i])
	return y0 + (x-x0)*(y1-y0)/(x1-x0)
}
