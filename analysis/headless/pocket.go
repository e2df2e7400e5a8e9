package headless

import (
	"context"
	"io"
	"path/filepath"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/film/pocket"
	"stopladder/analysis/load"
	"stopladder/analysis/show/pocketcard"
)

type pocketCmd struct {
	rollArgs  `embed:""`
	Output    output  `short:"o" placeholder:"FILE" help:"The card to write: .pdf or .png."`
	JSON      output  `name:"json" placeholder:"FILE" help:"Write all cells, ends and the film speed as JSON, - for standard output (assets/schema/pocket-1.json)."`
	Size      string  `placeholder:"SIZE" default:"A7" help:"A7, A6 or phone."`
	Film      string  `placeholder:"KIND" help:"negative or reversal: by which end to meter. Without it as the stock's name says."`
	ISO       float64 `name:"iso" placeholder:"SPEED" help:"Film speed that the base frame was metered with. Without it that of the plan beside the scans."`
	Limits    string  `placeholder:"NAME|FILE" help:"${limitshelp}"`
	blockArgs `embed:""`
}

func (c *pocketCmd) Run(ctx context.Context, std streams) error {
	size, err := pocketcard.ParseSize(c.Size)
	if err != nil {
		return &load.CallError{Text: err.Error()}
	}
	ext := strings.ToLower(filepath.Ext(string(c.Output)))
	if c.Output != "" && ext != ".pdf" && ext != ".png" {
		return badCall("a pocket card is a .pdf or a .png, and %s is neither; change its ending", filepath.Base(string(c.Output)))
	}
	kind := pocket.Kind(strings.ToLower(c.Film))
	if kind != pocket.Undecided && kind != pocket.Negative && kind != pocket.Reversal {
		return badCall("--film %s is no kind of film; write negative or reversal", c.Film)
	}
	if c.ISO != 0 && !(c.ISO >= 0.5 && c.ISO <= 1e6) {
		return badCall("--iso %g is no film speed; write one such as 400", c.ISO)
	}
	job, how, err := c.judged("a pocket card", c.Limits)
	if err != nil {
		return err
	}
	c.fill(job.Roll)
	if job.Roll.Stock == "" {
		job.Roll.Stock = job.Stock
	}
	g := readsRoll(job, c.Limits)
	if err := writes(g, c.Output, c.JSON); err != nil {
		return err
	}
	result, err := readRoll(ctx, job, how, std)
	if err != nil {
		return err
	}
	card, err := pocket.New(result, pocket.Options{Kind: kind, Rated: c.rated(job)})
	if err != nil {
		say(std, err)
		return errReported
	}
	head := pocketcard.HeadOf(job.Roll, "Stopladder "+Version)
	tellLacking(std, head.Texts()...)
	if c.Output != "" {
		write := func(w io.Writer) error { return pocketcard.PDF(w, card, head, size) }
		if ext == ".png" {
			write = func(w io.Writer) error { return pocketcard.PNG(w, card, head, size) }
		}
		if err := writeFile(std.out, g, c.Output, write); err != nil {
			return err
		}
	}
	if c.JSON != "" {
		if err := writeFile(std.out, g, c.JSON, func(w io.Writer) error { return pocketcard.JSON(w, card, head) }); err != nil {
			return err
		}
	}
	if c.JSON != standard {
		if err := pocketcard.Text(std.out, card, head); err != nil {
			return err
		}
	}
	return broken(result, std)
}

// rated returns the film speed that the base frame was metered with: what the call says, else
// what the plan beside the scans says, else 0.
func (c *pocketCmd) rated(job *load.Job) float64 {
	if c.ISO > 0 {
		return c.ISO
	}
	if job.PlanFile == "" {
		return 0
	}
	f, err := plan.Load(job.PlanFile)
	if err != nil {
		return 0
	}
	return f.Plan.ISO
}
