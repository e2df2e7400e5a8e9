package against

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
)

// words are how a quantity is spoken of. Quantities of one family are told together.
type words struct {
	family string
	what   string  // of which it is told that it is the same: "Over, what holds"
	than   string  // what a roll with more of it does: "holds further over than"
	flip   bool    // more of it is the lower value
	at     float64 // stops at which it is read; NaN: it is one figure
	same   float64 // up to which half width rolls are called the same
	figure func(v float64) string
	amount func(v float64) string // of a difference; "" none but the figures
}

func inStops(v float64) string { return number.Signed(v, 2) }

// fraction writes a length in stops by the nearest quarter or third.
func fraction(v float64) string {
	v = math.Abs(v)
	if v < 0.2 {
		return number.Fixed(v, 2) + " stop"
	}
	q, t := math.Round(v*4)/4, math.Round(v*3)/3
	if math.Abs(v-t) < math.Abs(v-q) {
		q = t
	}
	s := strings.TrimPrefix(stops.Label(q), "+") + " stop"
	if q > 1 {
		s += "s"
	}
	return s
}

func fixed(decimals int, unit string) func(v float64) string {
	return func(v float64) string { return strings.TrimSpace(number.Fixed(v, decimals) + " " + unit) }
}

func rangeWords(level string, over bool) words {
	side, do := "under", "holds"
	if over {
		side = "over"
	}
	what := "what holds"
	if level == "strains" {
		do, what = "is usable with work", "what is usable with work"
	}
	return words{family: level + " " + side, what: strings.ToUpper(side[:1]) + side[1:] + ", " + what, than: do + " further " + side + " than", flip: !over,
		at: math.NaN(), same: 0.5, figure: inStops, amount: fraction}
}

func contrastWords(channel string) words {
	return words{family: "contrast " + channel, what: "The contrast about mid-grey in " + channel, than: "is steeper about mid-grey in " + channel + " than",
		at: math.NaN(), same: 0.1, figure: fixed(2, "")}
}

func reachWords(i int) words {
	if i == 0 {
		return words{family: "reach dark", what: "How far shadows are drawn below mid-grey before the scan is down to 1 % of its light", flip: true,
			than: "draws shadows further below mid-grey than", at: math.NaN(), same: 0.35, figure: inStops, amount: fraction}
	}
	return words{family: "reach light", what: "How far lights are drawn above mid-grey before the scan is near its white",
		than: "draws lights further above mid-grey than", at: math.NaN(), same: 0.35, figure: inStops, amount: fraction}
}

func noiseWords(at float64) words {
	return words{family: "grey noise", what: "The noise of greys in the base frame", than: "shows more noise in the base frame than", at: at, same: 0.1, figure: fixed(2, "L*")}
}

func castWords(channel int, at float64) words {
	w := words{family: "cast red", what: "The cast of a mid-grey between red and cyan", than: "goes redder than", flip: true, at: at, same: 5, figure: signedCC}
	if channel == 1 {
		w.family, w.what, w.than, w.flip = "cast blue", "The cast of a mid-grey between yellow and blue", "goes yellower than", false
	}
	return w
}

func signedCC(v float64) string { return number.Signed(v, 0) + " CC" }

func costWords(c criteria.Criterion, at float64) words {
	w := words{family: c.Key(), at: at, figure: c.Words}
	if c == criteria.Noise {
		w.figure = fixed(2, "L*")
	}
	switch c {
	case criteria.LostArea:
		w.what, w.than, w.same = "What is lost of the picture", "loses more of the picture than", 0.02
	case criteria.DeltaE:
		w.what, w.than, w.same = "The colour difference that salvage leaves", "keeps a larger colour difference after salvage than", 1
	case criteria.Noise:
		w.what, w.than, w.same = "The noise of salvaged shadows", "has noisier shadows after salvage than", 0.5
	case criteria.Crossover:
		w.what, w.than, w.same = "The crossover that salvage leaves", "keeps more crossover after salvage than", 1
	case criteria.ContrastKept:
		w.what, w.than, w.same = "The local contrast that is kept", "keeps more local contrast than", 0.05
	}
	return w
}

