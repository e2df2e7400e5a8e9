package stops

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Code names a kind of finding; it is stable, for programs and tests.
type Code string

// The findings about the labels of a roll.
const (
	NoLabels    Code = "no-labels"    // no name carries a stop: see Assignment.Proposal
	SomeMissing Code = "some-missing" // some names carry a stop, these do not
	Clash       Code = "clash"        // several frames claim one stop
	NoBase      Code = "no-base"      // no frame at 0: the nearest stands in
	Single      Code = "single-frame" // nothing to compare with
	ByContext   Code = "by-context"   // names that were read with the help of the others
	Counter     Code = "counter"      // names that could be stops or a counter; left unlabelled
)

// Finding is one thing that the user must know about the labels: one sentence
// that names the files and says what to do. Frames are indices into the names.
type Finding struct {
	Code   Code
	Text   string
	Frames []int
}

// Labelled is one name with the stop that was read from it.
type Labelled struct {
	Name  string
	Stop  float64 // stops, over positive; meaningful when Known
	Known bool    // the stop comes from the name; else its origin is unknown
}

// Proposal is a question to the user about names without labels. Stops and
// Reverse run parallel to the names as they were given: the labels if the answer
// is yes, and the labels if the order is the other way round. Neither is applied
// before somebody has answered.
type Proposal struct {
	Question string
	Stops    []float64
	Reverse  []float64
}

// Assignment is what the names of a roll say.
type Assignment struct {
	Frames   []Labelled // in the order given
	Base     int        // index of the base frame among the labelled; -1 while none is labelled
	Findings []Finding
	Proposal *Proposal // nil where there is nothing to ask
}

// Assign reads the labels of a whole roll from its file names (without folder).
// The names together say more than one alone:
//
//   - Beside a labelled "wall+1", "wall-1" is one under and "wall0" (or "wall 0")
//     the base: the hyphen is a minus. Beside "-2" and "0", a bare "2" is two over.
//   - "p1" to "p8" with nothing else are pages, "0" to "7" a counter, and in "-3_1",
//     "-2_2" the underscore is no decimal point: these stay unlabelled.
func Assign(names []string) Assignment {
	a := Assignment{Frames: make([]Labelled, len(names)), Base: -1}
	readings := make([]reading, len(names))
	for i, n := range names {
		readings[i] = read(stem(n))
	}
	a.dropCounters(names, readings)
	a.readContext(names, readings)
	var known, unknown []int
	var labels []float64
	for i, r := range readings {
		a.Frames[i] = Labelled{Name: names[i], Stop: r.stop, Known: r.ok}
		if r.ok {
			known = append(known, i)
			labels = append(labels, r.stop)
		} else {
			unknown = append(unknown, i)
		}
	}
	switch {
	case len(names) == 0:
		return a
	case len(known) == 0:
		a.propose(names)
		return a
	case len(unknown) > 0:
		a.Findings = append(a.Findings, Finding{SomeMissing, fmt.Sprintf(
			"%s %s no stop in the name: give %s stop by hand, or leave %s out.",
			files(names, unknown), verb(unknown, "has", "have"), verb(unknown, "it its", "each its"), verb(unknown, "it", "them")), unknown})
	}
	base, _ := Base(labels)
	a.Base = known[base]
	subset := make([]string, len(known))
	for i, k := range known {
		subset[i] = names[k]
	}
	for _, f := range Inspect(subset, labels) {
		if f.Code == Single && len(names) > 1 {
			continue // the missing labels are what is wrong
		}
		for i, k := range f.Frames {
			f.Frames[i] = known[k]
		}
		a.Findings = append(a.Findings, f)
	}
	return a
}

// propose asks for the order of names without labels.
func (a *Assignment) propose(names []string) {
	n := len(names)
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	if n == 1 {
		a.Findings = append(a.Findings, Finding{Single, fmt.Sprintf(
			"%s is the only scan and has no stop in the name: it stands as the base until more frames are opened.", quote(names[0])), all})
		a.Proposal = &Proposal{
			Question: fmt.Sprintf("%s has no stop in its name: is it the base frame?", quote(names[0])),
			Stops:    []float64{0}, Reverse: []float64{0},
		}
		return
	}
	order := slices.Clone(all)
	slices.SortStableFunc(order, func(i, j int) int { return Natural(names[i], names[j]) })
	p := inOrder(order)
	first, last := names[order[0]], names[order[n-1]]
	p.Question = fmt.Sprintf("%d scans without labels: is the first (%s) the most underexposed and the last (%s) the most overexposed, %s to %s in whole stops?",
		n, quote(first), quote(last), Label(p.Stops[order[0]]), Label(p.Stops[order[n-1]]))
	if n > 2*Limit {
		p = nil
	}
	a.Proposal = p
	a.Findings = append(a.Findings, Finding{NoLabels, fmt.Sprintf(
		"None of the %d scans (%s) has a stop in its name: confirm the order or give each its stop by hand.", n, files(names, order)), all})
}

