package abreast

import (
	"fmt"
	"strings"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/shelf"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// Rows of the shelf, units.
const (
	RowHeight = 54.0
	headRow   = 64.0
	margin    = 20.0
)

// Facts are the words that tell a roll in a list: stock, development, lab, scanner, date.
func Facts(e *shelf.Entry) string {
	if e.Roll == nil {
		return ""
	}
	var parts []string
	for _, s := range []string{e.Roll.Stock, e.Roll.Development, e.Roll.Lab, e.Roll.Date, e.Roll.Scanner} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, "  ·  ")
}

// State says what is to be known of a roll before its bars are believed; "" nothing.
func State(e *shelf.Entry) string {
	switch {
	case e.Err != nil:
		return "The roll file cannot be used"
	case e.Readings() == nil:
		return "Not measured yet: open it and save it"
	case e.Stale != "":
		return "To be measured anew: " + e.Stale
	case len(e.Missing) > 0:
		return fmt.Sprintf("%d of %d scans are missing", len(e.Missing), len(e.Roll.Frames))
	case len(e.Problems) > 0:
		return e.Problems[0]
	}
	return ""
}

// split returns where the words of a row end and its axis stands.
func split(w float64, lo, hi float64) axis {
	words := w * 0.42
	return axis{x0: words + margin, x1: w - margin - 14, lo: lo, hi: hi}
}

// Row draws one roll of a shelf, w units wide, on the common axis from lo to hi stops.
func Row(e *shelf.Entry, w float64, g Ground, lo, hi float64) *drawing.List {
	p := newPage(w, g, e.Called())
	p.row(e, split(w, lo, hi), 0)
	p.y = RowHeight
	p.H = p.y
	return p.List
}

func (p *page) row(e *shelf.Entry, a axis, y float64) {
	words := a.x0 - 2*margin
	name, file := style(14, p.pal.Text).Bold(), style(12, p.pal.Dim)
	p.text(margin, y+19, words, e.Called(), name)
	if w := drawing.Gauge.Width(drawing.Plain(e.Called()), name) + 12; !strings.Contains(strings.ToLower(e.Called()), strings.ToLower(e.Name)) && w < words-60 {
		p.text(margin+w, y+19, words-w, e.Name, file)
	}
	p.text(margin, y+34, words, Facts(e), style(12, p.pal.Dim))
	p.text(margin, y+48, words, State(e), style(11.5, p.pal.Judge))
	p.grid(a, y+4, y+RowHeight-4)
	if e.Roll == nil {
		return
	}
	for _, f := range e.Roll.Frames { // where the roll has frames
		p.Add(drawing.Segment(a.x(f.Stop), y+RowHeight-9, a.x(f.Stop), y+RowHeight-5, 1.5, p.pal.Strong))
	}
	judged, _ := e.Judged()
	p.rangeBar(a, y+RowHeight/2, e.Readings(), judged, e.Stale != "")
}

// Axis draws the head of a shelf's rows: the common axis.
func Axis(w float64, g Ground, lo, hi float64) *drawing.List {
	p := newPage(w, g, "Stops from the base exposure")
	a := split(w, lo, hi)
	p.text(a.x0, 13, a.x1-a.x0, "stops from the base exposure: under left, over right", style(11.5, p.pal.Dim))
	p.scale(a, 30)
	p.H = 36
	return p.List
}

// Shelf draws a shelf, one row for each roll, w units wide.
func Shelf(s *shelf.Shelf, entries []*shelf.Entry, w float64, g Ground, title string) *drawing.List {
	p := newPage(w, g, title)
	lo, hi := shelf.Span(entries)
	a := split(w, lo, hi)
	p.text(margin, 34, w-2*margin, title, style(20, p.pal.Text).Bold())
	p.text(margin, 54, a.x0-2*margin, count(len(entries), "roll"), style(12.5, p.pal.Dim))
	p.text(a.x0, 34+4, a.x1-a.x0, "", style(12, p.pal.Dim))
	p.text(a.x1, 34, 0, "stops from the base exposure", style(12, p.pal.Dim).Aligned(paint.Right))
	p.scale(a, 58)
	p.y = headRow
	for i, e := range entries {
		if i%2 == 0 {
			p.Add(drawing.Rect(0, p.y, w, p.y+RowHeight, p.pal.Band))
		}
		p.row(e, a, p.y)
		p.y += RowHeight
	}
	if len(entries) == 0 {
		p.y += p.lines(margin, p.y+10, w-2*margin, "No roll file is in this folder. Measure a roll and save it: stopladder measure SCANS --roll NAME.stopladder, or Save in the window.", style(13, p.pal.Text)) + 16
	}
	p.y += 10
	for _, n := range append([]string{Legend}, s.Notes...) {
		p.y += p.lines(margin, p.y, w-2*margin, n, style(11.5, p.pal.Dim))
	}
	p.y += 14
	return p.ground()
}

// Legend says what a row's marks are.
const Legend = "Bar: the measured range that holds, with the errors of its ends (95 of 100 cases) under it; line: that strains; an arrow: the roll does not reach the end. Bracket over it: the judge's range. Ticks: the frames. Pale: readings that are not fresh."

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Ends writes a range that holds, with its errors: "−1.20 ± 0.10 to at least +2".
func Ends(e *shelf.Entry) string {
	g := e.Holds()
	if g == nil {
		return ""
	}
	one := func(stop, err float64, open bool) string {
		if open {
			return "at least " + stops.Label(stop)
		}
		return fmt.Sprintf("%+.2f ± %.2f", stop, err)
	}
	return one(g.Lo.Stop, g.Lo.Error, g.Lo.Open) + " to " + one(g.Hi.Stop, g.Hi.Error, g.Hi.Open)
}
