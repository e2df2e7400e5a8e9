package response

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/median"
	"stopladder/analysis/numeric/number"
)

const (
	swapLeast = 0.25 // stops by which both labels of a swapped pair are off
	swapRest  = 0.4  // of that may be left when they are exchanged
	wholeStep = 0.15 // stops about a whole stop that still are one
	// sameU is how far in u two pictures of one exposure may lie apart in any third of
	// their tones: a twentieth of a stop on the straight part of an ordinary film.
	sameU = 0.025
	// neutral is by how much, in stops, the channels of a shift may differ that a shutter
	// or a label makes: it moves all alike, a scanner's balance does not.
	neutral = 0.1
)

// labelFindings flags labels that disagree with the pictures by more than LabelLimit and
// by more than twice what the measurement may be off, and names pairs that were swapped
// and pictures that are repeated. stop and sigma are per frame, NaN where nothing is
// known.
func (r *Result) labelFindings(frames []Frame, stop, sigma []float64) {
	r.Labels = nil
	off := func(j int) float64 { return stop[j] - frames[j].Stop }
	var at []int
	tells := r.fit.tells()
	limit := func(j int, limit float64) float64 {
		if !tells[j] { // what is nearly black or blown contradicts nothing unless it surely does
			return limit + 2*sigma[j]
		}
		return math.Max(limit, 2*sigma[j])
	}
	for j := range frames {
		if frames[j].StopKnown && math.Abs(off(j)) > limit(j, swapLeast) {
			at = append(at, j)
		}
	}
	paired := map[int]int{}
	for i, a := range at {
		for _, b := range at[i+1:] {
			if _, taken := paired[a]; taken {
				break
			}
			if _, taken := paired[b]; taken {
				continue
			}
			gap := math.Abs(frames[a].Stop - frames[b].Stop)
			rest := math.Max(math.Abs(stop[a]-frames[b].Stop), math.Abs(stop[b]-frames[a].Stop))
			if gap > swapLeast && rest < swapRest*math.Min(math.Abs(off(a)), math.Abs(off(b))) {
				paired[a], paired[b] = b, a
			}
		}
	}
	r.repeatedFindings(frames, stop)
	left := slices.DeleteFunc(slices.Clone(at), func(j int) bool {
		_, swapped := paired[j]
		return swapped || r.repeats(j) || math.Abs(off(j)) <= limit(j, LabelLimit)
	})
	row := rowOff(frames, stop, left)
	for _, j := range at {
		f := LabelFinding{Frame: j, Swapped: -1, Label: frames[j].Stop, Measured: stop[j]}
		if r.repeats(j) {
			continue
		}
		told := fmt.Sprintf("%s is labelled %s and shows %s stops", r.name(j), stops.Label(f.Label), number.Signed(f.Measured, 2))
		if o, ok := paired[j]; ok {
			f.Swapped, f.Case = o, SwappedLabels
			f.Text = fmt.Sprintf("%s; its label is swapped with that of %s. Exchange the two labels.", told, r.name(o))
		} else if !slices.Contains(left, j) {
			continue
		} else if slices.Contains(row, j) {
			f.Case = RowOff
			if f.Text = told + fmt.Sprintf(", off as %s is.", r.name(row[0])); j == row[0] {
				var names []string
				for _, k := range row {
					names = append(names, r.name(k))
				}
				f.Text = fmt.Sprintf("%s stand %.2f stop off their labels, all alike: one exposure was not changed or was skipped where they begin, or their labels were counted on by one. Look at the log from %s on and label them anew.", list(names), math.Abs(off(j)), r.name(row[0]))
			}
		} else if step := math.Round(off(j)); step != 0 && math.Abs(off(j)-step) <= math.Max(wholeStep, 2*sigma[j]) {
			f.Case = WholeStep
			f.Text = fmt.Sprintf("%s, about %s off and alike in all channels: the label, or an exposure that was set otherwise; check the label against the log.", told, steps(step))
		} else {
			f.Case = BetweenSteps
			f.Text = told + "; check the label. If the log bears it out, shutter or light were off, and the measured stop stands."
		}
		r.Labels = append(r.Labels, f)
	}
}

// steps writes a difference of whole stops.
func steps(n float64) string {
	if math.Abs(n) == 1 {
		return "a whole stop"
	}
	return fmt.Sprintf("%g whole stops", math.Abs(n))
}

// repeatedFindings tells of pictures that stand under several labels.
func (r *Result) repeatedFindings(frames []Frame, stop []float64) {
	for _, group := range r.repeated {
		var names, labels []string
		for _, j := range group {
			names, labels = append(names, r.name(j)), append(labels, stops.Label(frames[j].Stop))
		}
		text := fmt.Sprintf("%s show one exposure under the labels %s: it was not changed between them, or one picture stands under several labels. No range rests on them; find out which label is right.", list(names), list(labels))
		for _, j := range group {
			f := LabelFinding{Frame: j, Swapped: -1, Label: frames[j].Stop, Measured: stop[j], Repeated: true, Case: SameExposure}
			if f.Text = text; j != group[0] {
				f.Text = fmt.Sprintf("%s, labelled %s, shows the exposure of %s, labelled %s.", r.name(j), stops.Label(f.Label), r.name(group[0]), stops.Label(frames[group[0]].Stop))
			}
			r.Labels = append(r.Labels, f)
		}
	}
}

