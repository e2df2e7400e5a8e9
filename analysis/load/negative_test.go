package load

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film/response"
	"stopladder/analysis/scan"
)

// asNegatives are the scans of the film itself, not turned positive, of which positives are
// given: density of the film for density of the positive is 1 over the inversion's contrast
// (adversary.Film), film base and mask are added, codes are sRGB's (IEC 61966-2-1).
func asNegatives(p pictures, contrast float64, base [3]float64, channels int) pictures {
	out := pictures{stops: p.stops}
	table := [3][]uint16{}
	for c := range table {
		for v := range 65536 {
			x := float64(v) / 65535
			if x <= 0.04045 {
				x /= 12.92
			} else {
				x = math.Pow((x+0.055)/1.055, 2.4)
			}
			const deepest = 3.5 // of the positive
			d := math.Max(0, deepest+math.Log10(math.Max(x, 1e-6)))/contrast + base[c]
			if x = math.Pow(10, -d); x <= 0.0031308 {
				x *= 12.92
			} else {
				x = 1.055*math.Pow(x, 1/2.4) - 0.055
			}
			table[c] = append(table[c], uint16(65535*x+0.5))
		}
	}
	for _, s := range p.scans {
		q := &scan.Pixels{Header: s.Header, Pix: slices.Clone(s.Pix)}
		q.Header.Channels = channels
		for i := range q.Pix {
			from := s.Pix[i]
			if base[0] == base[2] { // black and white: one figure
				from = s.Pix[i/3*3+1]
			}
			q.Pix[i] = table[i%3][from]
		}
		out.scans = append(out.scans, q)
	}
	return out
}

// A roll of negatives that were scanned as they are is told as that, with what to do next:
// black and white in one channel and in three, colour with its mask, over wide and narrow
// brackets and of two frames. Nothing of it is measured as if more light were lighter: no
// stops, no response, no salvage, no range, no suggestion.
func TestNegativesAsTheyAre(t *testing.T) {
	films := adversary.Stocks()
	for _, stops := range [][]float64{{-2, -1, 0, 1, 2}, {-0.5, 0, 0.5}, {0, 2}} {
		for _, x := range []struct {
			name, film string
			base       [3]float64
			channels   int
		}{
			{"grey file", "mono", [3]float64{0.25, 0.25, 0.25}, 1},
			{"three equal channels", "mono", [3]float64{0.25, 0.25, 0.25}, 3},
			{"colour with its mask", "negative-dyes", [3]float64{0.2, 0.55, 0.85}, 3},
		} {
			p := foreign(adversary.Roll{Film: films[x.film], Scene: "brick", Seed: 75, Size: 320, Stops: stops})
			m := asNegatives(p, films[x.film].Contrast, x.base, x.channels).measured(t)
			name := fmt.Sprintf("%s, %v", x.name, stops)
			if m.Response == nil || !m.Response.Scan.Reversed || m.Response.Scan.Case != response.DarkensCase || m.Response.Curve != nil {
				t.Errorf("%s: not told: %+v", name, m.Response)
				continue
			}
			text := strings.Join(m.Finding(m.Limits()), " ")
			for _, want := range []string{"negatives that were not turned positive", "inverted with one setting", "scanned as positives"} {
				if !strings.Contains(text, want) {
					t.Errorf("%s: the finding lacks %q: %s", name, want, text)
				}
			}
			if e := m.Range(); e != nil && e.Holds.Reason == "" {
				t.Errorf("%s: a range: %+v", name, e.Holds)
			}
			for i := range m.Frames {
				q := m.Reading(i)
				if q == nil || q.MeasuredStop != nil || q.Reason == "" {
					t.Errorf("%s: frame %d: %+v", name, i, q)
				}
				if a := m.Compared(i); a != nil && a.Salvage != nil {
					t.Errorf("%s: frame %d has a salvage", name, i)
				}
			}
		}
	}
}
