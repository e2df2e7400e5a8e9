package session

import (
	"context"
	"math"
	"strings"

	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/row"
)

// handCost is what a correction by hand costs.
type handCost struct {
	key  string        // of the settings that were measured
	cost *salvage.Cost // nil: the frame cannot be compared
}

// handMeasured is what a correction by hand costs.
type handMeasured struct {
	file string
	cost handCost
}

func (c handMeasured) apply(s *State) Effect {
	s.costing = false
	s.handCosts[c.file] = c.cost
	return Effect{Redraw: Readings}
}

// measureHand returns the work of finding what the correction by hand of the frame under
// the marker costs, while a page shows it. One is measured at a time, to its end, and
// then the newest: a slide that is dragged faster than that is followed all the same.
func (s *State) measureHand() []Work {
	i, a := s.Current(), s.film.Comparison
	if s.costing || i < 0 || a == nil || a.Grid == nil || s.panel != SalvagePanel && !(s.panel == CorrectionPanel && s.byHand) {
		return nil
	}
	v, key, ok := s.handToMeasure(i)
	if !ok {
		return nil
	}
	s.costing = true
	file := s.roll.Frames[i].File
	return []Work{{Name: "cost by hand", Do: func(ctx context.Context, _ func(Change)) (Change, error) {
		c, ok, err := a.Grid.CostOf(ctx, i, v)
		if err != nil || !ok {
			return handMeasured{file, handCost{key: key}}, nil
		}
		return handMeasured{file, handCost{key, &c}}, nil
	}}}
}

// handToMeasure returns the correction by hand of the i-th frame, where its cost is not
// that which was measured last.
func (s *State) handToMeasure(i int) (v correction.Settings, key string, ok bool) {
	if v, ok = s.SalvageOf(i, criteria.Hand); !ok {
		return v, "", false
	}
	key = CorrectionKey(v, v)
	return v.Clone(), key, s.handCosts[s.roll.Frames[i].File].key != key
}

// HandCost returns the cost of the i-th frame's correction by hand, as it was measured
// last: while a slide moves it follows by the time that a measure takes. It is nil
// where there is none.
func (s *State) HandCost(i int) *salvage.Cost {
	if _, ok := s.SalvageOf(i, criteria.Hand); !ok {
		return nil
	}
	return s.handCosts[s.roll.Frames[i].File].cost
}

// HandCostWords returns HandCost in one line, "" where there is none.
func (s *State) HandCostWords(i int) string {
	c := s.HandCost(i)
	if c == nil {
		return ""
	}
	var out []string
	values := comparison.Values(c)
	for _, k := range criteria.All() {
		if v := values[k]; v != nil && !math.IsNaN(*v) {
			out = append(out, strings.ToLower(k.Title())+" "+k.Words(*v))
		}
	}
	return "Costs: " + strings.Join(out, ", ") + "."
}

// costOf returns the cost of the i-th frame at a grade, nil where it is not known.
func (s *State) costOf(i int, g criteria.Grade) *salvage.Cost {
	if g == criteria.Hand {
		return s.HandCost(i)
	}
	return s.film.Cost(i, g)
}

// SalvageTables returns what salvage of the i-th frame costs, grade by grade and band
// by band, what the limits suggest, and what it comes to for the roll.
func (s *State) SalvageTables(i int) []row.Section {
	if i < 0 || i >= len(s.roll.Frames) {
		return nil
	}
	name, a := stops.Label(s.roll.Frames[i].Stop), s.film.Compared(i)
	var out []row.Section
	switch {
	case i == s.Base():
		words := "The other frames are brought to this one: it costs nothing. Move the marker to see what they cost."
		if len(s.roll.Frames) < 2 {
			words = "The other frames are brought to this one: it costs nothing. The roll has no other frame yet."
		}
		out = append(out, row.Section{Title: name + ", base frame", Rows: []row.Row{prose(words)}})
	case a == nil || a.Salvage == nil:
		why := "Salvage is measured when all frames are read and compared."
		if all := s.film.Comparison; all != nil && all.Reason != "" {
			why = all.Reason
		}
		if m := s.Rows()[i].Message; m != "" {
			why = m
		}
		out = append(out, row.Section{Title: name + " stops", Rows: []row.Row{prose(why)}})
	case a.Salvage.Reason != "":
		out = append(out, row.Section{Title: name + " stops", Rows: []row.Row{prose(a.Salvage.Reason)}})
	default:
		out = append(out, s.suggestion(i, name), s.grades(i), s.bands(i))
	}
	return append(out, row.RangeSections(s.film.Range(), s.roll.LimitSet(), row.FindingOf(s.film))...)
}

