package simulate

// Variant is another roll of the demo's film and scene.
type Variant string

// The variants.
const (
	Plain    Variant = ""
	Pushed   Variant = "pushed"   // developed longer: steeper about the same mid-grey, and grainier
	Levelled Variant = "levelled" // scanned on another scanner, which levels every frame by itself
)

// Push returns a film that was developed longer and exposed less, so that a metered grey
// comes out as before: steeper by a share, and grainier by twice that. (Common practice, no
// source for the sizes.)
func Push(s Stock, by float64) Stock {
	for c := range s.Layers {
		l := &s.Layers[c]
		grey := s.Density(c, 0)
		l.Slope *= 1 + by
		at, sign := l.Toe, 1.0
		if s.Kind == NegativeFilm {
			sign = -1
		}
		// A toe further right leaves less density on a negative, more on a reversal film.
		l.Toe = bisect(at-1.5, at+1.5, func(toe float64) float64 {
			l.Toe = toe
			return sign * (s.Density(c, 0) - grey)
		})
	}
	s.RMS *= 1 + 2*by
	return s
}

// vary makes a variant of a roll that was not rendered yet.
func (d *Demo) vary(v Variant) {
	switch v {
	case Pushed:
		d.stock = Push(d.stock, 0.15)
		d.o.Seed = 1968
	case Levelled:
		sc := DefaultScanner()
		sc.Read *= 1.5
		sc.Flare *= 2
		d.o.Seed, d.o.AutoCorrect, d.o.Scanner = 1971, true, &sc
	}
}
