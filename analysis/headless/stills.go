package headless

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/load"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/numeric/syserror"
	"stopladder/analysis/show/stills"
)

type stillsCmd struct {
	rollArgs  `embed:""`
	Output    output   `short:"o" required:"" placeholder:"DIR" help:"The folder to write into; it is made if it is not there."`
	Size      string   `default:"3840x2160" placeholder:"WxH" help:"Pixels of a still."`
	Upright   bool     `help:"Turned: as high as --size is wide."`
	Grades    []string `default:"scanned,exposure,balance,curves" placeholder:"LIST" help:"How every frame is shown, a set of stills for each: scanned, exposure, balance, curves, hand (what the roll file has)."`
	Between   int      `default:"0" placeholder:"N" help:"Pictures between two neighbouring frames, interpolated from the measured response, for a sweep without steps. The stills of a grade are then numbered from 0001."`
	Whole     bool     `help:"Show the whole picture with grey beside it. Without it the still is filled."`
	Zoom      float64  `default:"0" placeholder:"PERCENT" help:"Pixels of the still for a hundred of the scan: 100 is pixel for pixel."`
	At        string   `default:"50,50" placeholder:"X,Y" help:"With --zoom: the middle of the still, in per cent of the picture across and down."`
	Label     string   `enum:"none,stop,verdict" default:"stop" help:"What the small label says: none, stop (and how the frame is shown), or verdict (and the figure that decided)."`
	Corner    string   `enum:"bottom-left,bottom-right,top-left,top-right" default:"bottom-left" help:"Where it stands: bottom-left, bottom-right, top-left or top-right."`
	AsScanned bool     `name:"as-scanned" help:"Leave the roll's correction of all frames out of the pictures."`
	Limits    string   `placeholder:"NAME|FILE" help:"${limitshelp}"`
}

func (c *stillsCmd) Run(ctx context.Context, std streams) error {
	opt, err := c.options()
	if err != nil {
		return err
	}
	if c.Output == standard {
		return badCall("stills are written into a folder; name one in place of -")
	}
	job, how, err := c.judged("stills", c.Limits)
	if err != nil {
		return err
	}
	g := readsRoll(job, c.Limits)
	dir := string(c.Output)
	undo, err := folder(g, dir)
	if err != nil {
		return err
	}
	defer undo()
	result, err := readRoll(ctx, job, how, std)
	if err != nil {
		return err
	}
	if err := c.write(ctx, result, opt, g, job, how, std); err != nil {
		return err
	}
	return broken(result, std)
}

// write draws the stills of a measured roll into the folder.
func (c *stillsCmd) write(ctx context.Context, result *film.Roll, opt stills.Options, g *guard.Guard, job *load.Job, how load.Options, std streams) error {
	dir := string(c.Output)
	s, err := stills.New(result, opt)
	if err != nil {
		return &load.CallError{Text: err.Error()}
	}
	list := s.List()
	for _, one := range list {
		if err := g.Writes(filepath.Join(dir, one.Name)); err != nil {
			return err
		}
	}
	if by, larger := s.Enlarged(); larger {
		say(std, fmt.Errorf("the scans are smaller than the stills: a pixel of them takes %.1f of a still", by))
	}
	bar := newProgress(std.err)
	err = s.WriteFolder(ctx, dir, "Stopladder "+Version, load.Opener(job.Roll, how), g.Still, func(done, total int) {
		memory.Bound()
		bar.show(fmt.Sprintf("%d of %d stills written", done, total))
	})
	bar.clear()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(std.out, "%d stills written to %s\n", len(list), printable(dir))
	return err
}

// folder makes the folder that a call writes several files into, and returns what takes it
// away again while nothing is in it.
func folder(g *guard.Guard, dir string) (undo func(), err error) {
	st, err := os.Stat(dir)
	switch {
	case err == nil && !st.IsDir():
		return nil, badCall("%s is no folder; name one to write into", filepath.Base(dir))
	case err == nil:
		return func() {}, nil
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("the folder %s cannot be made: %w", filepath.Base(dir), syserror.Cause(err))
	}
	return func() { os.Remove(dir) }, nil // only an empty one goes
}

// options reads what the call says of the pictures.
func (c *stillsCmd) options() (o stills.Options, err error) {
	w, h, ok := strings.Cut(strings.ToLower(c.Size), "x")
	if o.W, err = strconv.Atoi(w); err == nil && ok {
		o.H, err = strconv.Atoi(h)
	}
	if err != nil || !ok || o.W < stills.MinSide || o.H < stills.MinSide || o.W > stills.MaxSide || o.H > stills.MaxSide {
		return o, badCall("--size %s is no size; give width and height in pixels from %d to %d, such as %dx%d", c.Size, stills.MinSide, stills.MaxSide, stills.Width, stills.Height)
	}
	if c.Upright {
		o.W, o.H = o.H, o.W
	}
	if c.Between < 0 || c.Between > stills.MaxBetween {
		return o, badCall("--between %d: at most %d pictures are drawn between two frames", c.Between, stills.MaxBetween)
	}
	o.Between, o.Corrected = c.Between, !c.AsScanned
	for _, name := range c.Grades {
		g := criteria.Grade(name)
		if name == "scanned" {
			g = ""
		} else if !slices.Contains(criteria.Grades(), g) {
			return o, badCall("--grades names %q; give some of: scanned, exposure, balance, curves, hand", name)
		}
		if slices.Contains(o.Grades, g) {
			return o, badCall("--grades names %s twice", name)
		}
		o.Grades = append(o.Grades, g)
	}
	if c.Whole && c.Zoom != 0 {
		return o, badCall("--whole and --zoom do not go together; leave one out")
	}
	if c.Zoom != 0 && !(c.Zoom >= 1 && c.Zoom <= 1600) {
		return o, badCall("--zoom %g lies outside 1 to 1600 per cent", c.Zoom)
	}
	o.Place = stills.Place{Whole: c.Whole, Zoom: c.Zoom / 100}
	if o.Place.X, o.Place.Y, err = middle(c.At); err != nil {
		return o, err
	}
	o.Label.Says = map[string]stills.Says{"none": stills.Nothing, "stop": stills.Stop, "verdict": stills.Verdict}[c.Label]
	o.Label.Corner = map[string]stills.Corner{"bottom-left": stills.BottomLeft, "bottom-right": stills.BottomRight, "top-left": stills.TopLeft, "top-right": stills.TopRight}[c.Corner]
	return o, nil
}

// middle reads a place in per cent, "40,60", as shares.
func middle(text string) (x, y float64, err error) {
	a, b, ok := strings.Cut(text, ",")
	x, errX := strconv.ParseFloat(strings.TrimSpace(a), 64)
	y, errY := strconv.ParseFloat(strings.TrimSpace(b), 64)
	if !ok || errX != nil || errY != nil || !(x >= 0 && x <= 100 && y >= 0 && y <= 100) {
		return 0, 0, badCall("--at %s is no place in the picture; give per cent across and down, such as 40,60", text)
	}
	return x / 100, y / 100, nil
}
