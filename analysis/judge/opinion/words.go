package opinion

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/judge/agreement"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	figures "stopladder/analysis/numeric/number"
)

// byLuck is the share of deals from which on agreement can be chance: one in twenty (Fisher,
// Statistical Methods for Research Workers, 1925).
const byLuck = 0.05

// Says tells in sentences how far the opinions agree, and how little few of them say.
func (s *Side) Says() (out []string) {
	if s.Hidden > 0 {
		out = append(out, fmt.Sprintf("%s hidden until you are done, so that yours is your own.", s.hiddenWords()))
	}
	if v := s.Verdicts; v != nil {
		out = append(out, agreed(v)...)
		if w := s.parted(); w != "" {
			out = append(out, w)
		}
	} else if s.counting() >= 2 {
		out = append(out, "No frame was judged by all, so nothing can be said of agreement.")
	}
	if g := s.Ranges; g != nil {
		out = append(out, ranged(g))
	}
	if n := s.knowing(); n > 0 {
		out = append(out, fmt.Sprintf("%s made after others' marks were seen, and does not count.", countOf(n, "judging was", "judgings were")))
	}
	return out
}

func (s *Side) hiddenWords() string {
	return countOf(s.Hidden, "other judging is", "other judgings are")
}

// countOf puts a count before one of two words, as a sentence begins.
func countOf(n int, one, more string) string {
	if n == 1 {
		return "One " + one
	}
	w := number(n)
	return strings.ToUpper(w[:1]) + w[1:] + " " + more
}

func number(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

func (s *Side) counting() (n int) {
	for _, j := range s.Judgements {
		if j.Counts() {
			n++
		}
	}
	return n
}

func (s *Side) knowing() int { return len(s.Judgements) - s.counting() }

// agreed tells what chance alone would give beside what was given.
func agreed(v *agreement.Verdicts) []string {
	who := countOf(v.Judges, "judging", "judgings") + ", " + number(v.Frames) + map[bool]string{true: " frame", false: " frames"}[v.Frames == 1]
	share := fmt.Sprintf("%s: %.0f %% of the verdicts agree, %.0f %% would by habit alone", who, 100*v.Share, 100*v.ByHabit)
	switch {
	case v.Kappa == nil:
		return []string{share + ". All gave one verdict only, so agreement says nothing."}
	case v.Low != nil:
		share += fmt.Sprintf("; kappa %s (%s to %s)", figure(*v.Kappa), figure(*v.Low), figure(*v.High))
	default:
		share += fmt.Sprintf("; kappa %s (too few frames, or none apart, for an interval)", figure(*v.Kappa))
	}
	return []string{share + ".", luck(v)}
}

// figure writes kappa for people.
func figure(v float64) string { return figures.Fixed(v, 2) }

// luck tells whether agreement can be chance.
func luck(v *agreement.Verdicts) string {
	how := "dealt out at random, the same verdicts agree as well in " + share(v.Chance.P) + "."
	if v.Chance.P >= byLuck {
		return "That can be chance: " + how
	}
	if v.Judges < 4 || v.Frames < 12 {
		return "Chance alone is unlikely, and still these are few: " + how
	}
	return "Chance alone is unlikely: " + how
}

// share writes a share of deals for people.
func share(p float64) string {
	switch {
	case p > 0.995:
		return "nearly all deals"
	case p >= 0.1:
		return fmt.Sprintf("%.0f of 100 deals", 100*p)
	case p >= 0.01:
		return fmt.Sprintf("1 of %.0f deals", math.Round(1/p))
	}
	return fmt.Sprintf("fewer than 1 of %.0f deals", math.Pow(10, math.Max(2, math.Floor(-math.Log10(p)+1e-9))))
}

// parted names the stops at which verdicts differ, those furthest apart first.
func (s *Side) parted() string {
	var far, near []string
	for i, f := range s.Roll.Frames {
		switch s.Span(i) {
		case 2:
			far = append(far, stops.Label(f.Stop))
		case 1:
			near = append(near, stops.Label(f.Stop))
		}
	}
	var words []string
	if len(far) > 0 {
		words = append(words, "from Holds to Breaks at "+list(far))
	}
	if len(near) > 0 {
		words = append(words, "by one step at "+list(near))
	}
	if len(words) == 0 {
		return "Nobody parts anywhere."
	}
	return "Verdicts part " + strings.Join(words, ", ") + "."
}

// Span is how many steps apart the verdicts on a frame lie, 0 to 2, among those that count.
func (s *Side) Span(frame int) int {
	lo, hi := 3, -1
	for _, j := range s.Judgements {
		v := j.Frames[frame]
		if c := category(v.Verdict); j.Counts() && !v.Changed && c >= 0 {
			lo, hi = min(lo, c), max(hi, c)
		}
	}
	return max(0, hi-lo)
}

func list(words []string) string {
	if len(words) == 1 {
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// ranged tells what all accept and how far the ends lie apart.
func ranged(g *agreement.Ranges) string {
	ends := fmt.Sprintf("the lower ends lie %s apart, the upper ends %s", apart(g.ApartLo), apart(g.ApartHi))
	switch {
	case g.ApartLo == 0 && g.ApartHi == 0:
		ends = "their ranges are the same"
	case g.ApartLo == 0:
		ends = fmt.Sprintf("the lower ends are the same, the upper ends lie %s apart", apart(g.ApartHi))
	case g.ApartHi == 0:
		ends = fmt.Sprintf("the lower ends lie %s apart, the upper ends are the same", apart(g.ApartLo))
	}
	who := "both"
	if g.Judges > 2 {
		who = "all " + number(g.Judges)
	}
	if g.All == nil {
		return fmt.Sprintf("No stop is accepted by %s; %s.", who, ends)
	}
	return fmt.Sprintf("%s accept %s to %s; %s.", strings.ToUpper(who[:1])+who[1:], stops.Label(g.All.Lo), stops.Label(g.All.Hi), ends)
}

// apart writes a distance in stops.
func apart(d float64) string {
	label := strings.TrimPrefix(stops.Label(d), "+")
	if d <= 1 {
		return label + " stop"
	}
	return label + " stops"
}

// Called is a judgement's heading: the judge's name, "You" for marks without one.
func (j Judgement) Called() string {
	switch {
	case j.Judge != "":
		return j.Judge
	case j.Now:
		return "You"
	}
	return "no name"
}

// Aside says in few words what has to be known of a judgement.
func (j Judgement) Aside() string {
	var words []string
	if j.Now {
		words = append(words, "now")
	}
	if j.Seen == roll.OnPreviews {
		words = append(words, "at preview size")
	}
	if j.Knowing {
		words = append(words, "knowing the others")
	}
	return strings.Join(words, ", ")
}
