package session

import (
	"fmt"

	"stopladder/analysis/judge/roll"
)

// Surround returns the display byte of the neutral grey around the pictures.
func (s *State) Surround() uint8 { return s.roll.SurroundLevel() }

// StepSurround makes the surround lighter (positive) or darker by steps of its levels. It is
// kept with the roll: pictures that are judged again are judged in the same surround.
type StepSurround struct{ Steps int }

func (c StepSurround) apply(s *State) Effect {
	if s.Empty() {
		return Effect{}
	}
	at := clamp(roll.SurroundIndex(s.Surround())+c.Steps, 0, len(roll.Surrounds)-1)
	level := roll.Surrounds[at]
	if level == s.Surround() {
		return Effect{Hint: "This is the " + map[bool]string{true: "lightest", false: "darkest"}[c.Steps > 0] + " surround"}
	}
	s.drag("surround", "surround", false, func(r *roll.Roll) { r.SetSurround(level) })
	return Effect{Redraw: Marks | View, Hint: fmt.Sprintf("Surround: L* %.0f, step %d of %d", roll.SurroundL(level), at+1, len(roll.Surrounds))}
}
