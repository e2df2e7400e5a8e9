package sheet

import (
	"image"
	"math"

	"stopladder/analysis/ink"
	"stopladder/analysis/rung"
)

// Measures of the sheet in units; the whole width is unitsWide, so type keeps
// its share of the sheet at every size.
const (
	unitsWide = 1440.0
	margin    = 36.0
	centreMin = 600.0 // the axis and its columns
	flankGap  = 16.0  // between the rows and the pictures
	caption   = 20.0  // under a picture
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
	foot          image.Rectangle

	yOf     func(stop float64) float64
	lo, hi  float64           // ends of the axis, stops
	row     []image.Rectangle // per frame
	picture []image.Rectangle // per frame: the box a picture and its caption have
	left    []bool            // the picture stands left of the axis
	notes   [][]string        // the foot's wrapped assumptions
}

// plan lays the sheet out. Frames stand in order from the top.
func plan(c *ink.Canvas, in Input, frames []Frame) *layout {
	l := &layout{width: int(math.Round(unitsWide * c.Scale))}
	u := func(v float64) int { return int(math.Round(v * c.Scale)) }
	n := len(frames)

	aspect := pictureAspect(frames)
	inner := unitsWide - 2*margin
	flankMax := (inner-centreMin)/2 - flankGap

	// The pitch is the distance of neighbouring rows. Two rungs hold a picture.
	pitch := math.Min(pitchMax, (flankMax/aspect+caption+between)/2)
	lo, hi, gapMin := extent(frames)
	span := hi - lo
	// A sheet is not taller than the A series is (1 : sqrt 2), unless the frames
	// are so many that they could not be read.
	room := unitsWide*math.Sqrt2 - titleBand - rung.HeaderHeight - 230
	perStop := 0.0
	if span > 0 {
		most := span/gapMin + 1
		pitch = math.Max(pitchMin, math.Min(pitch, room/most))
		perStop = pitch / gapMin
		if span*perStop+pitch > room { // uneven steps: the rows give way, the axis stays true
			perStop = (math.Max(room, float64(n)*pitch) - pitch) / span
		}
	} else {
		perStop = pitch
	}
	rowsH := span*perStop + math.Max(pitch, 2*pitch) // half a picture beyond each end
	rowsH = math.Max(rowsH, float64(n)*pitch+pitch)
	if n == 0 {
		rowsH = 160
	}
	pictureH := 2*pitch - between // with its caption
	flank := math.Min(flankMax, (pictureH-caption)*aspect)
	if n == 1 {
		flank = flankMax
	}

	// From the top down.
	l.title = image.Rect(u(margin), u(margin*0.8), u(unitsWide-margin), u(margin*0.8+titleBand))
	top := margin*0.8 + titleBand + rung.HeaderHeight
	cx0, cx1 := margin+flank+flankGap, unitsWide-margin-flank-flankGap
	if n == 1 {
		cx1 = unitsWide - margin
	}
	l.ladder = image.Rect(u(margin), u(top), u(unitsWide-margin), u(top+rowsH))
	l.axis = image.Rect(u(cx0), l.ladder.Min.Y, u(cx0+rung.AxisWidth), l.ladder.Max.Y)
	l.rows = image.Rect(l.axis.Max.X, l.ladder.Min.Y, u(cx1), l.ladder.Max.Y)
	l.head = image.Rect(l.rows.Min.X, u(top-rung.HeaderHeight), l.rows.Max.X, u(top))

	mid := float64(l.ladder.Min.Y+l.ladder.Max.Y) / 2
	centre := (lo + hi) / 2
	l.yOf = func(stop float64) float64 { return mid - (stop-centre)*perStop*c.Scale }
	beyond := 0.5
	if perStop > 0 {
		beyond = math.Min(0.5, 0.9*pitch/perStop)
	}
	l.lo, l.hi = lo-beyond, hi+beyond

	l.place(c, frames, pitch, pictureH, flank)
	foot := l.ladder.Max.Y + u(18)
	l.notes = footNotes(c, in, frames)
	l.foot = image.Rect(u(margin), foot, u(unitsWide-margin), foot+u(footHeight(l.notes)))
	l.height = l.foot.Max.Y + u(margin*0.7)
	return l
}

// place stands rows and pictures at their stops and moves them apart where
// stops lie closer than a row is high.
func (l *layout) place(c *ink.Canvas, frames []Frame, pitch, pictureH, flank float64) {
	n := len(frames)
	if n == 0 {
		return
	}
	u := func(v float64) float64 { return v * c.Scale }
	want, sizes := make([]float64, n), make([]float64, n)
	for i, f := range frames {
		want[i], sizes[i] = l.yOf(f.Data.Stop), u(pitch)-1e-6
	}
	at := rung.Spread(want, sizes, float64(l.ladder.Min.Y), float64(l.ladder.Max.Y))
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
				// The picture itself, without its caption, is centred on the rung.
				cy = append(cy, at[i]+u(caption)/2)
				hs = append(hs, u(pictureH+between)-1e-6)
			}
		}
		ys := rung.Spread(cy, hs, float64(l.ladder.Min.Y), float64(l.ladder.Max.Y)+u(caption))
		for k, i := range idx {
			x0 := l.ladder.Min.X
			if !left {
				x0 = l.ladder.Max.X - int(math.Round(u(flank)))
			}
			l.picture[i] = image.Rect(x0, int(math.Round(ys[k]-u(pictureH)/2)), x0+int(math.Round(u(flank))), int(math.Round(ys[k]+u(pictureH)/2)))
		}
	}
}

// extent is the lowest and highest stop and the smallest distance of two
// different ones.
func extent(frames []Frame) (lo, hi, gap float64) {
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

// pictureAspect is the median width over height of the frames, kept within what
// a sheet can hold.
func pictureAspect(frames []Frame) float64 {
	var all []float64
	for _, f := range frames {
		d := f.Data
		switch {
		case d.Look != nil && !d.Look.Area.Empty():
			all = append(all, float64(d.Look.Area.Dx())/float64(d.Look.Area.Dy()))
		case d.Thumb != nil && !d.Thumb.Rect.Empty():
			all = append(all, float64(d.Thumb.Rect.Dx())/float64(d.Thumb.Rect.Dy()))
		}
	}
	if len(all) == 0 {
		return 1.5
	}
	for i := range all {
		for j := i; j > 0 && all[j] < all[j-1]; j-- {
			all[j], all[j-1] = all[j-1], all[j]
		}
	}
	return math.Max(0.66, math.Min(2.2, all[len(all)/2]))
}
