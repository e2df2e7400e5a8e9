package shelf

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
)

// Key is what rolls are sorted by.
type Key string

// The keys. Rolls that have nothing to be sorted by come last.
const (
	ByName        Key = "name"
	ByStock       Key = "stock"
	ByLab         Key = "lab"
	ByScanner     Key = "scanner"
	ByDevelopment Key = "development"
	ByDate        Key = "date"
	ByUnder       Key = "under"  // how far under the measured range holds, furthest first
	ByOver        Key = "over"   // how far over
	ByJudged      Key = "judged" // how wide the judge's range is, widest first
)

// Keys returns them all, in the order in which they are offered.
func Keys() []Key {
	return []Key{ByName, ByStock, ByLab, ByScanner, ByDevelopment, ByDate, ByUnder, ByOver, ByJudged}
}

// KeyOf returns the key of a name.
func KeyOf(name string) (Key, error) {
	if k := Key(strings.ToLower(strings.TrimSpace(name))); slices.Contains(Keys(), k) {
		return k, nil
	}
	names := make([]string, len(Keys()))
	for i, k := range Keys() {
		names[i] = string(k)
	}
	return "", fmt.Errorf("rolls are not sorted by %q: give one of %s", name, strings.Join(names, ", "))
}

// text and figure are what an entry has of a key; ok is false where it has nothing.
func (e *Entry) text(k Key) (s string, ok bool) {
	if e.Roll == nil {
		return "", false
	}
	switch k {
	case ByStock:
		s = e.Roll.Stock
	case ByLab:
		s = e.Roll.Lab
	case ByScanner:
		s = e.Roll.Scanner
	case ByDevelopment:
		s = e.Roll.Development
	case ByDate:
		s = e.Roll.Date
	}
	return s, s != ""
}

func (e *Entry) figure(k Key) (v float64, ok bool) {
	holds := e.Holds()
	switch judged, _ := e.Judged(); {
	case k == ByUnder && holds != nil:
		return holds.Lo.Stop, true
	case k == ByOver && holds != nil:
		return -holds.Hi.Stop, true
	case k == ByJudged && judged != nil:
		return judged.Lo - judged.Hi, true
	}
	return math.Inf(1), false
}

// Sort orders entries; those that are alike stay in the order of their names.
func Sort(entries []*Entry, k Key) {
	byName := func(a, b *Entry) int { return stops.Natural(a.Name, b.Name) }
	slices.SortStableFunc(entries, func(a, b *Entry) int {
		switch k {
		case ByName:
			return byName(a, b)
		case ByUnder, ByOver, ByJudged:
			x, okA := a.figure(k)
			y, okB := b.figure(k)
			switch {
			case okA != okB && okA, okA && okB && x < y:
				return -1
			case okA != okB, okA && okB && x > y:
				return 1
			}
			return byName(a, b)
		}
		x, okA := a.text(k)
		y, okB := b.text(k)
		if okA != okB {
			if okA {
				return -1
			}
			return 1
		}
		if c := stops.Natural(strings.ToLower(x), strings.ToLower(y)); c != 0 {
			return c
		}
		return byName(a, b)
	})
}

// Filter says which rolls are wanted. Empty texts want all; case counts for nothing.
type Filter struct {
	Words                            string // each of them stands somewhere in the title block or the file's name
	Stock, Lab, Scanner, Development string
	Stale                            bool // those alone that are to be measured anew
	Trouble                          bool // those alone whose roll file or scans are not in order
}

// Choose returns the entries that a filter wants.
func Choose(entries []*Entry, f Filter) (out []*Entry) {
	for _, e := range entries {
		if f.wants(e) {
			out = append(out, e)
		}
	}
	return out
}

func (f Filter) wants(e *Entry) bool {
	has := func(text, part string) bool {
		return strings.Contains(strings.ToLower(text), strings.ToLower(strings.TrimSpace(part)))
	}
	all := e.Name
	if r := e.Roll; r != nil {
		if !has(r.Stock, f.Stock) || !has(r.Lab, f.Lab) || !has(r.Scanner, f.Scanner) || !has(r.Development, f.Development) {
			return false
		}
		for _, l := range r.Block() {
			all += "\n" + *l.Text
		}
		if _, judge := e.Judged(); judge != "" {
			all += "\n" + judge
		}
	} else if f.Stock+f.Lab+f.Scanner+f.Development != "" {
		return false
	}
	for _, w := range strings.Fields(f.Words) {
		if !has(all, w) {
			return false
		}
	}
	return (!f.Stale || e.Roll != nil && e.Stale != "") && (!f.Trouble || e.Err != nil || len(e.Problems) > 0)
}
