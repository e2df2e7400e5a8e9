package headless

import (
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/render"
)

type sheetCmd struct {
	rollArgs `embed:""`
	Output   output `short:"o" required:"" placeholder:"FILE" help:"The file to write; its ending says which kind: .png, .jpg or .pdf. - writes a PNG to standard output."`

	Arrangement string   `short:"a" default:"wide" placeholder:"NAME" help:"How the page is made up: ${arrangements}."`
	Shape       string   `default:"16:9" placeholder:"W:H" help:"Shape of the page: ${shapes}. A wide sheet has it exactly, others stand that way; a ladder is as high as its pictures."`
	Ground      string   `default:"dark" placeholder:"NAME" help:"What the page is printed on: ${grounds}, all neutral."`
	Width       int      `default:"2400" placeholder:"N" help:"Width in pixels, ${minwidth} to ${maxwidth}."`
	Masks       bool     `help:"Lay Blown, Blocked and Noisy over the pictures."`
	Frames      string   `placeholder:"STOPS" help:"Single: the frames to show, by their stops, such as -2,0,+1. Without it the base frame and the outermost that do not break."`
	Detail      []string `sep:"none" placeholder:"X,Y|PATCH" help:"Details: a place of the base frame in pixels, or a patch of the roll by its name; may be given several times. Without it the program chooses one in the shadows and one in the highlights."`
	Lift        *float64 `placeholder:"STOPS" help:"Details: show them lighter by so many stops, all alike."`
	Bits        int      `default:"8" placeholder:"N" help:"Bits of a PNG's channels: 8 or 16."`
	Space       string   `default:"srgb" placeholder:"NAME" help:"Colour space of a PNG or JPEG: srgb, or p3 for Display P3."`

	Salvaged  string `placeholder:"GRADE" help:"Show every frame brought to the base frame: exposure, balance, curves, or hand (what the roll file has). Without it as scanned."`
	AsScanned bool   `name:"as-scanned" help:"Leave the roll's correction of all frames out of the pictures."`
	Limits    string `placeholder:"NAME|FILE" help:"${limitshelp}"`

	blockArgs `embed:""`
}

// asked returns the sheet that a call asks for, without what only a measured roll tells.
func (c *sheetCmd) asked() (*publish.Sheet, error) {
	s := &publish.Sheet{Options: plate.Options{Arrangement: plate.Arrangement(c.Arrangement), Ground: plate.Ground(c.Ground), Shape: plate.Shape(c.Shape), Masks: c.Masks, Width: c.Width},
		Depth: c.Bits, Software: "Stopladder " + Version, Lift: c.Lift, Format: publish.FormatPNG}
	if c.Output != standard {
		f, ok := publish.FormatOf(string(c.Output))
		if !ok {
			return nil, badCall("a sheet is a PNG, a JPEG or a PDF; give it a name that ends in .png, .jpg or .pdf instead of %s", filepath.Base(string(c.Output)))
		}
		s.Format = f
	}
	switch strings.ToLower(c.Space) {
	case "srgb":
	case "p3":
		s.Space = colour.DisplayP3
	default:
		return nil, badCall("--space %s is no colour space of a sheet; give srgb or p3", c.Space)
	}
	switch {
	case c.Frames != "" && s.Options.Arrangement != plate.Single:
		return nil, badCall("--frames is for --arrangement single")
	case (len(c.Detail) > 0 || c.Lift != nil) && s.Options.Arrangement != plate.Details:
		return nil, badCall("--detail and --lift are for --arrangement details")
	case c.Lift != nil && !(math.Abs(*c.Lift) <= 6):
		return nil, badCall("--lift %g is too much: give -6 to 6 stops", *c.Lift)
	}
	if err := s.Check(); err != nil {
		return nil, badCall("%s", strings.TrimSuffix(err.Error(), "."))
	}
	return s, nil
}

