// Package scan opens the files that a lab returns and hands out their code
// values. Files are opened read-only and are not trusted: the header is read
// and checked against Bounds before any memory is taken for pixels.
//
// The door for readers is Source: everything above this package asks a Source
// for its Info and streams its rows, and does not know which decoder is behind.
package scan

import (
	"context"
	"image"
)

// Info is what the header of a scan says.
type Info struct {
	Path        string // as given to Open; "demo:..." for a built-in frame
	Format      string // "TIFF", "PNG", "JPEG"
	Width       int    // pixels, upright (after Orientation is applied)
	Height      int
	Bits        int    // bits per sample of the container: 8 or 16
	Channels    int    // colour channels in the file: 1 (grey) or 3 (RGB)
	ICC         []byte // the embedded profile, nil when there is none
	Orientation int    // TIFF/EXIF orientation 1..8 as found; already applied to the pixels

	// What the file says of itself; "" or 0 where it does not, or where it makes
	// no sense. Untrusted text, without control characters.
	Description string  // TIFF ImageDescription
	Software    string  // that wrote it
	Date        string  // "2006-01-02 15:04:05": when it was taken or scanned (EXIF), else when the file was written
	XPPI, YPPI  float64 // resolution in pixels per inch, upright

	Notes []string // what a reader of the results must know, e.g. "alpha channel ignored"
}

// Max returns the largest code value of the container: 255 or 65535.
func (i Info) Max() int { return 1<<uint(i.Bits) - 1 }

// Source is one scan. A Source is safe for use by one goroutine at a time.
type Source interface {
	// Info returns the checked header.
	Info() Info
	// Stream calls fn with consecutive bands of whole rows from the top to the
	// bottom: y is the first row of the band, rows holds 3*Width code values a
	// row, interleaved RGB. The slice is valid only during the call. Stream
	// stops at the first error of fn or when ctx ends. A file that ends early
	// yields the rows that could be read and then a *TruncatedError; of rows whose
	// checksum follows them, some beyond its RowsRead.
	Stream(ctx context.Context, fn func(y int, rows []uint16) error) error
	// Region returns the code values of r, which must lie inside the picture:
	// 3*r.Dx()*r.Dy() values, row by row, interleaved RGB.
	Region(ctx context.Context, r image.Rectangle) ([]uint16, error)
}

// Pixels is a whole picture in memory; it is a Source of its own.
type Pixels struct {
	Header Info
	Pix    []uint16 // 3*Width*Height code values, interleaved RGB

	damaged bool // where Pix is short: not because the file ends
}

// Bounds are what a file may ask for before it is refused.
type Bounds struct {
	MaxSide    int   // pixels; longer sides are refused
	MaxPixels  int64 // width x height
	MaxProfile int   // bytes of an embedded ICC profile
	MaxMemory  int64 // bytes that reading may take at once
}

// DefaultBounds admit any scan of film that the trade makes: 8x10 inch at
// 4000 ppi is 1.28 Gpx; twice that is refused. TIFFs and PNGs are read by rows and
// take far less than MaxMemory; it is for JPEGs and interlaced PNGs, whose decoders
// take the whole picture.
var DefaultBounds = Bounds{MaxSide: 100_000, MaxPixels: 2_560_000_000, MaxProfile: 16 << 20, MaxMemory: 1 << 30}