// list joins words: "a, b and c".
func list(parts []string) string {
	switch n := len(parts); n {
	case 0:
		return ""
	case 1:
		return parts[0]
	default:
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
}

// Sentences tell what a group comes to: first what differs by more than its errors, roll
// by roll in the order in which they were named, then what does not.
func (r *Result) Sentences(g Group) (out []string) {
	var alike, open []string
	done := map[string]bool{}
	for i := range r.Quantities {
		q := &r.Quantities[i]
		if q.Group != g || done[q.say.family] {
			continue
		}
		done[q.say.family] = true
		of := r.family(q.say.family)
		apart := r.apart(of)
		out = append(out, apart...)
		if s, ends := r.alike(of, len(apart) > 0); s != "" && ends {
			open = append(open, s)
		} else if s != "" {
			alike = append(alike, s)
		}
	}
	return append(append(out, alike...), open...)
}

// family returns the quantities that are told together.
func (r *Result) family(name string) (of []int) {
	for i := range r.Quantities {
		if r.Quantities[i].say.family == name {
			of = append(of, i)
		}
	}
	return of
}

// brief reports whether there are so many rolls that sentences call them by their letters
// and leave the errors to the plots and the figures.
func (r *Result) brief() bool { return len(r.Rolls) > 3 }

// Letter is what the i-th roll is called in plots, and in sentences on many rolls.
func Letter(i int) string { return string(rune('A' + i)) }

// Call returns what the i-th roll is called in a sentence.
func (r *Result) Call(i int) string {
	if r.brief() {
		return Letter(i)
	}
	return r.Rolls[i].Name
}

// apart tells the differences of a family, a sentence for each roll that has more.
func (r *Result) apart(of []int) (out []string) {
	say := r.Quantities[of[0]].say
	for hi := range r.Rolls {
		var than []string
		for lo := range r.Rolls {
			if s := r.more(of, hi, lo); s != "" {
				than = append(than, r.Call(lo)+" "+s)
			}
		}
		if len(than) > 0 {
			out = append(out, r.Call(hi)+" "+say.than+" "+list(than)+".")
		}
	}
	return out
}

// more tells by how much one roll has more than another, and where; "" where it is not told
// to.
func (r *Result) more(of []int, hi, lo int) string {
	var where []string
	var best *Difference
	n := 0
	for _, q := range of {
		for i := range r.Pairs {
			p := &r.Pairs[i]
			if p.Quantity != q || !(p.A == hi && p.B == lo || p.A == lo && p.B == hi) {
				continue
			}
			n++
			by := p.By // of B against A
			if p.A == hi {
				by = -by
			}
			if r.Quantities[q].say.flip {
				by = -by
			}
			if !p.Differs || by <= 0 {
				continue
			}
			where = append(where, stops.Label(r.Quantities[q].say.at))
			if best == nil || math.Abs(p.By)/math.Max(p.Error, 1e-9) > math.Abs(best.By)/math.Max(best.Error, 1e-9) {
				best = p
			}
		}
	}
	if best == nil {
		return ""
	}
	q := &r.Quantities[best.Quantity]
	a, b := q.Figure[hi], q.Figure[lo]
	figures := q.say.written(a) + " against " + q.say.written(b)
	if !r.brief() {
		figures += ", ± " + strings.TrimPrefix(q.say.figure(best.Error), "+")
	}
	if math.IsNaN(q.say.at) {
		if q.say.amount == nil {
			return "(" + figures + ")"
		}
		least := ""
		if best.Bound {
			least = "at least "
		}
		if r.brief() {
			return "by " + least + q.say.amount(best.By)
		}
		return "by " + least + q.say.amount(best.By) + " (" + figures + ")"
	}
	if len(where) == 1 {
		return "at " + where[0] + " (" + figures + ")"
	}
	return "at " + list(where) + " (at " + stops.Label(q.say.at) + ": " + figures + ")"
}

// written is a figure with its bound.
func (w words) written(f *Figure) string {
	s := w.figure(f.Value)
	switch {
	case f.Bound == 0:
		return s
	case (f.Bound > 0) != w.flip:
		return "at least " + s
	}
	return "at least " + s // an end under that is not reached: at least so far under
}

// alike tells what of a family does not differ; ends: only that no roll reaches it.
func (r *Result) alike(of []int, some bool) (s string, ends bool) {
	say := r.Quantities[of[0]].say
	widest, by, n, none, left := 0.0, 0.0, 0, 0, 0
	for _, q := range of {
		for _, p := range r.Of(q) {
			n++
			switch {
			case p.none:
				none++
			case !p.Differs && p.Bound:
				left++
				widest = math.Inf(1)
			case !p.Differs:
				left++
				if w := math.Abs(p.By) + p.Error; w > widest {
					widest, by = w, math.Abs(p.By)
				}
			}
		}
	}
	switch {
	case n == 0:
		return "", false
	case none == n:
		return say.what + " goes to the last frame in all of them: a wider bracket would tell more.", true
	case left == 0:
		return "", false
	case some && len(r.Rolls) == 2:
		return say.what + ": elsewhere they cannot be told apart.", false
	case some:
		return say.what + ": no other two can be told apart.", false
	case widest <= say.same && say.amount != nil:
		return fmt.Sprintf("%s is the same within %s.", say.what, number.Fixed(math.Ceil(widest*10-1e-9)/10, 1)+" stop"), false
	case widest <= say.same:
		return fmt.Sprintf("%s is the same within %s.", say.what, say.figure(widest)), false
	case len(r.Rolls) == 2 && len(of) == 1 && !math.IsInf(widest, 1):
		return fmt.Sprintf("%s cannot be told apart: they differ by %s, ± %s.", say.what, strings.TrimPrefix(say.figure(by), "+"), strings.TrimPrefix(say.figure(widest-by), "+")), false
	}
	return say.what + " cannot be told apart.", false
}

// RepeatedWords tell how far frames stray that stand twice in a roll, and figures of rolls
// that are one test made again, beside the errors that are stated of them.
func RepeatedWords(r *Result) (out []string) {
	for _, q := range r.Repeats {
		s := fmt.Sprintf("%s has %d frames at %s: their measured stops stray by ± %s, and ± %s is stated of them", r.Call(q.Roll), q.Frames, stops.Label(q.Stop), number.Fixed(q.Spread, 3), number.Fixed(q.Stated, 3))
		if q.Cost != nil {
			s += fmt.Sprintf("; each brought to the base frame by curves, at most %s ΔE00 is left", number.Fixed(*q.Cost, 1))
		}
		out = append(out, s+". What the frames stray by beyond the stated error is of shutter and light.")
	}
	if r.Spread == nil {
		return out
	}
	var by []string
	over := 0
	for _, s := range r.Spread {
		q := &r.Quantities[s.Quantity]
		if !s.Covered() {
			over++
			by = append(by, fmt.Sprintf("%s (strays by ± %.3g, stated ± %.3g)", q.Key, s.Spread, s.Stated))
		}
	}
	switch {
	case len(r.Spread) == 0:
		return append(out, "The rolls are one test made again, and have no figure in common to stray.")
	case over == 0:
		return append(out, fmt.Sprintf("The rolls are one test made again: of %d figures none strays by more than its stated error allows for so few tests.", len(r.Spread)))
	}
	return append(out, fmt.Sprintf("The rolls are one test made again: of %d figures %d stray by more than their stated errors allow, so the test itself strays there, or something varied that is not noted: %s.", len(r.Spread), over, list(by)))
}
