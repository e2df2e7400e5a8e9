package sheet

import (
	"image"
	"math"

	"stopladder/analysis/numeric/median"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

// Measures of the sheet in units; the whole width is unitsWide, so type keeps
// its share of the sheet at every size.
const (
	unitsWide = 1440.0
	margin    = 36.0
	centreMin = 600.0 // the axis and its columns
	flankGap  = 16.0  // between the rows and the pictures
	caption   = 22.0  // under a picture
	between   = 8.0   // between two pictures of one side, and two rows
	pitchMax  = 210.0
	pitchMin  = 64.0
	titleBand = 112.0
)

// layout is where everything stands, in device pixels.
type layout struct {
	width, height int
	title         image.Rectangle
	head          image.Rectangle // column titles
	ladder        image.Rectangle // axis, rows and pictures
	axis          image.Rectangle
	rows          image.Rectangle // all rows, right of the axis
	plot, table   image.Rectangle // the response and the stops beside it; empty without
	salvage       image.Rectangle // what salvage costs; empty without
	foot          image.Rectangle

	yOf     func(stop float64) float64
	lo, hi  float64           // ends of the axis, stops
	at      []float64         // per frame: the middle of its row
	row     []image.Rectangle // per frame
	picture []image.Rectangle // per frame: the box a picture and its caption have
	left    []bool            // the picture stands left of the axis
	notes   [][]string        // the foot's wrapped assumptions
}

// plan places everything on the sheet. Frames stand in order from the top.
func plan(c *paint.Canvas, in Input, frames []Frame) *layout {
	l := &layout{width: int(math.Round(unitsWide * c.Scale))}
	u := func(v float64) int { return int(math.Round(v * c.Scale)) }
	n := len(frames)

	aspect := pictureAspect(frames)
	inner := unitsWide - 2*margin
	flankMax := (inner-centreMin)/2 - flankGap

	// Rows stand at most so far apart that a picture as wide as the flank fills
	// the height of two.
	pitch := math.Min(pitchMax, (flankMax/aspect+caption+between)/2)
	pictureH := 2*pitch - between // with its caption
	lo, hi, gapMin := stopEnds(frames)
	l.lo, l.hi = lo, hi
	if in.Range != nil && n > 0 && finite(in.Range.Lo) && finite(in.Range.Hi) {
		l.lo, l.hi = math.Min(lo, in.Range.Lo), math.Max(hi, in.Range.Hi)
	}
	// A sheet is not taller than the A series is (1 : sqrt 2), unless the frames
	// are so many that they could not be read.
	room := unitsWide*math.Sqrt2 - titleBand - row.HeaderHeight - 230
	if hasResponse(in) {
		room -= plotHeight + 2*plotGap + 60 // and its notes
	}
	_, costs := salvageParts(c, in, 0)
	if costs > 0 {
		room -= float64(costs)/c.Scale + salvageGap
	}
	perStop := math.Min(pitch/gapMin, room/(l.hi-l.lo+gapMin))
	pitch = math.Max(pitchMin, math.Min(pitch, perStop*gapMin))
	if hi > lo { // many frames: a taller sheet that is true, not rows moved aside
		perStop = math.Max(perStop, float64(n-1)*pitch/(hi-lo))
	}

	var above, below, height float64
	reach := func() { // of the ladder, with pictures so high
		above = math.Max(row.HeaderHeight+pitch/2, (pictureH-caption)/2)
		below = math.Max(pitch/2, (pictureH+caption)/2)
		height = math.Max((l.hi-l.lo)*perStop+above+below, float64(n)*pitch+row.HeaderHeight)
		if n == 0 {
			height = 160
		}
	}
	reach()
	// Each side holds half of the pictures. They stand at their stops where that
	// leaves them most of the size they could have, else they move a little.
	if k := float64((n + 1) / 2); k > 0 {
		pictureH = math.Min(pictureH, (height+between)/k-between)
		apart := math.Inf(1)
		for i := 2; i < n; i++ {
			d := (frames[i-2].Data.Stop - frames[i].Data.Stop) * perStop
			apart = math.Min(apart, math.Max(d, 2*pitch)-between)
		}
		if apart > 0.7*pictureH {
			pictureH = math.Min(pictureH, apart)
		}
	}
	flank := math.Min(flankMax, (pictureH-caption)*aspect)
	if n > 0 { // no higher than they are then wide, and no room beside them
		pictureH = flank/aspect + caption
		reach()
		height = math.Max(height, float64((n+1)/2)*(pictureH+between)-between)
	}

	// From the top down.
	l.title = image.Rect(u(margin), u(margin*0.8), u(unitsWide-margin), u(margin*0.8+titleBand))
	top := margin*0.8 + titleBand
	cx0, cx1 := margin+flank+flankGap, unitsWide-margin-flank-flankGap
	if n == 1 {
		cx1 = unitsWide - margin
	}
	l.ladder = image.Rect(u(margin), u(top), u(unitsWide-margin), u(top+height))
	l.axis = image.Rect(u(cx0), l.ladder.Min.Y, u(cx0+row.AxisWidth), l.ladder.Max.Y)
	l.rows = image.Rect(l.axis.Max.X, l.ladder.Min.Y, u(cx1), l.ladder.Max.Y)

	// What is left over is shared above and below.
	y0 := (top + above + math.Max(0, height-above-below-(l.hi-l.lo)*perStop)/2) * c.Scale
	ends := l.hi
	l.yOf = func(stop float64) float64 { return y0 + (ends-stop)*perStop*c.Scale }
	beyond := math.Min(0.5, 0.5*pitch/perStop)
	l.lo, l.hi = l.lo-beyond, l.hi+beyond

	l.place(c, frames, pitch, pictureH, flank)
	if n > 0 {
		y := l.row[0].Min.Y
		l.head = image.Rect(l.rows.Min.X, y-u(row.HeaderHeight), l.rows.Max.X, y)
	}
	foot := l.ladder.Max.Y + u(18)
	if hasResponse(in) {
		l.plot = image.Rect(u(margin), l.ladder.Max.Y+u(plotGap), u(unitsWide-margin), l.ladder.Max.Y+u(plotGap+plotHeight))
		if len(stopRows(in)) > 0 {
			l.table = l.plot
			l.plot.Max.X = u(margin + plotWidth)
			l.table.Min.X = l.plot.Max.X + u(2*flankGap)
		}
		foot = l.plot.Max.Y + u(18)
	}
	if costs > 0 {
		l.salvage = image.Rect(u(margin), foot+u(salvageGap-18), u(unitsWide-margin), foot+u(salvageGap-18)+costs)
		foot = l.salvage.Max.Y + u(18)
	}
	l.notes = footNotes(c, l, in, frames)
	l.foot = image.Rect(u(margin), foot, u(unitsWide-margin), foot+u(footHeight(l.notes)))
	l.height = l.foot.Max.Y + u(margin*0.7)
	return l
}

// place stands rows and pictures at their stops and moves them apart where
// stops lie closer than a row is high.
func (l *layout) place(c *paint.Canvas, frames []Frame, pitch, pictureH, flank float64) {
	n := len(frames)
	if n == 0 {
		return
	}
	u := func(v float64) float64 { return v * c.Scale }
	want, sizes := make([]float64, n), make([]float64, n)
	for i, f := range frames {
		want[i], sizes[i] = l.yOf(f.Data.Stop), u(pitch)-1e-6
	}
	at := row.Spread(want, sizes, float64(l.ladder.Min.Y)+u(row.HeaderHeight), float64(l.ladder.Max.Y))
	l.at = at
	l.row = make([]image.Rectangle, n)
	l.picture = make([]image.Rectangle, n)
	l.left = make([]bool, n)
	rowH := u(pitch - between)
	for i, y := range at {
		l.row[i] = image.Rect(l.rows.Min.X, int(math.Round(y-rowH/2)), l.rows.Max.X, int(math.Round(y+rowH/2)))
		l.left[i] = i%2 == 0
	}
	for _, left := range []bool{true, false} {
		var idx []int
		var cy, hs []float64
		for i := range frames {
			if l.left[i] == left {
				idx = append(idx, i)
				// The picture itself, without its caption, is centred on the row.
				cy = append(cy, at[i]+u(caption)/2)
				hs = append(hs, u(pictureH+between)-1e-6)
			}
		}
		ys := row.Spread(cy, hs, float64(l.ladder.Min.Y)-u(between)/2, float64(l.ladder.Max.Y)+u(between)/2)
		for k, i := range idx {
			x0 := l.ladder.Min.X
			if !left {
				x0 = l.ladder.Max.X - int(math.Round(u(flank)))
			}
			size := image.Pt(int(math.Round(u(flank))), int(math.Round(u(pictureH)))) // the same for all, whatever they round to
			at := image.Pt(x0, int(math.Round(ys[k]-u(pictureH)/2)))
			l.picture[i] = image.Rectangle{Min: at, Max: at.Add(size)}
		}
	}
}

// stopEnds returns the lowest and highest stop and the smallest distance of two
// different ones.
func stopEnds(frames []Frame) (lo, hi, gap float64) {
	if len(frames) == 0 {
		return 0, 0, 1
	}
	hi, lo = frames[0].Data.Stop, frames[len(frames)-1].Data.Stop
	gap = math.Inf(1)
	for i := 1; i < len(frames); i++ {
		if d := frames[i-1].Data.Stop - frames[i].Data.Stop; d > 1e-6 {
			gap = math.Min(gap, d)
		}
	}
	if math.IsInf(gap, 0) {
		gap = 1
	}
	return lo, hi, gap
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// pictureAspect returns the median width over height of the frames, kept within what
// a sheet can hold.
func pictureAspect(frames []Frame) float64 {
	var all []float64
	for _, f := range frames {
		d := f.Data
		switch {
		case f.Picture == nil && d.Thumb != nil && !d.Thumb.Rect.Empty():
			all = append(all, float64(d.Thumb.Rect.Dx())/float64(d.Thumb.Rect.Dy()))
		case d.Look != nil && !d.Look.Area.Empty():
			all = append(all, float64(d.Look.Area.Dx())/float64(d.Look.Area.Dy()))
		case d.Thumb != nil && !d.Thumb.Rect.Empty():
			all = append(all, float64(d.Thumb.Rect.Dx())/float64(d.Thumb.Rect.Dy()))
		}
	}
	if len(all) == 0 {
		return 1.5
	}
	return math.Max(0.66, math.Min(2.2, median.Upper(all)))
}
