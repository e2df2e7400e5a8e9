package scan

import "context"

// Block is a run of whole rows as the file stores them, before the orientation
// tag is applied.
type Block struct {
	Y    int      // the first row, counted in the file
	Rows []uint16 // 3 x stored width code values a row, interleaved RGB; valid during the call
}

// SweepOptions bound a sweep. The zero value sweeps the whole file on all
// processors.
type SweepOptions struct {
	Workers int // goroutines; 0 is GOMAXPROCS
	Y0, Y1  int // stored rows Y0 <= y < Y1; Y1 = 0 is the last row
	Align   int // blocks begin at multiples of it where the file's layout allows; 0 is 1
	Sample  int // above 0: only about so many single rows, spread evenly, those that are quickest to decode
}

// Sweeper is what a Source offers besides when its rows can be decoded on all
// processors at once, for readers to whom the order does not matter.
type Sweeper interface {
	Source
	// Stored returns the size as the rows of a sweep have it, and the orientation
	// 1 to 8 that turns them upright: width and height are exchanged against
	// Info's for 5 to 8.
	Stored() (w, h, orientation int)
	// SweepsWell says that Sweep is worth using: it decodes on all processors, and
	// a second sweep, or one of few rows, costs no more than its rows do.
	SweepsWell() bool
	// Sweep decodes the rows and hands each of them out once, in blocks and in
	// no particular order. newWorker is called once for every goroutine, before
	// any of them starts; the function that it returns is called by one goroutine
	// at a time, so that it can add up what is its own without a lock. Memory is
	// bounded by some blocks a worker, whatever the size of the picture.
	//
	// Sweep ends at the first error of a worker, or with ctx. A file that ends
	// early or is damaged gives a *TruncatedError, RowsRead being the stored rows
	// before the first that could not be read, or that turned out to be damaged when
	// its checksum was compared; all of those were handed out, and of the rows behind
	// them some may have been. Who needs the rows before it
	// alone sweeps again with Y1 = RowsRead.
	Sweep(ctx context.Context, opt SweepOptions, newWorker func() func(Block) error) error
}

// FilePixel returns the stored pixel of an upright pixel x, y for the orientations 1
// to 8 of TIFF 6.0, page 36; w and h are the stored size.
func FilePixel(orientation, w, h, x, y int) (fx, fy int) { return place(orientation, w, h, x, y) }

// UprightPixel undoes FilePixel.
func UprightPixel(orientation, w, h, fx, fy int) (x, y int) {
	return upright(orientation, w, h, fx, fy)
}
