// Package publish writes pages (package plate) as files: PNG of 8 or 16 bits, JPEG and
// PDF. A page is painted band by band, its pictures are drawn one after another at the
// size that they have on it, and nothing larger than a few of them is in memory.
package publish

import (
	"context"
	"image"
	"sync"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/render"
)

// Source makes the pictures of a roll's frames.
type Source struct {
	Roll  *film.Roll
	Shown render.Shown                         // how frames are shown that are not shown salvaged
	Open  func(frame int) (scan.Source, error) // nil: the previews are all there is, which is quick
}

// draw draws a picture of a page at w x h pixels.
// room is that of a picture which is written, nil where there is none.
func (s Source) draw(ctx context.Context, pic plate.Picture, w, h int, j *Job, room []uint16) (*render.Deep, error) {
	space, scale := j.Space, j.Page.Scale()
	if pic.Frame < 0 || pic.Frame >= len(s.Roll.Frames) {
		return nil, nil
	}
	f := &s.Roll.Frames[pic.Frame]
	if f.Look == nil {
		return nil, nil
	}
	shown := s.Shown
	if pic.Salvaged && shown.Grade == "" {
		shown.Grade = s.Roll.Limits().Grade
	}
	if !pic.Salvaged {
		shown.Grade = ""
	}
	own, all, _ := shown.Of(s.Roll, pic.Frame)
	var open func() (scan.Source, error)
	if s.Open != nil {
		open = func() (scan.Source, error) { return s.Open(pic.Frame) }
	}
	p := render.Picture{Look: f.Look, Rel: f.Relation}
	if d := pic.Detail; d != nil {
		if d.Lift != 0 {
			all = lifted(all, d.Lift)
		}
		p.Adjust = render.Corrected(own, all)
		if b := s.Roll.Base; b >= 0 && s.Roll.Frames[b].Look != nil {
			p.Base = s.Roll.Frames[b].Look.Area
		}
		p.ToThis = f.Map
		full := image.Pt(w, h)
		if j.shrunk > 0 && j.shrunk < 1 { // what is 1:1 on the page
			full = image.Pt(max(w, int(float64(w)/j.shrunk+0.5)), max(h, int(float64(h)/j.shrunk+0.5)))
		}
		deep, err := render.ExactDetail{Picture: p, Open: open, Centre: d.At, W: full.X, H: full.Y, Space: space}.Draw(ctx)
		return reduced(deep, w, h), err
	}
	p.Adjust = render.Corrected(own, all)
	e := render.Exact{Picture: p, Open: open, Crop: cropTo(f.Look.Area, w, h), W: w, H: h, Space: space, Room: room}
	if pic.Masks {
		e.Masks = render.Overlay{Blown: true, Blocked: true, Noisy: true, Scale: scale}
	}
	d, err := e.Draw(ctx)
	if d != nil {
		outline(d, pic.Outlines, scale)
	}
	return d, err
}

// lifted returns a correction with so many stops of exposure more.
func lifted(s correction.Settings, stops float64) correction.Settings {
	s = s.Clone()
	s.Exposure += stops
	return s
}

// cropTo returns the middle of an image area in the proportions w:h, where they differ by
// no more than the uncertainty of finding the film's edge; else the area.
func cropTo(area image.Rectangle, w, h int) image.Rectangle {
	a, b := float64(area.Dx())/float64(area.Dy()), float64(w)/float64(h)
	const near = 1.07
	switch {
	case a > b && a < b*near:
		cut := area.Dx() - int(float64(area.Dy())*b+0.5)
		area.Min.X += cut / 2
		area.Max.X -= cut - cut/2
	case b > a && b < a*near:
		cut := area.Dy() - int(float64(area.Dx())/b+0.5)
		area.Min.Y += cut / 2
		area.Max.Y -= cut - cut/2
	}
	return area
}

// outline draws boxes into a picture: a light line between two dark ones, seen on every
// ground.
func outline(d *render.Deep, boxes [][4]float64, scale float64) {
	t := max(1, int(scale+0.5))
	for _, b := range boxes {
		x0, y0 := int(b[0]*float64(d.W)), int(b[1]*float64(d.H))
		x1, y1 := int(b[2]*float64(d.W)), int(b[3]*float64(d.H))
		for k, v := range []uint16{0x2000, 0xFFFF, 0x2000} {
			frameOf(d, x0+(k-1)*t, y0+(k-1)*t, x1-(k-1)*t, y1-(k-1)*t, t, v)
		}
	}
}

