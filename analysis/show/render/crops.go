package render

import (
	"image"
	"sync"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"

	"golang.org/x/image/math/f64"
)

// CropFrame is a frame of which a detail is wanted.
type CropFrame struct {
	Key     any                         // the frame; comparable
	Picture Picture                     // Look, Base, ToThis and Adjust count; masks are not drawn
	Open    func() (scan.Source, error) // for full resolution; nil: the preview is all there is. Called in a worker
}

// CropRequest asks for the same detail of the scene in several frames.
type CropRequest struct {
	Centre image.Point // pixel of the base frame, full resolution
	W, H   int         // device pixels
	Zoom   float64     // device pixels per base pixel; 0 is 1, pixel for pixel
	Frames []CropFrame // what is wanted first stands first
}

// Crop is a detail of one frame.
type Crop struct {
	Key any
	// Image is W x H, surround where the scan does not reach; it belongs to the receiver and
	// is not changed any more. nil: the frame has no picture.
	Image *image.RGBA
	// Fine says that it is as sharp as it will get. Else the preview stands in, and another
	// one follows.
	Fine bool
	Err  error // full resolution could not be read; the preview is all there will be, and Fine is set
}

// Crops draws the same detail of many frames at full resolution, registered and corrected
// as the frames are: at once from the previews, then from the scans, read in the order of
// the request. Only the newest request counts. It is safe for concurrent use.
//
// Regions of uncompressed scans are read alone. Of others the rows down to the detail are
// decoded, or the scan is held whole where it is small beside the budget.
type Crops struct {
	done    func(Crop)
	details *Detailer

	mu     sync.Mutex
	wake   *sync.Cond
	req    CropRequest
	number uint64 // counts requests
	fresh  bool   // req was not begun
	closed bool
	was    map[any]Picture // what of earlier requests may serve again
	failed map[any]*cropFailure

	tell sync.Mutex // one at a time, in order
	told map[any]toldCrop
}

// cropFailure is why full resolution of a frame cannot be had; it holds for a look.
type cropFailure struct {
	look *measure.Look
	err  error
}

// toldCrop is what a crop depends on that was handed over.
type toldCrop struct {
	look   *measure.Look
	base   image.Rectangle
	toThis f64.Aff3
	adjust *Correction
	centre image.Point
	w, h   int
	zoom   float64
	fine   bool
	number uint64
}

// CropBudget is the memory in bytes that NewCrops takes for 0: the details of thirty
// frames on a dense screen, and small scans whole.
const CropBudget = 96 << 20

// NewCrops starts the workers. budget bounds what is kept of the scans, in bytes; 0 is
// CropBudget. done is called from a worker, one call at a time, whenever there is a better
// crop of a frame than was handed over before; it may call Request. Close ends it.
func NewCrops(budget int64, done func(Crop)) *Crops {
	if budget <= 0 {
		budget = CropBudget
	}
	c := &Crops{done: done, was: map[any]Picture{}, failed: map[any]*cropFailure{}, told: map[any]toldCrop{}}
	c.wake = sync.NewCond(&c.mu)
	c.details = NewDetailer(budget, c.read)
	go c.work()
	return c
}

// Request asks for a detail, in place of what was asked for before. It returns at once.
// What was handed over already and would be the same is not drawn again. An empty request
// stops all work.
func (c *Crops) Request(r CropRequest) {
	if !(r.Zoom > 0) {
		r.Zoom = 1
	}
	r.Frames = append([]CropFrame(nil), r.Frames...)
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return
	}
	c.number++
	c.req, c.fresh = r, true
	c.wake.Signal()
}

// Forget drops all that was read and drawn: another roll is opened, or whoever asks has
// dropped the crops.
func (c *Crops) Forget() {
	c.mu.Lock()
	c.number++
	c.req, c.fresh = CropRequest{}, false
	keys := c.was
	c.was, c.failed = map[any]Picture{}, map[any]*cropFailure{}
	c.mu.Unlock()
	c.details.Only()
	for k := range keys {
		c.details.Forget(k)
	}
	c.tell.Lock()
	clear(c.told)
	c.tell.Unlock()
}

// Close ends all work; nothing is handed over after it, but for a call of done that runs.
func (c *Crops) Close() {
	c.mu.Lock()
	c.closed = true
	c.number++
	c.req, c.fresh = CropRequest{}, false
	c.wake.Signal()
	c.mu.Unlock()
	go c.details.Close() // not waited for: a decoder may need a second to notice
}

func (c *Crops) work() {
	for {
		c.mu.Lock()
		for !c.fresh && !c.closed {
			c.wake.Wait()
		}
		if c.closed {
			c.mu.Unlock()
			return
		}
		r, number := c.req, c.number
		c.fresh = false
		c.mu.Unlock()
		c.serve(r, number)
	}
}

