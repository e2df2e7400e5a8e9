package plot

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"image"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/film/response"
	"stopladder/analysis/show/paint"
)

// line is a straight response of a slope, so that every reading is known.
func line(slope float64) Data {
	k := &response.Curve{MidGrey: response.MidGreyPatch}
	for i := -100; i <= 100; i++ {
		x := float64(i) * 0.01
		k.LogE = append(k.LogE, x)
		for c := range 3 {
			v := 1 + 0.05*float64(c) - slope*x
			if i < -80+5*c {
				v = math.NaN()
			}
			k.Density[c], k.Sigma[c] = append(k.Density[c], v), append(k.Sigma[c], 0.01)
		}
	}
	for c := range 3 {
		k.Channels[c] = response.Channel{Covered: [2]float64{-0.8 + 0.05*float64(c), 1}, Gamma: slope, Straight: [2]float64{-0.6, 0.7},
			Useful: [2]float64{-0.75, 0.95}, UsefulOpen: [2]bool{false, true}, UsefulStops: 1.7 / math.Log10(2)}
	}
	m, e := 1.4, 0.05
	return Data{Curve: k, Frames: []Frame{{Stop: 0, Labelled: true}, {Stop: 1, Labelled: true, Measured: &m, Error: &e}},
		Ceiling: [3]float64{0.01, 0.01, 0.01}, Floor: [3]float64{math.Inf(1), math.NaN(), math.Inf(1)}}
}

// A straight line of known slope is read back.
func TestReadings(t *testing.T) {
	d := line(0.6)
	r := d.At(1)
	if math.Abs(r.LogE-0.30103) > 1e-5 {
		t.Errorf("one stop is %v in log10 H", r.LogE)
	}
	for c, q := range r.Channels {
		if !q.OK || math.Abs(q.Density-(1+0.05*float64(c)-0.6*0.30103)) > 1e-5 || math.Abs(q.Slope-0.6) > 1e-9 || math.Abs(q.Sigma-0.01) > 1e-12 || q.Part != Straight {
			t.Errorf("channel %d reads %+v", c, q)
		}
	}
	if r := d.At(-2.6); !r.Channels[0].OK || r.Channels[1].OK || r.Channels[2].OK || r.Channels[0].Part != Flat {
		t.Errorf("where only red reaches: %+v", r)
	}
	for stop, want := range map[float64]Part{-2.2: Toe, 2.5: Shoulder, 3.2: Shoulder, 0: Straight} { // the upper end is open: no flat part is known
		if got := d.At(stop).Channels[0].Part; got != want {
			t.Errorf("%v stops is %q, want %q", stop, got, want)
		}
	}
	if r := d.At(30); r.Channels[0].OK {
		t.Errorf("far beyond: %+v", r)
	}
}

// The axis is where the hit test says: stopAt undoes the layout.
func TestStopAt(t *testing.T) {
	d := line(1)
	g := layOut(&d, 700, 500, &paint.Sheet)
	for _, want := range []float64{-2, 0, 1.5, 3} {
		if got, ok := g.stopAt(g.x(want)); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("%v stops is hit as %v", want, got)
		}
	}
	for _, x := range []float64{0, 699, -5, 5000, math.NaN()} {
		if s, ok := g.stopAt(x); ok {
			t.Errorf("%v hits %v", x, s)
		}
	}
	if s, ok := g.stopAt(350); !ok || !d.At(s).Channels[0].OK {
		t.Errorf("the middle is hit as %v, %v", s, ok)
	}
	if _, ok := layOut(&Data{}, 500, 300, &paint.Sheet).stopAt(200); ok {
		t.Error("no response, and still a stop")
	}
}

// texts are the texts of a list with the boxes that they cover.
func texts(l *List) (all []Text, boxes []box) {
	for _, m := range l.Marks {
		if t, ok := m.(Text); ok {
			all, boxes = append(all, t), append(boxes, textBox(t))
		}
	}
	return
}

