package sheet

import (
	"image"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
)

func bare(stops ...float64) []Frame {
	var out []Frame
	for _, s := range stops {
		out = append(out, Frame{Data: &row.Data{Stop: s, Thumb: image.NewRGBA(image.Rect(0, 0, 6, 4))}})
	}
	return ordered(out, nil)
}

// checkLayout: nothing overlaps, everything lies on the sheet, and the axis is
// true: equal stops are equally far apart.
func checkLayout(t *testing.T, l *layout, frames []Frame) {
	t.Helper()
	sheet := image.Rect(0, 0, l.width, l.height)
	for i := range frames {
		if !l.row[i].In(l.rows) || !l.picture[i].In(sheet) {
			t.Fatalf("frame %d: row %v picture %v leave %v", i, l.row[i], l.picture[i], sheet)
		}
		if l.picture[i].Overlaps(l.row[i]) || l.picture[i].Overlaps(l.axis) || l.picture[i].Overlaps(l.title) || l.picture[i].Overlaps(l.foot) {
			t.Fatalf("frame %d: picture %v lies on row %v, axis %v, title %v or foot %v", i, l.picture[i], l.row[i], l.axis, l.title, l.foot)
		}
		if l.picture[i].Overlaps(l.head) || l.row[i].Overlaps(l.head) || l.row[i].Overlaps(l.foot) {
			t.Fatalf("frame %d lies on the headings", i)
		}
		for j := range i {
			if l.row[i].Overlaps(l.row[j]) || l.picture[i].Overlaps(l.picture[j]) {
				t.Fatalf("frames %d and %d overlap: rows %v %v, pictures %v %v", i, j, l.row[i], l.row[j], l.picture[i], l.picture[j])
			}
		}
	}
	for _, r := range []image.Rectangle{l.plot, l.table} {
		if r.Overlaps(l.ladder) || r.Overlaps(l.foot) || !r.In(sheet) {
			t.Fatalf("the response %v lies on the ladder %v or the foot %v", r, l.ladder, l.foot)
		}
		for i := range frames {
			if r.Overlaps(l.picture[i]) || r.Overlaps(l.row[i]) {
				t.Fatalf("the response %v lies on frame %d", r, i)
			}
		}
	}
	if l.plot.Overlaps(l.table) || (l.table.Dx() > 0) && l.table.Dx() < l.width/5 {
		t.Fatalf("the plot %v and the stops %v", l.plot, l.table)
	}
	if l.head.Overlaps(l.title) {
		t.Fatalf("headings %v on the title %v", l.head, l.title)
	}
	if d := (l.yOf(1) - l.yOf(2)) - (l.yOf(-3) - l.yOf(-2)); math.Abs(d) > 1e-9 {
		t.Fatalf("the axis is not even: %v", d)
	}
}

func TestLayout(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	probe := func(w float64) *paint.Canvas { return paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), w/unitsWide) }
	for k := range 600 {
		var stops []float64
		for range 1 + rng.IntN(36) {
			stops = append(stops, math.Round(rng.Float64()*30-15)/3)
		}
		frames := bare(stops...)
		in := Input{}
		if k%3 == 0 {
			in.Response = &plot.Data{Curve: &response.Curve{}}
			if m := 0.5; k%2 == 0 {
				in.Response.Frames = []plot.Frame{{Measured: &m}}
			}
		}
		if k%2 == 0 {
			lo := math.Round(rng.Float64()*24-12) / 4
			in.Range = &roll.Range{Lo: lo, Hi: lo + math.Round(rng.Float64()*16)/4}
		}
		checkLayout(t, plan(probe(1600+float64(rng.IntN(6000))), in, frames), frames)
	}
	for _, stops := range [][]float64{{0}, {0, 0}, {0, 1}, {-3, 3}, {0, 0.01}, {0, 0, 0, 0, 0, 0, 0, 0}} {
		frames := bare(stops...)
		checkLayout(t, plan(probe(1600), Input{}, frames), frames)
	}
}

