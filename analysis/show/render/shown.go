package render

import (
	"stopladder/analysis/film"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
)

// Shown says how the frames of a roll are looked at.
type Shown struct {
	Grade     criteria.Grade // frames are shown brought to the base frame at this grade; "" as scanned
	Corrected bool           // with the roll's correction of all frames
}

// Of returns the corrections that the i-th frame is shown with, its own and that of
// all frames, and how it is shown in a few words.
func (s Shown) Of(r *film.Roll, i int) (own, all correction.Settings, words string) {
	words = "as scanned"
	if s.Grade != "" && i != r.Base {
		ok := false
		if s.Grade == criteria.Hand {
			if h := r.Judged.Frames[i].Hand; h != nil {
				own, ok = *h, true
			}
		} else {
			own, ok = r.Settings(i, s.Grade)
		}
		switch {
		case ok:
			words = "salvaged, " + s.Grade.InWords()
		case s.Grade == criteria.Hand:
			words += ": no salvage by hand yet"
		default:
			words += ": no salvage measured"
		}
	}
	if v := r.Judged.View; s.Corrected && v != nil && !v.IsZero() {
		all = *v
		if words == "as scanned" {
			words = "corrected like all"
		} else {
			words += ", corrected like all"
		}
	}
	return own, all, words
}
