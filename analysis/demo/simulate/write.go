package simulate

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/scan/tiffwrite"
)

// WriteOptions of WriteDemo.
type WriteOptions struct {
	Kind  string // "reversal" or "negative"
	Size  int    // long side of the scans in pixels, 200 to 20000; 0: the demo's own size
	Force bool   // overwrite files of the same names
	// Progress, where not nil, is called with 0..1 of the whole work.
	Progress func(done float64)
}

// DemoFileError says which file or folder could not be written.
type DemoFileError struct {
	Path string
	Why  string
	Err  error
}

func (e *DemoFileError) Error() string { return e.Why }
func (e *DemoFileError) Unwrap() error { return e.Err }

// WriteDemo writes the demo roll's eight frames into dir, which is made where it
// does not exist, as 16-bit TIFFs with the embedded profile; it returns their
// paths. Each file is written under another name first and then renamed, so a
// file under its own name is whole. Larger sizes than the embedded scene's are
// enlarged from it (see microTexture): good for trying out real sizes, not for
// looking at detail.
func WriteDemo(ctx context.Context, dir string, o WriteOptions) ([]string, error) {
	if o.Size != 0 && (o.Size < 200 || o.Size > 20000) {
		return nil, fmt.Errorf("a demo of %d pixels cannot be written: give a long side from 200 to 20000", o.Size)
	}
	var w, h int
	if o.Size > 0 {
		border := 2 * (rebateShare + holderShare)
		w = o.Size
		h = int(math.Round(float64(w) / (1 + border) * (float64(scene.EmbeddedHeight)/scene.EmbeddedWidth + border)))
	}
	d, err := newDemo(o.Kind, w, h)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &DemoFileError{dir, fmt.Sprintf("the folder %s cannot be made: %v; choose another folder", dir, cause(err)), err}
	}
	var paths []string
	for _, n := range d.Names() {
		p := filepath.Join(dir, n)
		paths = append(paths, p)
		if _, err := os.Lstat(p); err == nil && !o.Force {
			return nil, &DemoFileError{p, fmt.Sprintf("%s exists already and was left alone: choose an empty folder, or ask for overwriting", p), fs.ErrExist}
		}
	}
	for i, p := range paths {
		progress := func(f float64) {
			if o.Progress != nil {
				o.Progress((float64(i) + f) / float64(len(paths)))
			}
		}
		if err := d.frames[i].write(ctx, p, progress); err != nil {
			if ctx.Err() != nil {
				return paths[:i], ctx.Err()
			}
			return paths[:i], &DemoFileError{p, fmt.Sprintf("%s cannot be written: %v; check that the folder can be written and the disk has room", p, cause(err)), err}
		}
	}
	return paths, nil
}

// cause is an error's last word: the path is in the sentence already.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}

// write scans the frame band by band, so that memory does not grow with size.
func (f *demoSource) write(ctx context.Context, path string, progress func(float64)) (err error) {
	s, err := f.shot()
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".stopladder-*.part")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			tmp.Close()
			os.Remove(tmp.Name())
		}
	}()
	t, err := tiffwrite.NewWriter(tmp, tiffwrite.Options{
		Width: s.o.W, Height: s.o.H, ICC: Profile(), Software: "Stopladder demo",
		Description: fmt.Sprintf("%s, %s, %+g stops, simulated", f.d.Title, f.d.Stock, f.stop),
		PPI:         25400 / s.pitch,
	})
	if err != nil {
		return err
	}
	const rows = 8 * bandHeight
	buf := make([]uint16, 3*s.o.W*rows)
	for y := 0; y < s.o.H; y += rows {
		end := min(y+rows, s.o.H)
		b := buf[:3*s.o.W*(end-y)]
		if err := s.rows(ctx, image.Pt(y, end), b); err != nil {
			return err
		}
		if err := t.WriteRows(b); err != nil {
			return err
		}
		progress(float64(end) / float64(s.o.H))
	}
	if err := t.Close(); err != nil {
		return err
	}
	// A temporary file is private; a scan is readable as other files are.
	if err := tmp.Chmod(0o644); err != nil {
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}
