package manual

import (
	"slices"
	"strings"

	"stopladder/assets"
)

// section is a heading of a page with what stands under it.
type section struct {
	page, title string // title is the page's own in its first section
	anchor      string // "" for the first
	text        string // without marks
}

// sections takes all pages apart, in the order in which they are listed.
func sections(pages []string) (out []section) {
	for _, p := range pages {
		at := -1
		for _, b := range blocks(string(assets.ManualPage(p))) {
			if b.kind == heading {
				s := section{page: p, title: plain(b.text)}
				if b.level > 1 {
					s.anchor = anchor(plain(b.text))
				}
				out = append(out, s)
				at = len(out) - 1
				continue
			}
			if at < 0 {
				continue
			}
			words := []string{plain(b.text)}
			for _, r := range b.rows {
				for _, c := range r {
					words = append(words, plain(c))
				}
			}
			out[at].text += " " + strings.Join(words, " ")
		}
	}
	return out
}

// find returns the sections that have all words of a question, those first that have them
// in their titles.
func find(all []section, question string) (out []section) {
	words := strings.Fields(strings.ToLower(question))
	if len(words) == 0 {
		return nil
	}
	rank := map[int]int{}
	var hits []int
	for i, s := range all {
		title, text := strings.ToLower(s.title), strings.ToLower(s.text)
		in, missing := 0, false
		for _, w := range words {
			switch {
			case strings.Contains(title, w):
				in++
			case !strings.Contains(text, w):
				missing = true
			}
		}
		if !missing {
			hits = append(hits, i)
			rank[i] = -in
		}
	}
	slices.SortStableFunc(hits, func(a, b int) int { return rank[a] - rank[b] })
	for _, i := range hits {
		out = append(out, all[i])
	}
	return out
}

// order returns the names of the pages as the list of pages has them.
func order() (pages []string) {
	for _, b := range blocks(string(assets.ManualPage("README"))) {
		texts := []string{b.text}
		for _, r := range b.rows {
			texts = append(texts, r...)
		}
		for _, t := range texts {
			for _, s := range spans(t) {
				if name, ok := strings.CutSuffix(s.link, ".md"); ok && assets.ManualPage(name) != nil && !slices.Contains(pages, name) {
					pages = append(pages, name)
				}
			}
		}
	}
	return pages
}

// title returns what a page is called.
func title(page string) string {
	for _, b := range blocks(string(assets.ManualPage(page))) {
		if b.kind == heading {
			return plain(b.text)
		}
	}
	return page
}
