package stops

import (
	"cmp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Natural compares names as people order them, runs of digits by their value and
// letters without regard to case: "scan 2" comes before "scan 10". It returns -1,
// 0 or 1; 0 only for equal names.
func Natural(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		if digit(x[0]) && digit(y[0]) {
			var m, n string
			m, x = leadingDigits(x)
			n, y = leadingDigits(y)
			m, n = strings.TrimLeft(m, "0"), strings.TrimLeft(n, "0")
			if c := cmp.Compare(len(m), len(n)); c != 0 {
				return c
			}
			if c := strings.Compare(m, n); c != 0 {
				return c
			}
			continue
		}
		r, i := utf8.DecodeRuneInString(x)
		s, j := utf8.DecodeRuneInString(y)
		if c := cmp.Compare(unicode.ToLower(r), unicode.ToLower(s)); c != 0 {
			return c
		}
		x, y = x[i:], y[j:]
	}
	if c := cmp.Compare(len(x), len(y)); c != 0 {
		return c
	}
	return strings.Compare(a, b)
}

func digit(b byte) bool { return '0' <= b && b <= '9' }

func leadingDigits(s string) (digits, rest string) {
	i := 0
	for i < len(s) && digit(s[i]) {
		i++
	}
	return s[:i], s[i:]
}
