package plan

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/combin"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/median"
)

// Placed is one scan with the frame that it is taken for.
type Placed struct {
	Scan      string   // as given
	Exposed   int      // index into Real.Exposed; -1: another picture, or unknown
	Known     bool     // Stop is given
	Stop      float64  // the real stop
	Wanted    float64  // the planned one
	Deviation float64  // Stop - Wanted
	Measured  *float64 // as given, laid on the real stops; nil: not measured
	Off       *float64 // Measured - Stop
}

// Offer is one way in which scans and frames may belong together.
type Offer struct {
	Text   string   // one sentence: which scans are the bracket
	Scans  []Placed // parallel to the scans as given
	Misfit *float64 // root mean square of Off in stops; nil: not measured
}

// Assignment is what plan and log say of scans.
type Assignment struct {
	Scans    []Placed // parallel to the scans as given; all unknown unless Sure
	Sure     bool     // nothing must be asked
	Question string   // when not Sure
	Offers   []Offer  // likeliest first; when Sure the first is Scans, and others may be chosen by hand
	Findings []string // sentences for the user
	Real     *Real
}

const (
	wrong     = 1.0 / 3 // stops between label and measured stop that are told (response.LabelLimit)
	clear     = 0.25    // stops of misfit by which one offer must beat the next to be taken unasked (design choice)
	broken    = 0.1     // stops of misfit that a gap in the bracket counts for: brackets are exposed in one go (design choice)
	maxOffers = 8
)

const fromLast = ", from its last frame to its first"

const takenByName = "The names carry no stops: the scans are taken in the order of their names as the frames are on the film; check it, or turn it round."

// Match gives scans the real stops of a plan and its log. Scans are paths or
// names; measured, parallel to them, is in stops from any origin (NaN: not
// measured), or nil.
//
// Labels in the names go first: each scan gets the frame that was planned at its
// label. Names without labels are taken in their natural order as the frames are
// on the film. Where the counts differ (other pictures on the roll, a frame that
// is missing) the ways in which they may belong together are offered; the measured
// stops choose, where one of them fits clearly better. The error is a *FieldError
// of the log.
func Match(f *File, scans []string, measured []float64) (*Assignment, error) {
	m, err := match(f, scans, measured, false)
	if err != nil {
		return nil, err
	}
	return m.a, nil
}

// match returns Match; every has all ways to leave scans out offered, where they are
// few.
func match(f *File, scans []string, measured []float64, every bool) (*matcher, error) {
	real, err := f.Real()
	if err != nil {
		return nil, err
	}
	m := newMatcher(real, scans, measured)
	m.every = every
	m.a.Findings = append(m.a.Findings, real.Notes...)
	m.a.Scans = m.placed(m.nothing())
	if len(scans) == 0 || len(m.tests) == 0 {
		return m, nil
	}
	if m.labelled = m.byLabel(); !m.labelled {
		m.byOrder(f)
	}
	m.check()
	return m, nil
}

// matcher finds which scan is which frame. A mapping is parallel to the scans as
// given and holds indices into real.Exposed, -1 for another picture.
type matcher struct {
	real     *Real
	scans    []string
	names    []string
	order    []int // scans by name
	measured []float64
	every    bool
	tests    []int // frames of the bracket on the film
	labelled bool  // the names carry labels of the plan
	a        *Assignment
}

func newMatcher(real *Real, scans []string, measured []float64) *matcher {
	m := &matcher{real: real, scans: scans, a: &Assignment{Real: real}}
	m.names = make([]string, len(scans))
	m.order = make([]int, len(scans))
	for i, s := range scans {
		m.names[i], m.order[i] = filepath.Base(filepath.FromSlash(s)), i
	}
	slices.SortStableFunc(m.order, func(i, j int) int { return stops.Natural(m.names[i], m.names[j]) })
	if len(measured) == len(scans) {
		m.measured = measured
	}
	for i, e := range real.Exposed {
		if e.Test {
			m.tests = append(m.tests, i)
		}
	}
	return m
}

func (m *matcher) nothing() []int {
	return slices.Repeat([]int{-1}, len(m.scans))
}

