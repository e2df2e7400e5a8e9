package session

import (
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan/colour"
)

// tone is what the correction of all frames makes of grey light.
type tone struct {
	of    *roll.Roll // the roll and
	shown bool       // whether its correction is shown, that the rest is of
	key   string
	at    func(y float64) float64
}

// Tone returns what the correction that is shown on all frames makes of grey light, nil
// when it changes none: noise is seen through it. key tells corrections apart, "" for
// none.
func (s *State) Tone() (key string, at func(y float64) float64) {
	if s.tone.of == s.roll && s.tone.shown == s.corrected {
		return s.tone.key, s.tone.at
	}
	now := tone{of: s.roll, shown: s.corrected}
	if v := s.roll.View; s.corrected && v != nil && !v.IsZero() {
		if now.key = CorrectionKey(*v, correction.Settings{}); now.key == s.tone.key {
			now.at = s.tone.at
		} else {
			t := v.Tables()
			now.at = func(y float64) float64 {
				x := float32(y)
				return colour.Luminance(float64(t[0].At(x)), float64(t[1].At(x)), float64(t[2].At(x)))
			}
		}
	}
	s.tone = now
	return now.key, now.at
}

// NoisyShown returns the fraction of the i-th frame that is Noisy at the roll's limit, seen
// through the correction that is shown on all frames; nil where it is not known.
func (s *State) NoisyShown(i int) *float64 {
	rel := s.Frame(i).Relation
	if rel == nil {
		return nil
	}
	_, at := s.Tone()
	return rel.NoisyNear(s.film.NoisyLimit(), at)
}
