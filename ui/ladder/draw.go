package ladder

import (
	"image"
	"image/draw"
	"math"
	"path/filepath"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
)

// drawing holds what drawing keeps from one time to the next. All of it belongs
// to the window's goroutine; a rung is drawn anew only when it has changed, so
// that moving the marker costs two rungs and a copy.
type drawing struct {
	raster  *canvas.Raster
	sheets  paper.Sheets
	scale   float64 // device pixels per unit
	placed  []row.Placed
	width   int // device pixels that placed and density were made for
	density row.Density
	rungs   map[string]*drawnRung
}

// drawnRung is a rung as it was drawn last, and all that it was drawn from.
type drawnRung struct {
	look key
	img  *image.RGBA
}

// key tells whether a rung must be drawn again. Readings are never changed in
// place, so their pointers tell.
type key struct {
	w, h             int
	scale            float64
	look             *measure.Look
	rel              *measure.Relation
	thumb, crop      *image.RGBA
	stop             float64
	verdict, note    string
	suggested        string
	state            row.State
	percent          int
	message          string
	base, in, cur    bool
	pending          bool
	scales           row.Scales
	label, shownName string
	truth            truth
}

// truth is what the roll as a whole told of a frame, by value.
type truth struct {
	measured, err, flatLight, flatDark float64
	reg                                [5]float64
	head                               [2 * measure.Bands]float64
	reason                             string
	known                              [4]bool
}

func truthOf(d *row.Data) (t truth) {
	put := func(to *float64, known *bool, from *float64) {
		if from != nil && !math.IsNaN(*from) {
			*to, *known = *from, true
		}
	}
	put(&t.measured, &t.known[0], d.MeasuredStop)
	put(&t.err, &t.known[1], d.MeasuredStopError)
	put(&t.flatLight, &t.known[2], d.FlatLight)
	put(&t.flatDark, &t.known[3], d.FlatDark)
	t.reason = d.MeasuredReason
	if d.Registration != nil {
		g := d.Registration
		t.reg = [5]float64{g.DX, g.DY, g.Rotation, g.Confidence, float64(g.How)}
	}
	for b, h := range d.Headroom {
		if h != nil && h.Blown != nil {
			t.head[2*b] = *h.Blown
		}
		if h != nil && h.Blocked != nil {
			t.head[2*b+1] = *h.Blocked
		}
	}
	return t
}

func (p *drawing) init() { p.scale, p.rungs = 1, map[string]*drawnRung{} }

func (p *drawing) forget() { p.rungs = map[string]*drawnRung{} }

// Refresh implements fyne.Widget: it draws anew at the next frame.
func (l *Ladder) Refresh() {
	if l.picture.raster != nil {
		l.picture.raster.Refresh()
	}
}

// Resize implements fyne.Widget.
func (l *Ladder) Resize(size fyne.Size) {
	l.BaseWidget.Resize(size)
	if !l.state.Empty() {
		l.follow()
	}
}

// draw paints the whole ladder.
func (l *Ladder) draw() image.Image {
	w, h, scale := paper.Device(l)
	p := &l.picture
	img := p.sheets.Next(w, h)
	if p.scale != scale {
		p.forget()
	}
	p.scale = scale
	c := paint.New(img, scale)
	c.Fill(img.Rect, c.Pal.Surround)
	l.layout()
	head, axis := c.Px(l.header()), c.Px(axisWidth)
	if body := w - axis; body != p.width || p.placed == nil && p.density == row.Figures {
		columns := false
		p.width, p.placed = body, nil
		if p.density, columns = l.density(float64(l.Size().Width) - axisWidth); columns {
			p.placed = row.Arrange(body, scale, l.columns)
		}
		p.forget()
	}
	if l.state.Empty() {
		l.drawEmpty(c, image.Rect(0, head, w, h))
		return img
	}
	rows := l.withCrops(l.state.Rows())
	if t := l.trial; t != nil {
		rows = slices.Clone(rows)
		for i := range rows {
			d := *rows[i]
			d.InRange = t.Contains(d.Stop)
			rows[i] = &d
		}
	}
	l.cropSize()
	full := image.Rect(axis, head, w, h)
	for i, d := range rows {
		s := l.geo.slots[i]
		top := head + int(math.Round((s.top-l.geo.offset)*scale))
		bottom := head + int(math.Round((s.top+s.height-l.geo.offset)*scale))
		r := image.Rect(axis, top, w, bottom)
		if r.Intersect(full).Empty() {
			continue
		}
		part := l.rungImage(l.state.Roll().Frames[i].File, d, r.Dx(), r.Dy(), s.height)
		draw.Draw(img, r.Intersect(full), part, r.Intersect(full).Min.Sub(r.Min), draw.Src)
		if i < len(l.readout) && p.density == row.Multiples && d.State == row.Ready {
			row.PlaceMultiple(scale, r, s.height).DrawWhy(c.Clipped(full), d, l.readout[i])
		}
		if i == l.hot && !d.Current {
			c.Clipped(full).Frame(r, 1, c.Pal.Rule)
		}
	}
	yOf := func(stop float64) float64 { return float64(head) + l.geo.y(stop)*scale }
	if p.density == row.Figures {
		row.DrawColumns(c.Clipped(full), full, p.placed, func(stop float64) float64 { return float64(head) + l.geo.rowY(stop)*scale }, rows)
	}
	l.drawAxis(c.Clipped(image.Rect(0, head, w, h)), image.Rect(0, head, axis, h), yOf, rows)
	top := image.Rect(axis, 0, w, head)
	c.Fill(image.Rect(0, 0, w, head), c.Pal.Surround)
	l.drawHeader(c, top, rows)
	l.drawMore(c, image.Rect(0, head, w, h))
	return img
}

