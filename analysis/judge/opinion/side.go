package opinion

import (
	"stopladder/analysis/judge/agreement"
	"stopladder/analysis/judge/roll"
)

// Judgement is one opinion beside the frames of a roll.
type Judgement struct {
	roll.Marks
	Mine   bool // of the roll's own judge, in this roll
	Now    bool // the marks that are being made
	Frames []Verdict
}

// Verdict is what was said of a frame; the zero value is nothing.
type Verdict struct {
	roll.Said
	Given   bool // something was
	Changed bool // of another content of the scan than the roll has
}

// Counts reports whether a judgement stands for itself: it was not made in knowledge of the
// others.
func (j Judgement) Counts() bool { return !j.Knowing }

// Side has the opinions on a roll beside each other.
type Side struct {
	Roll       *roll.Roll
	Judgements []Judgement
	Hidden     int // opinions that are not shown before the own marks are done

	Verdicts *agreement.Verdicts // nil for fewer than two that count
	Ranges   *agreement.Ranges   // likewise
}

// category puts verdicts in their order.
func category(v roll.Verdict) int {
	switch v {
	case roll.Holds:
		return 0
	case roll.Strains:
		return 1
	case roll.Breaks:
		return 2
	}
	return agreement.None
}

// Beside returns the opinions of a roll. Those of others are counted and not shown while
// they are hidden, unless all are asked for.
func Beside(r *roll.Roll, day string, all bool) *Side {
	s := &Side{Roll: r}
	if own, ok := Own(r, day); ok && (r.Sitting == nil || r.Sitting.Done == "" || Changed(r)) {
		own.Knowing = r.Sitting != nil && r.Sitting.Done != ""
		s.Judgements = append(s.Judgements, Judgement{Marks: own, Mine: true, Now: true, Frames: along(r, own)})
	}
	hidden := Hidden(r) && !all
	for _, m := range Given(r) {
		if hidden {
			s.Hidden++
			continue
		}
		s.Judgements = append(s.Judgements, Judgement{Marks: m, Mine: mine(r, m), Frames: along(r, m)})
	}
	s.agree()
	return s
}

func mine(r *roll.Roll, m roll.Marks) bool {
	if r.Sitting == nil {
		return false
	}
	for _, id := range r.Sitting.Mine {
		if id == m.Session {
			return true
		}
	}
	return false
}

// along lays what was said on the frames of a roll.
func along(r *roll.Roll, m roll.Marks) []Verdict {
	out := make([]Verdict, len(r.Frames))
	for _, s := range m.Verdicts {
		if i, very := place(r, s); i >= 0 && (!out[i].Given || very) {
			out[i] = Verdict{Said: s, Given: true, Changed: !very}
		}
	}
	return out
}

// agree works out how far those that count agree. A judge who said nothing of any frame
// takes no part.
func (s *Side) agree() {
	table := agreement.Table{Categories: 3, Rows: make([][]int, len(s.Roll.Frames))}
	var ranges []agreement.Range
	for _, j := range s.Judgements {
		if !j.Counts() {
			continue
		}
		if j.Range != nil {
			ranges = append(ranges, agreement.Range{Lo: j.Range.Lo, Hi: j.Range.Hi})
		}
		column, any := make([]int, len(j.Frames)), false
		for i, v := range j.Frames {
			column[i] = agreement.None
			if !v.Changed {
				column[i] = category(v.Verdict)
			}
			any = any || column[i] != agreement.None
		}
		if !any {
			continue
		}
		for i := range table.Rows {
			table.Rows[i] = append(table.Rows[i], column[i])
		}
	}
	s.Verdicts, s.Ranges = agreement.Of(table), agreement.OfRanges(ranges)
}
