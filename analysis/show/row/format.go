package row

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"stopladder/analysis/numeric/number"
)

const minus = "\u2212"

// Percent writes a share 0..1 for a plot: "0 %", "<0.1 %", "0.4 %", "3.1 %",
// "12 %". Zero and the whole are written only when they are exact.
func Percent(v float64) string {
	switch p := v * 100; {
	case math.IsNaN(p):
		return "–"
	case p == 0:
		return "0 %"
	case p < 0.05:
		return "<0.1 %"
	case p < 9.95:
		return number.Fixed(p, 1) + " %"
	case p >= 99.5 && p < 100:
		return ">99 %"
	default:
		return number.Fixed(p, 0) + " %"
	}
}

// percentCell writes a share 0..1 for a table, in per cent without the sign.
func percentCell(v float64) string {
	switch p := v * 100; {
	case math.IsNaN(p):
		return "–"
	case p == 0:
		return "0"
	case p < 0.005:
		return "<0.01"
	case p < 9.995:
		return number.Fixed(p, 2)
	case p >= 99.95 && p < 100:
		return ">99.9"
	case p == 100:
		return "100"
	default:
		return number.Fixed(p, 1)
	}
}

// grouped writes a whole number with thin spaces between thousands.
func grouped(v int) string {
	s := strconv.Itoa(v)
	neg := strings.HasPrefix(s, "-")
	s = strings.TrimPrefix(s, "-")
	var b strings.Builder
	if neg {
		b.WriteString(minus)
	}
	for i, r := range s {
		if i > 0 && (len(s)-i)%3 == 0 {
			b.WriteRune('\u2009')
		}
		b.WriteRune(r)
	}
	return b.String()
}

func groupedF(v float64) string {
	if math.IsNaN(v) || math.Abs(v) > 1e12 {
		return "–"
	}
	return grouped(int(math.Round(v)))
}

func bits(n int) string {
	if n <= 0 {
		return "–"
	}
	return fmt.Sprintf("%d bit", n)
}
