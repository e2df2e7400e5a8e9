package headless

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/load"
	"stopladder/analysis/load/samples"
)

type demoCmd struct {
	Dir   string `arg:"" help:"The folder to write into; it is made if it is not there."`
	Stock string `enum:"reversal,negative" default:"reversal" help:"Film of the demo: reversal or negative."`
	Size  int    `placeholder:"N" help:"Long side of the scans in pixels, 200 to 20000. Without it as large as the demo's scene was rendered; larger ones are enlarged from that."`
	Force bool   `help:"Write over the files of an earlier demo."`
	Shelf bool   `help:"Write the sample shelf: four invented rolls, measured and saved, for shelf and compare. Takes a minute."`
}

func (c *demoCmd) Run(ctx context.Context, std streams) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if c.Shelf {
		return c.shelf(ctx, std)
	}
	bar := newProgress(std.err)
	paths, err := simulate.WriteDemo(ctx, c.Dir, simulate.WriteOptions{
		Kind: c.Stock, Size: c.Size, Force: c.Force,
		Progress: func(done float64) { bar.show(fmt.Sprintf("demo roll %3.0f %%", 100*done)) },
	})
	bar.clear()
	var file *simulate.DemoFileError
	switch {
	case err == nil:
		_, err = fmt.Fprintf(std.out, "%d frames written to %s\n", len(paths), printable(c.Dir))
		return err
	case ctx.Err() != nil && len(paths) > 0:
		return fmt.Errorf("stopped after %d frames of the demo; those are whole and stay in %s", len(paths), c.Dir)
	case errors.As(err, &file) && errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s exists already and was left alone; choose an empty folder, or say --force", filepath.Base(file.Path))
	case errors.As(err, &file) || ctx.Err() != nil:
		return err
	}
	return &load.CallError{Text: err.Error()} // the size or the stock
}

func (c *demoCmd) shelf(ctx context.Context, std streams) error {
	bar := newProgress(std.err)
	files, err := samples.Write(ctx, c.Dir, samples.Options{Size: c.Size, Program: Version, Force: c.Force,
		Progress: func(done float64, words string) { bar.show(fmt.Sprintf("sample shelf %3.0f %%, %s", 100*done, words)) }})
	bar.clear()
	var file *simulate.DemoFileError
	switch {
	case err == nil:
		_, err = fmt.Fprintf(std.out, "%d rolls written to %s\n", len(files), printable(c.Dir))
		return err
	case ctx.Err() != nil:
		return fmt.Errorf("stopped after %d rolls of the sample shelf; those are whole and stay in %s", len(files), c.Dir)
	case errors.As(err, &file) && errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s exists already and was left alone; choose an empty folder, or say --force", filepath.Base(file.Path))
	case errors.As(err, &file):
		return err
	}
	return &load.CallError{Text: err.Error()}
}
