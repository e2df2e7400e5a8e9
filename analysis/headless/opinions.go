package headless

import (
	"context"
	"errors"
	"fmt"
	"io"

	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/show/opinions"
)

type opinionsCmd struct {
	Roll  string   `arg:"" name:"roll" help:"A roll file (.stopladder)."`
	Merge []string `sep:"none" placeholder:"PACK" help:"Take the marks in a pack (.ladderpack) into the roll file: they are added, and nothing in it is changed."`
	JSON  output   `name:"json" placeholder:"FILE|-" help:"Write the opinions as JSON (schema: stopladder manual opinions-1)."`
	CSV   output   `name:"csv" placeholder:"FILE|-" help:"Write them as CSV, a row for each frame and judging."`
	All   bool     `help:"Show all, also before the roll's own judge is done."`
}

func (c *opinionsCmd) Run(ctx context.Context, std streams) error {
	r, err := rollFile(c.Roll, std)
	if err != nil {
		return err
	}
	g := new(guard.Guard)
	g.Judged(r)
	if err := writes(g, c.JSON, c.CSV); err != nil {
		return err
	}
	if len(c.Merge) > 0 {
		g.Reads(c.Merge...)
		for _, p := range hashes(ctx, r) {
			say(std, errors.New(p))
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		said, err := mergePacks(r, c.Merge, std)
		if err != nil {
			return err
		}
		if err := r.Save(r.Path()); err != nil {
			return err
		}
		for _, s := range said {
			fmt.Fprintln(std.out, printable(s))
		}
		if c.JSON == "" && c.CSV == "" {
			return nil
		}
	}
	doc := opinions.Build(opinion.Beside(r, lastSaved(c.Roll), c.All), Version)
	if c.JSON != "" {
		err = writeFile(std.out, g, c.JSON, doc.EncodeJSON)
	}
	if c.CSV != "" {
		err = errors.Join(err, writeFile(std.out, g, c.CSV, doc.EncodeCSV))
	}
	if c.JSON == "" && c.CSV == "" {
		_, err = io.WriteString(std.out, doc.Table())
	}
	return err
}
