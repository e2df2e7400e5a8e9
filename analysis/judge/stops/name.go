package stops

import (
	"math"
	"path/filepath"
	"strings"
)

// stem returns the name without its extension. An extension begins with a letter, so
// that "+1.5" keeps its half.
func stem(fileName string) string {
	ext := filepath.Ext(fileName)
	if len(ext) > 1 && (ext[1] < '0' || ext[1] > '9') && len(ext) < len(fileName) && !strings.ContainsAny(ext, " _+-") {
		return strings.TrimSpace(strings.TrimSuffix(fileName, ext))
	}
	return strings.TrimSpace(fileName)
}

// reading is what one name says.
type reading struct {
	stop     float64
	ok       bool
	bareMP   bool // read from a lone m or p, which could be a page or a medium
	under_   bool // read with an underscore for the decimal point
	explicit bool // read from a sign
}

// reader walks over the tokens of one name.
type reader struct {
	toks  []token
	found []float64
	veto  bool
	out   reading
}

// read finds the stop in a file's name, given without folder and extension; the
// reading is not ok where the name carries none, or more than one.
//
// Read as stops: a signed number at the beginning, after a space, an underscore
// or another separator ("-3", "scan_+1", "roll7 -1/2"), "+" also after a letter
// ("scan+1"); m and p before a number ("m2", "p1.5"), minus, plus, under and over
// as words on the proper side ("minus1", "2under", "over 1.5", "1 stop over"); EV
// ("ev-1", "0ev"); "base"; the whole name "0". Numbers may be whole, decimal with
// point or comma, or fractions ("+1/2", "-1 1/3", "+1½", also with the division
// slash U+2215, which a file name can hold). .3 and .33 are a third, .7, .66 and
// .67 two thirds. An underscore is a decimal point only before the decimals that
// cameras have: "+1_5", "p0_3", "m1_67".
//
// Not read, because they may mean something else: numbers without a sign ("3",
// "frame 3"), a hyphen after a letter or digit ("scan-3", "2026-11-25"), three
// digits and more (film speeds, counters), "+1_2" and "+1-2" (one half? one, second
// scan?), "N+1" and "push +1" (development), a letter m or p in capitals inside a
// longer name (a camera's model), two different stops in one name. Assign reads
// some of these with the help of the other names of the roll.
func read(stem string) reading {
	r := &reader{toks: tokens(stem)}
	for i := range r.toks {
		r.at(i)
	}
	if r.veto || len(r.found) == 0 {
		return reading{}
	}
	for _, v := range r.found {
		if math.Abs(v) > Limit || math.Abs(v-r.found[0]) >= Near {
			return reading{}
		}
	}
	r.out.stop, r.out.ok = r.found[0]+0, true
	return r.out
}

func (r *reader) tok(i int) token {
	if i < 0 || i >= len(r.toks) {
		return token{}
	}
	return r.toks[i]
}

// at looks whether a label begins at token i.
func (r *reader) at(i int) {
	t := r.tok(i)
	switch t.kind {
	case plus, minus, either:
		if r.tok(i+1).kind == number {
			r.signed(i)
		}
	case word:
		switch t.text {
		case "m", "p":
			r.letter(i)
		case "minus", "plus":
			if r.opens(i) {
				r.before(i)
			}
		case "under", "over":
			r.sideWord(i)
		case "base":
			r.base(i)
		case "ev":
			if n := r.tok(i + 1); r.opens(i) && n.kind == number && n.value == 0 && n.whole {
				r.add(0)
			}
		}
	case number:
		r.zero(i)
	}
}

// opens reports whether the token i is not glued to a letter or digit before it.
func (r *reader) opens(i int) bool {
	switch r.tok(i - 1).kind {
	case end, gap, minus, plus:
		return true
	}
	return false
}

