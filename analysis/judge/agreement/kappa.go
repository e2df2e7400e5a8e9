// Package agreement says how far several judges of one roll agree, and how far chance alone
// would have them agree.
//
// Verdicts are categories, so their agreement is told by kappa: the share of agreement
// beyond chance, 1 for all and 0 for what chance gives. For two judges it is that of Cohen
// (Educational and Psychological Measurement 20(1), 1960), where each judge has a habit of
// their own; for several that of Fleiss (Psychological Bulletin 76(5), 1971), where the
// habit is that of all together. Verdicts stand in an order, so for two judges Cohen's
// weighted kappa (Psychological Bulletin 70(4), 1968) stands beside it, in which one step
// apart is half a disagreement.
//
// Chance is told by permutation (Fisher, The Design of Experiments, 1935): the verdicts of
// each judge are dealt out anew over the frames, in every way where those can be counted
// through, else in many drawn at random (Phipson and Smyth, Statistical Applications in
// Genetics and Molecular Biology 9(1), 2010). The interval is the percentile bootstrap over
// frames (Efron and Tibshirani, An Introduction to the Bootstrap, 1993), expanded for few of
// them (Hesterberg, The American Statistician 69(4), 2015).
//
// Frames of a bracket are not drawn at random: everybody expects the ends of the ladder to
// break. Judges who know that alone agree beyond a deal at random, so that kappa says more
// of the film's ends than of taste; where along the ladder they part is told frame by frame.
package agreement

import "math"

// None is the category of a frame that a judge has not judged.
const None = -1

// Table has what judges said of frames: Rows[frame][judge] is a category from 0 to
// Categories-1 in their order, or None. All rows are equally long.
type Table struct {
	Categories int
	Rows       [][]int
}

// whole returns the rows in which every judge judged.
func (t Table) whole() (rows [][]int) {
	for _, r := range t.Rows {
		all := len(r) > 0
		for _, c := range r {
			all = all && c >= 0 && c < t.Categories
		}
		if all {
			rows = append(rows, r)
		}
	}
	return rows
}

// shares are how often judges agree, and how often chance would have them agree, 0..1.
type shares struct{ got, chance float64 }

// kappa is the share of agreement beyond chance, at most 1; not a number where chance
// agrees always.
func (s shares) kappa() float64 {
	if 1-s.chance < 1e-12 {
		return math.NaN()
	}
	return (s.got - s.chance) / (1 - s.chance)
}

// sharesOf returns the shares for rows of at least two judges: Cohen's for two, Fleiss' for
// more.
func sharesOf(rows [][]int, categories int) shares {
	if len(rows[0]) == 2 {
		return cohen(rows, categories, plain)
	}
	return fleiss(rows, categories)
}

// weight is how far two categories of so many agree, 0..1.
type weight func(a, b, categories int) float64

func plain(a, b, _ int) float64 {
	if a == b {
		return 1
	}
	return 0
}

// linear: a step is one part of the way to the opposite.
func linear(a, b, categories int) float64 {
	return 1 - math.Abs(float64(a-b))/float64(max(1, categories-1))
}

func cohen(rows [][]int, categories int, w weight) (s shares) {
	n := float64(len(rows))
	habit := [2][]float64{make([]float64, categories), make([]float64, categories)}
	for _, r := range rows {
		s.got += w(r[0], r[1], categories) / n
		habit[0][r[0]] += 1 / n
		habit[1][r[1]] += 1 / n
	}
	for a, p := range habit[0] {
		for b, q := range habit[1] {
			s.chance += p * q * w(a, b, categories)
		}
	}
	return s
}

func fleiss(rows [][]int, categories int) (s shares) {
	all := make([]float64, categories)
	n, judges := float64(len(rows)), float64(len(rows[0]))
	counts := make([]float64, categories)
	for _, r := range rows {
		clear(counts)
		for _, c := range r {
			counts[c]++
		}
		for c, k := range counts {
			s.got += k * (k - 1) / (judges * (judges - 1) * n)
			all[c] += k / (n * judges)
		}
	}
	for _, p := range all {
		s.chance += p * p
	}
	return s
}
