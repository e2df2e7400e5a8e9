package measure

import (
	"context"
	"errors"
	"fmt"
	"image"
	"slices"
	"sync"

	"stopladder/analysis/scan"
)

// NewLook reads one scan (one decode) and takes the readings that need it
// alone. A file that ends early still gives a Look: MissingRows and a note say
// so, and the rows that are missing are left out of everything. An error is
// the reader's own, ctx's, or says that nothing of the picture could be read.
func NewLook(ctx context.Context, src scan.Source, opt Options) (*Look, error) {
	px, present, err := hold(ctx, src, opt)
	if err != nil {
		return nil, err
	}
	l := &Look{Info: px.Header, MissingRows: px.Header.Height - present}
	l.Notes = append(l.Notes, px.Header.Notes...)
	if l.MissingRows > 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("The file ends early: %d of %d rows are missing and are not measured.", l.MissingRows, px.Header.Height))
	}
	l.setSpace(opt)
	progress := opt.sweepProgress(px.Header.Height)
	if l.Preview, err = buildPreview(ctx, px, present, l.Space, opt.workers(), progress); err != nil {
		return nil, err
	}
	l.places = findPlaces(l.Preview, l.Space, image.Rect(0, 0, px.Header.Width, present))
	l.Area, l.AreaFrom, l.AreaNote = l.places.area, l.places.from, l.places.note
	if err := l.count(ctx, px, opt); err != nil {
		return nil, err
	}
	return l, nil
}

// Recount returns a copy of l measured over another image area (opt.Area), or
// with other limits (opt.Limits), or both; what is nil is kept: the area as it
// is, the limits found anew when the area changes. It reads src again. An area
// that reaches beyond the picture is cut to it; one outside it is an error.
func (l *Look) Recount(ctx context.Context, src scan.Source, opt Options) (*Look, error) {
	return l.recount(ctx, src, opt, AreaByHand, "")
}

func (l *Look) recount(ctx context.Context, src scan.Source, opt Options, from AreaFrom, note string) (*Look, error) {
	px, present, err := hold(ctx, src, opt)
	if err != nil {
		return nil, err
	}
	if px.Header.Width != l.Info.Width || px.Header.Height != l.Info.Height || px.Header.Bits != l.Info.Bits {
		return nil, fmt.Errorf("%s has changed since it was measured; open the roll again", base(l.Info.Path))
	}
	n := l.copy()
	if opt.Area == nil {
		if opt.Limits == nil {
			opt.Limits = &Limits{l.Ceiling, l.Floor, l.CeilingFrom, l.FloorFrom}
		}
	} else if from != AreaByHand {
		area := *opt.Area
		n.Area, n.AreaFrom, n.AreaNote = area, from, note
		opt.Area = nil
	}
	n.Area = n.Area.Intersect(image.Rect(0, 0, px.Header.Width, present))
	if err := n.count(ctx, px, opt); err != nil {
		return nil, err
	}
	return n, nil
}

// copy shares what a recount does not change and leaves out what it does.
func (l *Look) copy() *Look {
	return &Look{
		Info: l.Info, Space: l.Space, Preview: l.Preview,
		Area: l.Area, AreaNote: l.AreaNote, AreaFrom: l.AreaFrom, places: l.places,
		Notes: slices.Clone(l.Notes), ProfileAssumed: l.ProfileAssumed, MissingRows: l.MissingRows,
	}
}

// count takes everything that depends on the area and the limits.
func (l *Look) count(ctx context.Context, px *scan.Pixels, opt Options) error {
	present := px.Header.Height - l.MissingRows
	if opt.Area != nil {
		area := opt.Area.Intersect(image.Rect(0, 0, px.Header.Width, present))
		if area.Empty() {
			return fmt.Errorf("the image area set for %s lies outside its picture of %d x %d pixels; set it again", base(px.Header.Path), px.Header.Width, present)
		}
		l.Area, l.AreaFrom, l.AreaNote = area, AreaByHand, ""
	}
	var err error
	if l.Hist, err = countCodes(ctx, px, l.Area, opt.workers()); err != nil {
		return err
	}
	d := effectiveDepth(&l.Hist, px.Header.Bits)
	l.EffectiveBits = d.bits
	lim := findLimits(&l.Hist, d)
	if opt.Limits != nil {
		lim = *opt.Limits
	}
	l.Ceiling, l.Floor, l.CeilingFrom, l.FloorFrom = lim.Ceiling, lim.Floor, lim.CeilingFrom, lim.FloorFrom
	l.Mean = l.Hist.mean()
	clip, err := countClipped(ctx, px, present, l.Preview, l.Area, lim, opt.workers())
	if err != nil {
		return err
	}
	l.Blown, l.Blocked = clip.high.of(l.Hist.Pixels), clip.low.of(l.Hist.Pixels)
	l.BlownShare, l.BlockedShare = clip.highShare, clip.lowShare
	l.cache = new(lookCache)
	return nil
}

// hold brings the scan into memory and says how many rows there are. The sweeps
// of this package go over it twice (preview, then counts over the area that the
// preview shows); a reader that streams rows twice can stand in its place.
func hold(ctx context.Context, src scan.Source, opt Options) (px *scan.Pixels, present int, err error) {
	if _, held := src.(*scan.Pixels); !held && opt.Progress != nil {
		h := src.Info().Height
		src = progressSource{src, func(rows int) { opt.Progress(rows/2, h) }}
	}
	px, err = scan.Hold(ctx, src)
	var short *scan.TruncatedError
	if err != nil && !errors.As(err, &short) {
		return nil, 0, err
	}
	if px.Header.Width <= 0 || px.Header.Height <= 0 {
		return nil, 0, fmt.Errorf("%s holds no pixels; scan the frame again", base(px.Header.Path))
	}
	present = min(px.Header.Height, len(px.Pix)/(3*px.Header.Width))
	if present == 0 {
		if err == nil {
			err = &scan.TruncatedError{Path: px.Header.Path, Rows: px.Header.Height}
		}
		return nil, 0, err
	}
	return px, present, nil
}

// progressSource reports the rows that its source hands out.
type progressSource struct {
	scan.Source
	report func(rows int)
}

func (p progressSource) Stream(ctx context.Context, fn func(y int, rows []uint16) error) error {
	w := max(1, 3*p.Info().Width)
	return p.Source.Stream(ctx, func(y int, rows []uint16) error {
		err := fn(y, rows)
		p.report(y + len(rows)/w)
		return err
	})
}

// sweepProgress reports the second half of the way, one goroutine at a time.
func (o Options) sweepProgress(height int) func(rows int) {
	if o.Progress == nil {
		return nil
	}
	var mu sync.Mutex
	done := 0
	return func(rows int) {
		mu.Lock()
		defer mu.Unlock()
		done = min(done+rows, height)
		o.Progress((height+done)/2, height)
	}
}

// base is the last element of a path in either notation.
func base(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '/' || path[i] == '\\' {
			return path[i+1:]
		}
	}
	return path
}
