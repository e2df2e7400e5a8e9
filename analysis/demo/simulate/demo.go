package simulate

import (
	"context"
	"fmt"
	"image"
	"sync"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/scan"
)

// Demo is the built-in roll: eight frames of the courtyard, -3 to +4 stops,
// rendered when they are first read. It is safe for concurrent use.
type Demo struct {
	Kind     string // "reversal" or "negative"
	Title    string // "Courtyard"
	Stock    string // the stock's name
	Exposure string // the base exposure, as a judge would write it
	stock    Stock
	o        Options
	film     func() (*film, error)
	frames   []*demoSource
}

// NewDemo prepares the roll of a kind, "reversal" or "negative". Nothing is
// rendered yet.
func NewDemo(kind string) (*Demo, error) { return NewDemoOf(kind, 0, 0) }

// NewDemoOf is NewDemo with frames of another size in pixels.
func NewDemoOf(kind string, w, h int) (*Demo, error) {
	d := &Demo{Kind: kind, Title: "Courtyard"}
	switch kind {
	case "reversal":
		d.stock, d.Exposure = Reversal(), "f/11 1/125, incident, full sun"
	case "negative":
		d.stock, d.Exposure = Negative(), "f/16 1/250, incident, full sun"
	default:
		return nil, fmt.Errorf("there is no demo roll %q: take \"reversal\" or \"negative\"", kind)
	}
	d.Stock = d.stock.Name
	d.o = Options{Seed: 1963, Stops: DefaultStops(), MaxShift: 0.008, MaxRotation: 0.3, ShutterError: 0.08, Border: true, W: w, H: h}
	d.film = sync.OnceValues(func() (*film, error) {
		r, err := scene.Embedded()
		if err != nil {
			return nil, err
		}
		return expose(r, &d.stock), nil
	})
	for i, s := range d.o.Stops {
		d.frames = append(d.frames, &demoSource{d: d, name: d.Names()[i], stop: s})
	}
	return d, nil
}

// Names returns the frames' file names, in the order of Stops.
func (d *Demo) Names() []string {
	n := make([]string, len(d.o.Stops))
	for i, s := range d.o.Stops {
		n[i] = fmt.Sprintf("courtyard %+g.tif", s)
		if s == 0 {
			n[i] = "courtyard 0.tif"
		}
	}
	return n
}

// Stops returns the frames' labels, rising.
func (d *Demo) Stops() []float64 { return append([]float64(nil), d.o.Stops...) }

// Open returns frame i. Info answers at once, the first Stream or Region
// renders the frame, and it is kept. All calls for one i share one frame.
func (d *Demo) Open(i int) scan.Source { return d.frames[i] }

// Truth of frame i.
func (d *Demo) Truth(i int) (*Truth, error) {
	s, err := d.frames[i].shot()
	if err != nil {
		return nil, err
	}
	return s.truth(), nil
}

type demoSource struct {
	d    *Demo
	name string
	stop float64
	mu   sync.Mutex
	pix  *scan.Pixels
}

func (f *demoSource) shot() (*shot, error) {
	film, err := f.d.film()
	if err != nil {
		return nil, err
	}
	return prepareFilm(film, &f.d.stock, f.d.o, f.stop)
}

// Info returns known without rendering.
func (f *demoSource) Info() scan.Info {
	// The layout depends on the scene's size alone.
	s := &shot{o: f.d.o, film: &film{w: scene.EmbeddedWidth, h: scene.EmbeddedHeight}}
	if err := s.place(); err != nil {
		return scan.Info{Path: "demo:" + f.name}
	}
	return s.info("demo:" + f.name)
}

func (f *demoSource) pixels(ctx context.Context) (*scan.Pixels, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.pix != nil {
		return f.pix, nil
	}
	s, err := f.shot()
	if err != nil {
		return nil, err
	}
	p, err := s.pixels(ctx)
	if err != nil {
		return nil, err
	}
	p.Header.Path = "demo:" + f.name
	f.pix = p
	return p, nil
}

func (f *demoSource) Stream(ctx context.Context, fn func(y int, rows []uint16) error) error {
	p, err := f.pixels(ctx)
	if err != nil {
		return err
	}
	return p.Stream(ctx, fn)
}

func (f *demoSource) Region(ctx context.Context, r image.Rectangle) ([]uint16, error) {
	p, err := f.pixels(ctx)
	if err != nil {
		return nil, err
	}
	return p.Region(ctx, r)
}

// ReadsRegions reports whether a part of the frame costs no more than that part: the
// frame is kept once it is rendered.
func (f *demoSource) ReadsRegions() bool { return true }