// same reports whether two mappings take a scan for the same frame of the bracket, or
// both for something else.
func (m *matcher) same(a, b int) bool {
	test := func(k int) bool { return k >= 0 && m.real.Exposed[k].Test }
	return a == b || !test(a) && !test(b)
}

// byLabel follows the labels in the names, where these are labels of this plan.
func (m *matcher) byLabel() bool {
	labels := stops.Assign(m.names)
	mapping, used := m.nothing(), map[int]bool{}
	known, fitting := 0, 0
	var lost []string
	for _, i := range m.order {
		l := labels.Frames[i]
		if !l.Known {
			continue
		}
		known++
		best := -1
		for _, t := range m.tests {
			d := math.Abs(m.real.Exposed[t].Wanted - l.Stop)
			if !used[t] && d < 1.0/6 && (best < 0 || d < math.Abs(m.real.Exposed[best].Wanted-l.Stop)) {
				best = t
			}
		}
		if best < 0 {
			lost = append(lost, fmt.Sprintf("%q (%s)", m.names[i], stops.Label(l.Stop)))
			continue
		}
		fitting++
		mapping[i], used[best] = best, true
	}
	if fitting < 2 && !(fitting == 1 && len(m.scans) == 1) || 2*fitting < known {
		return false
	}
	m.a.Sure = true
	m.a.Offers = []Offer{m.offer(mapping)}
	m.a.Scans = m.a.Offers[0].Scans
	if len(lost) > 0 {
		m.a.Findings = append(m.a.Findings, fmt.Sprintf("The plan has no further frame for %s: label by hand what belongs to the bracket.", list(lost)))
	}
	m.missing(mapping)
	return true
}

// missing tells which frames of the bracket have no scan.
func (m *matcher) missing(mapping []int) {
	if gone := m.gone(mapping); len(gone) > 0 && len(gone) < len(m.tests) {
		m.a.Findings = append(m.a.Findings, fmt.Sprintf("There is no scan of %s.", list(gone)))
	}
}

func (m *matcher) gone(mapping []int) (gone []string) {
	for _, t := range m.tests {
		if !slices.Contains(mapping, t) {
			gone = append(gone, fmt.Sprintf("frame %d (%s)", m.real.Exposed[t].Number, stops.Label(m.real.Exposed[t].Wanted)))
		}
	}
	return gone
}

// byOrder places the scans in their order on the film.
func (m *matcher) byOrder(f *File) {
	var ways [][]int
	add := func(mapping []int) {
		if mapping == nil {
			return
		}
		for _, w := range ways {
			if slices.EqualFunc(w, mapping, m.same) {
				return
			}
		}
		ways = append(ways, mapping)
	}
	all := make([]int, len(m.real.Exposed))
	for i := range all {
		all[i] = i
	}
	n, equal := len(m.scans), false
	add(m.byNumber(f))
	for _, film := range [][]int{all, m.tests} {
		switch {
		case n == len(film):
			equal = true
			add(m.lay(m.order, film))
		case n > len(film):
			for _, o := range windows(n-len(film), f.Plan.Frames[0].Number-1) {
				add(m.lay(m.order[o:o+len(film)], film))
			}
			if m.every {
				for _, others := range choices(n, n-len(film)) {
					rest := make([]int, 0, len(film))
					for k, i := range m.order {
						if !slices.Contains(others, k) {
							rest = append(rest, i)
						}
					}
					add(m.lay(rest, film))
				}
			}
		case n == len(film)-1:
			for k := len(film) - 1; k >= 0; k-- { // the end of a roll is lost most easily
				add(m.lay(m.order, slices.Delete(slices.Clone(film), k, k+1)))
			}
		default:
			add(m.lay(m.order, film[:n]))
			add(m.lay(m.order, film[len(film)-n:]))
		}
	}
	add(m.aligned(m.order))
	forward := len(ways)
	back := slices.Clone(m.order)
	slices.Reverse(back)
	if n == len(all) {
		add(m.lay(back, all))
	}
	if n == len(m.tests) {
		add(m.lay(back, m.tests))
	}
	add(m.aligned(back))
	for _, w := range ways {
		m.a.Offers = append(m.a.Offers, m.offer(w))
	}
	if m.measured != nil {
		m.decide(ways)
	} else if equal || forward == 1 {
		m.take(0)
		m.a.Findings = append(m.a.Findings, takenByName)
	}
	if len(m.a.Offers) > maxOffers {
		m.a.Offers = m.a.Offers[:maxOffers]
	}
	if m.a.Sure {
		m.missing(mappingOf(m.a.Scans))
		return
	}
	m.a.Question = fmt.Sprintf("%s and %s on the film, %s of them of the bracket: which belong together?",
		countOf(n, "scan"), countOf(len(all), "frame"), fmt.Sprint(len(m.tests)))
}

