package patch

import (
	"fmt"
	"math"
	"sort"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan/colour"
)

// Suggest proposes up to n patches on the base frame: flat, unclipped places over
// the tonal range, neutral ones first, apart from each other. The first of them is
// marked neutral when it is. It is the same every time.
func Suggest(base *measure.Look, n int) []roll.Patch {
	if base == nil || base.Preview == nil || base.Space == nil || n <= 0 {
		return nil
	}
	p := base.Preview
	f := max(1, p.Factor)
	side := max(6, min(p.W, p.H)/60)
	x0, y0 := base.Area.Min.X/f+side, base.Area.Min.Y/f+side
	x1, y1 := base.Area.Max.X/f-2*side, base.Area.Max.Y/f-2*side
	type place struct {
		x, y  int
		lab   colour.LAB
		rough float64 // relative deviation of light within
		zone  int
		rank  float64
	}
	var all []place
	lin := make([]float32, 3*side)
	for y := y0; y < y1; y += side {
		for x := x0; x < x1; x += side {
			var s [3]float64
			var s1, s2 float64
			clipped := false
			for v := 0; v < side && !clipped; v++ {
				at := (y+v)*p.W + x
				for u := range side {
					if base.BlownShare[at+u]|base.BlockedShare[at+u] != 0 {
						clipped = true
						break
					}
				}
				base.Space.Linear(lin, p.Pix[3*at:3*(at+side)])
				for u := range side {
					l := colour.Luminance(float64(lin[3*u]), float64(lin[3*u+1]), float64(lin[3*u+2]))
					s1, s2 = s1+l, s2+l*l
					for c := range 3 {
						s[c] += float64(lin[3*u+c])
					}
				}
			}
			k := float64(side * side)
			if m := s1 / k; !clipped && m > 0 {
				lab := colour.LabOf(s[0]/k, s[1]/k, s[2]/k)
				q := place{x: x, y: y, lab: lab, rough: math.Sqrt(math.Max(0, s2/k-m*m)) / m}
				q.zone = min(max(int(lab.L/100*zones), 0), zones-1)
				// Chroma counts most: a grey that is a little rough says more of a cast
				// than a smooth red.
				q.rank = math.Hypot(lab.A, lab.B)/6 + 12*q.rough
				all = append(all, q)
			}
		}
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].rank < all[b].rank })
	var out []roll.Patch
	var taken []place
	used := [zones]int{}
	// Round by round, the best of every tonal zone that has been served least.
	for round := 0; round < n && len(out) < n; round++ {
		for _, z := range [zones]int{3, 1, 5, 2, 4, 0, 6} {
			if used[z] > round || len(out) >= n {
				continue
			}
			for _, q := range all {
				if q.zone != z || q.rough > 0.25 {
					continue
				}
				apart := true
				for _, t := range taken {
					apart = apart && math.Hypot(float64(q.x-t.x), float64(q.y-t.y)) >= float64(4*side)
				}
				if !apart {
					continue
				}
				taken = append(taken, q)
				used[z]++
				out = append(out, roll.Patch{Name: name(q.lab), R: float64(side*f) / 2,
					X: (float64(q.x) + float64(side)/2) * float64(f), Y: (float64(q.y) + float64(side)/2) * float64(f)})
				break
			}
		}
	}
	best := -1
	for i, q := range taken { // the most neutral of the middle zones
		if c := math.Hypot(q.lab.A, q.lab.B); c < 6 && q.lab.L > 20 && q.lab.L < 85 && (best < 0 || c < math.Hypot(taken[best].lab.A, taken[best].lab.B)) {
			best = i
		}
	}
	if best >= 0 {
		out[best].Neutral = true
	}
	numbered(out)
	return out
}

const zones = 7 // of L*

// name returns a patch in plain words: its tone and colour in the base frame.
func name(l colour.LAB) string {
	tone := "Dark"
	switch {
	case l.L >= 70:
		tone = "Light"
	case l.L >= 40:
		tone = "Mid"
	}
	if math.Hypot(l.A, l.B) < 8 {
		return tone + " grey"
	}
	hue := math.Mod(math.Atan2(l.B, l.A)*180/math.Pi+360, 360)
	for _, c := range []struct {
		to   float64
		word string
	}{{20, "red"}, {70, "orange"}, {105, "yellow"}, {165, "green"}, {220, "cyan"}, {290, "blue"}, {345, "magenta"}, {361, "red"}} {
		if hue < c.to {
			return tone + " " + c.word
		}
	}
	return tone
}

// numbered tells patches of one name apart.
func numbered(ps []roll.Patch) {
	count, seen := map[string]int{}, map[string]int{}
	for _, p := range ps {
		count[p.Name]++
	}
	for i := range ps {
		n := ps[i].Name
		if seen[n]++; count[n] > 1 {
			ps[i].Name = fmt.Sprintf("%s %d", n, seen[n])
		}
	}
}
