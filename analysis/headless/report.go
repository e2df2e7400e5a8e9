package headless

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/show/webreport"
)

// blockArgs are what a call says of the title block.
type blockArgs struct {
	Title    string `placeholder:"TEXT" help:"Title: what the roll is called; the folder of the scans unless said."`
	Stock    string `placeholder:"TEXT" help:"Beside the title: the film stock."`
	Exposure string `placeholder:"TEXT" help:"Beside the title: the base exposure and how it was metered."`
	Judge    string `placeholder:"TEXT" help:"Beside the title: who judged."`
	Date     string `placeholder:"TEXT" help:"Beside the title: when."`

	Scene       string `placeholder:"TEXT" help:"For shelf and compare: what was photographed, in which light."`
	Metering    string `placeholder:"TEXT" help:"For shelf and compare: how the base exposure was metered."`
	Development string `placeholder:"TEXT" help:"For shelf and compare: process, push or pull."`
	Lab         string `placeholder:"TEXT" help:"For shelf and compare: who developed and scanned."`
	Scanner     string `placeholder:"TEXT" help:"For shelf and compare: the scanner and its settings."`
}

// fill writes the title block: what the call says goes before what the roll file says.
func (c blockArgs) fill(r *roll.Roll) {
	said := map[string]string{"title": c.Title, "stock": c.Stock, "baseExposure": c.Exposure, "date": c.Date, "scene": c.Scene,
		"metering": c.Metering, "development": c.Development, "lab": c.Lab, "scanner": c.Scanner}
	for _, l := range r.Block() {
		if s := said[l.Key]; s != "" {
			*l.Text = s
		}
	}
	if c.Judge != "" {
		r.Judge().Judge = c.Judge
	}
}

type reportCmd struct {
	rollArgs  `embed:""`
	Output    output `short:"o" required:"" placeholder:"FILE.html" help:"The page to write, - for standard output."`
	Salvaged  string `enum:"exposure,balance,curves,hand," default:"" placeholder:"GRADE" help:"The grade that frames are shown salvaged at, beside as scanned: exposure, balance, curves, or hand (what the roll file has). Without it that of the limits."`
	AsScanned bool   `name:"as-scanned" help:"Leave the roll's correction of all frames out of the pictures."`
	Limits    string `placeholder:"NAME|FILE" help:"${limitshelp}"`
	blockArgs `embed:""`
}

func (c *reportCmd) Run(ctx context.Context, std streams) error {
	if ext := strings.ToLower(filepath.Ext(string(c.Output))); c.Output != standard && ext != ".html" && ext != ".htm" {
		return badCall("a report is a page for a browser; give it a name that ends in .html instead of %s", filepath.Base(string(c.Output)))
	}
	job, how, err := c.judged("a report", c.Limits)
	if err != nil {
		return err
	}
	c.fill(job.Roll)
	g := readsRoll(job, c.Limits)
	if err := writes(g, c.Output); err != nil {
		return err
	}
	result, err := readRoll(ctx, job, how, std)
	if err != nil {
		return err
	}
	bar := newProgress(std.err)
	o := webreport.Options{Grade: criteria.Grade(c.Salvaged), Corrected: !c.AsScanned, Version: Version}
	err = writeFile(std.out, g, c.Output, func(w io.Writer) error {
		return webreport.Write(ctx, w, result, o, load.Opener(job.Roll, how), func(done, total int) {
			memory.Bound()
			bar.show(fmt.Sprintf("%d of %d frames drawn", done, total))
		})
	})
	bar.clear()
	if err != nil {
		return err
	}
	return broken(result, std)
}