// rowOff returns the frames, in the order of their labels, that are off by one figure and
// stand in a row at one end of the bracket; nil where fewer than two do.
func rowOff(frames []Frame, stop []float64, off []int) []int {
	var order []int
	for j, f := range frames {
		if f.StopKnown && !math.IsNaN(stop[j]) {
			order = append(order, j)
		}
	}
	byLabel := func(a, b int) int { return cmp.Compare(frames[a].Stop, frames[b].Stop) }
	slices.SortStableFunc(order, byLabel)
	for range 2 {
		n := 0
		for n < len(order) && slices.Contains(off, order[n]) &&
			math.Abs((stop[order[n]]-frames[order[n]].Stop)-(stop[order[0]]-frames[order[0]].Stop)) <= swapLeast {
			n++
		}
		if n >= 2 {
			row := slices.Clone(order[:n])
			slices.SortStableFunc(row, byLabel)
			if stop[order[0]] > stop[order[n-1]] { // the upper end: it begins nearest to the rest
				return row
			}
			slices.Reverse(row)
			return row
		}
		slices.Reverse(order)
	}
	return nil
}

// likeLabels are the stops of the frames of a roll that was not scanned alike whose shift
// looks like a label's and not like a scanner's: alike in all channels, of half a stop or
// more, in a frame that one response explains. The others are NaN.
func (r *Result) likeLabels(f *fit, stop []float64) []float64 {
	out := make([]float64, len(stop))
	for j := range out {
		out[j] = math.NaN()
	}
	for _, g := range r.Scan.Gains {
		lo, hi := math.Min(g.R, math.Min(g.G, g.B)), math.Max(g.R, math.Max(g.G, g.B))
		if hi-lo < neutral && (lo > 0.5 || hi < -0.5) && f.frameMisfit(g.Frame) <= misfitUnsure {
			out[g.Frame] = stop[g.Frame]
		}
	}
	return out
}

// list writes names with commas and an "and".
func list(v []string) string {
	if len(v) < 2 {
		return strings.Join(v, "")
	}
	return strings.Join(v[:len(v)-1], ", ") + " and " + v[len(v)-1]
}

// repeats reports whether a frame shows the exposure of one with another label.
func (r *Result) repeats(j int) bool {
	return slices.ContainsFunc(r.repeated, func(g []int) bool { return slices.Contains(g, j) })
}

// Contradicted reports whether the picture of a frame contradicts its label, or is
// another label's as well.
func (r *Result) Contradicted(j int) bool {
	return slices.ContainsFunc(r.Labels, func(f LabelFinding) bool { return f.Frame == j })
}

// findRepeated groups frames that show one exposure though their labels differ by more
// than LabelLimit. Where most of the roll is alike, it is another thing (levelled).
func (r *Result) findRepeated(m *samples, labels []float64) {
	group := make([]int, m.frames)
	for j := range group {
		group[j] = j
	}
	for a := range group {
		for b := range a {
			if !math.IsNaN(labels[a]) && !math.IsNaN(labels[b]) && group[a] != group[b] && m.same(a, b) {
				from, to := group[a], group[b]
				for k := range group {
					if group[k] == from {
						group[k] = to
					}
				}
			}
		}
	}
	known := 0
	for _, l := range labels {
		if !math.IsNaN(l) {
			known++
		}
	}
	for g := range group {
		var in []int
		lo, hi := math.Inf(1), math.Inf(-1)
		for j, v := range group {
			if v == g && !math.IsNaN(labels[j]) {
				in = append(in, j)
				lo, hi = math.Min(lo, labels[j]), math.Max(hi, labels[j])
			}
		}
		if len(in) > 1 && hi-lo > LabelLimit && 2*len(in) <= known {
			r.repeated = append(r.repeated, in)
		}
	}
}

// same reports whether two frames show one exposure: in each third of their tones and
// in each channel that both show.
func (m *samples) same(a, b int) bool {
	any := false
	for c := range 3 {
		type reading struct{ u, d float64 }
		var v []reading
		for i := range m.cells {
			p, q := m.index(i, c, a), m.index(i, c, b)
			if m.s[p] > 0 && m.s[q] > 0 {
				v = append(v, reading{m.u[p] + m.u[q], m.u[p] - m.u[q]})
			}
		}
		if len(v) < 90 {
			continue
		}
		slices.SortFunc(v, func(x, y reading) int { return cmp.Compare(x.u, y.u) })
		for k := range 3 {
			var d []float64
			for _, x := range v[k*len(v)/3 : (k+1)*len(v)/3] {
				d = append(d, x.d)
			}
			if math.Abs(median.Of(d)) > sameU {
				return false
			}
		}
		any = true
	}
	return any
}
