package exposure

import (
	"fmt"
	"math"
)

// Mark is one position of a lens or shutter: what is engraved and what it stands
// for. ISO 516 (shutter times) and ISO 517 (apertures) standardise the marks; the
// exact values are the powers of two that the engraved ones round.
type Mark struct {
	Text    string  // as engraved: "11", "1/125", "0.3"
	Nominal float64 // the engraved figure: f-number, or seconds
	Exact   float64 // f-number, or seconds
	Sixths  int     // exact position in sixths of a stop: of Av for apertures, of Tv for times
}

var aperturesText = []string{
	"1", "1.1", "1.2", "1.4", "1.6", "1.8", "2", "2.2", "2.5", "2.8", "3.2", "3.5", "4", "4.5", "5", "5.6", "6.3", "7.1", "8",
	"9", "10", "11", "13", "14", "16", "18", "20", "22", "25", "29", "32", "36", "40", "45", "51", "57", "64",
}

var timesText = []string{
	"30", "25", "20", "15", "13", "10", "8", "6", "5", "4", "3.2", "2.5", "2", "1.6", "1.3", "1", "0.8", "0.6", "0.5", "0.4", "0.3",
	"1/4", "1/5", "1/6", "1/8", "1/10", "1/13", "1/15", "1/20", "1/25", "1/30", "1/40", "1/50", "1/60", "1/80", "1/100", "1/125",
	"1/160", "1/200", "1/250", "1/320", "1/400", "1/500", "1/640", "1/800", "1/1000", "1/1250", "1/1600", "1/2000", "1/2500", "1/3200",
	"1/4000", "1/5000", "1/6400", "1/8000",
}

// The half stops between full ones, as older lenses and cameras carry them (from
// memory; the exact values are the powers of two). "1/6" and "13" stand in the
// series of thirds too, with another exact value: the camera tells which is meant.
var halfAperturesText = []string{"1.2", "1.7", "2.4", "3.3", "4.8", "6.7", "9.5", "13", "19", "27", "38", "54"}

var halfTimesText = []string{
	"23", "11", "6", "3", "1.5", "0.7", "1/3", "1/6", "1/11", "1/20", "1/45", "1/90", "1/180", "1/350", "1/750", "1/1500", "1/3000", "1/6000",
}

// Apertures returns the aperture marks f/1 to f/64 in thirds of a stop; every
// third one is a full stop. The exact f-number is 2^(n/6).
func Apertures() []Mark {
	out := make([]Mark, len(aperturesText))
	for n, text := range aperturesText {
		out[n] = Mark{text, figure(text), math.Exp2(float64(n) / 6), 2 * n}
	}
	return out
}

// HalfApertures returns the marks of half stops between f/1 and f/64: f/1.2, 1.7,
// 2.4 and so on. The exact f-number is 2^(1/4 + n/2).
func HalfApertures() []Mark {
	out := make([]Mark, len(halfAperturesText))
	for n, text := range halfAperturesText {
		out[n] = Mark{text, figure(text), math.Exp2(0.25 + float64(n)/2), 6*n + 3}
	}
	return out
}

// Times returns the shutter marks 30 s to 1/8000 s in thirds of a stop; every
// third one is a full stop. The exact time is 2^((15-i)/3) seconds.
func Times() []Mark {
	out := make([]Mark, len(timesText))
	for i, text := range timesText {
		out[i] = Mark{text, figure(text), math.Exp2(float64(15-i) / 3), 2 * (i - 15)}
	}
	return out
}

// HalfTimes returns the marks of half stops between 32 s and 1/8192 s: 23 s to
// 1/6000 s. The exact time is 2^(4.5-i) seconds.
func HalfTimes() []Mark {
	out := make([]Mark, len(halfTimesText))
	for i, text := range halfTimesText {
		out[i] = Mark{text, figure(text), math.Exp2(4.5 - float64(i)), 6*(i-5) + 3}
	}
	return out
}

// Whole keeps the marks that stand on full stops.
func Whole(marks []Mark) (full []Mark) {
	for _, m := range marks {
		if m.Sixths%6 == 0 {
			full = append(full, m)
		}
	}
	return full
}

// figure reads the engraved figures of the tables above.
func figure(text string) float64 {
	var n, d float64 = 0, 1
	if c, _ := fmt.Sscanf(text, "%g/%g", &n, &d); c == 0 {
		return math.NaN()
	}
	return n / d
}

// snap is how far an engraved figure may lie from a mark, as a ratio, to be taken
// for it. Neighbouring marks are 12 % (apertures) and 19 % (times) apart or more.
const snap = 0.01

// Find returns the mark among marks that is engraved nominal.
func Find(marks []Mark, nominal float64) (Mark, bool) {
	for _, m := range marks {
		if math.Abs(nominal/m.Nominal-1) < snap {
			return m, true
		}
	}
	return Mark{}, false
}
