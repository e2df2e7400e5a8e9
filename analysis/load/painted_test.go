package load

import (
	"fmt"
	"image"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
)

// pictures are the scans of a roll in memory, under their labels.
type pictures struct {
	stops []float64
	scans []*scan.Pixels
}

func (p pictures) measured(t *testing.T) *film.Roll {
	t.Helper()
	job := &Job{Roll: &roll.Roll{Demo: "no files, so no hashes"}}
	for i, s := range p.stops {
		job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: fmt.Sprintf("frame %d", i+1), Stop: s, Origin: roll.ByHand})
	}
	m, err := Measure(t.Context(), job, nil, Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) { return p.scans[i], nil }}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// painted returns the pictures with rectangles of one code over each; frame is the
// frame's index.
func (p pictures) painted(over func(frame int, w, h int) map[image.Rectangle]uint16) pictures {
	out := pictures{stops: p.stops}
	for i, s := range p.scans {
		q := &scan.Pixels{Header: s.Header, Pix: slices.Clone(s.Pix)}
		w, h := s.Header.Width, s.Header.Height
		for r, code := range over(i, w, h) {
			if s.Header.Bits == 16 {
				code *= 257
			}
			for y := r.Min.Y; y < r.Max.Y; y++ {
				for x := r.Min.X; x < r.Max.X; x++ {
					for c := range 3 {
						q.Pix[3*(y*w+x)+c] = code
					}
				}
			}
		}
		out.scans = append(out.scans, q)
	}
	return out
}

func foreign(r adversary.Roll) (p pictures) {
	r.Grain, r.Blur, r.ReadSD = 0.02, [2]float64{0.8, 1.4}, 1.5e-4
	p.stops = r.Stops
	for i := range r.Stops {
		p.scans = append(p.scans, r.Frame(i).Pixels)
	}
	return p
}

// simulated is a roll of the program's own simulator.
func simulated(t *testing.T, stock simulate.Stock, stops []float64) (p pictures) {
	t.Helper()
	light, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	p.stops = stops
	for _, s := range stops {
		f, err := simulate.Shoot(t.Context(), light, stock, simulate.Options{Seed: 4, W: 480, H: 400, Stops: stops}, s)
		if err != nil {
			t.Fatal(err)
		}
		p.scans = append(p.scans, f.Pixels)
	}
	return p
}

var sides = []struct {
	name string
	at   func(w, h, n int) image.Rectangle
}{
	{"left", func(_, h, n int) image.Rectangle { return image.Rect(0, 0, n, h) }},
	{"right", func(w, h, n int) image.Rectangle { return image.Rect(w-n, 0, w, h) }},
	{"top", func(w, _, n int) image.Rectangle { return image.Rect(0, 0, w, n) }},
	{"bottom", func(w, h, n int) image.Rectangle { return image.Rect(0, h-n, w, h) }},
}

// alike holds what a roll with something laid over it says against the roll without.
func alike(t *testing.T, name string, got, want *film.Roll) {
	t.Helper()
	if got.Response == nil || got.Response.Scan.Fixed == nil || !*got.Response.Scan.Fixed {
		t.Errorf("%s: not told as fixed: %+v", name, got.Response)
		return
	}
	if n := len(got.Response.Labels); n > 0 {
		t.Errorf("%s: %s", name, got.Response.Labels[0].Text)
	}
	for i := range want.Frames {
		a, b := got.Reading(i), want.Reading(i)
		if a.MeasuredStop == nil || math.Abs(*a.MeasuredStop-*b.MeasuredStop) > 0.02 {
			t.Errorf("%s: frame %d measures %v, without %+.3f: %s", name, i, a.MeasuredStop, *b.MeasuredStop, a.Reason)
		}
	}
	a, b := got.Range(), want.Range()
	for _, e := range [][2]latitude.End{{a.Holds.Lo, b.Holds.Lo}, {a.Holds.Hi, b.Holds.Hi}, {a.Strains.Lo, b.Strains.Lo}, {a.Strains.Hi, b.Strains.Hi}} {
		// A hundredth of the picture less may move an end, by no more than is said of it.
		if math.Abs(e[0].Stop-e[1].Stop) > math.Max(0.1, math.Max(e[0].Uncertainty, e[1].Uncertainty)) {
			t.Errorf("%s: an end at %+.2f (open: %v, +- %.2f), without at %+.2f (%v, +- %.2f)", name, e[0].Stop, e[0].Open, e[0].Uncertainty, e[1].Stop, e[1].Open, e[1].Uncertainty)
		}
	}
	notes := 0
	for _, n := range got.Notes {
		if strings.Contains(n, "no picture") {
			notes++
		}
	}
	found := false // as a border, which the frames' own notes tell
	for _, f := range got.Frames {
		found = found || f.Look.AreaFrom == measure.AreaFound
	}
	if notes != 1 && !found {
		t.Errorf("%s: told in %d notes: %q", name, notes, got.Notes)
	}
}

// allRolls reports whether all combinations are asked for.
func allRolls() bool { return os.Getenv("STOPLADDER_ALL_ROLLS") != "" }

var paintedStops = []float64{-2, -1, 0, 1, 2, 3}

