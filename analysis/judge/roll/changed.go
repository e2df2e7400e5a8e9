package roll

import (
	"fmt"
	"strings"

	"stopladder/analysis/judge/stops"
)

// Difference is one mark that two versions of a roll have otherwise.
type Difference struct {
	What         string // the frame, with its stop, or what of the roll it is
	Theirs, Mine string // as shown; "" is none
}

// Differences returns the marks in which two versions of a roll differ, frame by frame
// and then those of the roll, for a person to choose between.
func Differences(theirs, mine *Roll) (out []Difference) {
	add := func(what, a, b string) {
		if a != b {
			out = append(out, Difference{what, a, b})
		}
	}
	seen := map[string]bool{}
	frame := func(file string) {
		if seen[file] {
			return
		}
		seen[file] = true
		a, b := theirs.frame(file), mine.frame(file)
		f := b
		if f == nil {
			f = a
		}
		what := stops.Label(f.Stop) + " " + f.Name()
		add(what, marked(a), marked(b))
	}
	for _, r := range []*Roll{mine, theirs} {
		for _, f := range r.Frames {
			frame(f.File)
		}
	}
	add("range", theirs.ranged(), mine.ranged())
	add("judge", theirs.judgedBy(), mine.judgedBy())
	a, _ := theirs.OwnFinding()
	b, _ := mine.OwnFinding()
	add("finding in words", a, b)
	of := theirs.Block()
	for i, l := range mine.Block() {
		add(l.What, *of[i].Text, *l.Text)
	}
	add("opinions of judges", theirs.opinions(), mine.opinions())
	add("blind judgings", theirs.blindly(), mine.blindly())
	add("patches", fmt.Sprint(theirs.Patches), fmt.Sprint(mine.Patches))
	add("limits", theirs.LimitSet().Title(), mine.LimitSet().Title())
	return out
}

func (r *Roll) frame(file string) *Frame {
	for i := range r.Frames {
		if r.Frames[i].File == file {
			return &r.Frames[i]
		}
	}
	return nil
}

// marked returns what a judge says of a frame, in one line.
func marked(f *Frame) string {
	if f == nil {
		return "not in the roll"
	}
	words := []string{stops.Label(f.Stop)}
	if f.Verdict == Unjudged {
		words = append(words, "not judged")
	} else {
		words = append(words, f.Verdict.Word())
	}
	if f.Note != "" {
		words = append(words, f.Note)
	}
	if f.Area != nil {
		words = append(words, fmt.Sprintf("area %d, %d, %d x %d", f.Area.X, f.Area.Y, f.Area.W, f.Area.H))
	}
	if f.Placed != nil {
		words = append(words, "placed by hand")
	}
	if f.Hand != nil {
		words = append(words, "corrected by hand")
	}
	return strings.Join(words, ", ")
}

func (r *Roll) judgedBy() string {
	if len(r.Marks) == 0 {
		return ""
	}
	return r.Marks[0].Judge
}

func (r *Roll) ranged() string {
	if len(r.Marks) == 0 || r.Marks[0].Range == nil {
		return ""
	}
	g := r.Marks[0].Range
	return stops.Label(g.Lo) + " to " + stops.Label(g.Hi)
}

// opinions tells the marks that stand beside the roll's own, by judge and day.
func (r *Roll) opinions() string {
	var words []string
	for _, m := range r.Marks[min(1, len(r.Marks)):] {
		words = append(words, strings.TrimSpace(m.Judge+" "+m.Date))
	}
	return strings.Join(words, ", ")
}
