package plate

import (
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/row"
)

// Shares of lost area, 0..1, from which words change.
const (
	mostGone = 0.5
	gone     = 0.10
	going    = 0.02
	seen     = 0.005 // less is written as none
)

// Happened says in three to six words what became of a frame, from its readings alone:
// which end of the tones went and how much of the picture with it, else what decided.
func Happened(d *row.Data) string {
	switch {
	case d == nil || d.State == row.Failed:
		return "could not be read"
	case d.Base:
		return "the base frame, as metered"
	case d.State != row.Ready || d.Look == nil:
		return "not read yet"
	case d.Pending:
		return "being compared"
	}
	lost := value(d, criteria.LostArea)
	e, decided := d.Decide()
	if !decided {
		return onlyClipped(d)
	}
	figure := e.Criterion.Figure(e.Value)
	by, _ := criteria.ByKey(e.Criterion.ID)
	if lost != nil && *lost >= going {
		what := end(d)
		switch {
		case *lost >= mostGone:
			what = "only " + other(what) + " left"
		case *lost >= gone:
			what += " gone"
		default:
			what += " going"
		}
		if e.Passed && by != criteria.LostArea {
			return what + ", " + figure
		}
		return what + ", " + row.Percent(*lost) + " lost"
	}
	if e.Passed {
		return symptom(by, d) + ", " + figure
	}
	light := "darker"
	if d.Stop > 0 {
		light = "brighter"
	}
	if d.Stop == 0 {
		light = "as the base frame"
	}
	if lost != nil && *lost < seen {
		return light + ", nothing lost"
	}
	if lost != nil {
		return light + ", whole, " + row.Percent(*lost) + " lost"
	}
	return light + ", " + figure
}

// symptom names what a criterion beyond its limit looks like.
func symptom(c criteria.Criterion, d *row.Data) string {
	switch c {
	case criteria.Noise:
		if d.Stop < 0 {
			return "noisy when lifted"
		}
		return "noisy"
	case criteria.DeltaE:
		return "colours off"
	case criteria.Crossover:
		return "colours cross over"
	case criteria.ContrastKept:
		return "flat"
	}
	return "detail lost"
}

// end names the end of the tones that a frame has lost. More light takes the highlights and
// less the shadows; the shares that are clipped are no guide, since a scan that is nearly
// black may have fewer pixels at its floor than the base frame has. At the base frame's own
// stop they are all there is.
func end(d *row.Data) string {
	l := row.Losses(d)
	if d.Stop > 0 || d.Stop == 0 && l[0].Share > l[1].Share {
		return "highlights"
	}
	return "shadows"
}

func other(end string) string {
	if end == "highlights" {
		return "shadows"
	}
	return "highlights"
}

func onlyClipped(d *row.Data) string {
	l := row.Losses(d)
	k := 0
	if l[1].Share > l[0].Share {
		k = 1
	}
	if v := l[k].Share; v > 0 {
		return row.Percent(v) + " " + strings.ToLower(l[k].Name) + ", not compared"
	}
	return "nothing clipped, not compared"
}

func value(d *row.Data, c criteria.Criterion) *float64 {
	if d.Scales.Criteria == nil {
		return nil
	}
	k := d.Scales.Criteria[c]
	if k == nil || k.At == nil {
		return nil
	}
	return k.At(d)
}

// verdictWords returns the verdict as it is written, and whether it is the judge's.
func verdictWords(d *row.Data) (words string, v roll.Verdict, judged bool) {
	if w := d.Verdict.Word(); w != "" {
		return w, d.Verdict, true
	}
	if d.Base {
		return "Base", roll.Unjudged, true
	}
	if d.Suggested != "" {
		return "(" + d.Suggested + ")", roll.Verdict(d.Suggested), false
	}
	return "not judged", roll.Unjudged, false
}

// facts returns what identifies the test, in clauses.
func (in *Input) facts() string {
	var s []string
	for _, t := range []string{in.Stock, in.Exposure, in.Date} {
		if t = strings.TrimSpace(t); t != "" {
			s = append(s, t)
		}
	}
	if j := strings.TrimSpace(in.Judge); j != "" {
		s = append(s, "judged by "+j)
	}
	if in.Shown != "" {
		s = append(s, in.Shown)
	}
	return strings.Join(s, ", ")
}

// title returns what the page is called.
func (in *Input) title() string {
	if t := strings.TrimSpace(in.Title); t != "" {
		return t
	}
	return "Untitled roll"
}

// conditions is the line that stands on every page.
func (in *Input) conditions() string {
	s := strings.Join(in.Standing, "; ")
	if s == "" {
		s = "This roll, this lab, this scanner"
	}
	if n := in.suggestions(); n > 0 {
		s += "; verdicts in brackets are what the limits suggest, not a judge's"
	}
	if in.Program != "" {
		s += "; " + in.Program
	}
	return s + "."
}

// suggestions counts the frames whose verdict is the limits'.
func (in *Input) suggestions() (n int) {
	for _, f := range in.Frames {
		if f.Data != nil && f.Data.State != row.Failed {
			if _, v, judged := verdictWords(f.Data); !judged && v != roll.Unjudged {
				n++
			}
		}
	}
	return n
}
