package plate

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/row/rowtest"
	"stopladder/analysis/show/sheet"
)

// counts of frames with the stops that they have.
func stopsOf(n int) (out []float64) {
	step := 1.0
	switch {
	case n > 15:
		step = 1.0 / 3
	case n > 9:
		step = 0.5
	}
	for i := range n {
		out = append(out, (float64(i)-math.Floor(float64(n)/2.4))*step)
	}
	return out
}

var aspectsOf = map[string]func(i int) float64{
	"landscape": func(int) float64 { return 1.5 },
	"portrait":  func(int) float64 { return 2.0 / 3 },
	"square":    func(int) float64 { return 1 },
	"mixed":     func(i int) float64 { return []float64{1.5, 1, 2.0 / 3}[i%3] },
}

var sentences = []string{"The film holds from −3/4 to +1/2 stops and strains from −2 to +1 (salvaged by curves, limits: screen).",
	"Under, the noise ends it: it passes 2.0 L* at −0.80; a stop further the noise is 4.1 L*. Over, the lost area ends it: it passes 2.0 % at +0.63; a stop further the lost area is 23 %.",
	"Both sides forgive alike, 1/2 stop each. Meter carefully: 1/2 stop is all that the narrower side forgives."}

// rollInput returns a roll of n frames that rowtest invents.
func rollInput(n int, aspect func(int) float64) Input {
	in := Input{Input: sheet.Input{Title: "Courtyard", Stock: "Sample reversal 100", Exposure: "f/11 1/125 s as metered", Judge: "A. Judge", Date: "May", Program: "Stopladder 0",
		Range: &roll.Range{Lo: -1, Hi: 1}, Finding: row.Finding{Measured: sentences}}, Standing: []string{"This roll, this lab, this scanner", "all frames registered", "scanned with fixed settings"}, Shown: "pictures as scanned", Grade: criteria.Curves}
	in.Measured = &latitude.Result{Holds: latitude.Range{Lo: latitude.End{Stop: -0.8, By: criteria.Noise, Uncertainty: 0.21}, Hi: latitude.End{Stop: 0.63, By: criteria.LostArea, Uncertainty: 0.1}}}
	for i, d := range rowtest.Frames(stopsOf(n)...) {
		in.Frames = append(in.Frames, sheet.Frame{Data: d})
		in.Aspects = append(in.Aspects, aspect(i))
		in.Salvage = append(in.Salvage, Brought{Done: true, Costs: []string{"31\u00a0%\u00a0lost", "noise\u00a04.2\u00a0L*", "3.1\u00a0ΔE00"}})
		if d.Base {
			in.Base, in.BaseArea = i, d.Look.Area
		}
	}
	in.Details = []Detail{{Name: "Shadows", Lift: 2}, {Name: "Highlights"}}
	for i := range in.Details {
		in.Details[i].At = in.BaseArea.Min.Add(in.BaseArea.Size().Div(2 + i))
	}
	return in
}

// texts returns what each text of a page covers: capitals to descenders.
func texts(p *Page) (boxes []Box, all []drawing.Text) {
	for _, m := range p.Marks {
		t, ok := m.(drawing.Text)
		if !ok || strings.TrimSpace(t.S) == "" {
			continue
		}
		w := drawing.Gauge.Width(t.S, t.Style.Sized(64)) * t.Style.Size / 64
		x := t.At.X
		switch t.Style.Align {
		case paint.Right:
			x -= w
		case paint.Centre:
			x -= w / 2
		}
		boxes, all = append(boxes, Box{x, t.At.Y - capOver*t.Style.Size, w, 0.9 * t.Style.Size}), append(all, t)
	}
	return boxes, all
}

func (b Box) meets(o Box) bool {
	const touch = 0.2
	return b.X < o.Right()-touch && o.X < b.Right()-touch && b.Y < o.Bottom()-touch && o.Y < b.Bottom()-touch
}

func (b Box) inside(o Box) bool {
	return b.X >= o.X-0.1 && b.Y >= o.Y-0.1 && b.Right() <= o.Right()+0.1 && b.Bottom() <= o.Bottom()+0.1
}

