package session

import (
	"encoding/json"
	"slices"

	"stopladder/analysis/film/appraise"
	"stopladder/analysis/film/salvage"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/roll"
)

// Grade is an effort of salvage, or the judge's own hand.
type Grade string

// The grades, in rising effort, and the hand.
const (
	ExposureGrade Grade = "exposure" // one gain
	BalanceGrade  Grade = "balance"  // a gain for each channel
	CurvesGrade   Grade = "curves"   // a curve for each channel
	HandGrade     Grade = "hand"     // what the judge made of the frame
)

// Grades are all of them in the order of the page.
func Grades() []Grade { return []Grade{ExposureGrade, BalanceGrade, CurvesGrade, HandGrade} }

// Word is the grade as it is shown.
func (g Grade) Word() string {
	switch g {
	case ExposureGrade:
		return "Exposure"
	case BalanceGrade:
		return "Balance"
	case CurvesGrade:
		return "Curves"
	}
	return "By hand"
}

// SalvageOf is the correction that brings the i-th frame towards the base frame
// at a grade; ok is false where there is none: the base frame itself, a frame
// that is not measured, and a frame without a correction by hand.
func (s *Session) SalvageOf(i int, g Grade) (v correction.Settings, ok bool) {
	if i < 0 || i >= len(s.Roll.Frames) || i == s.Base() {
		return v, false
	}
	if g == HandGrade {
		if h := s.Roll.Frames[i].Hand; h != nil {
			return *h, true
		}
		return v, false
	}
	return s.autoSalvage(i, g)
}

// HandSettings are what the judge's hand begins with in the i-th frame: what was
// made of it already, else the salvage at the grade chosen last.
func (s *Session) HandSettings(i int) correction.Settings {
	if v, ok := s.SalvageOf(i, HandGrade); ok {
		return v.Clone()
	}
	g := s.Grade
	if g == HandGrade {
		g = BalanceGrade
	}
	v, _ := s.SalvageOf(i, g)
	return v.Clone()
}

// Shown is how the i-th frame is corrected as it is looked at: its salvage, when
// salvage is shown, and then the correction of all frames.
func (s *Session) Shown(i int) (salvage, all correction.Settings, words string) {
	words = "as scanned"
	if s.Salvaged && i != s.Base() {
		if v, ok := s.SalvageOf(i, s.Grade); ok {
			salvage = v
			words = "salvaged, " + map[Grade]string{ExposureGrade: "exposure", BalanceGrade: "balance", CurvesGrade: "curves", HandGrade: "by hand"}[s.Grade]
		} else if s.Grade == HandGrade {
			words = "as scanned: no salvage by hand yet"
		} else {
			words = "as scanned: no salvage measured"
		}
	}
	if s.Corrected && s.Roll.View != nil && !s.Roll.View.IsZero() {
		all = *s.Roll.View
		if words == "as scanned" {
			words = "corrected like all"
		} else {
			words += ", corrected like all"
		}
	}
	return salvage, all, words
}

// CorrectionKey tells two corrections apart.
func CorrectionKey(salvage, all correction.Settings) string {
	b, err := json.Marshal([2]correction.Settings{salvage, all})
	if err != nil { // not a number: never equal to anything
		return ""
	}
	return string(b)
}

// SetHand keeps the judge's salvage of the i-th frame; nil takes it away.
func SetHand(r *roll.Roll, i int, v *correction.Settings) {
	if v != nil && v.IsZero() {
		v = nil
	}
	r.Frames[i].Hand = v
}

// SetAppraised takes what the last step of the analysis told, its frames in the
// order of files.
func (s *Session) SetAppraised(a *appraise.Roll, files []string) {
	s.appraised, s.appraisedFiles, s.handCosts = a, files, nil
	s.Emit(FrameChanged)
}

// Appraised is what is known of a file's salvage; nil when nothing is.
func (s *Session) Appraised(file string) *appraise.Frame {
	if i := slices.Index(s.appraisedFiles, file); s.appraised != nil && i >= 0 && i < len(s.appraised.Frames) {
		return s.appraised.Frames[i]
	}
	return nil
}

// autoSalvage is what was measured of the i-th frame.
func (s *Session) autoSalvage(i int, g Grade) (v correction.Settings, ok bool) {
	a := s.Appraised(s.Roll.Frames[i].File)
	if a == nil || a.Salvage == nil || a.Salvage.Reason != "" {
		return v, false
	}
	k := map[Grade]salvage.Grade{ExposureGrade: salvage.Exposure, BalanceGrade: salvage.Balance, CurvesGrade: salvage.Curves}[g]
	return a.Salvage.Grades[k].Settings, true
}

// AppraisedInOrder is what the last step of the analysis told, where its frames are
// still those of the roll in their order; else nil.
func (s *Session) AppraisedInOrder() *appraise.Roll {
	if s.appraised == nil || len(s.appraisedFiles) != len(s.Roll.Frames) {
		return nil
	}
	for i, f := range s.Roll.Frames {
		if s.appraisedFiles[i] != f.File {
			return nil
		}
	}
	return s.appraised
}
