// Package number writes numbers for people: with a true minus sign (U+2212), which
// is as wide as a plus, and without a negative zero.
package number

import (
	"math"
	"strconv"
	"strings"
)

const minus = "\u2212"

// Fixed returns v with so many decimals; "–" where it is no number.
func Fixed(v float64, decimals int) string {
	if math.IsNaN(v) {
		return "–"
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if t, negative := strings.CutPrefix(s, "-"); negative {
		if strings.Trim(t, "0.") == "" {
			return t
		}
		return minus + t
	}
	return s
}

// Signed returns v as Fixed does, with a plus where it is above zero as written.
func Signed(v float64, decimals int) string {
	s := Fixed(v, decimals)
	if !(v > 0) || strings.Trim(s, "0.") == "" {
		return s
	}
	return "+" + s
}
