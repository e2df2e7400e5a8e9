package scan

import (
	"errors"
	"fmt"
	"path/filepath"

	"stopladder/analysis/numeric/syserror"
)

// FormatError says that a file is broken, or is no picture at all.
type FormatError struct {
	Path   string // as given to Open
	Reason string // what is wrong, a clause without a full stop
	Advice string // what to do, a clause; "" asks for a fresh copy
}

func (e *FormatError) Error() string {
	advice := e.Advice
	if advice == "" {
		advice = "ask for a fresh copy or scan the frame again"
	}
	return fmt.Sprintf("%s cannot be read: %s; %s.", filepath.Base(e.Path), e.Reason, advice)
}

// UnsupportedError says that a file is sound but uses something that is not
// read here.
type UnsupportedError struct {
	Path    string
	Feature string // a noun phrase, e.g. "fax compression"
	Advice  string // what to do, a clause; "" asks for an ordinary TIFF
}

func (e *UnsupportedError) Error() string {
	advice := e.Advice
	if advice == "" {
		advice = "save it as an 8- or 16-bit RGB or grey TIFF"
	}
	return fmt.Sprintf("%s uses %s, which is not supported; %s.", filepath.Base(e.Path), e.Feature, advice)
}

// BoundsError says that a file asks for more than Bounds allow.
type BoundsError struct {
	Path   string
	Reason string // e.g. "it is 200000 x 10 pixels and the longest side allowed is 100000"
}

func (e *BoundsError) Error() string {
	return fmt.Sprintf("%s was refused: %s; check the file, or scan at a lower resolution.", filepath.Base(e.Path), e.Reason)
}

// TruncatedError says that a file ends, or is damaged, before its last row.
// Rows above that were delivered.
type TruncatedError struct {
	Path     string
	RowsRead int  // rows that could be read and count; where Damaged, more may have been delivered
	Rows     int  // rows that the header promises
	Damaged  bool // the file goes on, but what follows does not fit its checksum or cannot be decoded
	// Coarse: the picture is stored in passes over all of its rows, of which the last are
	// missing, so that no row is whole.
	Coarse bool
}

func (e *TruncatedError) Error() string {
	if e.Coarse {
		return fmt.Sprintf("%s ends early or is damaged: its picture is stored in passes of ever finer detail, and the last are missing, so that it is coarse everywhere and readings of it would mislead; copy it again from the source.", filepath.Base(e.Path))
	}
	if e.Damaged {
		return fmt.Sprintf("%s is damaged from row %d on: what is stored there does not fit its checksum or cannot be decoded, and %d of %d rows could be read; copy it again from the source.", filepath.Base(e.Path), e.RowsRead, e.RowsRead, e.Rows)
	}
	return fmt.Sprintf("%s ends early or is damaged: %d of %d rows could be read; copy it again from the source.", filepath.Base(e.Path), e.RowsRead, e.Rows)
}

// fileError wraps an error of the operating system; errors.Is sees through it.
type fileError struct {
	path string
	err  error
}

func (e *fileError) Error() string {
	return fmt.Sprintf("%s could not be read (%v); check that it is there and that you may read it.", filepath.Base(e.path), syserror.Cause(e.err))
}

func (e *fileError) Unwrap() error { return e.err }

// feature is what of a format is not supported, in words.
type feature string

func (f feature) Error() string { return string(f) }

var (
	errCutShort = errors.New("it ends before its pixels, which looks like an incomplete copy")
	errNoPixels = errors.New("it holds no pixels")
)

func profileTooLarge(path string, lim Bounds) error {
	return &BoundsError{path, fmt.Sprintf("its colour profile is larger than the %s allowed", byteSize(int64(lim.MaxProfile)))}
}

// refusal turns what a header's reader found into the error of the file: a feature
// into an *UnsupportedError, what is one of the file's errors already stays, and
// anything else is a *FormatError.
func refusal(path string, err error) error {
	var limit *BoundsError
	var unsupported feature
	switch {
	case errors.As(err, &limit):
		return err
	case errors.As(err, &unsupported):
		return &UnsupportedError{Path: path, Feature: string(unsupported)}
	}
	return &FormatError{Path: path, Reason: err.Error()}
}
