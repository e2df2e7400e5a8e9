package scene

import (
	"fmt"
	"math"
)

// cardCentre is the middle of the grey card, which faces along z as the white
// wall does, in open sun.
var cardCentre = vec{0.60, 0.81, 1.55}

// rect is an upright rectangle facing the camera's side, by its corners.
type rect struct{ x0, y0, x1, y1, z float64 }

var cardRect = rect{0.44, 0.70, 0.76, 0.92, 1.55}

func stepRect(i int) rect {
	const w = 0.064
	x := 0.60 - 11*w/2 + w*float64(i)
	return rect{x, 0.51, x + w, 0.645, 1.55}
}

// buildCard stands a dark board with the grey card and the stepped scale on a
// small easel.
func (w *world) buildCard() {
	m := &w.m
	m.box(matBoard, 0.5, at(vec{}), vec{0.21, 0.47, 1.525}, vec{0.99, 0.96, 1.545})
	put := func(r rect, v float64) {
		m.flat(matCard, v, vec{r.x0, r.y0, r.z}, vec{r.x1, r.y0, r.z}, vec{r.x1, r.y1, r.z}, vec{r.x0, r.y1, r.z})
	}
	put(cardRect, cardGrey)
	for i, v := range greySteps() {
		put(stepRect(i), v)
	}
	leg := func(a, b vec) { m.tube(matWood, 0.6, 8, []vec{a, b}, []float64{0.015, 0.013}) }
	leg(vec{0.22, 0, 1.56}, vec{0.50, 1.10, 1.50})
	leg(vec{0.98, 0, 1.56}, vec{0.70, 1.10, 1.50})
	leg(vec{0.60, 0, 1.05}, vec{0.60, 1.08, 1.48})
	m.box(matWood, 0.6, at(vec{}), vec{0.18, 0.45, 1.50}, vec{1.02, 0.472, 1.585})
}

// courtyardPlaces were set by eye on the rendered picture.
var courtyardPlaces = []Place{
	{Name: "sunlit white wall", X0: 0.657, Y0: 0.350, X1: 0.712, Y1: 0.386},
	{Name: "shaded white wall", X0: 0.629, Y0: 0.508, X1: 0.757, Y1: 0.575},
	{Name: "sunlit ochre wall", X0: 0.014, Y0: 0.367, X1: 0.060, Y1: 0.667},
	{Name: "deep shade", X0: 0.460, Y0: 0.508, X1: 0.486, Y1: 0.633},
	{Name: "tiled floor in shade", X0: 0.440, Y0: 0.772, X1: 0.486, Y1: 0.812},
	{Name: "paving", X0: 0.286, Y0: 0.908, X1: 0.471, Y1: 0.967},
	{Name: "greenery", X0: 0.871, Y0: 0.200, X1: 0.943, Y1: 0.450},
	{Name: "clouds", X0: 0.270, Y0: 0.070, X1: 0.360, Y1: 0.150},
	{Name: "blue sky", X0: 0.486, Y0: 0.070, X1: 0.550, Y1: 0.120},
}

// Places names areas of the courtyard: the grey card, the steps of the grey
// scale from light to dark ("grey step 1" to "grey step 11"), and areas of known
// kind ("sunlit white wall", "deep shade", "clouds"...).
func Places() []Place {
	cam := courtyardCamera()
	// The board is seen at an angle: the place is the upright rectangle inside
	// its four projected corners, less a rim.
	project := func(name string, r rect, inset, reflectance float64) Place {
		ix, iy := inset*(r.x1-r.x0), inset*(r.y1-r.y0)
		ul, vl := cam.project(vec{r.x0 + ix, r.y1 - iy, r.z}, Aspect)
		ur, vr := cam.project(vec{r.x1 - ix, r.y1 - iy, r.z}, Aspect)
		dl, wl := cam.project(vec{r.x0 + ix, r.y0 + iy, r.z}, Aspect)
		dr, wr := cam.project(vec{r.x1 - ix, r.y0 + iy, r.z}, Aspect)
		return Place{name, math.Max(ul, dl), math.Max(vl, vr), math.Min(ur, dr), math.Min(wl, wr), reflectance}
	}
	p := []Place{project("grey card", cardRect, 0.1, cardGrey)}
	for i, v := range greySteps() {
		p = append(p, project(fmt.Sprintf("grey step %d", i+1), stepRect(i), 0.14, v))
	}
	return append(p, courtyardPlaces...)
}
