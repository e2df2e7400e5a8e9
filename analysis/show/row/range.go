package row

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/numeric/number"
)

// None stands where a figure is not known.
const None = "–"

// SuggestionWord returns a suggestion as it is shown.
func SuggestionWord(v latitude.Suggestion) string {
	switch v {
	case latitude.SaysHolds:
		return "Holds"
	case latitude.SaysStrains:
		return "Strains"
	case latitude.SaysBreaks:
		return "Breaks"
	}
	return None
}

// CriterionName returns a criterion with its unit, for a narrow table.
func CriterionName(c criteria.Criterion) string {
	return [criteria.Count]string{criteria.LostArea: "Lost, % of area", criteria.DeltaE: "ΔE00, median", criteria.Noise: "Noise, L*",
		criteria.Crossover: "Crossover, ΔE00", criteria.ContrastKept: "Contrast kept, %"}[c]
}

// criterionHead is a criterion over a column of figures.
var criterionHead = [criteria.Count]string{criteria.LostArea: "lost %", criteria.DeltaE: "ΔE00", criteria.Noise: "noise L*",
	criteria.Crossover: "crossover", criteria.ContrastKept: "contrast %"}

// CriterionHead returns a criterion with its unit as it heads a column of figures.
func CriterionHead(c criteria.Criterion) string { return criterionHead[c] }

// LimitFigure returns a limit in its criterion's unit, as short as can be.
func LimitFigure(k criteria.Criterion, v float64) string {
	if k == criteria.LostArea || k == criteria.ContrastKept {
		v *= 100
	}
	return fmt.Sprintf("%.3g", v)
}

// CostSection returns what it costs to bring each frame of a roll to the base frame
// at the grade that the limits are held against, most exposure first, with what the
// limits suggest beside what the judge says. The roll must be compared.
func CostSection(r *film.Roll) Section {
	set, e := r.Limits(), r.Range()
	out := Section{Title: "Brought to the base frame by " + string(set.Grade)}
	cols := []criteria.Criterion{criteria.LostArea, criteria.DeltaE, criteria.Noise, criteria.Crossover, criteria.ContrastKept}
	for _, c := range cols {
		out.Heads = append(out.Heads, criterionHead[c])
		if c == criteria.DeltaE {
			out.Heads = append(out.Heads, "p95")
		}
	}
	out.Heads = append(out.Heads, "suggested", "judge")
	points := r.Comparison.Points(set.Grade)
	order := make([]int, 0, len(points))
	for i, p := range points {
		if !math.IsNaN(p.Stop) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(points[b].Stop, points[a].Stop) })
	for _, i := range order {
		row := Row{Name: stops.Label(points[i].Stop)}
		if i == r.Base {
			row.Name += " base"
		}
		for _, c := range cols {
			v := None
			if p := points[i].Values[c]; p != nil && known(*p) {
				v = c.Figure(*p)
			}
			row.Values = append(row.Values, v)
			if c == criteria.DeltaE {
				v = None
				if cost := r.Cost(i, set.Grade); cost != nil && cost.P95 != nil && known(*cost.P95) {
					v = fmt.Sprintf("%.1f", *cost.P95)
				}
				row.Values = append(row.Values, v)
			}
		}
		suggested, judge := None, None
		if i != r.Base && i < len(e.Verdicts) {
			suggested = SuggestionWord(e.Verdicts[i].Says)
		}
		if v := r.Judged.Frames[i].Verdict; v != roll.Unjudged {
			judge = VerdictWord(v)
		}
		row.Values = append(row.Values, suggested, judge)
		out.Rows = append(out.Rows, row)
	}
	for _, l := range []struct {
		name string
		of   func(p criteria.Pair) float64
	}{{"Limit: holds", func(p criteria.Pair) float64 { return p.Holds }}, {"Limit: strains", func(p criteria.Pair) float64 { return p.Strains }}} {
		row := Row{Name: l.name, Strong: true}
		for _, c := range cols {
			row.Values = append(row.Values, LimitFigure(c, l.of(set.Limits[c])))
			if c == criteria.DeltaE {
				row.Values = append(row.Values, "")
			}
		}
		row.Values = append(row.Values, "", "")
		out.Rows = append(out.Rows, row)
	}
	return out
}

