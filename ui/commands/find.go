package commands

import (
	"slices"
	"strings"
	"unicode"
)

// Search returns the commands that all words of a question stand in, those first whose
// titles begin with it. A word may stand at the beginning or inside of a word of title,
// hint, group or key, in any case; nothing is guessed. An empty question finds all, in the
// order of the table.
func (t Table) Search(question string) []*Command {
	words := strings.Fields(strings.ToLower(question))
	type hit struct {
		c    *Command
		rank int
	}
	var hits []hit
	for _, c := range t {
		rank := 0
		for _, w := range words {
			r := c.rank(w)
			if r < 0 {
				rank = -1
				break
			}
			rank = max(rank, r)
		}
		if rank >= 0 {
			hits = append(hits, hit{c, rank})
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int { return a.rank - b.rank })
	out := make([]*Command, len(hits))
	for i, h := range hits {
		out[i] = h.c
	}
	return out
}

// rank says where a word in small letters stands: 0 it is the whole title or the key, 1 the
// title begins with it, 2 a word of the title does, 3 inside of the title, 4 group, 5 the
// hint has a word that begins with it, 6 inside of the hint; -1 nowhere.
func (c *Command) rank(w string) int {
	title, long, hint := strings.ToLower(c.Title), strings.ToLower(c.Name()), strings.ToLower(c.Hint)
	for _, k := range c.Keys {
		if strings.ToLower(k.String()) == w {
			return 0
		}
	}
	switch {
	case title == w || long == w:
		return 0
	case strings.HasPrefix(title, w) || strings.HasPrefix(long, w):
		return 1
	case begins(title, w) || begins(long, w):
		return 2
	case strings.Contains(title, w) || strings.Contains(long, w):
		return 3
	case begins(strings.ToLower(c.In()+" "+c.Sub), w):
		return 4
	case begins(hint, w):
		return 5
	case strings.Contains(hint, w):
		return 6
	}
	return -1
}

// begins reports whether a word of a text begins with w.
func begins(text, w string) bool {
	for _, f := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if strings.HasPrefix(f, w) {
			return true
		}
	}
	return false
}