// leastShare is the share of the page that photographs have at least; one picture alone
// leaves half of that (a third on a record, which has much to say of one), and more than 15 on a page of a fixed shape four fifths.
var leastShare = map[Arrangement]float64{Wide: 0.20, Ladder: 0.37, Pair: 0.25, Details: 0.20, Single: 0.30, Record: 0.05}

// check holds a page to what every page keeps.
func check(t *testing.T, name string, p *Page, in *Input) {
	t.Helper()
	page := Box{0, 0, p.W, p.H}
	area := 0.0
	for i, a := range p.Pictures {
		area += a.W * a.H
		if !a.inside(page) {
			t.Errorf("%s: picture %d lies outside the page", name, i)
		}
		for j, b := range p.Pictures[:i] {
			if a.meets(b.Box) {
				t.Errorf("%s: pictures %d and %d overlap", name, i, j)
			}
		}
	}
	share, least := area/(p.W*p.H), leastShare[p.Options.Arrangement]
	if len(in.Frames) > 15 && p.Options.Arrangement == Wide {
		least *= 0.8
	}
	if share < least && (len(in.Frames) > 1 || share < least/2) {
		t.Errorf("%s: photographs have %.0f %% of the page", name, 100*share)
	}
	boxes, all := texts(p)
	for i, b := range boxes {
		if !b.inside(page) {
			t.Errorf("%s: %q reaches outside the page: %.0f of %.0f x %.0f", name, all[i].S, b, p.W, p.H)
		}
		if all[i].Style.Size < LeastType-1e-9 {
			t.Errorf("%s: %q is set in %.1f pt", name, all[i].S, all[i].Style.Size)
		}
		if strings.Contains(all[i].S, "…") {
			t.Errorf("%s: %q is cut", name, all[i].S)
		}
		for j, c := range boxes[:i] {
			if b.meets(c) {
				t.Errorf("%s: %q and %q overlap", name, all[i].S, all[j].S)
			}
		}
		for j, q := range p.Pictures {
			if b.meets(q.Box) {
				t.Errorf("%s: %q lies over picture %d", name, all[i].S, j)
			}
		}
	}
	read := said(p)
	for _, want := range []string{in.title(), in.Stock, in.Exposure, in.Judge, in.conditions()} {
		if !strings.Contains(read, flat(want)) {
			t.Errorf("%s: %q is not on the page", name, want)
		}
	}
	neighbours(t, name, p, in)
}

// said returns all words of a page, line after line.
func said(p *Page) string {
	var b strings.Builder
	for _, m := range p.Marks {
		if t, ok := m.(drawing.Text); ok {
			b.WriteString(t.S + " ")
		}
	}
	return flat(b.String())
}

func flat(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "\u00a0", " ")), " ")
}

// neighbours holds that frames stand in reading order by stop: the next to the right, or
// first in the row below; on a ladder each under the one with more exposure.
func neighbours(t *testing.T, name string, p *Page, in *Input) {
	t.Helper()
	if p.Options.Arrangement == Details {
		return
	}
	var was *Picture
	for i := range p.Pictures {
		q := &p.Pictures[i]
		if q.Salvaged && p.Options.Arrangement == Pair {
			continue
		}
		if was != nil {
			a, b := in.Frames[was.Frame].Data.Stop, in.Frames[q.Frame].Data.Stop
			if p.Options.Arrangement == Ladder || p.Options.Arrangement == Record {
				if a < b || q.Y < was.Bottom() {
					t.Errorf("%s: %s stands under %s", name, stops.Label(b), stops.Label(a))
				}
			} else if a > b || !(q.X >= was.Right() && q.Y == was.Y || q.X < was.Right() && q.Y >= was.Bottom()) {
				t.Errorf("%s: %s does not follow %s", name, stops.Label(b), stops.Label(a))
			}
		}
		was = q
	}
}

