package headless

import "context"

type demoCmd struct {
	Dir   string `arg:"" help:"The folder to write into; it is made if it is not there."`
	Stock string `enum:"reversal,negative" default:"reversal" help:"Film stock of the demo: reversal or negative."`
	Size  int    `default:"1800" placeholder:"N" help:"Longest side of the frames in pixels."`
	Force bool   `help:"Write over the files of an earlier demo."`
}

func (c *demoCmd) Run(ctx context.Context, std streams) error { return errReported }