// serve draws what there is and asks for what is not there.
func (c *Crops) serve(r CropRequest, number uint64) {
	var wanted []any
	for i, f := range r.Frames {
		if !c.current(number) {
			return
		}
		pic := c.adopted(f)
		rect, step, ok := Wanted(pic, cropView(pic, r), r.W, r.H)
		failed := c.failure(f)
		fine := !ok || f.Open == nil || failed != nil
		if !fine {
			wanted = append(wanted, f.Key)
			d := c.details.Request(DetailRequest{Key: f.Key, Open: f.Open, Look: pic.Look, Rect: rect, Step: step, Priority: len(r.Frames) - i})
			if d != nil {
				pic.Detail, fine = d, true
			}
		}
		c.draw(r, number, f.Key, pic, fine, failed)
	}
	if c.current(number) {
		c.details.Only(wanted...)
	}
}

func (c *Crops) current(number uint64) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.number == number && !c.closed
}

func (c *Crops) failure(f CropFrame) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if e := c.failed[f.Key]; e != nil && e.look == f.Picture.Look {
		return e.err
	}
	return nil
}

// adopted returns the picture of a frame with the reduced code values that it had before.
func (c *Crops) adopted(f CropFrame) Picture {
	p := f.Picture
	p = Picture{Look: p.Look, Base: p.Base, ToThis: p.ToThis, Adjust: p.Adjust}
	c.mu.Lock()
	defer c.mu.Unlock()
	was := c.was[f.Key]
	p.PrepareCodes(&was)
	c.was[f.Key] = p
	return p
}

// read is called by the loader when full resolution of a frame is there.
func (c *Crops) read(res DetailResult) {
	c.mu.Lock()
	r, number := c.req, c.number
	if res.Err != nil && !c.closed {
		c.failed[res.Key] = &cropFailure{res.Look, res.Err}
	}
	c.mu.Unlock()
	for _, f := range r.Frames {
		if f.Key != res.Key || f.Picture.Look != res.Look {
			continue
		}
		pic := c.adopted(f)
		rect, step, ok := Wanted(pic, cropView(pic, r), r.W, r.H)
		switch d := res.Detail; {
		case res.Err != nil, !ok:
		case d.Covers(rect) && d.Step <= step && 2*d.Step > step:
			pic.Detail = d
		default:
			return // of a request before
		}
		c.draw(r, number, f.Key, pic, true, res.Err)
	}
}

// draw hands a crop over, unless what was handed over is the same or better.
func (c *Crops) draw(r CropRequest, number uint64, key any, pic Picture, fine bool, err error) {
	c.tell.Lock()
	defer c.tell.Unlock()
	now := toldCrop{look: pic.Look, base: pic.BaseArea(), toThis: pic.Map(), adjust: pic.Adjust,
		centre: r.Centre, w: r.W, h: r.H, zoom: r.Zoom, fine: fine, number: number}
	was, any := c.told[key]
	if any && was.number > number {
		return
	}
	if any {
		same := was
		same.number, same.fine = number, fine
		if same == now && (was.fine || !fine) {
			was.number = number
			c.told[key] = was
			return
		}
	}
	if !c.current(number) {
		return
	}
	c.told[key] = now
	c.done(Crop{Key: key, Image: cropped(pic, r), Fine: fine, Err: err})
}

// cropView is the view that shows a request's detail.
func cropView(p Picture, r CropRequest) View {
	return Port{Area: p.BaseArea(), W: r.W, H: r.H}.centredAt(View{Zoom: r.Zoom}, float64(r.Centre.X), float64(r.Centre.Y))
}

// cropped draws a detail from code values: nothing of the frame is developed.
func cropped(p Picture, r CropRequest) *image.RGBA {
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() || r.W <= 0 || r.H <= 0 {
		return nil
	}
	img := image.NewRGBA(image.Rect(0, 0, r.W, r.H))
	s, space := sample(&p, cropView(p, r), r.W, r.H, 1), p.Look.ColourSpace()
	parallel.Bands(r.H, func(y0, y1 int) {
		lin := make([]float32, 3*r.W)
		for y := y0; y < y1; y++ {
			row, in := line(img, y), s.in[y]
			lo, hi := int(in.lo), int(in.hi)
			fill(row, 0, lo, p.surround())
			fill(row, hi, r.W, p.surround())
			if lo == hi {
				continue
			}
			codes := s.pix[3*(r.W*y+lo) : 3*(r.W*y+hi)]
			if p.Adjust == nil || p.Adjust.Linear == nil {
				space.RGBA(row[4*lo:4*hi], codes)
				continue
			}
			space.Linear(lin[:len(codes)], codes)
			p.Adjust.rgba(row[4*lo:4*hi], lin[:len(codes)])
		}
	})
	return img
}