func TestPagesHold(t *testing.T) {
	counts := []int{1, 2, 3, 5, 8, 9, 15, 22}
	if testing.Short() {
		counts = []int{1, 8, 22}
	}
	for _, n := range counts {
		for shape, aspect := range aspectsOf {
			in := rollInput(n, aspect)
			for _, a := range Arrangements() {
				for _, s := range Shapes() {
					for _, g := range Grounds() {
						if g != Dark && (s != Shape16x9 || n != 8) {
							continue // the ground moves nothing
						}
						if s != Shape16x9 && (a == Ladder || a == Record || n != 3 && n != 8 && n != 22) {
							continue
						}
						if s != Shape16x9 && n != 8 && shape != "mixed" && os.Getenv("STOPLADDER_ALL_ROLLS") == "" {
							continue
						}
						name := fmt.Sprintf("%s, %d %s frames, %s on %s", a, n, shape, s, g)
						p, err := Lay(in, Options{Arrangement: a, Ground: g, Shape: s})
						if err != nil {
							t.Fatal(name, err)
						}
						check(t, name, p, &in)
						if a == Wide && math.Abs(p.W/p.H-s.ratio()) > 1e-3 {
							t.Errorf("%s: the page is %.0f x %.0f", name, p.W, p.H)
						}
					}
				}
			}
		}
	}
}

// Words that nobody foresaw are wrapped, never cut, and push nothing over anything.
func TestLongWords(t *testing.T) {
	long := strings.Repeat("Untersuchung des Belichtungsspielraums an einem Vormittag im Hof, ", 6)
	for _, a := range Arrangements() {
		in := rollInput(8, aspectsOf["landscape"])
		in.Title, in.Stock, in.Judge = long, long, "Die Prüferin "+strings.Repeat("Ohneleerzeichen", 9)
		for i := range in.Frames {
			in.Frames[i].Data.Note = fmt.Sprint("note ", i, " ", long[:40+40*i])
		}
		in.Frames[3].Data.State, in.Frames[3].Data.Look, in.Frames[3].Data.Message = row.Failed, nil, long
		p, err := Lay(in, Options{Arrangement: a})
		if err != nil {
			t.Fatal(err)
		}
		was := leastShare[a]
		leastShare[a] = 0.1
		check(t, string(a), p, &in)
		leastShare[a] = was
		if a == Single {
			continue
		}
		read := said(p)
		for i, f := range in.Frames {
			if want := flat(f.Data.Note); a != Details && !strings.Contains(read, want) {
				t.Errorf("%s: the note of frame %d is not whole on the page", a, i)
			}
		}
	}
}

// What happened is told in two to six words whatever the readings are.
func TestHappened(t *testing.T) {
	r := rowtest.Roll(nil, -3, -2, -1, 0, 1, 2, 3, 4)
	for i, d := range row.Of(r, nil) {
		d.State, d.Look = row.Ready, rowtest.Frames(0)[0].Look
		s := Happened(d)
		if n := len(strings.Fields(strings.ReplaceAll(s, " %", "%"))); n < 2 || n > 6 {
			t.Errorf("frame %d: %q has %d words", i, s, n)
		}
		// Less light never takes the highlights, nor more the shadows.
		if d.Stop < 0 && strings.HasPrefix(s, "highlights") || d.Stop > 0 && strings.HasPrefix(s, "shadows") {
			t.Errorf("%s: %q", d.Name(), s)
		}
	}
}

// Contrast of words on every ground is at least 4.5:1 (WCAG 2.2, 1.4.3), of the judge's
// line at least 2:1 beside its shape and its words.
func TestContrast(t *testing.T) {
	for _, g := range Grounds() {
		p := paletteOf(g)
		for name, c := range map[string][2]any{"text": {p.text, 4.5}, "dim": {p.dim, 4.5}, "judge's words": {p.judgeText, 4.5}, "judge's line": {p.judge, 2.0}} {
			if got, want := ratioOf(p.ground, c[0]), c[1].(float64); got < want {
				t.Errorf("%s on %s: %.2f:1", name, g, got)
			}
		}
	}
}

func BenchmarkLay(b *testing.B) {
	in := rollInput(8, aspectsOf["landscape"])
	for _, a := range Arrangements() {
		b.Run(string(a), func(b *testing.B) {
			for b.Loop() {
				if _, err := Lay(in, Options{Arrangement: a}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