// inOrder proposes a bracket of whole stops with the odd frame over, -3 to +4 for eight,
// -3 to +3 for seven (common practice, no source), from the first of an order up.
func inOrder(order []int) *Proposal {
	n := len(order)
	lo := -float64((n - 1) / 2)
	p := &Proposal{Stops: make([]float64, n), Reverse: make([]float64, n)}
	for at, i := range order {
		p.Stops[i] = lo + float64(at)
		p.Reverse[i] = lo + float64(n-1-at)
	}
	return p
}

// ByLight proposes stops for two scans or more by how light they are, parallel to names
// (any rising figure): the lightest is the most exposed, as in any positive. negative says
// that they look like negatives that were not turned positive, which darken with exposure.
// nil where there are too many, or one whose light is not known (NaN).
func ByLight(names []string, light []float64, negative bool) *Proposal {
	n := len(names)
	if n < 2 || n > 2*Limit || len(light) != n {
		return nil
	}
	order := make([]int, n)
	for i := range order {
		if order[i] = i; light[i] != light[i] {
			return nil
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		if negative {
			i, j = j, i
		}
		return cmp.Compare(light[i], light[j])
	})
	p := inOrder(order)
	first, last, why := "darkest", "lightest", ""
	if negative {
		first, last, why = last, first, " They look like negatives that were not turned positive (orange all over), which darken with exposure: have them inverted with one setting."
	}
	p.Question = fmt.Sprintf("%d scans without labels, in the order of their light: is the %s (%s) the most underexposed and the %s (%s) the most overexposed, %s to %s in whole stops?%s",
		n, first, quote(names[order[0]]), last, quote(names[order[n-1]]), Label(p.Stops[order[0]]), Label(p.Stops[order[n-1]]), why)
	return p
}

// dropCounters takes back readings that the other names show to be counters.
func (a *Assignment) dropCounters(names []string, rs []reading) {
	var mp, under, zeros, bare []int
	others, odd := 0, false
	for i, r := range rs {
		_, _, isBare := bareNumber(stem(names[i]))
		switch {
		case r.ok && r.bareMP:
			mp = append(mp, i)
		case r.ok && stem(names[i]) == "0":
			zeros = append(zeros, i)
		case r.ok:
			others++
		case isBare:
			bare = append(bare, i)
		}
		if r.ok && r.under_ {
			under = append(under, i)
		}
		odd = odd || !r.ok && underscored(stem(names[i]))
	}
	drop := func(which []int, why string) {
		for _, i := range which {
			rs[i] = reading{}
		}
		a.Findings = append(a.Findings, Finding{Counter, fmt.Sprintf("%s may carry %s: give %s stop by hand or by order.",
			files(names, which), why, verb(which, "it its", "each its")), which})
	}
	oneSign := true
	for _, i := range mp {
		oneSign = oneSign && (rs[i].stop > 0) == (rs[mp[0]].stop > 0)
	}
	if len(mp) > 1 && oneSign && others == 0 && len(zeros) == 0 {
		drop(mp, "a counter (page, picture) and not a stop")
	}
	if len(zeros) > 0 && len(bare) > 0 && others == 0 && len(mp) == 0 {
		drop(zeros, "a counter that begins at 0 and not the base")
	}
	if len(under) > 0 && odd {
		drop(under, "a stop and a counter, or a decimal, after the underscore")
	}
}

// underscored reports whether the name holds a signed number, an underscore and a
// number that is no decimal of a stop.
func underscored(stem string) bool {
	r := &reader{toks: tokens(stem)}
	for i, t := range r.toks {
		if (t.kind == plus || t.kind == minus) && r.tok(i+1).kind == number && r.tok(i+2).text == "_" && r.tok(i+3).kind == number && !shorthand(r.tok(i+3).text) {
			return true
		}
	}
	return false
}

// bareNumber splits a name that ends in a number without a sign: what stands
// before it, without separators at its end and in lower case, and the number. A
// hyphen is left in lead.
func bareNumber(stem string) (lead string, value float64, ok bool) {
	r := &reader{toks: tokens(stem)}
	n := len(r.toks) - 1
	if n < 0 || r.tok(n).kind != number {
		return "", 0, false
	}
	t := r.tok(n)
	if !t.whole && !strings.ContainsAny(t.text, ".,/") {
		return "", 0, false // padded: a counter
	}
	var b strings.Builder
	for i, p := range r.toks[:n] {
		if i == n-1 && p.kind == gap {
			break
		}
		b.WriteString(p.text)
	}
	return b.String(), t.value, true
}

