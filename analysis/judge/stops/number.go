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

// decimal returns the value of whole and decimal digits; whole may be empty.
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

// fraction returns a proper fraction of a stop with a denominator that cameras, meters
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
func tokens(name string) (out []token) {
	t := &splitter{rs: []rune(plain(name))}
	for t.at < len(t.rs) {
		t.out = append(t.out, t.next())
	}
	return t.out
}

// splitter walks over the characters of a name.
type splitter struct {
	rs  []rune
	at  int
	out []token
}

var signs = map[rune]kind{'+': plus, '-': minus, '±': either}

// next takes a piece.
func (s *splitter) next() token {
	r := s.rs[s.at]
	switch {
	case s.digit(s.at), s.decimals(s.at) && !s.digit(s.at-1) && opensNumber(s.out):
		return s.number()
	case letter(r):
		return s.word()
	}
	if k, ok := signs[r]; ok {
		return token{kind: k, text: s.take(s.at + 1)}
	}
	end := s.at + 1
	for end < len(s.rs) && !s.digit(end) && !letter(s.rs[end]) && signs[s.rs[end]] == 0 && !s.decimals(end) {
		end++
	}
	return token{kind: gap, text: s.take(end)}
}

func (s *splitter) take(end int) string {
	text := string(s.rs[s.at:end])
	s.at = end
	return text
}

func (s *splitter) digit(i int) bool {
	return i >= 0 && i < len(s.rs) && '0' <= s.rs[i] && s.rs[i] <= '9'
}

// decimals reports whether a decimal point with a digit after it stands at i.
func (s *splitter) decimals(i int) bool {
	return i < len(s.rs) && (s.rs[i] == '.' || s.rs[i] == ',') && s.digit(i+1)
}

// digits returns where the digits from i on end.
func (s *splitter) digits(i int) int {
	for s.digit(i) {
		i++
	}
	return i
}

func letter(r rune) bool { return unicode.IsLetter(r) || unicode.IsMark(r) }

func (s *splitter) word() token {
	end, upper := s.at, false
	for end < len(s.rs) && letter(s.rs[end]) {
		upper = upper || unicode.IsUpper(s.rs[end])
		end++
	}
	return token{kind: word, text: strings.ToLower(s.take(end)), upper: upper}
}

// number takes digits, with a fraction or decimals; what only looks like a number is
// junk.
func (s *splitter) number() token {
	t := token{kind: junk}
	end := s.digits(s.at)
	first := string(s.rs[s.at:end])
	switch {
	case end < len(s.rs) && s.rs[end] == '/' && s.digit(end+1):
		k := s.digits(end + 1)
		v, ok := fraction(first, string(s.rs[end+1:k]))
		if ok && !(k < len(s.rs) && s.rs[k] == '/') {
			t.kind, t.value = number, v
		}
		end = k
	case s.decimals(end):
		k := s.digits(end + 1)
		v, ok := decimal(first, string(s.rs[end+1:k]))
		if ok && !s.decimals(k) {
			t.kind, t.value = number, v
		}
		// A third group makes it a date or a version: all of it is junk.
		for s.decimals(k) {
			k = s.digits(k + 1)
		}
		end = k
	default:
		if v, ok := decimal(first, ""); ok {
			t.kind, t.value = number, v
			t.whole = first == "0" || first[0] != '0'
		}
	}
	t.text = s.take(end)
	return t
}

// opensNumber reports whether a point that follows can begin a number, as in "-.7".
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
