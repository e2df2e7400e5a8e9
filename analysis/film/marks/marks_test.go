package marks

import (
	"context"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
)

var stops = []float64{-2, -1, 0, 1, 2, 3}

func find(t *testing.T, r adversary.Roll) ([]*measure.Marks, []*adversary.Frame) {
	t.Helper()
	r.Size, r.Stops, r.Grain, r.Blur, r.ReadSD = 600, stops, 0.02, [2]float64{0.8, 1.4}, 1.5e-4
	var frames []response.Frame
	var scans []*adversary.Frame
	for i, s := range stops {
		area := r.Gate()
		f := r.Frame(i)
		l, err := measure.NewLook(context.Background(), f.Pixels, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		scans = append(scans, f)
		frames = append(frames, response.Frame{Look: l, Stop: s, StopKnown: true, Map: r.Map(i)})
	}
	res, err := response.Fit(context.Background(), frames, 2, response.Options{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := Find(context.Background(), res, frames, 2)
	if err != nil {
		t.Fatal(err)
	}
	return m, scans
}

// Dust is what the same roll without it does not show. Half of it at least is found in
// every frame (the darkest shows little of it), and next to nothing beside it.
func TestDust(t *testing.T) {
	films := adversary.Stocks()
	for name, r := range map[string]adversary.Roll{
		"slide, film":    {Film: films["slide-dyes"], Scene: "brick", Seed: 3, FilmDust: 0.017},
		"negative, film": {Film: films["negative-dyes"], Scene: "foliage", Seed: 4, FilmDust: 0.017},
		"slide, glass":   {Film: films["slide-dyes"], Scene: "brick", Seed: 5, Glass: 0.017},
	} {
		found, dirty := find(t, r)
		glass := r.Glass > 0
		r.FilmDust, r.Glass = 0, 0
		none, clean := find(t, r)
		for i := range stops {
			m, n := found[i], none[i]
			if m == nil || n == nil {
				t.Fatalf("%s: not looked for", name)
			}
			if n.Share > 2e-4 {
				t.Errorf("%s, without dust, %+g: %.4f of the picture is marked", name, stops[i], n.Share)
			}
			all, hit, far := 0, 0, 0
			a, b := clean[i].Pixels.Pix, dirty[i].Pixels.Pix
			differs := func(k int) bool { return k >= 0 && k < m.W*m.H && a[3*k+1] != b[3*k+1] }
			for k := range m.W * m.H {
				switch {
				case differs(k):
					all++
					if m.Mask[k] != 0 {
						hit++
					}
				case m.Mask[k] != 0:
					near := false
					for v := -2; v <= 2; v++ {
						for u := -2; u <= 2; u++ {
							near = near || differs(k+v*m.W+u)
						}
					}
					if !near {
						far++
					}
				}
			}
			t.Logf("%s %+g: share %.4f, still %.4f, %.0f %% of the dust, %d of %d pixels far from any", name, stops[i], m.Share, m.Still, 100*float64(hit)/float64(all), far, m.W*m.H)
			if 10*hit < 4*all {
				t.Errorf("%s, %+g: %d of %d pixels of dust are marked", name, stops[i], hit, all)
			}
			// Where only two frames can say, the clean one is marked with the other: that must
			// stay a small part of the dust.
			if float64(far) > 0.017/4*float64(m.W*m.H) {
				t.Errorf("%s, %+g: %d pixels are marked where there is no dust", name, stops[i], far)
			}
			if still := m.Still > m.Share/2; still != glass {
				t.Errorf("%s, %+g: %.4f of %.4f at the same place in the other scans", name, stops[i], m.Still, m.Share)
			}
		}
	}
}