// In an ordinary roll every row and every picture stands at its own stop.
func TestOrdinaryRollsStandTrue(t *testing.T) {
	for name, stops := range map[string][]float64{
		"whole stops": {-3, -2, -1, 0, 1, 2, 3, 4},
		"half stops":  {-3, -2.5, -2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4},
		"thirds":      {-1, -2.0 / 3, -1.0 / 3, 0, 1.0 / 3, 2.0 / 3, 1},
		"three":       {-1, 0, 1},
		"two apart":   {-4, -2, 0, 2, 4},
	} {
		frames := bare(stops...)
		c := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), 1600/unitsWide)
		l := plan(c, Input{}, frames)
		checkLayout(t, l, frames)
		for i, f := range frames {
			if d := l.at[i] - l.yOf(f.Data.Stop); math.Abs(d) > 1 {
				t.Errorf("%s: row %v is %.1f pixels off its stop", name, f.Data.Stop, d)
			}
			mid := float64(l.picture[i].Min.Y+l.picture[i].Max.Y)/2 - c.U(caption)/2
			if d := mid - l.yOf(f.Data.Stop); math.Abs(d) > 2 {
				t.Errorf("%s: picture %v is %.1f pixels off its stop", name, f.Data.Stop, d)
			}
		}
		if h := float64(l.height) / float64(l.width); h > 1.6 {
			t.Errorf("%s: the sheet is %.2f times as high as wide", name, h)
		}
	}
}

// The layout scales: a larger sheet is the same sheet.
func TestLayoutScales(t *testing.T) {
	frames := bare(-3, -2, -1, 0, 1, 2, 3, 4)
	at := func(w float64) *layout {
		return plan(paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), w/unitsWide), Input{}, frames)
	}
	a, b := at(1600), at(6400)
	if math.Abs(float64(b.height)/float64(a.height)-4) > 0.03 {
		t.Errorf("heights %d and %d", a.height, b.height)
	}
}

// Assumptions: one sentence for what many frames share, frames named where not.
func TestAssumptionsNameFrames(t *testing.T) {
	f := bare(-1, 0, 1)
	f[0].Data.State, f[0].Data.Message = row.Failed, "The file ends early; fetch it again."
	f[1].Origin, f[2].Origin = roll.FromName, roll.ByHand
	s := strings.Join(Assumptions(f), "\n")
	for _, want := range []string{"Scan +1: not read: The file ends early; fetch it again.", "from the file names (1), by hand (1)", "not the film alone"} {
		if !strings.Contains(s, want) {
			t.Errorf("nothing says %q in\n%s", want, s)
		}
	}
	f[1].Data.Rel = &measure.Relation{Notes: []string{"The noise of 1.2 % of 3 areas is unknown."}}
	f[2].Data.Rel = &measure.Relation{Notes: []string{"The noise of 10 % of 3 areas is unknown.", "The noise of 10 % of 3 areas is unknown."}}
	s = strings.Join(Assumptions(f), "\n")
	if want := "Scans 0, −1: The noise of 1.2 / 10 % of 3 areas is unknown."; strings.Count(s, "The noise of") != 1 || !strings.Contains(s, want) {
		t.Errorf("not %q in\n%s", want, s)
	}
	if Assumptions(nil) == nil {
		t.Error("an empty roll still shows scans")
	}
}

// All notes are dealt out, in order, whatever their number and length.
func TestNotesAreAllPrinted(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	for range 300 {
		var notes [][]string
		for range rng.IntN(25) {
			notes = append(notes, make([]string, 1+rng.IntN(9)))
		}
		n := 0
		for _, col := range noteColumns(notes) {
			for _, s := range col {
				if len(s) != len(notes[n]) {
					t.Fatalf("note %d has %d lines, want %d", n, len(s), len(notes[n]))
				}
				n++
			}
		}
		if n != len(notes) {
			t.Fatalf("%d of %d notes printed", n, len(notes))
		}
	}
}