// SetCrop shows a detail in the place of a frame's picture, while the state has one.
func (l *Ladder) SetCrop(file string, img *image.RGBA) {
	if l.crops == nil {
		l.crops = map[string]*image.RGBA{}
	}
	if l.crops[file] != img {
		l.crops[file] = img
		l.Refresh()
	}
}

// withCrops returns the rows with the details that the ladder has of them.
func (l *Ladder) withCrops(rows []*row.Data) []*row.Data {
	if _, on := l.state.Detail(); !on || l.picture.density != row.Multiples || len(l.crops) == 0 {
		return rows
	}
	rows = slices.Clone(rows)
	for i, f := range l.state.Roll().Frames {
		if img := l.crops[f.File]; img != nil {
			d := *rows[i]
			d.Crop = img
			rows[i] = &d
		}
	}
	return rows
}

// cropSize tells the size of a detail in device pixels, when it has changed.
func (l *Ladder) cropSize() {
	w, h := 0, 0
	if l.picture.density == row.Multiples && len(l.geo.slots) > 0 {
		height := l.geo.slots[0].height
		r := row.PlaceMultiple(l.picture.scale, image.Rect(0, 0, l.picture.width, int(math.Round(height*l.picture.scale))), height).Picture
		w, h = r.Dx(), r.Dy()
	}
	if at := image.Pt(w, h); at != l.cropOf && l.OnCropSize != nil {
		l.cropOf = at
		l.OnCropSize(w, h)
	}
}

// drawHeader draws the heads of what the rungs show.
func (l *Ladder) drawHeader(c *paint.Canvas, r image.Rectangle, rows []*row.Data) {
	p := &l.picture
	low := image.Rect(c.Px(8), r.Max.Y-c.Px(20), r.Min.X, r.Max.Y)
	switch p.density {
	case row.Figures:
		row.DrawHeader(c, r, p.placed, rows...)
		low.Min.Y, low.Max.Y = 0, r.Max.Y/2
	case row.Multiples:
		first := image.Rect(r.Min.X, 0, r.Max.X, int(math.Round(l.geo.slots[0].height*p.scale)))
		row.MultipleHeader(c, image.Rect(r.Min.X, low.Min.Y, r.Max.X, r.Max.Y), first, l.geo.slots[0].height, l.pictureHead(rows))
	default:
		c.TextIn(image.Rect(r.Min.X+c.Px(6), low.Min.Y, r.Max.X, r.Max.Y), "Verdict", paint.Style{Size: theme.Figure, Col: c.Pal.Dim})
	}
	c.TextIn(low, "Stops", paint.Style{Size: theme.Figure, Col: c.Pal.Dim})
}

// pictureHead names what stands in the pictures' place.
func (l *Ladder) pictureHead(rows []*row.Data) string {
	for _, d := range rows {
		if d.Crop != nil {
			return "detail at 1:1"
		}
	}
	return "frame"
}

func (l *Ladder) drawEmpty(c *paint.Canvas, r image.Rectangle) {
	x := r.Min.X + c.Px(22)
	c.VLine(x, r.Min.Y+c.Px(20), r.Max.Y-c.Px(20), 1, c.Pal.Rule)
	for i := range 8 {
		y := r.Min.Y + c.Px(20) + (r.Dy()-c.Px(40))*i/7
		c.HLine(x, x+c.Px(6), y, 1, c.Pal.Rule)
	}
}

