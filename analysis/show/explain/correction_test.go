package explain

import (
	"strings"
	"testing"

	"stopladder/analysis/judge/criteria"
)

// A step says what it is as the manual does, and what it costs in each state.
func TestAStepOfACorrectionIsExplained(t *testing.T) {
	base := Step{Title: "Shadow lift", Value: "+1.00 stops", Word: "shadow lift", Use: "Drag it.", Now: -1}
	cost := &StepCost{Used: true, By: criteria.Noise, Before: 1.2, After: 2.1, Limit: 3, Share: 0.3}
	for name, c := range map[string]struct {
		change func(*Step)
		want   string
	}{
		"all frames alike": {func(*Step) {}, "changes no reading"},
		"the base frame":   {func(s *Step) { s.Hand, s.Base = true, true }, "it has no salvage"},
		"not measured":     {func(s *Step) { s.Hand = true }, "told when the frames are compared"},
		"not used":         {func(s *Step) { s.Hand, s.Cost = true, &StepCost{} }, "does without it"},
		"free":             {func(s *Step) { s.Hand, s.Cost = true, &StepCost{Used: true} }, "costs nothing here"},
		"dear":             {func(s *Step) { s.Hand, s.Cost, s.Set = true, cost, "screen" }, "30 % of the limit for Holds, " + criteria.Noise.Words(3) + " (screen)"},
		"dearer still":     {func(s *Step) { s.Hand, s.Cost = true, &StepCost{Used: true, By: criteria.Noise, Limit: 3, Share: 16.1} }, "it takes 16 times the limit"},
		"limits on it": {func(s *Step) {
			s.Hand, s.Cost, s.Now, s.Ends = true, cost, 1, []string{"+2.00 stops breaks by noise 6"}
		}, "As it stands the frame strains. Limits: +2.00 stops breaks by noise 6."},
	} {
		s := base
		c.change(&s)
		card := Correction(s)
		all := strings.Join(card.Text, " ")
		if !strings.Contains(all, c.want) {
			t.Errorf("%s: %q is not in %q", name, c.want, all)
		}
		if w := Word("shadow lift"); w == "" || !strings.HasPrefix(strings.ToLower(all), strings.ToLower(w)) {
			t.Errorf("%s: the card begins with %q, the manual says %q", name, card.Text[0], w)
		}
		if card.Title != "Shadow lift  +1.00 stops" {
			t.Errorf("%s: the title is %q", name, card.Title)
		}
	}
}
