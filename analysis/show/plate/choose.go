package plate

import (
	"cmp"
	"image"
	"math"
	"slices"

	"stopladder/analysis/film/measure"
)

// shadowLift is by how many stops a detail in the shadows is shown lighter when the
// program chooses it: what is there to be seen in frames under the base.
const shadowLift = 2.0

// chosenDetails returns the details that tell most when nobody has chosen: the place with
// the most structure in the scene's shadows, lifted, and in its highlights, as the base
// frame shows them.
func chosenDetails(base *measure.Look) (out []Detail) {
	pv := base.Preview
	if pv == nil || pv.W < 32 || pv.H < 32 || base.Space == nil {
		return nil
	}
	f := max(1, pv.Factor)
	area := image.Rect(base.Area.Min.X/f, base.Area.Min.Y/f, base.Area.Max.X/f, base.Area.Max.Y/f).Intersect(image.Rect(0, 0, pv.W, pv.H))
	side := max(8, min(area.Dx(), area.Dy())/12)
	type tile struct {
		at                image.Point
		level, deep, seen float64 // mean light, mean of its logarithm, its spread
	}
	var tiles []tile
	light := make([]float32, 3*pv.W)
	// Structure is the spread of log light, floored where a scan says nothing.
	const floor = 1e-3
	for y := area.Min.Y + side/2; y+side+side/2 <= area.Max.Y; y += side / 2 {
		n := (area.Dx() - side) / (side / 2)
		sum, sq, levels := make([]float64, n), make([]float64, n), make([]float64, n)
		count := 0
		for yy := y; yy < y+side; yy += 2 {
			base.Space.Linear(light, pv.Pix[3*pv.W*yy:3*pv.W*(yy+1)])
			for i := range n {
				x0 := area.Min.X + i*(side/2)
				for x := x0; x < x0+side; x += 2 {
					l := 0.2126*float64(light[3*x]) + 0.7152*float64(light[3*x+1]) + 0.0722*float64(light[3*x+2])
					v := math.Log2(math.Min(1, math.Max(l, floor)))
					sum[i] += v
					sq[i] += v * v
					levels[i] += l
				}
			}
			count += (side + 1) / 2
		}
		for i := range n {
			m := sum[i] / float64(count)
			tiles = append(tiles, tile{image.Pt(area.Min.X+i*(side/2)+side/2, y+side/2), levels[i] / float64(count), m, math.Sqrt(math.Max(0, sq[i]/float64(count)-m*m))})
		}
	}
	if len(tiles) < 8 {
		return nil
	}
	// A mean is raised by anything light, its logarithm lowered by anything dark: so shadows
	// have no lights in them, and highlights no shade.
	by := func(of func(t tile) float64) []tile {
		out := slices.Clone(tiles)
		slices.SortStableFunc(out, func(a, b tile) int { return cmp.Compare(of(a), of(b)) })
		return out
	}
	best := func(part []tile, away *image.Point) (image.Point, bool) {
		at, most := image.Point{}, 0.0
		for _, t := range part {
			if away != nil && math.Hypot(float64(t.at.X-away.X), float64(t.at.Y-away.Y)) < 2*float64(side) {
				continue
			}
			if t.seen > most {
				at, most = t.at, t.seen
			}
		}
		return at.Mul(f), most > 0
	}
	n := len(tiles)
	var first *image.Point
	if at, ok := best(by(func(t tile) float64 { return t.level })[n/20:n/4], nil); ok {
		out = append(out, Detail{Name: "Shadows", At: at, Lift: shadowLift})
		q := at.Div(f)
		first = &q
	}
	if at, ok := best(by(func(t tile) float64 { return t.deep })[3*n/4:n-n/20], first); ok {
		out = append(out, Detail{Name: "Highlights", At: at})
	}
	return out
}
