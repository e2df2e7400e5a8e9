package stops

import (
	"fmt"
	"math"
	"strings"
)

// fractions are the parts of a stop that cameras and light meters click in.
var fractions = []struct {
	value        float64
	glyph, ascii string
}{
	{1.0 / 4, "¼", "1/4"},
	{1.0 / 3, "⅓", "1/3"},
	{1.0 / 2, "½", "1/2"},
	{2.0 / 3, "⅔", "2/3"},
	{3.0 / 4, "¾", "3/4"},
}

// Label writes a stop for the eye: "+1⅓", "−½" with the minus sign U+2212, "0"
// for the base, "+0.40" where no quarter or third is within Near. Parse reads it
// back to within Near. A value that is not a finite number gives "?".
func Label(stop float64) string { return write(stop, "−", false) }

// ASCII writes a stop in plain characters, for terminals and data files:
// "+1 1/3", "-1/2", "0", "+0.40". Parse reads it back to within Near.
func ASCII(stop float64) string { return write(stop, "-", true) }

func write(stop float64, minus string, ascii bool) string {
	if math.IsNaN(stop) || math.IsInf(stop, 0) {
		return "?"
	}
	if math.Abs(stop) < Near {
		return "0"
	}
	sign := "+"
	if stop < 0 {
		sign = minus
	}
	a := math.Abs(stop)
	if whole := math.Round(a); math.Abs(a-whole) < Near {
		return fmt.Sprintf("%s%.0f", sign, whole)
	}
	whole, part := math.Modf(a)
	for _, f := range fractions {
		if math.Abs(part-f.value) >= Near {
			continue
		}
		switch {
		case whole == 0 && ascii:
			return sign + f.ascii
		case whole == 0:
			return sign + f.glyph
		case ascii:
			return fmt.Sprintf("%s%.0f %s", sign, whole, f.ascii)
		default:
			return fmt.Sprintf("%s%.0f%s", sign, whole, f.glyph)
		}
	}
	text := fmt.Sprintf("%.2f", a)
	if _, shorthand := thirds[text[strings.IndexByte(text, '.')+1:]]; shorthand {
		// Two decimals would be read as the trade's shorthand for a third.
		text = fmt.Sprintf("%.3f", a)
	}
	return sign + text
}

// Quarter returns the quarter stop nearest to stop; a tie goes away from 0.
func Quarter(stop float64) float64 { return math.Round(stop*4)/4 + 0 }