// signed reads a sign and the number glued to it.
func (r *reader) signed(i int) {
	before := r.tok(i - 1)
	switch {
	case before.kind == word && (before.text == "minus" || before.text == "under" || before.text == "plus" || before.text == "over"):
		return // the word reads its own number
	case before.kind == word && before.text == "ev" && r.opens(i-1):
	case before.kind == plus, before.kind == minus, before.kind == either:
		r.veto = true
		return
	case before.kind == end, before.kind == gap:
	case r.tok(i).kind == minus:
		// A hyphen after a letter or digit joins; "base-1" could be the base
		// less one or the first base frame.
		r.veto = r.veto || before.text == "base"
		return
	case before.kind != word:
		r.veto = true
		return
	}
	if w := r.wordBefore(i); develops(w) {
		r.veto = true
		return
	}
	v, _, ok := r.number(i + 1)
	if !ok {
		return
	}
	switch r.tok(i).kind {
	case minus:
		v = -v
	case either:
		if v != 0 {
			r.veto = true
			return
		}
	}
	r.out.explicit = true
	r.add(v)
}

// wordBefore returns the word glued to token i or one gap away from it.
func (r *reader) wordBefore(i int) string {
	if r.tok(i-1).kind == gap {
		i--
	}
	if w := r.tok(i - 1); w.kind == word {
		return w.text
	}
	return ""
}

// develops reports whether the number after such a word is of development, not of
// exposure.
func develops(word string) bool {
	switch word {
	case "n", "push", "pushed", "pull", "pulled", "dev", "development":
		return true
	}
	return false
}

// counts reports whether the number after such a word is of frames, not of stops.
func counts(word string) bool {
	switch word {
	case "frame", "scan", "picture", "photo", "image", "img", "exposure", "exp", "shot", "no", "nr", "roll", "page", "negative", "neg", "slide", "sheet":
		return true
	}
	return false
}

// letter reads m2 and p1.5.
func (r *reader) letter(i int) {
	if !r.opens(i) || r.tok(i+1).kind != number {
		return
	}
	v, last, ok := r.number(i + 1)
	if !ok || r.tok(i).upper && !(i == 0 && last == len(r.toks)-1) {
		return
	}
	if r.tok(i).text == "m" {
		v = -v
	}
	r.out.bareMP = true
	r.add(v)
}

// before reads a word of direction and the number after it.
func (r *reader) before(i int) (read bool) {
	d := direction(r.tok(i).text)
	j := i + 1
	switch t := r.tok(j); t.kind {
	case gap:
		if t.text != " " && t.text != "_" {
			return false
		}
		if s := r.tok(j + 1).kind; (s == plus || s == minus) && r.tok(j+2).kind == number {
			j++
		}
	}
	switch t := r.tok(j); t.kind {
	case plus, minus:
		if r.tok(j+1).kind != number {
			return false
		}
		if direction(t.text) != d {
			r.veto = true // "over-2" says two things
			return true
		}
		j++
	case gap:
		j++
	}
	if r.tok(j).kind != number {
		return false
	}
	v, _, ok := r.number(j)
	if !ok {
		return false
	}
	r.add(v * d)
	return true
}

// sideWord reads under and over with a number on either side.
func (r *reader) sideWord(i int) {
	glued := r.tok(i-1).kind == number
	if !glued && !r.opens(i) {
		return
	}
	n := len(r.found)
	right := r.before(i)
	left := r.leftNumber(i)
	if left < 0 {
		return
	}
	if right && (r.veto || len(r.found) > n) {
		r.veto = true // a number on both sides
		return
	}
	if k := r.tok(i + 1).kind; k == word || k == number || k == junk {
		return
	}
	v := r.tok(left).value
	first := left
	if !r.tok(left).whole && r.tok(left-1).kind == gap && r.tok(left-2).kind == number && r.tok(left-2).whole {
		first = left - 2 // "1 1/2 over"
		v += r.tok(first).value
	}
	if !glued && r.tok(left).whole && counts(r.wordBefore(left)) || first != left && first > 0 {
		r.veto = true // "frame 3 over": three stops, or the third frame?
		return
	}
	r.found = append(r.found, v*direction(r.tok(i).text))
}

