// Package adversary photographs and scans invented brackets for the proof that the
// program's readings are true. It shares no code and no habits with package simulate, by
// which the program was built: other curves, scenes, grain, scanner and faults, and its
// own colour arithmetic.
//
//	Scenes     five pictures, four of them mostly one colour, with natural texture, hard
//	           edges, deep shadow and glints
//	Film       three characteristic curves, dyes, one way to scan them; see Stocks
//	Roll       a bracket of one scene on one film, with everything that may go wrong
//	Roll.Frame a scan of it, with grain
//	Truth      what is true of the roll, from the model without noise
//
// # Truth
//
// The definitions are those of the manual's page on the method. Casts and crossover are
// those of a neutral: the mean luminance of a tonal band in the base frame, as equal light
// in the three channels, taken back through the curves to exposures, moved by the frame's
// stops and brought forward. Lost is decided pixel by pixel at the viewing scale (see
// develop). Colour differences are between means over squares of a hundredth of the
// picture's longer side, over what neither frame has lost, of pixels that were corrected
// before; curves are the three rising ones that leave the least mean difference over
// single pixels and a scale of greys, found by a quasi-Newton method over polynomials (see
// curves.go). Noise is drawn pixel by pixel from the layers' own, of which
// the grain's autocorrelation leaves a known part at the viewing scale. The ends of the
// range come of the criteria at every tenth of a stop.
//
// Dust, stray light of the scanner and the edges that it sharpens have no part in the
// truth: it is that of the clean film, with the noise that sharpening raises.
//
// # Adding a case
//
// A new roll is one line in cmd/truth/cases.go: a Roll and the names of the checks that
// it feeds. A new film is an entry in Stocks, a new scene a function that paints on a
// canvas and a name in Scenes, a new fault a field of Roll that Roll.frame minds. A new
// kind of check is a function in cmd/truth/checks.go and a row in cmd/truth/book.go; how
// the program's readings are reached stands in cmd/truth/readings.go alone.
//
// Units: stops of exposure against mid-grey or against the base frame; light is linear, 1
// full scale; pixels of the scan, centres at halves.
package adversary
