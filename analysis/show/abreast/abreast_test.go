package abreast

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"strings"
	"testing"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/shelf"
	"stopladder/analysis/shelf/against"
	"stopladder/analysis/show/drawing"
)

func is(v float64) *float64 { return &v }

func entry(i int) *shelf.Entry {
	k := &kept.Readings{Program: "t", Limits: criteria.Default(), Response: &kept.Response{MidGrey: "metered", First: -1.8, Step: 0.04},
		Noise: &kept.Noise{Stops: []float64{-2, 0, 2}, L: []float64{1, 2, 1}, Error: []float64{0.1, 0.1, 0.1}},
		Costs: &kept.Costs{Stops: []float64{-1, 0, 1}, Values: map[string]kept.Samples{"noise": {is(2), is(1), nil}}, Errors: map[string]kept.Samples{"noise": {is(0.1), is(0.1), nil}}},
		Range: kept.Range{Holds: &kept.Ends{Lo: kept.End{Stop: -1, Error: 0.3, By: "noise"}, Hi: kept.End{Stop: 2, Open: true}}}}
	for c := range 3 {
		for n := range 80 {
			k.Response.Density[c] = append(k.Response.Density[c], is(2.5-0.05*float64(n)-0.1*float64(i)))
			k.Response.Error[c] = append(k.Response.Error[c], is(0.01))
		}
	}
	r := &roll.Roll{Title: fmt.Sprintf("A roll with a name that is too long for any column of a page, %d <&>", i), Stock: "invented", Lab: strings.Repeat("a very long lab ", 20), Readings: k}
	r.Frames = []roll.Frame{{File: "/x/a.tif", Stop: -3}, {File: "/x/b.tif", Stop: 4}}
	r.SetRange(-1, 2)
	return &shelf.Entry{Path: fmt.Sprintf("/x/%d.stopladder", i), Name: fmt.Sprint(i), Roll: r}
}

// inside reports marks that leave the page, which is how text is clipped.
func inside(t *testing.T, l *drawing.List) {
	t.Helper()
	if !(l.W > 0 && l.H > 0) {
		t.Fatalf("a page of %g x %g", l.W, l.H)
	}
	out := func(p drawing.Pt) bool {
		return math.IsNaN(p.X+p.Y) || p.X < -0.5 || p.X > l.W+0.5 || p.Y < -0.5 || p.Y > l.H+0.5
	}
	for _, m := range l.Marks {
		switch m := m.(type) {
		case drawing.Text:
			w := drawing.Gauge.Width(m.S, m.Style)
			a, b := m.At.X, m.At.X+w
			switch m.Style.Align {
			case 1:
				a, b = m.At.X-w, m.At.X
			case 2:
				a, b = m.At.X-w/2, m.At.X+w/2
			}
			if out(drawing.Pt{X: a, Y: m.At.Y}) || out(drawing.Pt{X: b, Y: m.At.Y}) || m.Style.Size < 11 {
				t.Errorf("%q at %g..%g, %g leaves the page of %g, or is tiny (%g)", m.S, a, b, m.At.Y, l.W, m.Style.Size)
			}
		case drawing.Line:
			for _, p := range m.Pts {
				if out(p) {
					t.Errorf("a line leaves the page at %v", p)
					break
				}
			}
		}
	}
}

func TestShelfIsDrawn(t *testing.T) {
	broken := &shelf.Entry{Path: "/x/torn.stopladder", Name: "torn", Err: fmt.Errorf("torn")}
	bare := entry(1)
	bare.Roll.Readings = nil
	for _, g := range Grounds() {
		for _, w := range []float64{900, Width} {
			inside(t, Shelf(&shelf.Shelf{}, nil, w, g, "Empty"))
			inside(t, Shelf(&shelf.Shelf{Notes: []string{"A note."}}, []*shelf.Entry{entry(0), broken, bare}, w, g, "Shelf"))
			inside(t, Row(entry(0), w, g, -3, 4))
			inside(t, Axis(w, g, -3, 4))
		}
	}
}

func TestComparisonIsDrawnAndWritten(t *testing.T) {
	for _, n := range []int{2, 12} {
		var rolls []against.Roll
		for i := range n {
			x, err := against.Take(entry(i))
			if err != nil {
				t.Fatal(err)
			}
			rolls = append(rolls, x)
		}
		rolls[n-1].Readings = &kept.Readings{Program: "t", Limits: criteria.Default()} // one that tells nothing
		r, err := against.Compare(rolls, against.Options{Again: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range []float64{700, Width, 2400} {
			inside(t, Compare(r, w, White, "Roll against roll"))
		}
		l := Compare(r, 800, Dark, "Roll against roll")
		for name, head := range map[string]string{"a.png": "\x89PNG", "a.svg": "<", "a.pdf": "%PDF"} {
			var b bytes.Buffer
			if err := Write(&b, l, name, "Stopladder test"); err != nil {
				t.Fatal(err)
			}
			if !strings.HasPrefix(b.String(), head) {
				t.Errorf("%s begins with %q", name, b.String()[:8])
			}
			if name == "a.png" {
				if img, err := png.Decode(&b); err != nil || img.Bounds().Dx() != 1600 {
					t.Error(err)
				}
			}
		}
	}
}
