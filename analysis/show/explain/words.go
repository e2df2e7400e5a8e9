package explain

import (
	"strings"
	"sync"

	"stopladder/assets"
)

// Word returns what a word of the manual's glossary means (assets/manual/words.md), ""
// for one that is not in it. The window's cards take their first sentence from here, so
// that the two cannot disagree.
func Word(word string) string { return glossary()[word] }

var glossary = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	for _, line := range strings.Split(string(assets.ManualPage("words")), "\n") {
		cells := strings.Split(line, "|")
		if len(cells) != 4 {
			continue
		}
		means := plain(cells[2])
		for _, w := range strings.Split(cells[1], ",") {
			out[strings.TrimSpace(strings.ReplaceAll(w, `\`, ""))] = means
		}
	}
	return out
})

// plain takes the marks of Markdown out of a cell.
func plain(s string) string {
	return strings.TrimSpace(strings.NewReplacer("**", "", "*", "", `\`, "").Replace(s))
}
