package patch

import (
	"cmp"
	"fmt"
	"math"
	"slices"

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
	f := max(1, base.Preview.Factor)
	side := max(6, min(base.Preview.W, base.Preview.H)/60)
	chosen := choose(flatPlaces(base, side), n, float64(4*side))
	var out []roll.Patch
	for _, q := range chosen {
		out = append(out, roll.Patch{Name: name(q.lab), R: float64(side*f) / 2,
			X: (float64(q.x) + float64(side)/2) * float64(f), Y: (float64(q.y) + float64(side)/2) * float64(f)})
	}
	best, least := -1, 6.0     // CIELAB units under which a place may be called neutral
	for i, q := range chosen { // the most neutral of the middle zones
		if c := math.Hypot(q.lab.A, q.lab.B); c < least && q.lab.L > 20 && q.lab.L < 85 {
			best, least = i, c
		}
	}
	if best >= 0 {
		out[best].Neutral = true
	}
	numbered(out)
	return out
}

// place is a square of the preview that could be a patch.
type place struct {
	x, y  int // its upper left pixel
	lab   colour.LAB
	rough float64 // relative deviation of light within
	zone  int
	rank  float64 // the less the better
}

// flatPlaces returns the unclipped squares of the image area, the best first.
func flatPlaces(base *measure.Look, side int) (all []place) {
	f := max(1, base.Preview.Factor)
	x0, y0 := base.Area.Min.X/f+side, base.Area.Min.Y/f+side
	x1, y1 := base.Area.Max.X/f-2*side, base.Area.Max.Y/f-2*side
	lin := make([]float32, 3*side)
	for y := y0; y < y1; y += side {
		for x := x0; x < x1; x += side {
			if q, ok := placeAt(base, x, y, side, lin); ok {
				all = append(all, q)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b place) int { return cmp.Compare(a.rank, b.rank) })
	return all
}

// placeAt reads a square; ok is false where something in it is clipped, or all black.
// lin is room for a row of it.
func placeAt(base *measure.Look, x, y, side int, lin []float32) (q place, ok bool) {
	p := base.Preview
	var light [3]float64
	var sum, squares float64 // of luminance
	for v := range side {
		at := (y+v)*p.W + x
		for u := range side {
			if base.BlownShare[at+u]|base.BlockedShare[at+u] != 0 {
				return q, false
			}
		}
		base.Space.Linear(lin, p.Pix[3*at:3*(at+side)])
		for u := range side {
			l := colour.Luminance(float64(lin[3*u]), float64(lin[3*u+1]), float64(lin[3*u+2]))
			sum, squares = sum+l, squares+l*l
			for c := range 3 {
				light[c] += float64(lin[3*u+c])
			}
		}
	}
	k := float64(side * side)
	mean := sum / k
	if !(mean > 0) {
		return q, false
	}
	q = place{x: x, y: y, lab: colour.LabOf(light[0]/k, light[1]/k, light[2]/k), rough: math.Sqrt(math.Max(0, squares/k-mean*mean)) / mean}
	q.zone = min(max(int(q.lab.L/100*zones), 0), zones-1)
	// Chroma counts most: a grey that is a little rough says more of a cast
	// than a smooth red.
	q.rank = math.Hypot(q.lab.A, q.lab.B)/6 + 12*q.rough
	return q, true
}

// choose takes up to n of the places, the best first, at least apart pixels from each
// other: round by round, the best of every tonal zone that has been served least.
func choose(all []place, n int, apart float64) (taken []place) {
	used := [zones]int{}
	free := func(q place) bool {
		return !slices.ContainsFunc(taken, func(t place) bool { return math.Hypot(float64(q.x-t.x), float64(q.y-t.y)) < apart })
	}
	for round := 0; round < n && len(taken) < n; round++ {
		for _, z := range [zones]int{3, 1, 5, 2, 4, 0, 6} {
			if used[z] > round || len(taken) >= n {
				continue
			}
			at := slices.IndexFunc(all, func(q place) bool { return q.zone == z && q.rough <= 0.25 && free(q) })
			if at >= 0 {
				taken = append(taken, all[at])
				used[z]++
			}
		}
	}
	return taken
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
