package simulate

import (
	"context"
	"fmt"
	"image"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/numeric/syserror"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/tiffwrite"
)

// WriteOptions of WriteDemo.
type WriteOptions struct {
	Kind  string // "reversal" or "negative"
	Size  int    // long side of the scans in pixels, 200 to 20000; 0: the demo's own size
	Force bool   // overwrite files of the same names
	// Variant makes another roll of the same film and scene.
	Variant Variant
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
// paths. A file under its own name is whole. Larger sizes than the embedded scene's are
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
	d, err := NewDemoOf(o.Kind, w, h)
	if err != nil {
		return nil, err
	}
	d.vary(o.Variant)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &DemoFileError{dir, fmt.Sprintf("the folder %s cannot be made: %v; choose another folder", dir, syserror.Cause(err)), err}
	}
	var paths []string
	for _, n := range d.Names() {
		p := filepath.Join(dir, n)
		paths = append(paths, p)
		there, err := os.Lstat(p)
		if err != nil {
			continue
		}
		if !o.Force {
			return nil, &DemoFileError{p, fmt.Sprintf("%s exists already and was left alone: choose an empty folder, or ask for overwriting", p), fs.ErrExist}
		}
		if !there.Mode().IsRegular() {
			continue // the write will say
		}
		if src, err := scan.Open(p, scan.DefaultBounds); err != nil || src.Info().Software != software {
			return nil, &DemoFileError{p, fmt.Sprintf("%s was not written by an earlier demo and was left alone: choose another folder", filepath.Base(p)), err}
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
			return paths[:i], &DemoFileError{p, err.Error(), err}
		}
	}
	return paths, nil
}

// software is what the files of a demo say wrote them.
const software = "Stopladder demo"

// write scans the frame band by band, so that memory does not grow with size.
func (f *demoSource) write(ctx context.Context, path string, progress func(float64)) error {
	s, err := f.shot()
	if err != nil {
		return err
	}
	return wholefile.WriteSeek(path, func(w io.WriteSeeker) error { return f.tiff(ctx, s, w, progress) })
}

func (f *demoSource) tiff(ctx context.Context, s *shot, w io.WriteSeeker, progress func(float64)) error {
	t, err := tiffwrite.NewWriter(w, tiffwrite.Options{
		Width: s.o.W, Height: s.o.H, ICC: Profile(), Software: software,
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
	return t.Close()
}
