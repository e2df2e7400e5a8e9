// Command mkscene renders the demo's courtyard and writes it packed, for
// embedding. It takes some minutes. Run it by go generate ./assets after a
// change to the scene.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/disk/wholefile"
	"stopladder/cmd/mkscene/courtyard"
)

func main() {
	out := flag.String("o", "courtyard.slsc", "file to write")
	samples := flag.Int("samples", scene.EmbeddedSamples, "paths a pixel")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *out, scene.EmbeddedWidth, scene.EmbeddedHeight, *samples); err != nil {
		fmt.Fprintln(os.Stderr, "mkscene:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, out string, w, h, samples int) error {
	last := -1
	r, err := courtyard.Render(ctx, w, h, samples, func(done float64) {
		if p := int(done * 100); p/5 != last/5 || last < 0 {
			last = p
			fmt.Fprintf(os.Stderr, "%d %%\n", p)
		}
	})
	if err != nil {
		return err
	}
	return wholefile.Write(out, func(w io.Writer) error { return pack(w, r) })
}