func mappingOf(scans []Placed) []int {
	out := make([]int, len(scans))
	for i, s := range scans {
		out[i] = s.Exposed
	}
	return out
}

func (m *matcher) take(i int) {
	m.a.Sure = true
	m.a.Offers[0], m.a.Offers[i] = m.a.Offers[i], m.a.Offers[0]
	m.a.Scans = m.a.Offers[0].Scans
}

// decide sorts the offers by how well they fit, and takes the first if it is clear.
func (m *matcher) decide(ways [][]int) {
	score := func(o Offer) float64 {
		if o.Misfit == nil {
			return math.Inf(1)
		}
		return *o.Misfit + broken*float64(m.gaps(o))
	}
	slices.SortStableFunc(m.a.Offers, func(a, b Offer) int { return cmpFloat(score(a), score(b)) })
	first := score(m.a.Offers[0])
	if first < wrong && (len(ways) == 1 || score(m.a.Offers[1]) > first+clear) {
		m.take(0)
	}
}

// gaps counts the places where other pictures stand between those of the bracket.
func (m *matcher) gaps(o Offer) (n int) {
	inside, left := false, false
	for _, i := range m.order {
		if o.Scans[i].Known {
			if left {
				n, left = n+1, false
			}
			inside = true
		} else {
			left = inside
		}
	}
	return n
}

// lay puts scans, by index and in order, on frames of the film.
func (m *matcher) lay(scans, film []int) []int {
	mapping := m.nothing()
	for k, i := range scans {
		mapping[i] = film[k]
	}
	return mapping
}

// choices returns all ways to take k of 0..n-1; none where they are more than a few
// hundred.
func choices(n, k int) [][]int {
	const most = 300
	if k < 1 || k > n || combin.Binomial(n, k) > most {
		return nil
	}
	return combin.Combinations(n, k)
}