func (s *State) grades(i int) row.Section {
	set := s.roll.LimitSet()
	out := row.Section{Title: "Cost by grade", Heads: []string{"expos.", "balance", "curves", "hand", "limits"}}
	var costs []*salvage.Cost
	for _, g := range criteria.Grades() {
		costs = append(costs, s.costOf(i, g))
	}
	line := func(name string, figure func(c *salvage.Cost) string, limit string) {
		r := row.Row{Name: name}
		for _, c := range costs {
			v := none
			if c != nil {
				v = figure(c)
			}
			r.Values = append(r.Values, v)
		}
		r.Values = append(r.Values, limit)
		out.Rows = append(out.Rows, r)
	}
	for _, k := range criteria.All() {
		p := set.Limits[k]
		line(row.CriterionName(k), func(c *salvage.Cost) string {
			if v := comparison.Values(c)[k]; v != nil && !math.IsNaN(*v) {
				return k.Figure(*v)
			}
			return none
		}, row.LimitFigure(k, p.Holds)+"/"+row.LimitFigure(k, p.Strains))
		if k == criteria.DeltaE {
			line("95th percentile", func(c *salvage.Cost) string { return figure(c.P95, 1, false) }, "")
		}
	}
	for _, g := range []criteria.Grade{criteria.Hand, criteria.Curves} {
		if c := s.costOf(i, g); c != nil && len(c.Reasons) > 0 {
			out.Rows = append(out.Rows, prose(strings.Join(c.Reasons, " ")))
			break
		}
	}
	return out
}

func (s *State) bands(i int) row.Section {
	g := s.grade
	c := s.costOf(i, g)
	if c == nil {
		g = criteria.Curves
		c = s.costOf(i, g)
	}
	out := row.Section{Title: "By band, " + g.InWords(), Heads: []string{"ΔE00", "p95", "L*", "lost %", "contr. %"}}
	if c == nil {
		return out
	}
	for b := measure.Bands - 1; b >= 0; b-- {
		v := &c.Bands[b]
		percent := func(p *float64) string {
			if p == nil {
				return none
			}
			return figure(hundredfold(*p), 1, false)
		}
		kept := none
		if v.ContrastKept != nil {
			kept = number.Fixed(100**v.ContrastKept, 0)
		}
		out.Rows = append(out.Rows, row.Row{Name: row.BandNames[b], Values: []string{figure(v.DeltaE, 1, false), figure(v.P95, 1, false), figure(v.NoiseL, 2, false), percent(v.LostArea), kept}})
	}
	return out
}

// Suggested returns what the limits suggest for the i-th frame; ok is false where too
// little was measured.
func (s *State) Suggested(i int) (v latitude.Verdict, ok bool) {
	e := s.film.Range()
	if e == nil || i < 0 || i >= len(e.Verdicts) || e.Verdicts[i].Says == latitude.NotSuggested {
		return v, false
	}
	return e.Verdicts[i], true
}

func (s *State) suggestion(i int, name string) row.Section {
	out := row.Section{Title: name + " stops"}
	v, ok := s.Suggested(i)
	if !ok {
		out.Rows = append(out.Rows, prose("The limits suggest no verdict: too little could be measured."))
		return out
	}
	text := row.SuggestionWord(v.Says)
	if len(v.By) > 0 {
		var by []string
		for _, c := range v.By {
			by = append(by, c.Word())
		}
		text += ", for " + strings.Join(by, ", ")
	}
	out.Rows = append(out.Rows, row.Row{Name: "The limits suggest", Values: []string{text}, Strong: true},
		row.Row{Name: "Your verdict", Values: []string{row.VerdictWord(s.roll.Frames[i].Verdict)}})
	return out
}
