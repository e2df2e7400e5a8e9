package courtyard

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
