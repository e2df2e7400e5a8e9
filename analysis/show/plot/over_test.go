package plot

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"stopladder/analysis/show/paint"
)

func patches() Over {
	nan := math.NaN()
	return Over{Title: "dL* against base", Decimals: 1, Signed: true, At: 1, Series: []Series{
		{Name: "Grey card", Stops: []float64{2, 1, 0, -1}, Values: []float64{18.2, 9.1, nan, -11.4}, Strong: true},
		{Name: "A name that is much longer than there is room for", Stops: []float64{-1, 0, 1, 2}, Values: []float64{-3, -1, 2, 3.4}},
		{Name: "Never read", Stops: []float64{-1}, Values: []float64{nan}},
	}}
}

// Every value has its dot at its place, whatever the order of the stops, a missing
// one breaks the line, and the words say the figures.
func TestOver(t *testing.T) {
	d := patches()
	g := layOutOver(&d, 340, 190, &paint.Sheet)
	l := g.list()
	dots, lines := 0, 0
	for _, m := range l.Marks {
		switch m := m.(type) {
		case Dot:
			dots++
			if m.At.X < g.plot.x0 || m.At.X > g.plot.x1 || m.At.Y < g.plot.y0-1 || m.At.Y > g.plot.y1+1 {
				t.Errorf("a dot at %v, the plot is %v", m.At, g.plot)
			}
		case Line:
			if m.Width > 2 {
				lines++
				if len(m.Pts) != 2 || m.Pts[0].X >= m.Pts[1].X {
					t.Errorf("the line of the chosen patch: %v", m.Pts)
				}
			}
		}
	}
	if dots != 3+4 || lines != 1 {
		t.Errorf("%d dots, %d lines of two readings", dots, lines)
	}
	if y := g.y(0); y <= g.y(18.2) || y >= g.y(-11.4) {
		t.Error("up is not more")
	}
	if !strings.Contains(l.Desc, "Grey card at −1: −11.4.") || strings.Contains(l.Desc, "Never") {
		t.Errorf("in words: %s", l.Desc)
	}
	for _, m := range l.Marks {
		if q, ok := m.(Text); ok {
			if b := textBox(q); b.x0 < 0 || b.x1 > 340 || b.y0 < 0 || b.y1 > 191 {
				t.Errorf("%q stands at %v", q.S, b)
			}
		}
	}
	var b bytes.Buffer
	if err := OverSVG(&b, d, 400, 300, nil); err != nil {
		t.Fatal(err)
	}
	wellFormed(t, b.Bytes())
	h := &List{}
	g.hover(h, g.x(1.2))
	said := ""
	for _, m := range h.Marks {
		if q, ok := m.(Text); ok {
			said += q.S + " "
		}
	}
	if !strings.Contains(said, "+1 stops") || !strings.Contains(said, "+9.1") || strings.Contains(said, "18.2") {
		t.Errorf("under the pointer: %s", said)
	}
}

func TestOverOfNothing(t *testing.T) {
	for _, d := range []Over{{}, {Reason: "Not read yet."}, {Series: []Series{{Name: "x"}}}, {Series: []Series{{Name: "x", Stops: []float64{0}, Values: []float64{5}}}}} {
		for _, size := range [][2]int{{340, 190}, {30, 20}, {1, 1}} {
			OverPicture(d, size[0], size[1], 1, nil)
		}
	}
}
