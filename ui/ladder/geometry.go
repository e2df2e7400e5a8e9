package ladder

import (
	"math"
	"slices"
	"sort"
)

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

// geometry maps stops to heights. The axis is true everywhere: a third of a stop stands at
// a third of a stop. Rungs are never squeezed so far that they cannot be read; where frames
// stand closer than that they are moved apart from their stops, by a rung's height at most;
// where that is not enough the content is taller than what is seen.
type geometry struct {
	lo, hi  float64 // stops of the lowest and highest frame
	perStop float64 // units
	first   float64 // height of hi below the top of the content
	rung    float64 // height of a rung
	view    float64 // height that is seen
	content float64 // height of everything
	offset  float64 // how far the content is scrolled down
	slots   []slot  // per frame, in the order of the roll
	rungs   []rung  // by rising stop
}

// rung is where the frames of one stop stand.
type rung struct {
	stop, middle, height float64 // units below the top of the content
}

const margin = 8.0 // above and below all rungs together

// place places frames at the given stops (ascending) in a view of that height.
func place(stops []float64, view, offset float64) geometry {
	g := geometry{lo: -1, hi: 1, view: view, perStop: view / 3, first: view / 6, rung: minRung, content: view}
	if len(stops) == 0 {
		return g
	}
	g.lo, g.hi = stops[0], stops[len(stops)-1]
	gap := smallestGap(stops)
	span := g.hi - g.lo
	// content = margin + rung + span*perStop, with rung = gap*perStop - rungGap
	g.perStop = (view - margin + rungGap) / (span + gap)
	g.rung = math.Min(gap*g.perStop-rungGap, maxRung)
	if g.rung < minRung*float64(most(stops)) {
		g.moveApart(stops)
	} else {
		if span > 0 && g.rung == maxRung { // few frames: use the height, keep the rungs
			g.perStop = math.Max((view-margin-g.rung)/span, (g.rung+rungGap)/gap)
		}
		g.content = math.Max(view, margin+g.rung+span*g.perStop)
		g.first = (g.content - span*g.perStop) / 2
		for _, s := range distinct(stops) {
			g.rungs = append(g.rungs, rung{s, g.yContent(s), g.rung})
		}
	}
	g.offset = math.Max(0, math.Min(offset, g.content-view))
	g.slots = make([]slot, len(stops))
	k := 0
	for i := 0; i < len(stops); k++ {
		j := i
		for j < len(stops) && stops[j] == stops[i] {
			j++
		}
		n, r := float64(j-i), g.rungs[k]
		h := (r.height - (n-1)*2) / n
		for k := i; k < j; k++ {
			g.slots[k] = slot{top: r.middle - r.height/2 + float64(k-i)*(h+2), height: h}
		}
		i = j
	}
	return g
}

// farthest is how far a rung may stand from its stop before the axis is stretched, units.
const farthest = minRung

// moveApart places rungs of the least height that can be read near to their stops: on the
// shortest axis on which none stands farther from its stop than the height of a rung.
func (g *geometry) moveApart(stops []float64) {
	g.rung = minRung
	least := margin - rungGap
	for i, s := range stops {
		if i > 0 && s == stops[i-1] {
			g.rungs[len(g.rungs)-1].height += minRung
			least += minRung
			continue
		}
		g.rungs = append(g.rungs, rung{stop: s, height: minRung})
		least += minRung + rungGap
	}
	least = math.Max(g.view, least)
	if g.spread(least) <= farthest {
		return
	}
	// Hairs apart, frames would stretch it without end: there they stand farther off.
	tallest := minRung * float64(most(stops))
	enough := math.Max(least, margin+tallest+(g.hi-g.lo)*(tallest+rungGap)/smallestGap(stops))
	for enough-least > 1 {
		if half := (least + enough) / 2; g.spread(half) <= farthest {
			enough = half
		} else {
			least = half
		}
	}
	g.spread(enough)
}

// spread places the rungs on content of a height as near to their stops as they go, by
// least squares: neighbours that touch stand around the mean of their places (pool adjacent
// violators). It returns how far the one farthest from its stop stands.
func (g *geometry) spread(content float64) (off float64) {
	last := len(g.rungs) - 1
	g.content = content
	g.first = margin/2 + g.rungs[last].height/2
	if span := g.hi - g.lo; span > 0 {
		g.perStop = (g.content - margin/2 - g.rungs[0].height/2 - g.first) / span
	} else {
		g.first = g.content / 2
	}
	// From the top down, without the room that the rungs above take: there they may touch
	// and must not cross.
	type pool struct {
		sum float64
		n   int
	}
	var pools []pool
	taken := make([]float64, len(g.rungs))
	room := 0.0
	for k := last; k >= 0; k-- {
		taken[k] = room + g.rungs[k].height/2
		room += g.rungs[k].height + rungGap
		pools = append(pools, pool{g.yContent(g.rungs[k].stop) - taken[k], 1})
		for n := len(pools); n > 1 && pools[n-1].sum/float64(pools[n-1].n) < pools[n-2].sum/float64(pools[n-2].n); n = len(pools) {
			pools[n-2].sum += pools[n-1].sum
			pools[n-2].n += pools[n-1].n
			pools = pools[:n-1]
		}
	}
	k := last
	for _, p := range pools {
		free := math.Max(margin/2, math.Min(p.sum/float64(p.n), g.content-margin/2-(room-rungGap)))
		for range p.n {
			g.rungs[k].middle = taken[k] + free
			off = math.Max(off, math.Abs(g.rungs[k].middle-g.yContent(g.rungs[k].stop)))
			k--
		}
	}
	return off
}

// distinct returns the different stops of a rising list.
func distinct(stops []float64) []float64 { return slices.Compact(slices.Clone(stops)) }

// rowY returns the height below the header, as scrolled, at which a stop stands among the
// rungs: level with its frame where those were moved apart, between neighbours in between.
func (g *geometry) rowY(stop float64) float64 {
	k := sort.Search(len(g.rungs), func(k int) bool { return g.rungs[k].stop >= stop })
	if k == 0 || k == len(g.rungs) {
		y := g.y(stop)
		if len(g.rungs) > 0 {
			end := g.rungs[min(k, len(g.rungs)-1)]
			y += end.middle - g.yContent(end.stop)
		}
		return y
	}
	a, b := g.rungs[k-1], g.rungs[k]
	return a.middle + (b.middle-a.middle)*(stop-a.stop)/(b.stop-a.stop) - g.offset
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
func (g *geometry) yContent(stop float64) float64 { return g.first + (g.hi-stop)*g.perStop }

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

// reveal returns the offset at which the rung of a frame and its stop are seen, the rung
// where there is room for one only.
func (g *geometry) reveal(i int, stop float64) float64 {
	s := g.slots[i]
	off := g.offset
	for _, part := range [][2]float64{{g.yContent(stop), g.yContent(stop)}, {s.top - 4, s.top + s.height + 4}} {
		if part[0] < off {
			off = part[0]
		}
		if part[1] > off+g.view {
			off = part[1] - g.view
		}
	}
	return math.Max(0, math.Min(off, g.content-g.view))
}
