package headless

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/load"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/sheet"
)

// standard is the file name that means standard output.
const standard = guard.Standard

// output is the name of a file to write, "" where none was asked for.
type output string

// UnmarshalText refuses the empty name, which a script gives whose variable is not set.
func (o *output) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		return errors.New("the name of the file to write is empty; give one, or leave the option out")
	}
	*o = output(text)
	return nil
}

// writes takes up the outputs of a call.
func writes(g *guard.Guard, outputs ...output) error {
	for _, o := range outputs {
		if err := g.Writes(string(o)); err != nil {
			return err
		}
	}
	return nil
}

// writeFile writes an output that g has taken up whole or not at all; "-" is standard
// output.
func writeFile(stdout io.Writer, g *guard.Guard, path output, write func(io.Writer) error) error {
	if path == standard {
		return write(stdout)
	}
	if err := g.Still(string(path)); err != nil {
		return err
	}
	return wholefile.Write(string(path), write)
}

// tellLacking says which characters of texts that are drawn no font of the system has.
func tellLacking(std streams, texts ...string) {
	if lacking := paint.Lacking(texts...); lacking != "" {
		say(std, errors.New(sheet.LackingWords(lacking)))
	}
}

// progress writes one line that is written over, and only for a person to see.
type progress struct {
	w    *os.File // nil: nobody is looking
	last string
}

func newProgress(w io.Writer) *progress {
	if f, ok := w.(*os.File); ok {
		if st, err := f.Stat(); err == nil && st.Mode()&os.ModeCharDevice != 0 {
			return &progress{w: f}
		}
	}
	return &progress{}
}

func (p *progress) show(text string) {
	if p.w == nil || text == p.last {
		return
	}
	p.last = text
	fmt.Fprintf(p.w, "\r\x1b[K%s", text)
}

func (p *progress) clear() { p.show("") }

// follow shows how far the reading of a roll is.
func (p *progress) follow(job *load.Job) func(load.Event) {
	done := 0
	return func(e load.Event) {
		n := len(job.Roll.Frames)
		switch e.Kind {
		case load.Reading:
			p.show(fmt.Sprintf("%d of %d scans read, %s %3.0f %%", min(done, n), n, filepath.Base(job.Roll.Frames[e.Frame].File), 100*e.Progress))
		case load.Looked, load.Failed:
			done++
		}
	}
}
