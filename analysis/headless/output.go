package headless

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/load"
)

// standard is the file name that means standard output.
const standard = "-"

// checkOutput finds early, before minutes of work, what would make writing to
// path fail or do harm: it is one of the scans, or its folder takes no files.
func checkOutput(path string, job *load.Job, rollFile string) error {
	if path == "" || path == standard {
		return nil
	}
	st, err := os.Stat(path)
	if err == nil {
		if st.IsDir() {
			return badCall("%s is a folder; name the file to write", filepath.Base(path))
		}
		for _, input := range append(inputs(job), rollFile) {
			if in, err := os.Stat(input); err == nil && os.SameFile(st, in) {
				return badCall("%s is one of the files that are read and is not written over; choose another name for the output", filepath.Base(path))
			}
		}
	}
	tmp, err := wholefile.Beside(path)
	if err != nil {
		return wholefile.Explain(path, err)
	}
	tmp.Close()
	return os.Remove(tmp.Name())
}

func inputs(job *load.Job) []string {
	var out []string
	for _, f := range job.Roll.Frames {
		out = append(out, filepath.FromSlash(f.File))
	}
	return out
}

// writeFile writes path whole or not at all; "-" is standard output.
func writeFile(stdout io.Writer, path string, write func(io.Writer) error) error {
	if path == standard {
		return write(stdout)
	}
	return wholefile.Write(path, write)
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