// windows returns the places where a bracket may begin among more scans than it has
// frames, likeliest first: where the plan begins on the roll, the first, the last.
func windows(most, planned int) []int {
	var out []int
	for _, o := range []int{planned, 0, most} {
		if o >= 0 && o <= most && !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	for o := 1; o < most && len(out) < maxOffers; o++ {
		if !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	return out
}

// byNumber takes the last number in each name for the number on the roll, where
// every frame of the bracket has such a scan; nil else.
func (m *matcher) byNumber(f *File) []int {
	first := f.Plan.Frames[0].Number
	at := map[int]int{}
	for i, name := range m.names {
		n, ok := lastNumber(name)
		if _, twice := at[n]; !ok || twice {
			return nil
		}
		at[n] = i
	}
	mapping := m.nothing()
	for k := range m.real.Exposed {
		i, ok := at[first+k]
		if !ok {
			return nil
		}
		mapping[i] = k
	}
	return mapping
}

func lastNumber(name string) (n int, ok bool) {
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	end := strings.LastIndexAny(stem, "0123456789") + 1
	start := end
	for start > 0 && stem[start-1] >= '0' && stem[start-1] <= '9' && end-start < 7 {
		start--
	}
	for _, c := range stem[start:end] {
		n, ok = 10*n+int(c-'0'), true
	}
	return n, ok
}

// placed turns a mapping into what the scans are.
func (m *matcher) placed(mapping []int) []Placed {
	out := make([]Placed, len(m.scans))
	for i, s := range m.scans {
		out[i] = Placed{Scan: s, Exposed: mapping[i]}
		if k := mapping[i]; k >= 0 && m.real.Exposed[k].Test {
			e := m.real.Exposed[k]
			out[i].Known, out[i].Stop, out[i].Wanted, out[i].Deviation = true, e.Stop, e.Wanted, e.Deviation()
		}
	}
	return out
}

// offer describes a mapping and holds it against the measured stops.
func (m *matcher) offer(mapping []int) Offer {
	o := Offer{Scans: m.placed(mapping)}
	var in, out []string
	var at []int
	for _, i := range m.order {
		if o.Scans[i].Known {
			in = append(in, fmt.Sprintf("%q", m.names[i]))
			at = append(at, mapping[i])
		} else {
			out = append(out, fmt.Sprintf("%q", m.names[i]))
		}
	}
	turned := len(at) > 1 && at[0] > at[len(at)-1] && !slices.IsSorted(at)
	o.Text = few(in) + " " + plural(in, "is", "are") + " the bracket"
	if turned {
		o.Text += fromLast
	}
	if len(out) > 0 {
		o.Text += "; " + few(out) + " " + plural(out, "is another picture", "are other pictures")
	}
	if gone := m.gone(mapping); len(gone) > 0 {
		o.Text += "; no scan of " + few(gone)
	}
	o.Text += "."
	m.fit(&o)
	return o
}

// fit places the measured stops on the real ones: their origin is free, the median
// settles it.
func (m *matcher) fit(o *Offer) {
	if m.measured == nil {
		return
	}
	var diffs []float64
	for i, s := range o.Scans {
		if v := m.measured[i]; s.Known && !math.IsNaN(v) && !math.IsInf(v, 0) {
			diffs = append(diffs, v-s.Stop)
		}
	}
	if len(diffs) < 2 {
		return
	}
	c := median.Of(diffs)
	sum := 0.0
	for i := range o.Scans {
		s, v := &o.Scans[i], m.measured[i]
		if s.Known && !math.IsNaN(v) && !math.IsInf(v, 0) {
			at, off := v-c, v-c-s.Stop
			s.Measured, s.Off = &at, &off
			sum += off * off
		}
	}
	rms := math.Sqrt(sum / float64(len(diffs)))
	o.Misfit = &rms
}

// check tells scans whose measured stop contradicts the plan.
func (m *matcher) check() {
	if !m.a.Sure {
		return
	}
	done := map[int]bool{}
	s := m.a.Scans
	off := func(i int) bool { return s[i].Off != nil && math.Abs(*s[i].Off) > wrong }
	for _, i := range m.order {
		for _, j := range m.order {
			if i != j && !done[i] && !done[j] && off(i) && off(j) && math.Abs(s[i].Stop-s[j].Stop) > wrong &&
				math.Abs(*s[i].Measured-s[j].Stop) < wrong && math.Abs(*s[j].Measured-s[i].Stop) < wrong {
				done[i], done[j] = true, true
				m.a.Findings = append(m.a.Findings, fmt.Sprintf("%q and %q seem to be swapped: each measures what the other should have; check their order.", m.names[i], m.names[j]))
			}
		}
	}
	for _, i := range m.order {
		if off(i) && !done[i] {
			m.a.Findings = append(m.a.Findings, fmt.Sprintf("%q measures %s and was exposed at %s by plan and log: check whether it is that frame.",
				m.names[i], Hundredths(*s[i].Measured), Hundredths(s[i].Stop)))
		}
	}
}

func plural(items []string, one, many string) string {
	if len(items) == 1 {
		return one
	}
	return many
}

// few lists items, long runs by their ends.
func few(items []string) string {
	if len(items) > 4 {
		return items[0] + " to " + items[len(items)-1] + fmt.Sprintf(" (%d)", len(items))
	}
	return list(items)
}

func list(items []string) string {
	if n := len(items); n > 1 {
		return strings.Join(items[:n-1], ", ") + " and " + items[n-1]
	}
	return strings.Join(items, "")
}
