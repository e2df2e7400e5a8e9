package headless

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/load/anew"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/shelf"
	"stopladder/analysis/show/abreast"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/pngwrite"
)

type shelfCmd struct {
	Dir         string         `arg:"" help:"The folder with roll files; folders in it are gone through."`
	Sort        string         `default:"name" placeholder:"KEY" help:"By name, stock, lab, scanner, development, date, under (how far under the measured range holds), over, or judged (the judge's range)."`
	Find        string         `placeholder:"WORDS" help:"Only rolls that have each of these words in the title block, the judge or the file's name."`
	Stock       string         `placeholder:"TEXT" help:"Only rolls whose film stock has this in it."`
	Lab         string         `placeholder:"TEXT" help:"Likewise the lab."`
	Scanner     string         `placeholder:"TEXT" help:"Likewise the scanner."`
	Development string         `placeholder:"TEXT" help:"Likewise the development."`
	Stale       bool           `help:"Only rolls that are to be measured anew."`
	Measure     bool           `help:"First measure anew what is to be, and save it into its roll file; marks stay, and the version before is kept beside it."`
	JSON        output         `name:"json" placeholder:"FILE|-" help:"Write the list as JSON (schema: stopladder manual shelf-1)."`
	CSV         output         `name:"csv" placeholder:"FILE|-" help:"Write the list as CSV, a row for each roll."`
	Output      output         `short:"o" placeholder:"FILE" help:"Draw the rolls on one axis of stops: .png, .svg or .pdf."`
	Ground      abreast.Ground `enum:"dark,white" default:"white" help:"What the drawing stands on: dark or white."`
}

func (c *shelfCmd) Run(ctx context.Context, std streams) error {
	key, err := shelf.KeyOf(c.Sort)
	if err != nil {
		return badCall("%v", err)
	}
	if err := drawable(c.Output); err != nil {
		return err
	}
	s, err := shelf.Gather(ctx, c.Dir, Version)
	if err != nil {
		if ctx.Err() != nil {
			return err
		}
		return badCall("%v", err)
	}
	var g guard.Guard
	for _, e := range s.Rolls {
		g.Reads(e.Path)
		if e.Roll != nil {
			g.Judged(e.Roll)
		}
	}
	if err := writes(&g, c.JSON, c.CSV, c.Output); err != nil {
		return err
	}
	rolls := shelf.Choose(s.Rolls, shelf.Filter{Words: c.Find, Stock: c.Stock, Lab: c.Lab, Scanner: c.Scanner, Development: c.Development, Stale: c.Stale})
	var failed error
	if c.Measure {
		failed = measureStale(ctx, rolls, std)
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	shelf.Sort(rolls, key)
	doc := s.Documented(rolls, Version)
	if c.JSON != "" {
		err = writeFile(std.out, &g, c.JSON, doc.EncodeJSON)
	}
	if c.CSV != "" {
		err = errors.Join(err, writeFile(std.out, &g, c.CSV, doc.EncodeCSV))
	}
	if c.Output != "" {
		err = errors.Join(err, draw(std, &g, c.Output, abreast.Shelf(s, rolls, abreast.Width, c.Ground, "Shelf: "+doc.Folder)))
	}
	if c.JSON == "" && c.CSV == "" && c.Output == "" {
		err = shelfTable(std.out, s, rolls)
	}
	if err != nil {
		return err
	}
	for _, e := range rolls {
		if e.Err != nil {
			say(std, e.Err)
			failed = errReported
		}
	}
	return failed
}

// drawable refuses a name that no drawing is written under.
func drawable(o output) error {
	if o == "" || slices.Contains(abreast.Endings(), strings.ToLower(filepath.Ext(string(o)))) || o == standard {
		return nil
	}
	return badCall("a drawing is written as %s; give it such a name instead of %s", strings.Join(abreast.Endings(), ", "), filepath.Base(string(o)))
}

// draw writes a drawing.
func draw(std streams, g *guard.Guard, o output, l *drawing.List) error {
	return writeFile(std.out, g, o, func(w io.Writer) error {
		return abreast.Write(w, l, string(o), pngwrite.Program+" "+Version)
	})
}

// measureStale measures the rolls anew that are to be, one after the other, and saves them.
func measureStale(ctx context.Context, rolls []*shelf.Entry, std streams) (failed error) {
	for i, e := range rolls {
		if e.Roll == nil || e.Stale == "" {
			continue
		}
		fail := func(err error) {
			say(std, fmt.Errorf("%s was not measured anew: %w", e.Name, err))
			failed = errReported
		}
		if len(e.Missing) > 0 {
			fail(fmt.Errorf("%d of its scans are not where the roll file says", len(e.Missing)))
			continue
		}
		bar := newProgress(std.err)
		memory.Bound()
		err := anew.Measure(ctx, e.Path, Version, load.Options{}, func(ev load.Event) {
			if ev.Kind != load.Reading {
				memory.Bound()
			}
			bar.show(fmt.Sprintf("%s is measured anew", e.Name))
		})
		bar.clear()
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			fail(err)
			continue
		}
		name := e.Name
		rolls[i] = shelf.Read(e.Path, Version)
		rolls[i].Name = name
	}
	return failed
}

// shelfTable writes the list for people.
func shelfTable(w io.Writer, s *shelf.Shelf, rolls []*shelf.Entry) error {
	var b strings.Builder
	rows := [][]string{{"roll", "stock", "development", "lab", "scanner", "date", "judged", "holds under", "holds over", "to be told"}}
	for _, e := range rolls {
		row := []string{printable(e.Name), dash, dash, dash, dash, dash, dash, dash, dash, printable(abreast.State(e))}
		if e.Roll != nil {
			for i, text := range []string{e.Roll.Stock, e.Roll.Development, e.Roll.Lab, e.Roll.Scanner, e.Roll.Date} {
				if text != "" {
					row[1+i] = printable(text)
				}
			}
		}
		if g, _ := e.Judged(); g != nil {
			row[6] = stops.ASCII(g.Lo) + " to " + stops.ASCII(g.Hi)
		}
		if g := e.Holds(); g != nil {
			for i, x := range []struct {
				stop, err float64
				open      bool
			}{{g.Lo.Stop, g.Lo.Error, g.Lo.Open}, {g.Hi.Stop, g.Hi.Error, g.Hi.Open}} {
				if row[7+i] = fmt.Sprintf("%+.2f +-%.2f", x.stop, x.err); x.open {
					row[7+i] = "at least " + stops.ASCII(x.stop)
				}
			}
		}
		rows = append(rows, row)
	}
	if len(rolls) > 0 {
		align(&b, rows, []bool{7: true, 8: true, 9: false})
		b.WriteString("\nStops from the base exposure; +- holds an end in 95 of 100 cases. A dash: not known.\n")
	} else {
		b.WriteString("No roll file is there. Measure a roll and save it: stopladder measure SCANS --roll NAME.stopladder\n")
	}
	list(&b, "Notes", s.Notes)
	var told []string
	for _, e := range rolls {
		for _, p := range e.Problems {
			told = append(told, e.Name+": "+p)
		}
	}
	list(&b, "Problems", told)
	_, err := io.WriteString(w, b.String())
	return err
}
