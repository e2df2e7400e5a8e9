package blind

import (
	"math"

	"stopladder/analysis/judge/roll"
)

// End is an end of the range that follows from blind verdicts.
type End struct {
	Stop   float64 // the middle of what is believed of it
	Lo, Hi float64 // it lies between them with 95 %
	// Open says that the bracket does not show the end: beyond its outermost frame as likely
	// as not. Stop is then that frame's, and the range reaches at least so far.
	Open bool
	// Beyond says that the outer of Lo and Hi is no bound: the end may lie beyond the bracket.
	Beyond bool
}

// Fit is a range as verdicts have it.
type Fit struct {
	OK          bool // there is one: views on several stops, and some that were accepted
	Under, Over End
	// Noise is the standard deviation of the judge's own ends from view to view, in stops,
	// with 95 % between its bounds.
	Noise, NoiseLo, NoiseHi float64
	At                      []Share // how likely it is that a frame is accepted, over stops
}

// Share is how likely a frame at a stop is accepted, 0..1.
type Share struct{ Stop, Accepted float64 }

// What is believed beforehand. An end lies anywhere in the bracket or two stops beyond it;
// the judge's noise is as likely half as large as twice as large; one view in fifty gets a
// verdict by a slip of the hand (Wichmann & Hill 2001, from memory, have 0 to 0.06).
const (
	beyond    = 2.0
	gridStep  = 0.1
	slip      = 0.02
	leastWide = 0.05
	mostWide  = 2.0
	wideSteps = 12
)

// fit finds the two ends and the judge's noise. A frame at stop s is accepted with
//
//	P(s) = slip + (1 - 2 slip) Phi((s - lo)/w) Phi((hi - s)/w)
//
// a cumulative normal at each end, as probit analysis has it (Finney 1947; from memory). Few
// views often leave no frame on which a judge wavers, and then the likelihood alone has no
// greatest value; so ends and noise are averaged over all that explain the verdicts (Kuss,
// Jaekel & Wichmann 2005, from memory), on a grid.
func fit(list []seen, accepts func(roll.Verdict) bool) (f Fit) {
	type counted struct {
		stop    float64
		yes, no int
	}
	var at []counted
	accepted := 0
	for _, v := range list {
		if n := len(at); n == 0 || at[n-1].stop != v.stop {
			at = append(at, counted{stop: v.stop})
		}
		if accepts(v.Verdict) {
			at[len(at)-1].yes++
			accepted++
		} else {
			at[len(at)-1].no++
		}
	}
	if len(at) < 3 || accepted == 0 {
		return f
	}
	min, max := at[0].stop, at[len(at)-1].stop
	los, his := grid(min-beyond, max), grid(min, max+beyond)
	var wides []float64
	for i := range wideSteps {
		wides = append(wides, leastWide*math.Pow(mostWide/leastWide, float64(i)/(wideSteps-1)))
	}
	// Phi at every stop for every end and noise.
	phi := func(ends []float64, sign float64) [][][]float64 {
		out := make([][][]float64, len(wides))
		for w, wide := range wides {
			out[w] = make([][]float64, len(ends))
			for e, end := range ends {
				out[w][e] = make([]float64, len(at))
				for k := range at {
					out[w][e][k] = 0.5 * math.Erfc(-sign*(at[k].stop-end)/wide/math.Sqrt2)
				}
			}
		}
		return out
	}
	up, down := phi(los, 1), phi(his, -1)
	like := make([]float64, len(wides)*len(los)*len(his))
	best := math.Inf(-1)
	for w := range wides {
		for l := range los {
			for h := range his {
				n := (w*len(los)+l)*len(his) + h
				if like[n] = math.Inf(-1); his[h] <= los[l] {
					continue
				}
				// Factors are no less than a slip, so that few products need a logarithm. What is
				// too small for a number all the same explains nothing.
				product := 1.0
				for k := range at {
					p := slip + (1-2*slip)*up[w][l][k]*down[w][h][k]
					for range at[k].yes {
						product *= p
					}
					for range at[k].no {
						product *= 1 - p
					}
				}
				like[n] = math.Log(product)
				best = math.Max(best, like[n])
			}
		}
	}
	ofLo, ofHi, ofWide := make([]float64, len(los)), make([]float64, len(his)), make([]float64, len(wides))
	share := make([]float64, len(at))
	total := 0.0
	for w := range wides {
		for l := range los {
			for h := range his {
				p := math.Exp(like[(w*len(los)+l)*len(his)+h] - best)
				if p < 1e-12 {
					continue
				}
				ofLo[l], ofHi[h], ofWide[w], total = ofLo[l]+p, ofHi[h]+p, ofWide[w]+p, total+p
				for k := range at {
					share[k] += p * up[w][l][k] * down[w][h][k]
				}
			}
		}
	}
	f.OK = true
	f.Under, f.Over = end(los, ofLo, total, min, -1), end(his, ofHi, total, max, 1)
	f.Noise, f.NoiseLo, f.NoiseHi = quantile(wides, ofWide, total, 0.5), quantile(wides, ofWide, total, 0.025), quantile(wides, ofWide, total, 0.975)
	for k := range at {
		f.At = append(f.At, Share{at[k].stop, share[k] / total})
	}
	return f
}

// end reads an end of what is believed; side -1 is the under end. outer is the outermost
// frame's stop there.
func end(grid, of []float64, total, outer, side float64) (e End) {
	e.Stop, e.Lo, e.Hi = quantile(grid, of, total, 0.5), quantile(grid, of, total, 0.025), quantile(grid, of, total, 0.975)
	// The grid's points stand for half a step either way.
	e.Lo, e.Hi = e.Lo-gridStep/2, e.Hi+gridStep/2
	past := 0.0
	for i, x := range grid {
		if side*(x-outer) > 0 {
			past += of[i]
		}
	}
	e.Beyond = past > 0.025*total
	if e.Open = past > total/2; e.Open {
		e.Stop = outer
	}
	return e
}

// quantile reads one of a weighted grid, by straight lines.
func quantile(grid, of []float64, total, q float64) float64 {
	sum := 0.0
	for i := range grid {
		if next := sum + of[i]; next >= q*total {
			if i == 0 || of[i] == 0 {
				return grid[i]
			}
			t := (q*total - sum) / of[i]
			step := grid[i] - grid[i-1]
			return grid[i] - step/2 + t*step
		}
		sum += of[i]
	}
	return grid[len(grid)-1]
}

func grid(lo, hi float64) (out []float64) {
	for i := 0; ; i++ {
		x := lo + float64(i)*gridStep
		if x > hi+1e-9 {
			return out
		}
		out = append(out, x)
	}
}
