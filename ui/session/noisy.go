package session

import (
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
)

// NoisyLimit is the noise in L* units above which lifted shadows count as Noisy.
func (s *Session) NoisyLimit() float64 {
	if s.Roll.NoisyLimit > 0 {
		return s.Roll.NoisyLimit
	}
	return measure.NoisyLimit
}

// SetNoisyLimit gives a roll the limit; the default is not written down.
func SetNoisyLimit(r *roll.Roll, limit float64) {
	r.NoisyLimit = limit
	if limit == measure.NoisyLimit {
		r.NoisyLimit = 0
	}
}

// Relimit brings the readings of Noisy to the limit of the roll: of all frames, or
// of the one under the playhead alone, which is what a drag has the time for.
func (s *Session) Relimit(all bool) {
	limit, here := s.NoisyLimit(), s.Current()
	for i := range s.Roll.Frames {
		if !all && i != here {
			continue
		}
		d := &s.Frame(i).Row
		if d.Rel == nil || d.Rel.NoiseLimit == limit {
			continue
		}
		rel := *d.Rel // what others hold stays as it was
		rel.NoiseLimit = limit
		if rel.Noisy != nil {
			rel.Noisy = rel.NoisyFraction(limit, nil)
		}
		d.Rel = &rel
	}
}

// Toned says that a correction is shown on all frames.
func (s *Session) Toned() bool { return s.Corrected && s.Roll.View != nil && !s.Roll.View.IsZero() }

// ShownTone is what the correction that is shown on all frames makes of grey light,
// nil when it changes none: noise is seen through it.
func (s *Session) ShownTone() func(y float64) float64 {
	if !s.Toned() {
		return nil
	}
	t := s.Roll.View.Tables()
	return func(y float64) float64 {
		x := float32(y)
		return 0.2126*float64(t[0].At(x)) + 0.7152*float64(t[1].At(x)) + 0.0722*float64(t[2].At(x))
	}
}
