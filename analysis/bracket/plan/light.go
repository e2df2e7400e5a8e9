package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
)

// Spread places how light pictures are (any rising figure; NaN: not known) on a span
// of stops: a guess that knows their order alone. nil where they do not differ.
func Spread(light []float64, from, to float64) []float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range light {
		if !math.IsNaN(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	if !(hi > lo) {
		return nil
	}
	out := make([]float64, len(light))
	for i, v := range light {
		out[i] = from + (v-lo)/(hi-lo)*(to-from)
	}
	return out
}

// MatchByLight is Match for scans of which is known how light they are (lightness
// 0..1, NaN: not known), parallel to them, and nothing else. Offers come likeliest
// first, those among them that leave out a picture between the frames of the bracket;
// but how light a picture is decides nothing by itself, so that what Match would ask
// stays a question. An order of names that light contradicts becomes one; a label that
// it contradicts is told. Scans of negatives that were left negative darken with
// exposure: both ways are tried.
func MatchByLight(f *File, scans []string, light []float64) (*Assignment, error) {
	m, err := match(f, scans, nil, false)
	if err != nil {
		return nil, err
	}
	a := m.a
	if len(a.Offers) == 0 || len(light) != len(scans) {
		return a, nil
	}
	if a.Sure {
		m.doubt(light)
		return a, nil
	}
	from, to := math.Inf(1), math.Inf(-1)
	for _, e := range a.Real.Exposed {
		if e.Test {
			from, to = math.Min(from, e.Stop), math.Max(to, e.Stop)
		}
	}
	least := math.Inf(1)
	for k, span := range [][2]float64{{from, to}, {to, from}} {
		guess := Spread(light, span[0], span[1])
		if guess == nil {
			return a, nil
		}
		every, err := match(f, scans, guess, true)
		if err != nil {
			return nil, err
		}
		b := every.a
		if len(b.Offers) == 0 || b.Offers[0].Misfit == nil || *b.Offers[0].Misfit+float64(k)*clear >= least {
			continue // the second must fit clearly better, for it is the rarer
		}
		least = *b.Offers[0].Misfit
		a.Offers = b.Offers
	}
	for i := range a.Offers { // stops that are guessed are not told
		a.Offers[i].Misfit = nil
		for k := range a.Offers[i].Scans {
			a.Offers[i].Scans[k].Measured, a.Offers[i].Scans[k].Off = nil, nil
		}
	}
	return a, nil
}

// How much darker a scan must be to contradict more exposure: a share of the span of
// the roll, since drifting light and the flat ends of a film make neighbours alike, and
// at least what noise makes of scans that are all alike (design choices).
const (
	darker = 0.03
	alikes = 0.005
)

// contradiction finds the two scans that contradict a mapping most: the first is
// darker than the second, and should have more light. sign -1 has scans darken with
// exposure.
func (m *matcher) contradiction(mapping []int, light []float64, sign float64) (i, j int, found bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	var known []int
	for i, p := range m.placed(mapping) {
		if p.Known && !math.IsNaN(light[i]) {
			known = append(known, i)
			lo, hi = math.Min(lo, light[i]), math.Max(hi, light[i])
		}
	}
	most := math.Max(darker*(hi-lo), alikes)
	stop := func(i int) float64 { return m.real.Exposed[mapping[i]].Stop }
	for _, a := range known {
		for _, b := range known {
			if d := sign * (light[b] - light[a]); stop(a) > stop(b)+wrong && d > most {
				i, j, found, most = a, b, true, d
			}
		}
	}
	return i, j, found
}

// doubt holds what is taken as sure against how light the scans are.
func (m *matcher) doubt(light []float64) {
	names := mappingOf(m.a.Scans)
	i, j, against := m.contradiction(names, light, 1)
	_, _, never := m.contradiction(names, light, -1) // not even for negatives left negative
	fits := func() {
		if at := slices.Index(m.a.Findings, takenByName); at >= 0 && against != never {
			m.a.Findings[at] = "The names carry no stops: the scans are taken in the order of their names as the frames are on the film, and how light they are fits it."
		}
	}
	if !against {
		fits()
		return
	}
	if m.labelled {
		if never {
			m.a.Findings = append(m.a.Findings, fmt.Sprintf("%q is darker than %q and has more light by its name: check the names.", m.names[i], m.names[j]))
		}
		return
	}
	var offers []Offer
	for _, o := range m.a.Offers[1:] {
		if _, _, against := m.contradiction(mappingOf(o.Scans), light, 1); !against {
			offers = append(offers, o)
		}
	}
	if len(offers) == 0 {
		if !never {
			fits()
			return
		}
		for _, sign := range []float64{1, -1} {
			if o := m.ranked(names, light, sign); o != nil {
				offers = append(offers, *o)
			}
		}
	}
	m.a.Offers[0].Text = strings.TrimSuffix(m.a.Offers[0].Text, ".") + ", in the order in which the frames were exposed."
	for _, o := range m.a.Offers {
		if !slices.ContainsFunc(offers, func(have Offer) bool {
			return slices.EqualFunc(mappingOf(have.Scans), mappingOf(o.Scans), m.same)
		}) {
			offers = append(offers, o)
		}
	}
	m.a.Offers, m.a.Sure, m.a.Scans = offers, false, m.placed(m.nothing())
	m.a.Findings = slices.DeleteFunc(m.a.Findings, func(s string) bool { return s == takenByName })
	m.a.Question = fmt.Sprintf("By the order of their names %q stands at %s and %q at %s, but %q is the darker one: which is which?",
		m.names[i], stops.Label(m.real.Exposed[names[i]].Stop), m.names[j], stops.Label(m.real.Exposed[names[j]].Stop), m.names[i])
}

// ranked offers the frames of a mapping to the same scans in the order of a figure of
// them, light or a measured stop; falling for sign -1. nil where a figure is missing.
func (m *matcher) ranked(mapping []int, figure []float64, sign float64) *Offer {
	var scans, frames []int
	for _, i := range m.order {
		if k := mapping[i]; k >= 0 && m.real.Exposed[k].Test {
			if math.IsNaN(figure[i]) {
				return nil
			}
			scans, frames = append(scans, i), append(frames, k)
		}
	}
	slices.SortStableFunc(scans, func(i, j int) int { return cmpFloat(sign*figure[i], sign*figure[j]) })
	slices.SortFunc(frames, func(a, b int) int {
		if c := cmpFloat(m.real.Exposed[a].Stop, m.real.Exposed[b].Stop); c != 0 {
			return c
		}
		return a - b
	})
	way := slices.Clone(mapping)
	for k, i := range scans {
		way[i] = frames[k]
	}
	o := m.offer(way)
	ends := [2]string{"darkest", "lightest"}
	if sign < 0 {
		ends = [2]string{"lightest", "darkest"}
	}
	at := func(k int) string { return stops.Label(m.real.Exposed[frames[k]].Stop) }
	o.Text = fmt.Sprintf("%s, from the %s at %s to the %s at %s.", strings.TrimSuffix(strings.Replace(o.Text, fromLast, "", 1), "."), ends[0], at(0), ends[1], at(len(frames)-1))
	return &o
}
