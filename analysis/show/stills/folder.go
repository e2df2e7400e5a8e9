package stills

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"time"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/numeric/syserror"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/pngwrite"
)

// parts is what the folder is called in which stills stand until all are there.
const parts = ".stopladder-stills-*.part"

// WriteFolder draws the stills into a folder that is there, as PNGs tagged sRGB: all of
// them or none. They are written beside their places and take their names when the last
// one is on the disk. still is asked before each name is taken; nil allows all. program is
// name and version, which the files say. The error is one sentence.
func (s *Set) WriteFolder(ctx context.Context, dir, program string, open func(i int) (scan.Source, error), still func(path string) error, progress func(done, total int)) error {
	sweep(dir)
	temp, err := os.MkdirTemp(dir, parts)
	if err != nil {
		return fmt.Errorf("the stills cannot be written into %s: %w", dir, syserror.Cause(err))
	}
	defer os.RemoveAll(temp)
	title := s.roll.Judged.Called()
	err = s.Draw(ctx, open, func(one Still, img *image.RGBA) error {
		m := pngwrite.Meta{Title: title + " " + one.Label + ", " + one.Shown, Software: program}
		return encode(ctx, filepath.Join(temp, one.Name), img, m)
	}, progress)
	if err != nil {
		return err
	}
	list := s.List()
	if still != nil {
		for _, one := range list {
			if err := still(filepath.Join(dir, one.Name)); err != nil {
				return err
			}
		}
	}
	for k, one := range list {
		if err := os.Rename(filepath.Join(temp, one.Name), filepath.Join(dir, one.Name)); err != nil {
			err = fmt.Errorf("%s cannot be put in its place: %w", one.Name, syserror.Cause(err))
			if k > 0 {
				err = errors.Join(err, fmt.Errorf("%d of %d stills are", k, len(list)))
			}
			return err
		}
	}
	return nil
}

// encode writes a picture as a PNG.
func encode(ctx context.Context, path string, img *image.RGBA, m pngwrite.Meta) error {
	w := img.Rect.Dx()
	return wholefile.Write(path, func(out io.Writer) error {
		return pngwrite.Stream(ctx, out, pngwrite.Rows{W: w, H: img.Rect.Dy(), Depth: 8, Band: func(_ context.Context, dst []byte, y0, y1 int) error {
			for y := y0; y < y1; y++ {
				row := img.Pix[y*img.Stride : y*img.Stride+4*w]
				for len(row) >= 4 && len(dst) >= 3 {
					dst[0], dst[1], dst[2] = row[0], row[1], row[2]
					dst, row = dst[3:], row[4:]
				}
			}
			return nil
		}}, m)
	})
}

// sweep removes what a program that was killed left in a folder, once it is old enough to be
// nobody's.
func sweep(dir string) {
	old, _ := filepath.Glob(filepath.Join(dir, parts))
	for _, p := range old {
		if st, err := os.Lstat(p); err == nil && st.IsDir() && time.Since(st.ModTime()) > wholefile.StaleAfter {
			os.RemoveAll(p)
		}
	}
}
