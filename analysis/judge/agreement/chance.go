package agreement

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	mostDeals  = 400_000 // that are counted through
	drawnDeals = 99_999  // drawn where there are more
	resamples  = 9_999
	confidence = 0.95
)

// Draws are taken from a fixed beginning: the same verdicts have the same figures.
func dice() *rand.Rand { return rand.New(rand.NewPCG(1960, 1971)) }

// Chance is how often a deal of the judges' verdicts over the frames agrees at least as
// well as the judges do.
type Chance struct {
	P     float64 // share of the deals, 0..1
	Deals int     // how many were looked at
	Exact bool    // those were all
}

// byChance deals the verdicts of every judge but the first anew. With each judge's verdicts
// given, kappa rises with the pairs that agree and with nothing else.
func byChance(rows [][]int, categories int) Chance {
	judges := columns(rows)
	want := pairs(judges)
	all := 1.0
	for _, j := range judges[1:] {
		all *= deals(j, categories)
	}
	if all <= mostDeals {
		as, of := 0, 0
		countThrough(judges, 1, func() {
			of++
			if pairs(judges) >= want {
				as++
			}
		})
		return Chance{float64(as) / float64(of), of, true}
	}
	// The judges' own deal counts as one that was drawn, so that P is never 0.
	r, as := dice(), 1
	for range drawnDeals {
		for _, j := range judges[1:] {
			r.Shuffle(len(j), func(a, b int) { j[a], j[b] = j[b], j[a] })
		}
		if pairs(judges) >= want {
			as++
		}
	}
	return Chance{float64(as) / (drawnDeals + 1), drawnDeals, false}
}

// columns returns a copy of the rows by judge.
func columns(rows [][]int) [][]int {
	out := make([][]int, len(rows[0]))
	for j := range out {
		for _, r := range rows {
			out[j] = append(out[j], r[j])
		}
	}
	return out
}

// pairs counts the pairs of judges that agree, over all frames.
func pairs(judges [][]int) (n int) {
	for a := range judges {
		for b := range a {
			for i, c := range judges[a] {
				if judges[b][i] == c {
					n++
				}
			}
		}
	}
	return n
}

// deals is the multinomial coefficient: in how many ways one judge's verdicts lie over the
// frames.
func deals(verdicts []int, categories int) float64 {
	counts := make([]int, categories)
	for _, c := range verdicts {
		counts[c]++
	}
	log, _ := math.Lgamma(float64(len(verdicts) + 1))
	for _, k := range counts {
		l, _ := math.Lgamma(float64(k + 1))
		log -= l
	}
	return math.Exp(log)
}

// countThrough calls each for every deal of the judges from the given one on.
func countThrough(judges [][]int, from int, each func()) {
	if from == len(judges) {
		each()
		return
	}
	j := judges[from]
	slices.Sort(j)
	for more := true; more; more = next(j) {
		countThrough(judges, from+1, each)
	}
}

// next brings a deal to the one after it in the order of words; false after the last.
func next(v []int) bool {
	i := len(v) - 2
	for i >= 0 && v[i] >= v[i+1] {
		i--
	}
	if i < 0 {
		return false
	}
	k := len(v) - 1
	for v[k] <= v[i] {
		k--
	}
	v[i], v[k] = v[k], v[i]
	slices.Reverse(v[i+1:])
	return true
}

// interval returns the ends of kappa's interval; ok is false where it has none: where all
// agree everywhere (every resample does too, which is no certainty), or where more than one
// in twenty resamples has a single verdict and thus no kappa.
func interval(rows [][]int, categories int) (lo, hi float64, ok bool) {
	if s := sharesOf(rows, categories); s.got == 1 || math.IsNaN(s.kappa()) {
		return 0, 0, false
	}
	r := dice()
	again := make([][]int, len(rows))
	var all []float64
	for range resamples {
		for i := range again {
			again[i] = rows[r.IntN(len(rows))]
		}
		if k := sharesOf(again, categories).kappa(); !math.IsNaN(k) {
			all = append(all, k)
		}
	}
	if float64(len(all)) < 0.95*resamples {
		return 0, 0, false
	}
	slices.Sort(all)
	q := tail(len(rows))
	at := func(q float64) float64 { return all[int(math.Round(q*float64(len(all)-1)))] }
	return at(q), at(1 - q), true
}

// tail is the share of the resamples beyond each end of the interval: Hesterberg's expanded
// percentile (The American Statistician 69(4), 2015), which gives back what a bootstrap of
// few is too narrow by.
func tail(frames int) float64 {
	if frames < 2 {
		return 0
	}
	n := float64(frames)
	t := distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile((1 + confidence) / 2)
	return distuv.UnitNormal.CDF(-t * math.Sqrt(n/(n-1)))
}