func (c *sheetCmd) Run(ctx context.Context, std streams) error {
	s, err := c.asked()
	if err != nil {
		return err
	}
	job, opt, err := c.plan()
	if err != nil {
		return err
	}
	if err := labelled(job, "a sheet"); err != nil {
		return err
	}
	if grades := criteria.Grades(); c.Salvaged != "" && !slices.Contains(grades, criteria.Grade(c.Salvaged)) {
		var names []string
		for _, g := range grades {
			names = append(names, string(g))
		}
		return badCall("--salvaged %s is no grade; give one of: %s", c.Salvaged, strings.Join(names, ", "))
	}
	set, err := namedLimits(c.Limits)
	if err != nil {
		return err
	}
	if set != nil {
		job.Roll.Limits = set
	}
	c.fill(job.Roll)
	if s.Options.Frames, err = c.frames(job.Roll); err != nil {
		return err
	}
	if s.Details, err = c.details(job.Roll); err != nil {
		return err
	}
	g := readsRoll(job, c.Limits)
	if err := writes(g, c.Output); err != nil {
		return err
	}
	result, err := readRoll(ctx, job, opt, std)
	if err != nil {
		return err
	}
	s.Roll, s.Shown, s.Open = result, render.Shown{Grade: criteria.Grade(c.Salvaged), Corrected: !c.AsScanned}, load.Opener(job.Roll, opt)
	if b := result.Base; len(s.Details) > 0 && b >= 0 && result.Frames[b].Look != nil {
		for _, d := range s.Details {
			if area := result.Frames[b].Look.Area; !d.At.In(area) {
				return badCall("the detail at %d,%d lies outside the base frame's image area, which reaches from %d,%d to %d,%d", d.At.X, d.At.Y, area.Min.X, area.Min.Y, area.Max.X-1, area.Max.Y-1)
			}
		}
	}
	tellLacking(std, s.Input().Texts()...)
	bar := newProgress(std.err)
	s.Progress = func(done, total int) { bar.show(fmt.Sprintf("%d of %d pictures drawn", done, total)) }
	err = writeFile(std.out, g, c.Output, func(w io.Writer) error { return s.Write(ctx, w) })
	bar.clear()
	if err != nil {
		return err
	}
	return broken(result, std)
}

// frames returns the frames that --frames names by their stops.
func (c *sheetCmd) frames(r *roll.Roll) ([]int, error) {
	out, err := plate.FramesAt(r, c.Frames)
	if err != nil {
		return nil, badCall("--frames %s: %s", c.Frames, strings.TrimSuffix(err.Error(), "."))
	}
	return out, nil
}

// details returns the places that --detail names.
func (c *sheetCmd) details(r *roll.Roll) (out []plate.Detail, err error) {
	if len(c.Detail) > 8 {
		return nil, badCall("--detail is given %d times; a sheet has at most eight details", len(c.Detail))
	}
next:
	for _, text := range c.Detail {
		for _, p := range r.Patches {
			if strings.EqualFold(p.Name, strings.TrimSpace(text)) {
				out = append(out, plate.Detail{Name: p.Name, At: image.Pt(int(p.X), int(p.Y))})
				continue next
			}
		}
		var x, y int
		if n, err := fmt.Sscanf(text+"\n", "%d,%d\n", &x, &y); n != 2 || err != nil || x < 0 || y < 0 {
			return nil, badCall("--detail %s is neither a place such as 1200,800 in pixels of the base frame nor a patch of the roll", text)
		}
		out = append(out, plate.Detail{Name: fmt.Sprintf("Detail at %d, %d", x, y), At: image.Pt(x, y)})
	}
	return out, nil
}

// labelled refuses a roll with unlabelled frames: they have no place on a ladder. what is
// to be made of it.
func labelled(job *load.Job, what string) error {
	var without []string
	for i, unknown := range job.Unknown {
		if unknown {
			without = append(without, base(job.Roll.Frames[i].File))
		}
	}
	if len(without) == 0 {
		return nil
	}
	needs := "needs"
	if what == "stills" {
		needs = "need"
	}
	return badCall("%s %s the stop of every frame, and these names tell none: %s; give --stops with one stop for each scan", what, needs, strings.Join(without, ", "))
}
