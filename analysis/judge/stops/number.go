package stops

import (
	"strconv"
	"strings"
	"unicode"
)

// thirds are the decimals that the trade writes for a third and two thirds of a
// stop. "30" and "70" are not among them: two deliberate digits are meant.
var thirds = map[string]float64{
	"3": 1.0 / 3, "33": 1.0 / 3, "333": 1.0 / 3,
	"7": 2.0 / 3, "66": 2.0 / 3, "666": 2.0 / 3, "67": 2.0 / 3, "667": 2.0 / 3,
}

// shorthand are the decimals that clicks of a camera have: thirds, a half,
// quarters.
func shorthand(digits string) bool {
	_, third := thirds[digits]
	return third || digits == "5" || digits == "25" || digits == "75"
}

// decimal is the value of whole and decimal digits; whole may be empty.
func decimal(whole, digits string) (float64, bool) {
	if len(whole) > 2 || len(digits) > 3 || whole+digits == "" {
		return 0, false
	}
	if t, ok := thirds[digits]; ok {
		w, err := strconv.ParseFloat("0"+whole, 64)
		return w + t, err == nil
	}
	v, err := strconv.ParseFloat("0"+whole+"."+digits+"0", 64)
	return v, err == nil
}

// fraction is a proper fraction of a stop with a denominator that cameras, meters
// or sensitometers use.
func fraction(num, den string) (float64, bool) {
	n, err1 := strconv.Atoi(num)
	d, err2 := strconv.Atoi(den)
	if err1 != nil || err2 != nil || n < 1 || n >= d {
		return 0, false
	}
	switch d {
	case 2, 3, 4, 5, 6, 8, 10:
		return float64(n) / float64(d), true
	}
	return 0, false
}

var glyphs = map[rune]string{
	'½': "1/2", '⅓': "1/3", '⅔': "2/3", '¼': "1/4", '¾': "3/4",
	'⅕': "1/5", '⅖': "2/5", '⅗': "3/5", '⅘': "4/5", '⅙': "1/6", '⅚': "5/6",
	'⅛': "1/8", '⅜': "3/8", '⅝': "5/8", '⅞': "7/8",
}

// plain rewrites the typographic forms of signs and fractions in ASCII: minus,
// dashes and plus signs of every width, ½ as 1/2 (1½ as "1 1/2"), fraction and
// division slashes. Other characters stay.
func plain(text string) string {
	var b strings.Builder
	digit := false // the last rune written was a digit
	afterGlyph := false
	for _, r := range text {
		if g, ok := glyphs[r]; ok {
			if digit || afterGlyph {
				b.WriteByte(' ')
			}
			b.WriteString(g)
			digit, afterGlyph = false, true
			continue
		}
		switch r {
		case '−', '–', '‒', '‐', '‑', '﹣', '-':
			r = '-'
		case '+', '﹢':
			r = '+'
		case '⁄', '∕':
			r = '/'
		case '\u00a0', '\u2009', '\u202f', '\t':
			r = ' '
		}
		digit = '0' <= r && r <= '9'
		if digit && afterGlyph {
			b.WriteByte(' ')
		}
		afterGlyph = false
		b.WriteRune(r)
	}
	return b.String()
}

type kind byte

const (
	end    kind = iota // past either end of the name
	word               // a run of letters
	number             // something that can be read as a count of stops
	junk               // digits that cannot: counters, dates, sizes
	plus
	minus
	either // ±
	gap    // a run of other characters
)

// token is a piece of a name.
type token struct {
	kind  kind
	text  string  // as written, for words in lower case
	upper bool    // the word has a capital
	value float64 // of a number
	whole bool    // the number is digits only, without leading zero
}

// tokens splits a name in its pieces; nothing is lost.
func tokens(name string) []token {
	rs := []rune(plain(name))
	var out []token
	isDigit := func(i int) bool { return i >= 0 && i < len(rs) && '0' <= rs[i] && rs[i] <= '9' }
	digits := func(i int) int {
		for isDigit(i) {
			i++
		}
		return i
	}
	point := func(i int) bool { return i >= 0 && i < len(rs) && (rs[i] == '.' || rs[i] == ',') }
	for i := 0; i < len(rs); {
		switch r := rs[i]; {
		case isDigit(i), point(i) && isDigit(i+1) && !isDigit(i-1) && opensNumber(out):
			j := digits(i)
			t := token{kind: junk}
			a := string(rs[i:j])
			switch {
			case j < len(rs) && rs[j] == '/' && isDigit(j+1):
				k := digits(j + 1)
				v, ok := fraction(a, string(rs[j+1:k]))
				if ok && !(k < len(rs) && rs[k] == '/') {
					t.kind, t.value = number, v
				}
				j = k
			case point(j) && isDigit(j+1):
				k := digits(j + 1)
				v, ok := decimal(a, string(rs[j+1:k]))
				if ok && !(point(k) && isDigit(k+1)) {
					t.kind, t.value = number, v
				}
				// A third group makes it a date or a version: all of it is junk.
				for point(k) && isDigit(k+1) {
					k = digits(k + 1)
				}
				j = k
			default:
				if v, ok := decimal(a, ""); ok {
					t.kind, t.value = number, v
					t.whole = a == "0" || a[0] != '0'
				}
			}
			t.text = string(rs[i:j])
			out = append(out, t)
			i = j
		case unicode.IsLetter(r) || unicode.IsMark(r):
			j := i
			upper := false
			for j < len(rs) && (unicode.IsLetter(rs[j]) || unicode.IsMark(rs[j])) {
				upper = upper || unicode.IsUpper(rs[j])
				j++
			}
			out = append(out, token{kind: word, text: strings.ToLower(string(rs[i:j])), upper: upper})
			i = j
		case r == '+':
			out = append(out, token{kind: plus, text: "+"})
			i++
		case r == '-':
			out = append(out, token{kind: minus, text: "-"})
			i++
		case r == '±':
			out = append(out, token{kind: either, text: "±"})
			i++
		default:
			j := i + 1
			for j < len(rs) && !isDigit(j) && !unicode.IsLetter(rs[j]) && !unicode.IsMark(rs[j]) && !strings.ContainsRune("+-±", rs[j]) &&
				!(point(j) && isDigit(j+1)) {
				j++
			}
			out = append(out, token{kind: gap, text: string(rs[i:j])})
			i = j
		}
	}
	return out
}

// opensNumber says whether a point that follows can begin a number, as in "-.7".
func opensNumber(before []token) bool {
	if len(before) == 0 {
		return true
	}
	switch last := before[len(before)-1]; last.kind {
	case plus, minus, either:
		return true
	case word:
		return last.text == "m" || last.text == "p"
	}
	return false
}
