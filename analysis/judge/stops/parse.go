package stops

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

var typed = regexp.MustCompile(`^(?:(\+|-|±|m|p|minus|plus|under|over) ?)?` +
	`(?:(\d+)|(?:(\d+) )?(\d+)/(\d+)|(\d*)[.,](\d+))` +
	` ?(?:stops?|ev)? ?(under|over)?$`)

// Parse reads a stop as somebody types it: "-3", "+1/2", "−1⅓", "1.5", "1,5",
// "m2", "p1.5", "2 under", "over 1.5", "+1 stop", "0", "base". A number without a
// sign is over. The decimals .3 and .33 mean a third, .7, .66 and .67 two thirds,
// as the trade writes them; .30 and .70 are taken literally. The result lies
// within -Limit..Limit.
func Parse(text string) (float64, error) {
	t := strings.Join(strings.Fields(strings.ToLower(plain(text))), " ")
	if t == "" {
		return 0, fmt.Errorf("no stop given: write for example -1, 0 or +1/3")
	}
	if t == "base" {
		return 0, nil
	}
	bad := func(why string) (float64, error) {
		return 0, fmt.Errorf("%s %s: write for example -1, 0, +1/3 or 1.5", quote(text), why)
	}
	m := typed.FindStringSubmatch(t)
	if m == nil {
		return bad("is not a stop")
	}
	var v float64
	ok := true
	switch {
	case m[2] != "":
		v, ok = decimal(m[2], "")
	case m[5] != "":
		v, ok = fraction(m[4], m[5])
		if ok && m[3] != "" {
			var w float64
			w, ok = decimal(m[3], "")
			v += w
		}
	default:
		v, ok = decimal(m[6], m[7])
	}
	if !ok {
		return bad("is not a stop")
	}
	first, second := direction(m[1]), direction(m[8])
	switch {
	case m[1] == "±" && v != 0, first*second < 0:
		return bad("says both under and over")
	case first+second < 0:
		v = -v
	}
	if math.Abs(v) > Limit {
		return bad(fmt.Sprintf("is more than %.0f stops from the base", Limit))
	}
	return v + 0, nil
}

// direction returns +1 for words and signs of over, -1 for under, 0 for none.
func direction(word string) float64 {
	switch word {
	case "-", "m", "minus", "under":
		return -1
	case "+", "p", "plus", "over":
		return 1
	}
	return 0
}

// quote puts text in quotation marks for a message, cut to a readable length and
// without anything that could disturb a terminal.
func quote(text string) string {
	rs := []rune(text)
	if len(rs) > 40 {
		rs = append(rs[:40], '…')
	}
	return fmt.Sprintf("%q", string(rs))
}

// MaxList is the largest number of stops that a list may have.
const MaxList = 256

// ParseList reads a list of stops, in the order in which frames get them:
//
//	-3,-2,-1,0,+1     single stops; with ";" between them a comma is a decimal comma
//	-3..+4            whole stops from one end to the other, also downwards
//	-3..+4/0.5        the same in steps of half a stop; /1/3 for thirds
//	-3..-1,0,+1/2     any mixture
//
// A range must arrive at its end. "-3..+1/2" could mean an end of half a stop or
// steps of two stops and is refused. One stop may stand twice (a repeated frame).
func ParseList(text string) ([]float64, error) {
	sep := ","
	if strings.Contains(text, ";") {
		sep = ";"
	}
	var out []float64
	for _, item := range strings.Split(text, sep) {
		if strings.TrimSpace(item) == "" {
			return nil, fmt.Errorf("the list of stops %s has an empty place: write for example -3,-2,-1,0,+1 or -3..+4", quote(text))
		}
		add, err := parseItem(item)
		if err != nil {
			return nil, fmt.Errorf("in the list of stops %s: %w", quote(text), err)
		}
		if out = append(out, add...); len(out) > MaxList {
			return nil, fmt.Errorf("the list of stops %s has more than %d stops: shorten it or take a larger step", quote(text), MaxList)
		}
	}
	return out, nil
}

func parseItem(item string) ([]float64, error) {
	from, to, isRange := strings.Cut(strings.ReplaceAll(item, "…", ".."), "..")
	if !isRange {
		v, err := Parse(item)
		return []float64{v}, err
	}
	a, err := Parse(from)
	if err != nil {
		return nil, err
	}
	type reading struct{ end, step float64 }
	var readings []reading
	if b, err := Parse(to); err == nil {
		readings = append(readings, reading{b, 1})
	}
	to = plain(to)
	for i, r := range to {
		if r != '/' {
			continue
		}
		b, err1 := Parse(to[:i])
		step, err2 := Parse(to[i+1:])
		if err1 == nil && err2 == nil {
			readings = append(readings, reading{b, step})
		}
	}
	switch {
	case len(readings) == 0:
		return nil, fmt.Errorf("%s is not a range: write for example -3..+4 or -3..+4/0.5", quote(item))
	case len(readings) > 1:
		return nil, fmt.Errorf("%s can be read in two ways: write the end as a decimal, or the step behind a second slash, for example -3..+0.5/0.5", quote(item))
	}
	b, step := readings[0].end, readings[0].step
	if step <= 0 {
		return nil, fmt.Errorf("the step in %s must be more than 0", quote(item))
	}
	n := math.Abs(b-a) / step
	if n > MaxList {
		return nil, fmt.Errorf("%s has more than %d stops: take a larger step", quote(item), MaxList)
	}
	count := math.Round(n)
	if math.Abs(n-count) > 1e-6 {
		return nil, fmt.Errorf("%s does not arrive at its end in whole steps: change the end or the step", quote(item))
	}
	if b < a {
		step = -step
	}
	out := make([]float64, 0, int(count)+1)
	for i := 0.0; i <= count; i++ {
		out = append(out, tidy(a+i*step))
	}
	return out, nil
}

// tidy takes the last bits of a sum of thirds away, so that 3 x 1/3 is 1.
func tidy(stop float64) float64 {
	if twelfth := math.Round(stop*12) / 12; math.Abs(stop-twelfth) < 1e-9 {
		return twelfth + 0
	}
	return stop
}
