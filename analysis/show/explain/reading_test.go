package explain

import (
	"strings"
	"testing"

	"stopladder/analysis/show/row"
)

// Every word that a table can lead to is in the manual's glossary.
func TestReadingsAreInTheGlossary(t *testing.T) {
	for head, word := range heads {
		if word != "" && Word(word) == "" {
			t.Errorf("%s leads to %q, which the glossary does not have", head, word)
		}
	}
	for _, x := range topics {
		if Word(x.word) == "" {
			t.Errorf("a table of %q leads to %q, which the glossary does not have", x.in, x.word)
		}
	}
}

func TestReadingSaysWhatItIs(t *testing.T) {
	s := row.Section{Title: "Cost by grade", Heads: []string{"expos.", "balance"}, Rows: []row.Row{{Name: "Noise", Values: []string{"2.1", "2.2"}}, {Name: "A sentence.", Prose: true}}}
	c := Reading(s, 0, 1)
	if c.Title != "Noise balance 2.2" || len(c.Text) < 3 || !strings.Contains(c.Text[0], "shadows") {
		t.Errorf("%+v", c)
	}
	if c := Reading(s, 1, -1); !c.Empty() {
		t.Errorf("a sentence is explained: %+v", c)
	}
	if c := Reading(row.Section{Title: "x", Rows: []row.Row{{Name: "y"}}}, 0, -1); !c.Empty() {
		t.Errorf("nothing is known of it, and yet: %+v", c)
	}
}
