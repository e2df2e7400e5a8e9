package headless

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"

	"stopladder/analysis/load"
)

// standard is the file name that means standard output.
const standard = "-"

// checkOutput says early, before minutes of work, what would make writing to
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
	tmp, err := beside(path)
	if err != nil {
		return writeError(path, err)
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

// beside creates a new file in path's folder. Unlike os.CreateTemp it leaves the
// permissions to the user's umask: a result is not a secret.
func beside(path string) (*os.File, error) {
	name := fmt.Sprintf(".stopladder-%016x", rand.Uint64())
	return os.OpenFile(filepath.Join(filepath.Dir(path), name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
}

// writeFile writes path whole or not at all: into a new file beside it that
// takes its name when everything is on disk. "-" is standard output.
func writeFile(stdout io.Writer, path string, write func(io.Writer) error) (err error) {
	if path == standard {
		return write(stdout)
	}
	tmp, err := beside(path)
	if err != nil {
		return writeError(path, err)
	}
	defer func() {
		if err != nil {
			tmp.Close()
			os.Remove(tmp.Name())
			err = writeError(path, err)
		}
	}()
	if err := write(tmp); err != nil {
		return err
	}
	if err := tmp.Sync(); err != nil {
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}

// writeError names the file and the plain reason.
func writeError(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		err = le.Err
	}
	return fmt.Errorf("%s cannot be written (%w); check that its folder is there, may be written to and has room", filepath.Base(path), err)
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