// MeasuredRange returns the range that holds, for the axis; nil where there is none.
func MeasuredRange(e *latitude.Result) *roll.Range {
	if e == nil || e.Holds.Reason != "" {
		return nil
	}
	return &roll.Range{Lo: e.Holds.Lo.Stop, Hi: e.Holds.Hi.Stop}
}

// Finding is what a roll comes to: as it was measured, and as the judge has it.
type Finding struct {
	Measured []string // sentences
	Own      string   // in the judge's words; "" none
	Judge    string   // whose they are; "" not said
}

// FindingOf returns the finding of a roll under its limits.
func FindingOf(r *film.Roll) (f Finding) {
	f.Measured = r.Finding(r.Limits())
	f.Own, f.Judge = r.Judged.OwnFinding()
	return f
}

// Sections returns the judge's finding, where there is one, and the measured one.
func (f Finding) Sections() (out []Section) {
	prose := func(title string, lines []string) {
		s := Section{Title: title}
		for _, t := range lines {
			s.Rows = append(s.Rows, Row{Name: t, Prose: true})
		}
		out = append(out, s)
	}
	title := "Finding"
	if f.Own != "" {
		prose(f.OwnTitle(), strings.Split(legible.Text(f.Own), "\n"))
		title = "Finding, as measured"
	}
	if len(f.Measured) > 0 {
		prose(title, f.Measured)
	}
	return out
}

// OwnTitle heads the judge's finding.
func (f Finding) OwnTitle() string {
	if f.Judge == "" {
		return "Finding, in the judge's words"
	}
	return "Finding, in the words of " + legible.Line(f.Judge)
}

// RangeSections returns the measured range under a set of limits, what ended it, and
// what it comes to.
func RangeSections(e *latitude.Result, set criteria.Set, said Finding) []Section {
	if e == nil {
		return said.Sections()
	}
	out := Section{Title: "Measured range, limits: " + set.Title(), Heads: []string{"from", "±", "to", "±"}}
	for _, g := range []struct {
		name string
		r    latitude.Range
	}{{"Holds", e.Holds}, {"Strains", e.Strains}} {
		if g.r.Reason != "" {
			out.Rows = append(out.Rows, Row{Name: g.r.Reason, Prose: true})
			continue
		}
		end := func(x latitude.End) (at, pm string) {
			if x.Open {
				return number.Signed(x.Stop, 2), "open"
			}
			return number.Signed(x.Stop, 2), number.Fixed(x.Uncertainty, 2)
		}
		lo, lop := end(g.r.Lo)
		hi, hip := end(g.r.Hi)
		out.Rows = append(out.Rows, Row{Name: g.name, Values: []string{lo, lop, hi, hip}, Strong: g.name == "Holds"})
		var by []string
		for _, x := range []struct {
			side string
			e    latitude.End
		}{{"under", g.r.Lo}, {"over", g.r.Hi}} {
			switch {
			case x.e.Open && x.e.Unknown > 0:
				by = append(by, x.side+" open: nothing known of the frames beyond")
			case x.e.Open:
				by = append(by, x.side+" open: the last frame keeps the limits")
			default:
				by = append(by, x.side+" ended by "+x.e.By.Word())
			}
		}
		out.Rows = append(out.Rows, Row{Name: "  " + strings.Join(by, ", "), Prose: true})
	}
	if e.Holds.Reason != "" && e.Holds.Reason == e.Strains.Reason { // the finding says it
		return said.Sections()
	}
	return append([]Section{out}, said.Sections()...)
}
