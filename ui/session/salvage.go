package session

import (
	"math"
	"strings"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/row"
)

// handCost is what a correction by hand costs.
type handCost struct {
	key  string        // of the settings that were measured
	cost *salvage.Cost // nil: the frame cannot be compared
}

// SetHandCost keeps what a correction by hand of a file's frame costs; key is that
// of HandToMeasure.
func (s *Session) SetHandCost(file, key string, c *salvage.Cost) {
	if s.handCosts == nil {
		s.handCosts = map[string]handCost{}
	}
	s.handCosts[file] = handCost{key, c}
}

// HandToMeasure is the correction by hand of the i-th frame, where its cost is not
// that which was measured last.
func (s *Session) HandToMeasure(i int) (v correction.Settings, key string, ok bool) {
	if v, ok = s.SalvageOf(i, HandGrade); !ok {
		return v, "", false
	}
	key = CorrectionKey(v, v)
	return v.Clone(), key, s.handCosts[s.Roll.Frames[i].File].key != key
}

// HandCost is the cost of the i-th frame's correction by hand, as it was measured
// last: while a slide moves it follows by the time that a measure takes. It is nil
// where there is none.
func (s *Session) HandCost(i int) *salvage.Cost {
	if _, ok := s.SalvageOf(i, HandGrade); !ok {
		return nil
	}
	return s.handCosts[s.Roll.Frames[i].File].cost
}

// HandCostWords is HandCost in one line, "" where there is none.
func (s *Session) HandCostWords(i int) string {
	c := s.HandCost(i)
	if c == nil {
		return ""
	}
	var out []string
	values := appraise.Values(c)
	for _, k := range criteria.All() {
		if v := values[k]; v != nil && !math.IsNaN(*v) {
			out = append(out, strings.ToLower(k.Title())+" "+k.Words(*v))
		}
	}
	return "Costs: " + strings.Join(out, ", ") + "."
}

// costOf is the cost of the i-th frame at a grade, nil where it is not known.
func (s *Session) costOf(i int, g Grade) *salvage.Cost {
	if g == HandGrade {
		return s.HandCost(i)
	}
	a := s.Appraised(s.Roll.Frames[i].File)
	if a == nil || a.Salvage == nil || a.Salvage.Reason != "" {
		return nil
	}
	k := map[Grade]salvage.Grade{ExposureGrade: salvage.Exposure, BalanceGrade: salvage.Balance, CurvesGrade: salvage.Curves}[g]
	return &a.Salvage.Grades[k].Cost
}

// SalvageTables is what salvage of the i-th frame costs, grade by grade and band
// by band, what the limits suggest, and what it comes to for the roll.
func (s *Session) SalvageTables(i int) []row.Section {
	if i < 0 || i >= len(s.Roll.Frames) {
		return nil
	}
	f := s.Roll.Frames[i]
	name := stops.Label(f.Stop)
	a := s.Appraised(f.File)
	var out []row.Section
	switch {
	case i == s.Base():
		out = append(out, row.Section{Title: name + ", base frame", Rows: []row.Row{prose("The other frames are brought to this one: it costs nothing. Move the playhead to see what they cost.")}})
	case a == nil || a.Salvage == nil:
		why := "Salvage is measured when all frames are read and compared."
		if s.appraised != nil && s.appraised.Reason != "" {
			why = s.appraised.Reason
		}
		if m := s.Frame(i).Row.Message; m != "" {
			why = m
		}
		out = append(out, row.Section{Title: name + " stops", Rows: []row.Row{prose(why)}})
	case a.Salvage.Reason != "":
		out = append(out, row.Section{Title: name + " stops", Rows: []row.Row{prose(a.Salvage.Reason)}})
	default:
		out = append(out, s.suggestion(i, name), s.grades(i), s.bands(i))
	}
	return append(out, row.RangeSections(s.Extent(), s.Roll.LimitSet())...)
}

func (s *Session) grades(i int) row.Section {
	set := s.Roll.LimitSet()
	out := row.Section{Title: "Cost by grade", Heads: []string{"expos.", "balance", "curves", "hand", "limits"}}
	var costs []*salvage.Cost
	for _, g := range Grades() {
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
			if v := appraise.Values(c)[k]; v != nil && !math.IsNaN(*v) {
				return k.Figure(*v)
			}
			return none
		}, row.LimitFigure(k, p.Holds)+"/"+row.LimitFigure(k, p.Strains))
		if k == criteria.DeltaE {
			line("95th percentile", func(c *salvage.Cost) string { return figure(c.P95, 1, false) }, "")
		}
	}
	for _, g := range []Grade{HandGrade, CurvesGrade} {
		if c := s.costOf(i, g); c != nil && len(c.Reasons) > 0 {
			out.Rows = append(out.Rows, prose(strings.Join(c.Reasons, " ")))
			break
		}
	}
	return out
}

func (s *Session) bands(i int) row.Section {
	g := s.Grade
	c := s.costOf(i, g)
	if c == nil {
		g = CurvesGrade
		c = s.costOf(i, g)
	}
	out := row.Section{Title: "By band, " + strings.ToLower(g.Word()), Heads: []string{"ΔE00", "p95", "L*", "lost %", "contr. %"}}
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
			kept = Figure(100**v.ContrastKept, 0, false)
		}
		out.Rows = append(out.Rows, row.Row{Name: row.BandNames[b], Values: []string{figure(v.DeltaE, 1, false), figure(v.P95, 1, false), figure(v.NoiseL, 2, false), percent(v.LostArea), kept}})
	}
	return out
}

// Suggested is what the limits suggest for the i-th frame; ok is false where too
// little was measured.
func (s *Session) Suggested(i int) (v latitude.Verdict, ok bool) {
	e := s.Extent()
	if e == nil || i < 0 || i >= len(e.Verdicts) || e.Verdicts[i].Says == latitude.NotSuggested {
		return v, false
	}
	return e.Verdicts[i], true
}

func (s *Session) suggestion(i int, name string) row.Section {
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
		row.Row{Name: "Your verdict", Values: []string{row.VerdictWord(s.Roll.Frames[i].Verdict)}})
	return out
}
