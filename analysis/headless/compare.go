package headless

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"stopladder/analysis/headless/guard"
	"stopladder/analysis/shelf"
	"stopladder/analysis/shelf/against"
	"stopladder/analysis/show/abreast"
)

type compareCmd struct {
	Rolls  []string       `arg:"" name:"roll" help:"Two to twelve roll files (.stopladder) that keep their readings."`
	Again  bool           `help:"They are one test made again: tell how far its figures stray, beside their errors."`
	Title  string         `placeholder:"TEXT" help:"Over the drawing."`
	JSON   output         `name:"json" placeholder:"FILE|-" help:"Write the comparison as JSON (schema: stopladder manual compare-1)."`
	Output output         `short:"o" placeholder:"FILE" help:"Draw the rolls on one axis, their curves laid mid-grey to mid-grey: .png, .svg or .pdf."`
	Ground abreast.Ground `enum:"dark,white" default:"white" help:"What the drawing stands on: dark or white."`
	Width  int            `default:"1400" placeholder:"N" help:"Width of the drawing in units, 700 to 4000; a PNG has two pixels a unit."`
}

func (c *compareCmd) Run(ctx context.Context, std streams) error {
	if c.Width < 700 || c.Width > 4000 {
		return badCall("--width %d is out of reach; give 700 to 4000", c.Width)
	}
	if err := drawable(c.Output); err != nil {
		return err
	}
	if n := len(c.Rolls); n < against.Least || n > against.Most {
		return badCall("%d rolls cannot be compared; name %d to %d roll files", n, against.Least, against.Most)
	}
	var g guard.Guard
	var rolls []against.Roll
	for _, path := range c.Rolls {
		e := shelf.Read(path, Version)
		g.Reads(e.Path)
		if e.Roll != nil {
			g.Judged(e.Roll)
		}
		x, err := against.Take(e)
		if err != nil {
			return err
		}
		rolls = append(rolls, x)
	}
	if err := writes(&g, c.JSON, c.Output); err != nil {
		return err
	}
	r, err := against.Compare(rolls, against.Options{Again: c.Again})
	if err != nil {
		return badCall("%v", err)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if c.JSON != "" {
		err = writeFile(std.out, &g, c.JSON, r.Documented(Version).EncodeJSON)
	}
	if c.Output != "" {
		title := c.Title
		if title == "" {
			title = "Roll against roll"
		}
		err = errors.Join(err, draw(std, &g, c.Output, abreast.Compare(r, float64(c.Width), c.Ground, title)))
	}
	if c.JSON == "" && c.Output == "" {
		err = compareText(std.out, r)
	}
	return err
}

// compareText writes the comparison for people.
func compareText(w io.Writer, r *against.Result) error {
	var b strings.Builder
	for i, x := range r.Rolls {
		fmt.Fprintf(&b, "%s  %s\n", abreast.Letter(i), printable(x.Name))
	}
	b.WriteString("\n")
	put := func(s string) { b.WriteString(wrap(printable(s), 100) + "\n") }
	for _, s := range r.Held() {
		put(s)
	}
	for _, s := range r.Warnings {
		put("Note: " + s)
	}
	for _, group := range against.Groups() {
		says := r.Sentences(group)
		if len(says) == 0 {
			continue
		}
		fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(string(group[:1]))+string(group[1:]))
		for _, s := range says {
			b.WriteString("  " + strings.ReplaceAll(wrap(printable(s), 98), "\n", "\n  ") + "\n")
		}
	}
	if says := against.RepeatedWords(r); len(says) > 0 {
		b.WriteString("\nMade again\n")
		for _, s := range says {
			b.WriteString("  " + strings.ReplaceAll(wrap(printable(s), 98), "\n", "\n  ") + "\n")
		}
	}
	b.WriteString("\n")
	put(abreast.Basis(r))
	_, err := io.WriteString(w, b.String())
	return err
}