func frameOf(d *render.Deep, x0, y0, x1, y1, t int, v uint16) {
	set := func(ax, ay, bx, by int) {
		for y := max(0, ay); y < min(d.H, by); y++ {
			for x := max(0, ax); x < min(d.W, bx); x++ {
				o := 3 * (y*d.W + x)
				d.Pix[o], d.Pix[o+1], d.Pix[o+2] = v, v, v
			}
		}
	}
	set(x0, y0, x1, y0+t)
	set(x0, y1-t, x1, y1)
	set(x0, y0, x0+t, y1)
	set(x1-t, y0, x1, y1)
}

// Job is a page to be written.
type Job struct {
	Page     *plate.Page
	Source   Source
	Space    colour.Display
	Progress func(done, total int) // pictures; called from one goroutine at a time; nil: nobody looks

	shrunk float64 // the page is drawn at this share of its size; 0: as it is
}

// developed is a picture that is made, or was.
type developed struct {
	deep *render.Deep
	err  error
	done chan struct{}
}

// gallery makes the pictures of a page in the order in which bands need them, a few
// ahead, and drops those that are written.
type gallery struct {
	job   Job
	order []int // of the page's pictures, by their upper edge
	rects []image.Rectangle

	mu    sync.Mutex
	made  map[int]*developed
	next  int // of order: begun before it
	ended int
	// rooms are of pictures that were written: to take and to clear tens of megabytes anew
	// for each picture costs more than to fill them.
	rooms [][]uint16
}

func newGallery(j Job) *gallery {
	g := &gallery{job: j, made: map[int]*developed{}}
	for i, p := range j.Page.Pictures {
		g.order = append(g.order, i)
		g.rects = append(g.rects, j.Page.Rect(p.Box))
	}
	for i := 1; i < len(g.order); i++ {
		for k := i; k > 0 && g.rects[g.order[k]].Min.Y < g.rects[g.order[k-1]].Min.Y; k-- {
			g.order[k], g.order[k-1] = g.order[k-1], g.order[k]
		}
	}
	return g
}

// begin starts pictures until the i-th of the order and as many more as there are
// processors.
func (g *gallery) begin(ctx context.Context, i int, slots chan struct{}) {
	for g.next <= i && g.next < len(g.order) {
		k := g.order[g.next]
		d := &developed{done: make(chan struct{})}
		g.made[k] = d
		g.next++
		go func() {
			slots <- struct{}{}
			defer func() {
				<-slots
				close(d.done)
			}()
			r := g.rects[k]
			d.deep, d.err = g.job.Source.draw(ctx, g.job.Page.Pictures[k], r.Dx(), r.Dy(), &g.job, g.room(3*r.Dx()*r.Dy()))
			g.mu.Lock()
			g.ended++
			if g.job.Progress != nil && ctx.Err() == nil {
				g.job.Progress(g.ended, len(g.order))
			}
			g.mu.Unlock()
		}()
	}
}

// drop lets a picture go that is written.
func (g *gallery) drop(k int) {
	d := g.made[k]
	delete(g.made, k)
	if d == nil {
		return
	}
	select {
	case <-d.done:
	default: // nobody waited for it: it is not on the page
		return
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if d.deep != nil && len(g.rooms) < parallel.Workers(0, len(g.order)) {
		g.rooms = append(g.rooms, d.deep.Pix)
	}
}

// room returns the room of a picture that was dropped and had as many values at least, or nil.
func (g *gallery) room(n int) []uint16 {
	g.mu.Lock()
	defer g.mu.Unlock()
	for i, r := range g.rooms {
		if cap(r) >= n {
			g.rooms = append(g.rooms[:i], g.rooms[i+1:]...)
			return r
		}
	}
	return nil
}

// bands paints a page band by band, from the top.
type bands struct {
	g     *gallery
	slots chan struct{}
	strip *image.RGBA // of the marks, the last one painted
}

func newBands(j Job) *bands {
	return &bands{g: newGallery(j), slots: make(chan struct{}, parallel.Workers(0, len(j.Page.Pictures)))}
}

// placedPicture is a picture at its place.
type placedPicture struct {
	image.Rectangle
	deep *render.Deep
}

// at returns the pictures that rows y0..y1 show; those above are dropped.
func (b *bands) at(ctx context.Context, y0, y1 int) (out []placedPicture, err error) {
	g := b.g
	for n, k := range g.order {
		r := g.rects[k]
		if r.Max.Y <= y0 {
			g.drop(k)
			continue
		}
		if r.Min.Y >= y1 {
			break
		}
		g.begin(ctx, n+cap(b.slots), b.slots)
		d := g.made[k]
		select {
		case <-d.done:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		if d.err != nil {
			return nil, d.err
		}
		if d.deep != nil {
			out = append(out, placedPicture{r, d.deep})
		}
	}
	return out, nil
}