// Strips of one density along two, three and four sides, 1 % of the width, of any code:
// measured stops, verdict and range are as without them. Films, codes and sides are paired:
// each code and each number of sides is tried once. The other six of the nine rolls are
// tried with STOPLADDER_ALL_ROLLS=1.
func TestStrips(t *testing.T) {
	for k, film := range []string{"slide-dyes", "negative-dyes", ""} {
		t.Run("on film "+film, func(t *testing.T) {
			t.Parallel()
			var p pictures
			if film == "" {
				p = simulated(t, simulate.Negative(), paintedStops)
			} else {
				p = foreign(adversary.Roll{Film: adversary.Stocks()[film], Scene: []string{"brick", "foliage"}[k], Seed: 71, Size: 480, Stops: paintedStops})
			}
			want := p.measured(t)
			if len(want.Notes) > 0 {
				t.Errorf("%s, nothing laid over it: %q", film, want.Notes)
			}
			for n, code := range []uint16{8, 60, 240} {
				if n != k && !allRolls() {
					continue
				}
				which := [][]int{{0, 1}, {0, 2}, {0, 2, 3}, {1, 3}, {0, 1, 2, 3}, {0, 1, 2}}[(3*k+n)%6]
				name := fmt.Sprintf("%s, code %d", film, code)
				q := p.painted(func(_, w, h int) map[image.Rectangle]uint16 {
					m := map[image.Rectangle]uint16{}
					for _, d := range which {
						m[sides[d].at(w, h, 5)] = code
					}
					return m
				})
				for _, d := range which {
					name += ", " + sides[d].name
				}
				alike(t, name, q.measured(t), want)
			}
		})
	}
}

// A logo and a hair within the picture, and areas without data in one flat colour that
// differ from frame to frame. Logo and hair are laid over one roll, and over one each with
// STOPLADDER_ALL_ROLLS=1.
func TestInsets(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	t.Parallel()
	p := foreign(adversary.Roll{Film: adversary.Stocks()["slide-dyes"], Scene: "brick", Seed: 72, Size: 480, Stops: paintedStops})
	want := p.measured(t)
	logo := func(w, h int, m map[image.Rectangle]uint16) {
		m[image.Rect(w-96, h-48, w-24, h-24)] = 200
		m[image.Rect(w-88, h-40, w-48, h-32)] = 30
	}
	hair := func(w, h int, m map[image.Rectangle]uint16) {
		for i := range 160 { // two pixels high, winding
			x, y := 120+i, 160+int(24*math.Sin(float64(i)/32))
			m[image.Rect(x, y, x+1, y+2)] = 40
		}
	}
	type thing = func(w, h int, m map[image.Rectangle]uint16)
	laid := map[string][]thing{"logo and hair": {logo, hair}}
	if allRolls() {
		laid["logo"], laid["hair"] = []thing{logo}, []thing{hair}
	}
	for name, things := range laid {
		alike(t, name, p.painted(func(_, w, h int) map[image.Rectangle]uint16 {
			m := map[image.Rectangle]uint16{}
			for _, lay := range things {
				lay(w, h, m)
			}
			return m
		}).measured(t), want)
	}
	alike(t, "no data", p.painted(func(i, w, h int) map[image.Rectangle]uint16 {
		code := []uint16{128, 90, 128, 200, 60, 128}[i]
		switch i % 3 {
		case 0:
			return map[image.Rectangle]uint16{image.Rect(0, 0, 16+4*i, h): code}
		case 1:
			return map[image.Rectangle]uint16{image.Rect(w-48, h-72, w, h): code}
		}
		return map[image.Rectangle]uint16{image.Rect(0, 0, w, 8+2*i): code}
	}).measured(t), want)
}

// A half transparent sign over all scans, where the scene has few other light tones, would
// be the response of the roll: it is left out, told in one sentence, and the roll is measured
// as without it. On real brackets TestRealBracketsTable has it.
func TestVeil(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	t.Parallel()
	p := foreign(adversary.Roll{Film: adversary.Stocks()["slide-dyes"], Scene: "night", Seed: 74, Size: 480, Stops: []float64{-3, -2, -1, 0, 1, 2}})
	alike(t, "sign by night", logo(p).measured(t), p.measured(t))
}

// Three labels on one picture: the range does not rest on them, and the finding says so;
// where the base frame is one of them there is no range and no advice.
func TestThreeLabelsOnOnePicture(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	t.Parallel()
	p := foreign(adversary.Roll{Film: adversary.Stocks()["negative-dyes"], Scene: "brick", Seed: 73, Size: 480, Stops: []float64{-4, -3, -2, -1, 0, 1, 2, 3}})
	under := pictures{stops: p.stops, scans: slices.Clone(p.scans)}
	under.scans[0], under.scans[1] = p.scans[2], p.scans[2]
	m := under.measured(t)
	text := strings.Join(m.Finding(m.Limits()), " ")
	if m.Range().Holds.Lo.Stop < -2 || m.Range().Strains.Lo.Stop < -2 || strings.Contains(text, "Underexposure is forgiven more") {
		t.Errorf("a range from repeated frames: %s", text)
	}
	for _, name := range []string{"frame 1 (", "frame 2 (", "frame 3 ("} {
		if !strings.Contains(text, name) {
			t.Errorf("%s is not left out: %s", name, text)
		}
	}
	base := pictures{stops: p.stops, scans: slices.Clone(p.scans)}
	base.scans[5], base.scans[6] = p.scans[4], p.scans[4]
	m = base.measured(t)
	text = strings.Join(m.Finding(m.Limits()), " ")
	if m.Range().Holds.Reason == "" || strings.Contains(text, "forgive") || !strings.Contains(text, "base frame's own label") {
		t.Errorf("a range from a base frame of two labels: %s", text)
	}
}
