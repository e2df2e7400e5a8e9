package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
)

// row is a row of the table.
type row struct {
	name string
	must string
	// share of the readings that must be within the bound for the row to be met.
	share float64
}

// rows in the order of the table.
var rows = []row{
	{"greys of a film with identical layers: cast", "0 within 0.5", 1},
	{"greys of a film with identical layers: crossover", "0 within 0.5 dE00", 1},
	{"greys of a film with identical layers: words", "no cast is told", 1},
	{"level of a band, where its cast is told", "within 1 L*", 1},
	{"casts in neutrals", "within 0.5 or 5 %", 1},
	{"crossover in neutrals", "within 0.5 or 5 %", 1},
	{"crossover of the balance over that of the exposure grade", "never above 0", 1},
	{"contrast kept, reversal", "within 0.05", 1},
	{"contrast kept, negative", "within 0.05", 1},
	{"dE00 after curves", "within 15 % or 0.15", 1},
	{"dE00 of exactly zero", "the base frame alone", 1},
	{"dE00 after curves, 95th percentile", "within 20 % or 0.5", 1},
	{"lost area", "within 15 % or 0.005", 1},
	{"noise of a band, blur 0.8 px", "within 10 %", 1},
	{"noise of a band, blur by density", "within 10 %", 1},
	{"noise of a band, scans of 900 to 7000 px", "within 10 %", 1},
	{"noise of a band, blur 1.2 px", "within 10 %", 1},
	{"noise of a band, blur 1.6 px", "within 10 %", 1},
	{"noise of a band, blur 2 px", "within 10 %", 1},
	{"noise of a band, blur 3 px", "within 10 %", 1},
	{"noise of the shadows after curves", "within 10 %", 1},
	{"under end of the range, Holds", "within 0.1 stop", 1},
	{"under end of the range, Strains", "within 0.1 stop", 1},
	{"over end of the range, Holds", "within 0.1 stop", 1},
	{"over end of the range, Strains", "within 0.1 stop", 1},
	{"ends within their stated uncertainty", "95 % of them", 0.95},
	{"more grain: how far an end moves outward", "never", 1},
	{"same film at 900, 2700, 7000 px: how ends move", "as the true ones, within 0.1", 1},
	{"half stops and whole stops: ends", "within their uncertainties", 1},
	{"Noisy of one file alone, as 3, as 8", "within 0.005 of the area", 1},
	{"camera moved by 20 px: lost area", "within 15 % or 0.005", 1},
	{"camera moved by 20 px: ends", "within 0.1 stop", 1},
	{"camera moved by 20 px: what is not shown", "told within 0.01", 1},
	{"dust on 1.7 %: ends", "within 0.1 stop", 1},
	{"dust on 1.7 %: its share", "told within a half of it", 1},
	{"sharpened by the scanner: noise of a band", "within 10 %", 1},
	{"sharpened by the scanner: lost area", "within 15 % or 0.005", 1},
	{"sharpened by the scanner: ends", "within 0.1 stop", 1},
	{"stray light of the scanner, slides: fixed", "fixed", 1},
	{"stray light of the scanner, slides: its size", "told within 0.005", 1},
	{"one frame's blue x 0.9", "named, or why not", 1},
	{"mild automatic exposure: words", "none that is false", 1},
	{"mild automatic exposure: gain", "within 0.2 stop", 1},
	{"automatic exposure: a gain that is not told is said to be beyond telling", "said", 1},
	{"frames not registered in a roll", "one at most", 1},
	{"sentences that are false", "none", 1},
	{"registration at the corners", "within 0.5 px", 1},
	{"measured stop, -2 to +2", "within 0.036", 1},
	{"measured stop within two of its errors", "95 % of them", 0.95},
	{"scanned alike is not denied", "never", 1},
	{"clipped fractions", "exact", 1},
}

// entry is one reading beside its truth.
type entry struct {
	row, roll, what string
	got, want, off  float64
	told, ok        bool
}

// book gathers them.
type book struct {
	mu      sync.Mutex
	entries []entry
	broken  []string
	about   bool     // what criteria are about the ends of ranges is kept as well
	courses []string // that: see courses
}

// add enters a reading: off is how far it is from the truth, in the row's measure, and
// bound how far it may be. A reading that is NaN was not told.
func (b *book) add(row string, o *outcome, what string, got, want, off, bound float64) {
	if !known(row) {
		panic("no row is named " + row)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.entries = append(b.entries, entry{row, o.test.name, what, got, want, off, got == got, off <= bound})
}

// is enters what is either right or wrong.
func (b *book) is(row string, o *outcome, what string, right bool) {
	off := 1.0
	if right {
		off = 0
	}
	b.add(row, o, what, off, 0, off, 0.5)
}

func (b *book) course(line string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.courses = append(b.courses, line)
}

func (b *book) failed(roll string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.broken = append(b.broken, roll)
}

func known(name string) bool {
	return slices.ContainsFunc(rows, func(r row) bool { return r.name == name })
}

// print writes the table and returns how many rows miss their bound. A truth that was
// not told counts neither as within nor as beyond; how many there were stands beside.
func (b *book) print(w io.Writer, only string) (missed int) {
	fmt.Fprintf(w, "%-58s %-27s %6s %6s %9s %9s %9s\n", "reading", "must be", "cases", "untold", "worst", "95th pct", "within")
	for _, r := range rows {
		if !strings.Contains(r.name, only) {
			continue
		}
		var off []float64
		cases, untold, within := 0, 0, 0
		for _, e := range b.entries {
			if e.row != r.name {
				continue
			}
			cases++
			if !e.told {
				untold++
				continue
			}
			off = append(off, e.off)
			if e.ok {
				within++
			}
		}
		if cases == 0 {
			continue
		}
		worst, p95, share, mark := "-", "-", "-", "missed"
		if n := len(off); n > 0 {
			slices.Sort(off)
			worst, p95 = fmt.Sprintf("%.3f", off[n-1]), fmt.Sprintf("%.3f", off[min(n-1, int(math.Ceil(0.95*float64(n)))-1)])
			s := float64(within) / float64(n)
			share = fmt.Sprintf("%.1f %%", 100*s)
			if s >= r.share {
				mark = "met"
			}
		}
		if mark == "missed" {
			missed++
		}
		fmt.Fprintf(w, "%-58s %-27s %6d %6d %9s %9s %9s  %s\n", r.name, r.must, cases, untold, worst, p95, share, mark)
	}
	for _, name := range b.broken {
		missed++
		fmt.Fprintf(w, "the analysis of %q ended with an error\n", name)
	}
	return missed
}

// writeCourses writes what the criteria are about the ends of ranges, told and true.
func (b *book) writeCourses(path string) error {
	const head = "roll\tend\tat\tstop\tcriterion\ttold\terror\ttrue\tlimit\n"
	return os.WriteFile(path, []byte(head+strings.Join(b.courses, "\n")+"\n"), 0o666)
}

// write writes every reading.
func (b *book) write(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "row\troll\twhat\tgot\ttrue\toff\twithin")
	for _, e := range b.entries {
		fmt.Fprintf(w, "%s\t%s\t%s\t%.4f\t%.4f\t%.4f\t%v\n", e.row, e.roll, e.what, e.got, e.want, e.off, e.ok)
	}
	return w.Flush()
}