// checkWords fails where words leave the plot or lie on each other.
func checkWords(t *testing.T, name string, l *List) {
	t.Helper()
	all, boxes := texts(l)
	for i, b := range boxes {
		if !b.inside(box{0, 0, l.W, l.H}) {
			t.Errorf("%s, %v x %v: %q leaves the plot: %+v", name, l.W, l.H, all[i].S, b)
		}
		for j := range i {
			if b.overlaps(boxes[j]) {
				t.Errorf("%s, %v x %v: %q lies on %q", name, l.W, l.H, all[i].S, all[j].S)
			}
		}
	}
}

// wellFormed parses SVG and returns its elements' count, the text in order and
// the root's attributes.
func wellFormed(t *testing.T, b []byte) (n map[string]int, words []string, root map[string]string) {
	t.Helper()
	n, root = map[string]int{}, map[string]string{}
	dec := xml.NewDecoder(bytes.NewReader(b))
	var open []string
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if len(open) == 0 {
				if e.Name.Space != "http://www.w3.org/2000/svg" {
					t.Errorf("the root is in the name space %q", e.Name.Space)
				}
				for _, a := range e.Attr {
					root[a.Name.Local] = a.Value
				}
			}
			open = append(open, e.Name.Local)
			n[e.Name.Local]++
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 && open[len(open)-1] == "text" {
				words = append(words, string(e))
			}
		}
	}
	return
}

func TestSVG(t *testing.T) {
	d := line(0.6)
	d.Roll = "A & B <test> \x01\xff\u0000"
	var b bytes.Buffer
	if err := SVG(&b, d, 640, 420, nil); err != nil {
		t.Fatal(err)
	}
	n, words, root := wellFormed(t, b.Bytes())
	if root["viewBox"] != "0 0 640 420" || root["role"] != "img" || root["width"] != "640" || n["title"] != 1 || n["desc"] != 1 {
		t.Errorf("root %v, elements %v", root, n)
	}
	l := Response(d, 640, 420, nil)
	all, _ := texts(l)
	var want []string
	for _, t := range all {
		want = append(want, t.S)
	}
	if strings.Join(words, "|") != strings.Join(want, "|") {
		t.Errorf("the words are %q, want %q", words, want)
	}
	for _, s := range []string{"R  0.60", "scan ceiling", "straight line", "+0.40"} {
		if !strings.Contains(strings.Join(words, "|"), s) {
			t.Errorf("%q is not on the plot: %q", s, words)
		}
	}
	if s := b.String(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Error("a number that is none")
	}
}

