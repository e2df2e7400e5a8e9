package ladder

import "math"

// Widths of the ladder in toolkit units: of the axis alone, and with marks beside it.
const (
	AxisWidth  = 80.0
	MarksWidth = AxisWidth + 78
)

// Sizes in toolkit units.
const (
	headerHeight = 36.0 // of columns of figures: a title and its unit
	headerLow    = 24.0 // of the other densities
	axisWidth    = AxisWidth
	rungGap      = 6.0
	minRung      = 40.0
	maxRung      = 168.0
)

// slot is where one frame stands: a frame that shares its stop with others
// gets a part of the rung.
type slot struct {
	top, height float64 // units below the top of the content
}

// geometry maps stops to heights. The content may be taller than what is seen:
// the axis is never squeezed so far that a rung cannot be read, since a third of
// a stop must stand at a third of a stop.
type geometry struct {
	lo, hi  float64 // stops of the lowest and highest frame
	perStop float64 // units
	rung    float64 // height of a rung
	view    float64 // height that is seen
	content float64 // height of everything
	offset  float64 // how far the content is scrolled down
	slots   []slot  // per frame, in the order of the roll
}

// place places frames at the given stops (ascending) in a view of that height.
func place(stops []float64, view, offset float64) geometry {
	g := geometry{lo: -1, hi: 1, view: view, perStop: view / 3, rung: minRung, content: view}
	if len(stops) == 0 {
		return g
	}
	g.lo, g.hi = stops[0], stops[len(stops)-1]
	gap := smallestGap(stops)
	span := g.hi - g.lo
	const margin = 8.0
	// content = margin + rung + span*perStop, with rung = gap*perStop - rungGap
	g.perStop = (view - margin + rungGap) / (span + gap)
	g.rung = math.Min(gap*g.perStop-rungGap, maxRung)
	if least := minRung * float64(most(stops)); g.rung < least {
		g.rung = least
		g.perStop = (least + rungGap) / gap
	}
	if span > 0 && g.rung == maxRung { // few frames: use the height, keep the rungs
		g.perStop = math.Max((view-margin-g.rung)/span, (g.rung+rungGap)/gap)
	}
	g.content = math.Max(view, margin+g.rung+span*g.perStop)
	g.offset = math.Max(0, math.Min(offset, g.content-view))
	g.slots = make([]slot, len(stops))
	for i := 0; i < len(stops); {
		j := i
		for j < len(stops) && stops[j] == stops[i] {
			j++
		}
		n := float64(j - i)
		h := (g.rung - (n-1)*2) / n
		for k := i; k < j; k++ {
			g.slots[k] = slot{top: g.yContent(stops[k]) - g.rung/2 + float64(k-i)*(h+2), height: h}
		}
		i = j
	}
	return g
}

// smallestGap returns the least distance between two different stops, at most 1.
func smallestGap(stops []float64) float64 {
	gap := 1.0
	for i := 1; i < len(stops); i++ {
		if d := stops[i] - stops[i-1]; d > 1e-6 {
			gap = math.Min(gap, d)
		}
	}
	return math.Max(gap, 0.05)
}

// most returns the largest number of frames at one stop.
func most(stops []float64) int {
	best, n := 1, 1
	for i := 1; i < len(stops); i++ {
		if stops[i] == stops[i-1] {
			n++
		} else {
			n = 1
		}
		best = max(best, n)
	}
	return best
}

// yContent returns the height of a stop below the top of the content.
func (g *geometry) yContent(stop float64) float64 {
	spare := g.content - g.rung - (g.hi-g.lo)*g.perStop
	return spare/2 + g.rung/2 + (g.hi-stop)*g.perStop
}

// y returns the height of a stop below the header, as scrolled.
func (g *geometry) y(stop float64) float64 { return g.yContent(stop) - g.offset }

// stop returns the inverse of y.
func (g *geometry) stop(y float64) float64 {
	return g.hi - (y+g.offset-g.yContent(g.hi))/g.perStop
}

// at returns the frame whose slot holds the height y, else -1.
func (g *geometry) at(y float64) int {
	y += g.offset
	for i, s := range g.slots {
		if y >= s.top && y < s.top+s.height {
			return i
		}
	}
	return -1
}

// reveal returns the offset at which the rung of that stop is wholly seen.
func (g *geometry) reveal(stop float64) float64 {
	top, bottom := g.yContent(stop)-g.rung/2-4, g.yContent(stop)+g.rung/2+4
	off := g.offset
	if top < off {
		off = top
	}
	if bottom > off+g.view {
		off = bottom - g.view
	}
	return math.Max(0, math.Min(off, g.content-g.view))
}
