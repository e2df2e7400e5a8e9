package commands

import (
	"slices"
	"testing"

	"fyne.io/fyne/v2"
)

func table(roll *bool) Table {
	need := func() string {
		if !*roll {
			return NoRoll
		}
		return ""
	}
	return Table{
		{ID: "open", Menu: "Roll", Title: "Open scans…", Hint: "Open scans: several files, or the whole folder.", Keys: []Key{{Name: fyne.KeyO, Ctrl: true}}, Run: func() {}},
		{ID: "save", Menu: "Roll", Title: "Save", Hint: "Save the roll file.", Why: need, Run: func() {}},
		{ID: "save-as", Menu: "Roll", Title: "Save under another name…", Why: need, Run: func() {}},
		{ID: "blown", Menu: "Compare", Title: "Blown", Long: "Mask: Blown", Hint: "Mark what is at the scan's ceiling.", Keys: []Key{{Name: fyne.KeyO}}, Why: need, Run: func() {}},
		{ID: "a", Menu: "Frames", Sub: "Scans without a profile are", Title: "sRGB", Gap: true, Run: func() {}},
		{ID: "b", Menu: "Frames", Sub: "Scans without a profile are", Title: "P3", Run: func() {}},
	}
}

func ids(cs []*Command) (out []string) {
	for _, c := range cs {
		out = append(out, c.ID)
	}
	return out
}

func TestSearch(t *testing.T) {
	roll := true
	for q, want := range map[string][]string{
		"":            {"open", "save", "save-as", "blown", "a", "b"},
		"save":        {"save", "save-as"},
		"SAVE name":   {"save-as"},
		"wn":          {"blown"},                                      // inside of a word
		"ceil":        {"blown"},                                      // of the hint
		"mask":        {"blown"},                                      // of the long title
		"o":           {"blown", "open", "save-as", "a", "b", "save"}, // the key first, then titles, words in order of rank
		"ctrl+o":      {"open"},
		"profile":     {"a", "b"},
		"compare":     {"blown"},
		"sv":          nil, // nothing is guessed
		"save ceilng": nil,
	} {
		got := ids(table(&roll).Search(q))
		if q == "o" { // what matters: the key comes first
			got, want = got[:1], want[:1]
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q finds %q, want %q", q, got, want)
		}
	}
}

// What cannot be done is not done and says why, whatever asked for it.
func TestWhyNot(t *testing.T) {
	roll, ran, said := false, 0, ""
	tab := table(&roll)
	save := tab.Find("save")
	save.Run = func() { ran++ }
	save.Unseen = func() string { return "nothing is seen of it" }
	tab.Tell(func(s string) { said = s })
	if save.Do() || ran != 0 || said != "Save: no roll is open" {
		t.Errorf("without a roll: ran %d times, said %q", ran, said)
	}
	if !tab.Typed(fyne.KeyO, false) || said != "Mask: Blown: no roll is open" {
		t.Errorf("a key says %q", said)
	}
	if tab.Typed(fyne.KeyQ, false) {
		t.Error("a key that has no command is taken for one")
	}
	roll = true
	if !save.Do() || ran != 1 || said != "Save: nothing is seen of it" {
		t.Errorf("with a roll: ran %d times, said %q", ran, said)
	}
	save.Unseen = nil
	if save.Do(); said != "" {
		t.Errorf("still said: %q", said)
	}
}

func TestMenusSayWhy(t *testing.T) {
	roll := false
	m := table(&roll).Menu("Roll", "Frames")
	items := m.Items[0].Items
	if !items[1].Disabled || items[1].Label != "Save  –  no roll is open" || items[2].Label != "Save under another name…" || !items[2].Disabled {
		t.Errorf("without a roll the menu reads %q, %q", items[1].Label, items[2].Label)
	}
	sub := m.Items[1].Items
	if len(sub) != 1 || sub[0].Label != "Scans without a profile are" || len(sub[0].ChildMenu.Items) != 2 {
		t.Errorf("the menu inside the menu: %+v", sub)
	}
}