// The table is read back by a reader of RFC 4180 and holds the curve.
func TestCSV(t *testing.T) {
	d := line(0.6)
	var b bytes.Buffer
	if err := d.CSV(&b); err != nil {
		t.Fatal(err)
	}
	if !strings.HasSuffix(b.String(), "\r\n") || strings.Count(b.String(), "\n") != strings.Count(b.String(), "\r\n") {
		t.Error("lines do not end in CRLF")
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+len(d.Curve.LogE) || len(rows[0]) != 14 {
		t.Fatalf("%d rows of %d", len(rows), len(rows[0]))
	}
	for i, x := range d.Curve.LogE {
		for k, want := range map[int]float64{0: x / math.Log10(2), 1: x, 2: d.Curve.Density[0][i], 10: d.Curve.Density[2][i]} {
			s := rows[i+1][k]
			if math.IsNaN(want) {
				if s != "" {
					t.Fatalf("row %d column %d holds %q", i, k, s)
				}
				continue
			}
			if v, err := strconv.ParseFloat(s, 64); err != nil || math.Abs(v-want) > 6e-5 {
				t.Fatalf("row %d column %d holds %q, want %v", i, k, s, want)
			}
		}
	}
	b.Reset()
	if err := (&Data{}).CSV(&b); err != nil || strings.Count(b.String(), "\n") != 1 {
		t.Errorf("nothing measured: %q %v", b.String(), err)
	}
}

// The reason stands in words where there is no response.
func TestRefused(t *testing.T) {
	d := fromResult(&response.Result{Base: -1, Reason: "Only one frame could be read, and a response needs two."}, nil)
	all, _ := texts(Response(d, 400, 200, nil))
	s := ""
	for _, t := range all {
		s += t.S + " "
	}
	if !strings.Contains(s, "No response") || !strings.Contains(s, "needs two.") {
		t.Errorf("%q", s)
	}
	if d := fromResult(nil, nil); d.Reason == "" {
		t.Error("not measured, and no reason")
	}
}

// Odd data and sizes: nothing panics, nothing is drawn outside, no mark is
// without a place.
func TestNothingPanics(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	bad := line(1)
	k := *bad.Curve
	k.Channels = [3]response.Channel{{Gamma: nan, UsefulStops: nan}, {Gamma: 1, Straight: [2]float64{5, -5}, Useful: [2]float64{nan, inf}}, {}}
	k.Sigma = [3][]float64{nil, {1}, make([]float64, len(k.LogE))}
	bad.Curve = &k
	bad.Frames = []Frame{{Stop: nan, Labelled: true, Measured: &inf}, {Stop: 1e9, Labelled: true, Error: &nan}, {Measured: &nan}}
	hole := line(1)
	q := *hole.Curve
	q.Density[0] = append([]float64(nil), q.Density[0]...)
	for i := 90; i < 120; i++ {
		q.Density[0][i] = nan
	}
	hole.Curve = &q
	short := Data{Curve: &response.Curve{LogE: []float64{0}, Density: [3][]float64{{1}, {1}, {1}}}}
	level := line(0)
	for name, d := range map[string]Data{"bad": bad, "hole": hole, "short": short, "level": level, "none": {}, "lengths": {Curve: &response.Curve{LogE: []float64{0, 1}}}} {
		for _, s := range [][2]int{{1, 1}, {5, 300}, {300, 5}, {60, 40}, {120, 90}, {220, 160}, {640, 400}} {
			for _, scale := range []float64{0.5, 1, 2.75} {
				img := image.NewRGBA(image.Rect(0, 0, s[0]+8, s[1]+8))
				r := image.Rect(4, 4, 4+s[0], 4+s[1])
				c := paint.New(img, scale)
				Draw(c, r, d, Options{Hover: true, HoverX: r.Min.X + s[0]/2})
				Draw(c, r, d, Options{Hover: true, HoverX: r.Min.X + s[0]/3})
				for i := 0; i < len(img.Pix); i += 4 {
					if p := image.Pt(i/4%(s[0]+8), i/4/(s[0]+8)); !p.In(r) && img.Pix[i+3] != 0 {
						t.Fatalf("%s %v: drawn outside at %v", name, s, p)
					}
				}
				var b bytes.Buffer
				if err := SVG(&b, d, float64(s[0]), float64(s[1]), nil); err != nil {
					t.Fatal(err)
				}
				wellFormed(t, b.Bytes())
			}
		}
	}
}

// The two segments of a box's inside and outside.
func TestCrosses(t *testing.T) {
	b := box{0, 0, 10, 10}
	for _, q := range []struct {
		a, b Pt
		want bool
	}{{Pt{X: -5, Y: 5}, Pt{X: 15, Y: 5}, true}, {Pt{X: 2, Y: 2}, Pt{X: 3, Y: 3}, true}, {Pt{X: -5, Y: 8}, Pt{X: 2, Y: 20}, false}, {Pt{X: 12, Y: 0}, Pt{X: 12, Y: 9}, false}, {Pt{X: 5, Y: -9}, Pt{X: 5, Y: 1}, true}} {
		if got := b.crosses(q.a, q.b); got != q.want {
			t.Errorf("%v %v: %v", q.a, q.b, got)
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	d := line(0.6)
	img := image.NewRGBA(image.Rect(0, 0, 700, 460))
	c := paint.New(img, 1)
	for b.Loop() {
		Draw(c, img.Rect, d, Options{Hover: true, HoverX: 300})
	}
}