// rungImage returns the drawn rung of a frame, drawing it when it has changed.
func (l *Ladder) rungImage(file string, d *row.Data, w, h int, height float64) *image.RGBA {
	p := &l.picture
	k := key{w: w, h: h, scale: p.scale, look: d.Look, rel: d.Rel, thumb: d.Thumb, crop: d.Crop, suggested: d.Suggested, stop: d.Stop,
		verdict: string(d.Verdict), note: d.Note, state: d.State, percent: int(d.Progress * 50), message: d.Message,
		base: d.Base, in: d.InRange, cur: d.Current, pending: d.Pending, scales: d.Scales, label: d.Label, shownName: filepath.Base(file), truth: truthOf(d)}
	if had := p.rungs[file]; had != nil && had.look == k {
		return had.img
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	switch c := paint.New(img, p.scale); p.density {
	case row.Figures:
		row.DrawRung(c, img.Rect, p.placed, d)
	case row.Multiples:
		row.DrawMultiple(c, img.Rect, height, d)
	default:
		row.DrawMarks(c, img.Rect, d)
	}
	p.rungs[file] = &drawnRung{look: k, img: img}
	return img
}

// drawAxis draws the axis with the marker and the posts. Without a range the
// posts wait at the ends of the ladder, hollow, so that there is something to
// take hold of.
func (l *Ladder) drawAxis(c *paint.Canvas, r image.Rectangle, yOf func(float64) float64, rows []*row.Data) {
	var at, to []float64
	for i, f := range l.state.Roll().Frames {
		s := l.geo.slots[i]
		at, to = append(at, f.Stop), append(to, float64(r.Min.Y)+(s.top+s.height/2-l.geo.offset)*c.Scale)
	}
	current := l.state.Roll().Frames[l.state.Current()].Stop
	y := int(math.Round(yOf(l.state.Marker())))
	// Under the axis: a band at the frame that is shown.
	half := c.Px(11)
	yc := int(math.Round(yOf(current)))
	c.Fill(image.Rect(r.Min.X+c.Px(2), yc-half, r.Max.X, yc+half), c.Pal.Current)
	row.DrawAxisTo(c, r, yOf, l.geo.lo, l.geo.hi, at, to)
	hot := 0
	switch {
	case l.grip == upperPost || l.grip == nothing && l.over == upperPost:
		hot = 1
	case l.grip == lowerPost || l.grip == nothing && l.over == lowerPost:
		hot = -1
	}
	rg := l.trial
	if rg == nil {
		rg = l.state.Range()
	}
	row.DrawRange(c, r, yOf, row.RangeMarks{Judge: rg, Measured: row.MeasuredRange(l.state.Film().Range()), Hot: hot})
	if rg == nil {
		lo, hi := l.posts()
		for end, stop := range map[int]float64{1: hi, -1: lo} {
			post := row.PostRect(r, c.Scale, yOf(stop))
			col := paint.Alpha(c.Pal.Judge, 0.75)
			if hot == end {
				col = c.Pal.Judge
			}
			c.Frame(post.Inset(-c.Px(1)), 1.5, col)
		}
	}
	row.DrawMeasured(c, r, yOf, l.geo.lo, l.geo.hi, rows)
	// The marker: a wedge at the left edge, level with the stop that is looked at.
	fx, fy := float64(r.Min.X)+c.U(11), float64(y)+0.5
	c.Area([]paint.Pt{{X: fx, Y: fy}, {X: fx - c.U(9), Y: fy - c.U(6)}, {X: fx - c.U(9), Y: fy + c.U(6)}}, c.Pal.White)
}

// drawMore shows that there are rungs above or below what is seen.
func (l *Ladder) drawMore(c *paint.Canvas, r image.Rectangle) {
	if l.geo.content <= l.geo.view+0.5 {
		return
	}
	// A slim bar at the right edge, as long as the part that is seen.
	track := image.Rect(r.Max.X-c.Px(4), r.Min.Y, r.Max.X-c.Px(1), r.Max.Y)
	c.Fill(track, c.Pal.Well)
	h := float64(track.Dy())
	y0 := track.Min.Y + int(h*l.geo.offset/l.geo.content)
	y1 := track.Min.Y + int(h*(l.geo.offset+l.geo.view)/l.geo.content)
	c.Fill(image.Rect(track.Min.X, y0, track.Max.X, y1), c.Pal.Strong)
}