// leftNumber returns the index of the number that "2 under", "1-stop-over" or "½
// under" counts, -1 for none.
func (r *reader) leftNumber(i int) int {
	link := func(j int) int {
		if t := r.tok(j); t.kind == minus || t.kind == gap && (t.text == " " || t.text == "_") {
			return j - 1
		}
		return j
	}
	j := link(i - 1)
	if t := r.tok(j); t.kind == word && (t.text == "stop" || t.text == "stops" || t.text == "ev") {
		j = link(j - 1)
	}
	t := r.tok(j)
	if t.kind != number || t.whole && t.text == "0" && j != 0 {
		return -1
	}
	if !t.whole && strings.HasPrefix(t.text, "0") && !strings.ContainsAny(t.text, ".,") {
		return -1 // a padded counter
	}
	if b := r.tok(j - 1); b.kind == word {
		return -1
	}
	return j
}

// base reads the word base on its own; next to a signed number it only says what
// the number counts from.
func (r *reader) base(i int) {
	if !r.opens(i) {
		return
	}
	j := i + 1
	switch r.tok(j).kind {
	case number, junk, word:
		return
	case gap:
		j++
	}
	if k := r.tok(j).kind; (k == plus || k == minus || k == either) && r.tok(j+1).kind == number {
		return
	}
	r.found = append(r.found, 0)
}

// zero reads the whole name "0", and "0ev", "0 stops".
func (r *reader) zero(i int) {
	t := r.tok(i)
	if t.value != 0 || !t.whole && !strings.ContainsAny(t.text, ".,") || !(r.tok(i-1).kind == end || r.tok(i-1).kind == gap) {
		return
	}
	if len(r.toks) == 1 {
		r.found = append(r.found, 0)
		return
	}
	j := i + 1
	if r.tok(j).kind == gap && r.tok(j).text == " " {
		j++
	}
	if u := r.tok(j); u.kind == word && (u.text == "ev" || u.text == "stop" || u.text == "stops") {
		r.found = append(r.found, 0)
	}
}

// number reads the number at token i, with a fraction after a whole part and an
// underscore for the decimal point; last is the index of its last token. It says
// no where what follows makes the number something else.
func (r *reader) number(i int) (value float64, last int, ok bool) {
	t := r.tok(i)
	value, last = t.value, i
	sep, after := r.tok(i+1), r.tok(i+2)
	switch {
	case t.whole && sep.kind == gap && len(sep.text) == 1 && strings.ContainsAny(sep.text, " _") && after.kind == number:
		whole := after.whole
		switch {
		case !whole && strings.Contains(after.text, "/"):
			value, last = value+after.value, i+2
		case sep.text == "_" && shorthand(after.text):
			v, fine := decimal(t.text, after.text)
			if !fine {
				return 0, i, false
			}
			value, last = v, i+2
			r.out.under_ = true
		case whole && !r.names(i+3):
			r.veto = true // "+1_2": a half? the second scan?
			return 0, i, false
		}
	case t.kind == number && !t.whole && !strings.ContainsAny(t.text, "./,") && len(t.text) > 2:
		return 0, i, false
	}
	switch n := r.tok(last + 1); n.kind {
	case plus, either, junk, number:
		r.veto = true
		return 0, i, false
	case minus:
		if r.tok(last+2).kind == number {
			r.veto = true // "+1-2"
			return 0, i, false
		}
	case word:
		switch n.text {
		case "ev", "stop", "stops", "under", "over":
		default:
			return 0, i, false
		}
	}
	return value, last, true
}

// names reports whether the token at i is a word that counts the number before it ("+1
// 2nd", "-3_2 under"), so that it is no decimal.
func (r *reader) names(i int) bool { return r.tok(i).kind == word }

func (r *reader) add(v float64) { r.found = append(r.found, v) }
