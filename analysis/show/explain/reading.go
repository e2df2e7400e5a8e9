package explain

import (
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/row"
)

// topics are what the title of a table speaks of, by a word in it: the word of the glossary
// that says what its figures are.
var topics = []struct{ in, word string }{
	{"cast", "cast"}, {"mean colour", "tonal band"}, {"tonal bands", "tonal band"}, {"noise", "noise"}, {"s/n", "S/N"},
	{"codes in use", "codes in use"}, {"codes", "code value"}, {"lost", "lost area"}, {"headroom", "headroom"}, {"cost by grade", "salvage"}, {"by band", "salvage"},
	{"range", "range"}, {"brought to", "salvage"}, {"check:", "patch"}, {"patch", "patch"}, {"every reading of", "patch"}, {"neutral", "cast"}, {"detail", "local contrast"},
}

// heads are what columns and rows are called, and the word of the glossary for each.
var heads = map[string]string{
	"L*": "L*", "a*": "a*", "b*": "b*", "ΔL*": "L*", "Δa*": "a*", "Δb*": "b*", "ΔE00": "ΔE00", "p95": "p95", "S/N": "S/N",
	"CC R−G": "CC", "CC B−G": "CC", "lost %": "lost area", "contr. %": "local contrast", "area %": "image area", "any": "clipped", "all": "clipped", "R": "", "G": "", "B": "",
	"expos.": "grade", "balance": "grade", "curves": "grade", "hand": "grade", "limits": "limits", "to Blown": "headroom", "to Blocked": "headroom", "±": "uncertainty",
	"Blown": "Blown", "Blocked": "Blocked", "Ceiling": "ceiling", "Floor": "floor", "Mean": "code value", "Image area": "image area", "Verdict": "verdict",
	"Your verdict": "verdict", "The limits suggest": "limits", "Crossover": "crossover", "Shadows": "tonal band", "Midtones": "tonal band", "Highlights": "tonal band",
	"Profile": "profile", "Depth": "bits in use", "Measured stop": "measured stop", "salvaged": "salvage",
}

// Reading explains a cell of a table of readings: what it is, by the manual's glossary, and
// what it is of. col is -1 for the name of the row.
func Reading(s row.Section, line, col int) Card {
	var c Card
	var name, head, value string
	if line >= 0 && line < len(s.Rows) {
		r := s.Rows[line]
		if r.Prose {
			return c
		}
		name = strings.TrimSpace(r.Name)
		if col >= 0 && col < len(r.Values) {
			value = r.Values[col]
		} else if len(r.Values) == 1 {
			value = r.Values[0]
		}
	}
	if col >= 0 && col < len(s.Heads) {
		head = s.Heads[col]
	}
	c.Title = strings.Join(strings.Fields(strings.Join([]string{name, head, value}, " ")), " ")
	add := func(text string) {
		for _, t := range c.Text {
			if t == text {
				return
			}
		}
		if text != "" && len(c.Text) < 3 {
			c.Text = append(c.Text, text)
		}
	}
	for _, k := range criteria.All() {
		if name == k.Title() || strings.HasPrefix(name, k.Title()+",") {
			add(k.Hint())
		}
	}
	add(sentence(heads[head]))
	add(sentence(heads[name]))
	lower := strings.ToLower(s.Title)
	for _, t := range topics {
		if strings.Contains(lower, t.in) {
			add(sentence(t.word))
			break
		}
	}
	if len(c.Text) == 0 {
		return Card{}
	}
	if s.Title != "" {
		c.Text = append(c.Text, "In the table: "+s.Title+".")
	}
	return c
}

// Plot explains a plot: the word of the glossary that it shows, and how it is read.
func Plot(title, word, reads string) Card {
	c := Card{Title: title}
	for _, t := range []string{sentence(word), reads} {
		if t != "" {
			c.Text = append(c.Text, t)
		}
	}
	return c
}
