package explain

import (
	"fmt"
	"strings"

	"stopladder/analysis/judge/criteria"
)

// Step is a step of a correction, or a slide of one, as a page shows it.
type Step struct {
	Title, Value string // what it is called, and how it stands; a value may be empty
	Word         string // of the manual's glossary that says what it is
	Use          string // what the hand does with it, a sentence

	Hand bool // of one frame by hand, whose cost is measured; else of all frames alike
	Base bool // of the base frame, which has no salvage
	Cost *StepCost
	Ends []string // the limits on a slide, each in words with its place
	Now  int      // what the limits suggest as the slide stands: 2 holds, 1 strains, 0 breaks, -1 not known
	Set  string   // what the limits in force are called; may be empty
}

// StepCost is what a step costs, the other steps as they stand.
type StepCost struct {
	Used          bool
	By            criteria.Criterion // that gets worse most by the step
	Before, After float64            // in the criterion's unit, without the step and with it
	Limit         float64            // of Holds, in the same unit
	Share         float64            // of the limit that the step takes, 0 and more
}

// Correction explains a step of a correction: what it is, by the manual's glossary, what it
// costs this frame, and where on its slide the limits lie.
func Correction(s Step) Card {
	c := Card{Title: strings.TrimSpace(s.Title + "  " + s.Value)}
	c.Text = append(c.Text, strings.TrimSpace(sentence(s.Word)+" "+s.Use))
	c.Text = append(c.Text, s.cost())
	if len(s.Ends) > 0 || s.Now >= 0 {
		c.Text = append(c.Text, s.course())
	}
	return c
}

func (s Step) cost() string {
	c := s.Cost
	switch {
	case s.Base:
		return "This is the base frame: it has no salvage, so nothing is measured of it."
	case !s.Hand:
		return "Laid over all frames alike it costs nothing and changes no reading. What a correction costs is measured where a frame is corrected by hand."
	case c == nil:
		return "What it costs is told when the frames are compared and the correction rests."
	case !c.Used:
		return "This frame does without it, so it costs nothing."
	case c.Share < 0.005:
		return "It costs nothing here: no criterion is worse with it than without it, the other steps as they stand."
	}
	limit := "the limit for Holds, " + c.By.Words(c.Limit)
	if s.Set != "" {
		limit += " (" + s.Set + ")"
	}
	return fmt.Sprintf("Without it %s is %s, with it %s: it takes %s %s. Measured by taking this step away, the others as they stand.",
		c.By.Word(), c.By.Words(c.Before), c.By.Words(c.After), ShareOf(c.Share), limit)
}

// ShareOf writes how much of a limit is taken, to stand before the limit: in percent, or
// beyond twice the limit as a multiple.
func ShareOf(share float64) string {
	if share < 2 {
		return fmt.Sprintf("%.0f %% of", 100*share)
	}
	return fmt.Sprintf("%.0f times", share)
}

// course says what the limits make of the slide.
func (s Step) course() string {
	text := "Under the track: a full line where the frame holds, a thin one where it strains, none where it breaks."
	if s.Now >= 0 {
		text += " As it stands the frame " + [...]string{"breaks", "strains", "holds"}[min(2, s.Now)] + "."
	}
	if len(s.Ends) > 0 {
		text += " Limits: " + strings.Join(s.Ends, "; ") + "."
	}
	return text
}
