package agreement

import "math"

// Verdicts is how far judges agree about the frames that all of them judged.
type Verdicts struct {
	Judges  int
	Frames  int // that all of them judged
	LeftOut int // that somebody did not judge

	// Share is the share of pairs of judges that say the same, over the frames, and
	// ByHabit the share that their habits alone would give, each 0..1.
	Share, ByHabit float64

	// Kappa is the agreement beyond that, at most 1; nil where all verdicts are one.
	Kappa *float64
	// Low and High are its interval of 95 %; nil where it has none.
	Low, High *float64
	// Weighted counts one step apart as half a disagreement; for two judges alone, else nil.
	Weighted *float64

	Chance Chance
}

// Of returns how far the judges of a table agree; nil for fewer than two of them, or
// without a frame that all judged.
func Of(t Table) *Verdicts {
	rows := t.whole()
	if len(rows) == 0 || len(rows[0]) < 2 {
		return nil
	}
	s := sharesOf(rows, t.Categories)
	v := &Verdicts{Judges: len(rows[0]), Frames: len(rows), LeftOut: len(t.Rows) - len(rows),
		Share: s.got, ByHabit: s.chance, Kappa: figure(s.kappa()), Chance: byChance(rows, t.Categories)}
	if v.Judges == 2 {
		v.Weighted = figure(cohen(rows, t.Categories, linear).kappa())
	}
	if lo, hi, ok := interval(rows, t.Categories); ok {
		v.Low, v.High = &lo, &hi
	}
	return v
}

func figure(f float64) *float64 {
	if math.IsNaN(f) {
		return nil
	}
	return &f
}

// Matches is the share of the judges that the verdict of most has in a row, among those who
// judged, and how many of those there are.
func Matches(row []int) (share float64, judged int) {
	counts := map[int]int{}
	most := 0
	for _, c := range row {
		if c == None {
			continue
		}
		judged++
		counts[c]++
		most = max(most, counts[c])
	}
	if judged == 0 {
		return 0, 0
	}
	return float64(most) / float64(judged), judged
}
