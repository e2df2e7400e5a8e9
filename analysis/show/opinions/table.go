package opinions

import (
	"strings"
	"unicode/utf8"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
)

// widest is how many columns a name takes in the table.
const widest = 14

// Table writes the opinions for people to read: the most exposure on top as on the ladder, a
// column for each judgement.
func (d *Doc) Table() string {
	var b strings.Builder
	if d.Title != "" {
		b.WriteString(legible.Line(d.Title) + "\n\n")
	}
	s := d.side
	head, days, asides := []string{"stop", "scan"}, []string{"", ""}, []string{"", ""}
	for _, j := range s.Judgements {
		head = append(head, cut(legible.Line(j.Called())))
		days = append(days, cut(legible.Line(j.Date)))
		asides = append(asides, mark(j))
	}
	rows := [][]string{append(head, "apart"), append(days, ""), append(asides, "")}
	for i := len(s.Roll.Frames) - 1; i >= 0; i-- {
		f := s.Roll.Frames[i]
		row := []string{stops.ASCII(f.Stop), legible.Line(f.ScanName())}
		for _, j := range s.Judgements {
			row = append(row, word(j.Frames[i]))
		}
		rows = append(rows, append(row, strings.Repeat("*", s.Span(i))))
	}
	low, high := []string{"", "range from"}, []string{"", "to"}
	for _, j := range s.Judgements {
		if j.Range == nil {
			low, high = append(low, "-"), append(high, "-")
			continue
		}
		low, high = append(low, stops.ASCII(j.Range.Lo)), append(high, stops.ASCII(j.Range.Hi))
	}
	rows = append(rows, append(low, ""), append(high, ""))
	columns(&b, rows)
	for _, w := range legend(s) {
		b.WriteString(w + "\n")
	}
	if len(d.Says) > 0 {
		b.WriteString("\n")
	}
	for _, w := range d.Says {
		b.WriteString(w + "\n")
	}
	return b.String()
}

// word is a verdict in the table.
func word(v opinion.Verdict) string {
	w := "-"
	if v.Verdict != roll.Unjudged {
		w = v.Verdict.Word()
	}
	if v.Changed {
		w += " !"
	}
	return w
}

// mark is what has to be known of a judgement, in signs that the legend explains.
func mark(j opinion.Judgement) (m string) {
	if j.Now {
		m += "n"
	}
	if j.Seen != "" {
		m += "p"
	}
	if j.Knowing {
		m += "k"
	}
	return m
}

func legend(s *opinion.Side) (out []string) {
	all := ""
	changed := false
	for _, j := range s.Judgements {
		all += mark(j)
		for _, v := range j.Frames {
			changed = changed || v.Changed
		}
	}
	for _, l := range [][2]string{{"n", "being made now"}, {"p", "judged at preview size, without the scans"}, {"k", "made knowing the others' marks: does not count"}} {
		if strings.Contains(all, l[0]) {
			out = append(out, l[0]+"  "+l[1])
		}
	}
	if changed {
		out = append(out, "!  said of a scan that has changed since: does not count")
	}
	if len(out) > 0 {
		out = append([]string{""}, out...)
	}
	return out
}

func cut(s string) string {
	if r := []rune(s); len(r) > widest {
		return string(r[:widest-1]) + "…"
	}
	return s
}

func columns(b *strings.Builder, rows [][]string) {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, c := range row {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	for _, row := range rows {
		line := ""
		for i, c := range row {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if i == 0 {
				line += pad + c + "  "
			} else {
				line += c + pad + "  "
			}
		}
		if line = strings.TrimRight(line, " "); line != "" {
			b.WriteString(line + "\n")
		}
	}
}