// readContext reads bare numbers and hyphens where other names of the same
// pattern carry an explicit sign.
func (a *Assignment) readContext(names []string, rs []reading) {
	seen := signsSeen(names, rs)
	var read []int
	for i, r := range rs {
		lead, v, ok := bareNumber(stem(names[i]))
		if r.ok || !ok || v > Limit {
			continue
		}
		if v, ok = seen[pattern(lead)].read(lead, v, len(names) == 1); !ok {
			continue
		}
		rs[i] = reading{stop: v, ok: true}
		if v != 0 { // a bare 0 beside -1 or +1 leaves nothing to ask
			read = append(read, i)
		}
	}
	if len(read) > 0 {
		said := make([]string, len(read))
		for k, i := range read {
			said[k] = fmt.Sprintf("%s as %s", quote(names[i]), Label(rs[i].stop))
		}
		a.Findings = append(a.Findings, Finding{ByContext, fmt.Sprintf(
			"Read with the help of the other names: %s; correct by hand what is not so.", list(said)), read})
	}
}

// pattern is what names have before the sign of their number.
func pattern(lead string) string { return strings.TrimRight(lead, "+-±_ .") }

// signSet is which labels names of one pattern carry.
type signSet struct{ plus, minus, zero bool }

func signsSeen(names []string, rs []reading) map[string]signSet {
	seen := map[string]signSet{}
	for i, r := range rs {
		lead, v, ok := bareNumber(stem(names[i]))
		if !ok {
			continue
		}
		s := seen[pattern(lead)]
		s.plus = s.plus || r.ok && r.explicit && r.stop > 0
		s.minus = s.minus || r.ok && r.explicit && r.stop < 0
		s.zero = s.zero || v == 0
		seen[pattern(lead)] = s
	}
	return seen
}

// read returns the stop that a bare number v after lead must be beside names with
// these signs; ok is false where it need not be one.
func (s signSet) read(lead string, v float64, alone bool) (stop float64, ok bool) {
	hyphen := strings.HasSuffix(lead, "-") && !strings.HasSuffix(lead, "--")
	signed := strings.ContainsAny(lead[len(pattern(lead)):], "+-±")
	switch {
	case hyphen && s.plus && v > 0:
		return -v, true
	case signed:
		return 0, false
	case v == 0:
		return 0, s.plus || s.minus || alone // alone it can be nothing else
	}
	return v, s.minus && !s.plus && s.zero
}

// Inspect returns the findings for labels that are already decided, by hand or by a
// list: clashes, no frame at 0, a single frame. names and labels run parallel.
func Inspect(names []string, labels []float64) []Finding {
	var out []Finding
	n := min(len(names), len(labels))
	names, labels = names[:n], labels[:n]
	done := make([]bool, n)
	for i := range labels {
		if done[i] {
			continue
		}
		same := []int{i}
		for j := i + 1; j < n; j++ {
			if !done[j] && math.Abs(labels[i]-labels[j]) < Near {
				same = append(same, j)
				done[j] = true
			}
		}
		if len(same) > 1 {
			out = append(out, Finding{Clash, fmt.Sprintf(
				"%s claim the same stop (%s): correct the label of one, or leave one out; until then they stand side by side.",
				files(names, same), Label(labels[i])), same})
		}
	}
	if base, exact := Base(labels); base >= 0 && !exact {
		out = append(out, Finding{NoBase, fmt.Sprintf(
			"No frame stands at 0: %s at %s, the nearest, is taken as the base; choose another by hand if it is not.",
			quote(names[base]), Label(labels[base])), []int{base}})
	}
	if n == 1 {
		out = append(out, Finding{Single, fmt.Sprintf(
			"%s is the only frame: it is shown and measured, but there is nothing to compare it with until more are opened.", quote(names[0])), []int{0}})
	}
	return out
}

// Base returns the index of the base among labels: the first at 0 (exact), else
// the nearest to 0, the over one of two equally near; -1 when labels is empty.
func Base(labels []float64) (index int, exact bool) {
	index = -1
	for i, v := range labels {
		switch {
		case math.IsNaN(v):
		case index < 0,
			math.Abs(v) < math.Abs(labels[index])-Near,
			math.Abs(v) < math.Abs(labels[index])+Near && v > 0 && labels[index] < -Near:
			index = i
		}
	}
	return index, index >= 0 && math.Abs(labels[index]) < Near
}

// files names files in a sentence, at most eight of them.
func files(names []string, which []int) string {
	const most = 8
	var said []string
	for k, i := range which {
		if k == most && len(which) > most+1 {
			said = append(said, fmt.Sprintf("%d more", len(which)-most))
			break
		}
		said = append(said, quote(names[i]))
	}
	return list(said)
}

func list(items []string) string {
	if n := len(items); n > 1 {
		return strings.Join(items[:n-1], ", ") + " and " + items[n-1]
	}
	return strings.Join(items, "")
}

func verb(which []int, one, many string) string {
	if len(which) == 1 {
		return one
	}
	return many
}
