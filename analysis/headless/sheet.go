package headless

import (
	"context"
	"fmt"
	"image"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/report"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/sheet"
)

// thumbSide is the longest side in pixels of the small picture on a row.
const thumbSide = 480

type sheetCmd struct {
	rollArgs `embed:""`
	Output   string `short:"o" required:"" placeholder:"FILE.png" help:"The picture to write, - for standard output."`
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
	if c.Output != standard && !strings.EqualFold(filepath.Ext(c.Output), ".png") {
		return badCall("a sheet is a PNG; give it a name that ends in .png instead of %s", filepath.Base(c.Output))
	}
	job, opt, err := c.plan()
	if err != nil {
		return err
	}
	if err := labelled(job); err != nil {
		return err
	}
	if c.Salvaged != "" && !slices.Contains(sheetGrades, c.Salvaged) {
		return badCall("--salvaged %s is no grade; give one of: %s", c.Salvaged, strings.Join(sheetGrades, ", "))
	}
	set, err := namedLimits(c.Limits)
	if err != nil {
		return err
	}
	if set != nil {
		job.Roll.Limits = set
	}
	if err := checkOutput(c.Output, job, c.rollFile()); err != nil {
		return err
	}
	result, err := readRoll(ctx, job, opt, std)
	if err != nil {
		return err
	}
	c.fill(job.Roll)
	bar := newProgress(std.err)
	img, err := sheet.Draw(ctx, c.input(result), sheet.Options{Width: c.Width, Progress: func(done, total int) {
		bar.show(fmt.Sprintf("%d of %d frames drawn", done, total))
	}})
	bar.clear()
	if err != nil {
		return err
	}
	meta := sheet.Meta{Title: job.Roll.Title, Software: "Stopladder " + Version}
	err = writeFile(std.out, c.Output, func(w io.Writer) error { return sheet.WritePNG(w, img, meta) })
	if err != nil {
		return err
	}
	return broken(result, std)
}

// labelled refuses a roll with unlabelled frames: they have no place on a ladder.
func labelled(job *load.Job) error {
	var without []string
	for i, unknown := range job.Unknown {
		if unknown {
			without = append(without, base(job.Roll.Frames[i].File))
		}
	}
	if len(without) == 0 {
		return nil
	}
	return badCall("a sheet needs the stop of every frame, and these names tell none: %s; give --stops with one stop for each scan", strings.Join(without, ", "))
}

// sheetGrades are what --salvaged may say.
var sheetGrades = []string{"exposure", "balance", "curves", "hand"}

// shown is how the i-th frame's picture is shown, and in words where that is not as
// scanned.
func (c *sheetCmd) shown(result *load.Result, i int) (*render.Correction, string) {
	var own, all correction.Settings
	words := ""
	if c.Salvaged != "" && i != result.Base {
		ok := false
		if c.Salvaged == "hand" {
			if h := result.Job.Roll.Frames[i].Hand; h != nil {
				own, ok = *h, true
			}
		} else if a := result.Appraisal; a != nil {
			own, ok = a.Settings(i, criteria.Grade(c.Salvaged))
		}
		if words = "salvaged, " + c.Salvaged; !ok {
			words = "as scanned: no salvage"
		}
	}
	if v := result.Job.Roll.View; v != nil && !c.AsScanned {
		all = *v
	}
	return render.Corrected(own, all), words
}

// input gathers what the sheet shows.
func (c *sheetCmd) input(result *load.Result) sheet.Input {
	data := make([]*row.Data, len(result.Entries))
	for i, e := range result.Entries {
		data[i] = rungData(e, i == result.Base)
		if i < len(result.Regs) {
			var reading *response.Reading
			if res := result.Response; res != nil && i < len(res.Frames) {
				reading = &res.Frames[i]
			}
			load.FillRow(data[i], result.Regs[i], reading)
		}
		if e.Look != nil {
			data[i].Thumb = render.Area(e.Look, nil, thumbSide, thumbSide)
		}
	}
	in := sheet.FromRoll(result.Job.Roll, data)
	in.Notes = result.Notes
	in.Program = "Stopladder " + Version
	in.Truth = load.TruthWords(result.Response, result.Regs)
	if res := result.Response; res != nil && res.Curve != nil {
		d := plot.FromResult(res, result.Fitted)
		d.Roll = in.Title
		in.Response = &d
	}
	if result.Appraisal != nil {
		in.SetSalvage(result.Appraisal, result.Job.Roll)
	}
	if v := result.Job.Roll.View; v != nil && !v.IsZero() && !c.AsScanned {
		in.Correction = v.Words()
	}
	for i, e := range result.Entries {
		if e.Look != nil {
			adjust, words := c.shown(result, i)
			in.Frames[i].Shown = words
			in.Frames[i].Picture = func(ctx context.Context, w, h int) (*image.RGBA, error) {
				return render.Area(e.Look, adjust, w, h), ctx.Err()
			}
		}
	}
	return in
}

func rungData(e report.Entry, isBase bool) *row.Data {
	d := &row.Data{
		Stop: e.Frame.Stop, File: base(e.Frame.File), Base: isBase,
		Look: e.Look, Rel: e.Relation, Verdict: e.Frame.Verdict, Note: e.Frame.Note,
		State: row.Ready,
	}
	if e.Look == nil {
		d.State = row.Failed
		if e.Err != nil {
			d.Message = e.Err.Error()
		}
	}
	d.Prepare()
	return d
}

// fill writes the title block: what the call says goes before what the roll file
// says. Scans without either are named for their folder.
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
	if r.Title == "" && len(r.Frames) > 0 {
		r.Title = filepath.Base(filepath.Dir(filepath.FromSlash(r.Frames[0].File)))
	}
}
