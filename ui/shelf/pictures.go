package shelf

import (
	"context"
	"fmt"
	"image"
	"math"
	"path/filepath"
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/abreast"
	"stopladder/analysis/show/render"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/pane"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// pictures shows the same stop of each roll side by side, with one view: zoom and place are
// shared. Pictures lie on each other by their image areas.
type pictures struct {
	v      *versus
	object fyne.CanvasObject
	group  *pane.Group
	bar    *fyne.Container
	told   *canvas.Text
	stops  []float64 // that some roll has
	at     float64
	looks  map[string]*measure.Look // by file
	errs   map[string]error
}

func newPictures(v *versus) *pictures {
	p := &pictures{v: v, looks: map[string]*measure.Look{}, errs: map[string]error{}, told: text("", theme.Small, theme.Quiet)}
	p.group = pane.NewGroup(pane.Options{Do: v.w.host.Do})
	for _, e := range v.entries {
		for _, f := range e.Roll.Frames {
			if !slices.ContainsFunc(p.stops, func(s float64) bool { return math.Abs(s-f.Stop) < stops.Near }) {
				p.stops = append(p.stops, f.Stop)
			}
		}
	}
	slices.Sort(p.stops)
	for _, s := range p.stops {
		if math.Abs(s) < math.Abs(p.at-0) || s == p.stops[0] {
			p.at = s
		}
	}
	p.bar = container.NewHBox()
	p.object = container.NewBorder(page.Padded(0, 4, 14, 14, p.bar), page.Padded(4, 6, 14, 14, p.told), nil, nil, p.group)
	p.show(p.at)
	return p
}

func (p *pictures) close() {
	p.v.w.runner.Stop("side by side")
	p.group.Close()
}

func (p *pictures) typed(key fyne.KeyName) {
	i := slices.Index(p.stops, p.at)
	switch {
	case key == fyne.KeyUp && i+1 < len(p.stops):
		p.show(p.stops[i+1])
	case key == fyne.KeyDown && i > 0:
		p.show(p.stops[i-1])
	case key == fyne.KeyF:
		p.group.Fit()
	}
}

// show shows a stop of each roll.
func (p *pictures) show(stop float64) {
	p.at = stop
	p.bar.Objects = []fyne.CanvasObject{page.Padded(7, 0, 0, 6, text("Stop", theme.Body, theme.Quiet))}
	for _, s := range p.stops {
		c := chip.New(stops.Label(s), "", func() { p.show(s) })
		c.On = s == stop
		p.bar.Objects = append(p.bar.Objects, c)
	}
	p.bar.Objects = append(p.bar.Objects, page.Padded(0, 0, 10, 0, chip.New("Fit", "F", p.group.Fit)))
	p.bar.Refresh()
	p.told.Text = "As scanned. The wheel zooms, dragging moves, in all pictures alike; Up and Down go to the next stop."
	p.told.Refresh()
	p.slots()
	p.read()
}

// frame returns a roll's frame at the stop, -1 where it has none.
func (p *pictures) frame(r *roll.Roll) int {
	return slices.IndexFunc(r.Frames, func(f roll.Frame) bool { return math.Abs(f.Stop-p.at) < stops.Near })
}

// slots hands over what is known of the pictures.
func (p *pictures) slots() {
	var out []pane.Slot
	for i, e := range p.v.entries {
		s := pane.Slot{ID: i, Label: abreast.Letter(i) + "  " + legible.Line(p.v.result.Rolls[i].Name), Note: stops.Label(p.at)}
		k := p.frame(e.Roll)
		switch {
		case k < 0:
			s.State, s.Message = pane.Failed, "This roll has no frame at "+stops.Label(p.at)+"."
		case e.Roll.Frames[k].Aside():
			s.State, s.Message = pane.Failed, "The roll file says that this scan lies on another machine or a device: open the roll to look for it there."
		default:
			file := e.Roll.Frames[k].File
			open := opener(e.Roll, k)
			switch {
			case p.looks[file] != nil:
				s.State, s.Open = pane.Ready, open
				s.Picture = render.Picture{Look: p.looks[file]}
			case p.errs[file] != nil:
				s.State, s.Message = pane.Failed, session.Sentence(p.errs[file].Error())
			default:
				s.State, s.Message = pane.Reading, "Reading "+filepath.Base(file)+"…"
			}
		}
		out = append(out, s)
	}
	if p.group.InSight() == nil {
		p.group.SetFrames(out)
		p.group.ShowGrid()
		return
	}
	p.group.SetFrames(out)
}

func opener(r *roll.Roll, k int) func() (scan.Source, error) {
	open := load.Opener(r, load.Options{})
	return func() (scan.Source, error) { return open(k) }
}

// read reads the scans that are in sight and not known yet, one after the other.
func (p *pictures) read() {
	type job struct {
		file string
		open func() (scan.Source, error)
		opt  measure.Options
	}
	var jobs []job
	for _, e := range p.v.entries {
		k := p.frame(e.Roll)
		if k < 0 || e.Roll.Frames[k].Aside() {
			continue
		}
		file := e.Roll.Frames[k].File
		if p.looks[file] == nil && p.errs[file] == nil {
			opt := measure.Options{AssumedProfile: e.Roll.AssumedProfile}
			if a := e.Roll.Frames[k].Area; a != nil {
				r := image.Rect(a.X, a.Y, a.X+a.W, a.Y+a.H)
				opt.Area = &r
			}
			jobs = append(jobs, job{file, opener(e.Roll, k), opt})
		}
	}
	if len(jobs) == 0 {
		return
	}
	p.v.w.runner.Start("side by side", func(ctx context.Context, post func(func())) func() {
		for _, j := range jobs {
			src, err := j.open()
			var look *measure.Look
			if err == nil {
				look, err = measure.NewLook(ctx, src, j.opt)
			}
			if ctx.Err() != nil {
				return nil
			}
			post(func() {
				if err != nil {
					p.errs[j.file] = fmt.Errorf("this scan cannot be shown: %w", err)
				} else {
					p.looks[j.file] = look
				}
				p.slots()
			})
		}
		return nil
	})
}
