package headless

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/sheet"
)

type sheetCmd struct {
	rollArgs `embed:""`
	Output   output `short:"o" required:"" placeholder:"FILE.png" help:"The picture to write, - for standard output."`
	Width    int    `default:"2400" placeholder:"N" help:"Width in pixels, ${minwidth} to ${maxwidth}."`

	Salvaged  string `placeholder:"GRADE" help:"Show every frame brought to the base frame: exposure, balance, curves, or hand (what the roll file has). Without it as scanned."`
	AsScanned bool   `name:"as-scanned" help:"Leave the roll's correction of all frames out of the pictures."`
	Limits    string `placeholder:"NAME|FILE" help:"${limitshelp}"`

	Title    string `placeholder:"TEXT" help:"Title block: what the roll is called; the folder of the scans unless said."`
	Stock    string `placeholder:"TEXT" help:"Title block: the film stock."`
	Exposure string `placeholder:"TEXT" help:"Title block: the base exposure and how it was metered."`
	Judge    string `placeholder:"TEXT" help:"Title block: who judged."`
	Date     string `placeholder:"TEXT" help:"Title block: when."`
}

func (c *sheetCmd) Run(ctx context.Context, std streams) error {
	if c.Width < sheet.MinWidth || c.Width > sheet.MaxWidth {
		return badCall("a sheet is %d to %d pixels wide, and --width says %d", sheet.MinWidth, sheet.MaxWidth, c.Width)
	}
	if c.Output != standard && !strings.EqualFold(filepath.Ext(string(c.Output)), ".png") {
		return badCall("a sheet is a PNG; give it a name that ends in .png instead of %s", filepath.Base(string(c.Output)))
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
	g := readsRoll(job, c.Limits)
	if err := writes(g, c.Output); err != nil {
		return err
	}
	result, err := readRoll(ctx, job, opt, std)
	if err != nil {
		return err
	}
	in := sheet.FromRoll(result, render.Shown{Grade: criteria.Grade(c.Salvaged), Corrected: !c.AsScanned}, "Stopladder "+Version)
	tellLacking(std, in.Texts()...)
	bar := newProgress(std.err)
	img, err := sheet.Draw(ctx, in, sheet.Options{Width: c.Width, Progress: func(done, total int) {
		bar.show(fmt.Sprintf("%d of %d frames drawn", done, total))
	}})
	bar.clear()
	if err != nil {
		return err
	}
	err = writeFile(std.out, g, c.Output, func(w io.Writer) error { return pngwrite.Encode(w, img, in.Meta(c.Width)) })
	if err != nil {
		return err
	}
	return broken(result, std)
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

// fill writes the title block: what the call says goes before what the roll file
// says.
func (c *sheetCmd) fill(r *roll.Roll) {
	for _, s := range []struct {
		said string
		to   *string
	}{{c.Title, &r.Title}, {c.Stock, &r.Stock}, {c.Exposure, &r.Exposure}, {c.Date, &r.Date}} {
		if s.said != "" {
			*s.to = s.said
		}
	}
	if c.Judge != "" {
		r.Judge().Judge = c.Judge
	}
}
