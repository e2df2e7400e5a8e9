package measure

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"sync"

	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// NewLook reads one scan (one decode) and takes the readings that need it
// alone. A file that ends early still gives a Look: MissingRows and a note say
// so, and the rows that are missing are left out of everything. An error is
// the reader's own, ctx's, or says that nothing of the picture could be read.
func NewLook(ctx context.Context, src scan.Source, opt Options) (*Look, error) {
	r, err := newReader(ctx, src, opt)
	if err != nil {
		return nil, err
	}
	l := &Look{Info: r.info}
	l.Notes = append(l.Notes, r.info.Notes...)
	spaceAt := len(l.Notes)
	l.setSpace(opt)
	var levels *levelTable
	var tables sync.WaitGroup
	tables.Go(func() { levels = newLevelTable(l.Space) })
	light := newLightTable(l.Space, r.grid.f)
	tables.Wait()
	area, lim, err := r.guess(ctx, levels, light)
	if err != nil {
		return nil, err
	}
	p, err := r.pass(ctx, light, lim, area, r.margins(area))
	if err != nil {
		return nil, err
	}
	if l.MissingRows = r.grid.h - r.present; l.MissingRows > 0 {
		l.Short = r.short
		why := "The file ends early"
		if r.short.Damaged {
			why = fmt.Sprintf("The file is damaged from row %d on", r.present)
		}
		l.Notes = slices.Insert(l.Notes, spaceAt, fmt.Sprintf("%s: %d of %d rows are missing and are not measured.", why, l.MissingRows, r.grid.h))
	}
	if note := gapNote(p.zero, r.present); note != "" {
		l.Notes = slices.Insert(l.Notes, spaceAt, note)
	}
	l.There = r.whole()
	l.Preview = r.grid.preview(p.pix)
	l.Preview.Tiles = p.tiles
	l.places = findPlaces(l.Preview, levels, r.whole())
	l.Area, l.AreaFrom, l.AreaNote = l.places.area, l.places.from, l.places.note
	if err := l.count(ctx, r, p, lim); err != nil {
		return nil, err
	}
	r.finished()
	return l, nil
}

// ColourSpace is the scan's space, or sRGB for a look that has none.
func (l *Look) ColourSpace() *colour.Space {
	if l.Space != nil {
		return l.Space
	}
	return colour.AssumedSRGB(l.Info.Max())
}

// Lightness is how light the image area is as a whole: the cube root of the light of
// the mean green code, 0..1, about as the eye counts.
func (l *Look) Lightness() float64 {
	tone := l.ColourSpace().Tone()[1]
	at := min(max(int(l.Mean.G+0.5), 0), len(tone)-1)
	return math.Cbrt(math.Max(0, float64(tone[at])))
}

// Recount returns a copy of l measured over another image area (opt.Area), or
// with another code range (opt.CodeRange), or both; what is nil is kept: the area as it
// is, the code range found anew when the area changes. It reads src again. An area
// that reaches beyond the picture is cut to it; one outside it is an error.
func (l *Look) Recount(ctx context.Context, src scan.Source, opt Options) (*Look, error) {
	n, err := l.recount(ctx, src, opt, AreaByHand, "")
	if err == nil {
		n.made = &origin{of: l}
	}
	return n, err
}

// origin is what a look was made of, where it was not read from the scan alone.
// With it a roll that is settled anew takes what it had instead of reading the
// scans again.
type origin struct {
	of     *Look
	agreed bool            // by Agree
	area   image.Rectangle // that Agree asked for, empty: the look's own
	from   AreaFrom
	note   string
	codes  *CodeRange // that Agree asked for, nil: found anew
}

// Own returns the look as the scan alone gave it, before Agree.
func (l *Look) Own() *Look {
	for l.made != nil && l.made.agreed {
		l = l.made.of
	}
	return l
}

// Unset returns the look before the image area was set by hand; l itself where it
// was found, nil where the scan was never measured without that area.
func (l *Look) Unset() *Look {
	for l != nil && l.AreaFrom == AreaByHand {
		if l.made == nil {
			return nil
		}
		l = l.made.of
	}
	return l
}

func (l *Look) recount(ctx context.Context, src scan.Source, opt Options, from AreaFrom, note string) (*Look, error) {
	r, err := newReader(ctx, src, opt)
	if err != nil {
		return nil, err
	}
	if r.info.Width != l.Info.Width || r.info.Height != l.Info.Height || r.info.Bits != l.Info.Bits {
		return nil, fmt.Errorf("%s has changed since it was measured; open the roll again", base(l.Info.Path))
	}
	r.present -= l.MissingRows
	r.grid = gridOf(r.grid.w, r.grid.h, r.grid.orientation, l.Preview.Factor)
	n := l.copy()
	if opt.Area == nil {
		if opt.CodeRange == nil {
			opt.CodeRange = &CodeRange{l.Ceiling, l.Floor, l.CeilingFrom, l.FloorFrom}
		}
	} else if from != AreaByHand {
		area := *opt.Area
		n.Area, n.AreaFrom, n.AreaNote = area, from, note
		opt.Area = nil
	}
	n.Area = n.Area.Intersect(r.whole())
	r.opt.Area, r.opt.CodeRange = opt.Area, opt.CodeRange
	if err := n.count(ctx, r, nil, l.codeRange()); err != nil {
		return nil, err
	}
	r.finished()
	return n, nil
}

// copy shares what a recount does not change and leaves out what it does.
func (l *Look) copy() *Look {
	return &Look{
		Info: l.Info, Space: l.Space, Preview: l.Preview,
		Area: l.Area, AreaNote: l.AreaNote, AreaFrom: l.AreaFrom, places: l.places,
		Notes: slices.Clone(l.Notes), ProfileAssumed: l.ProfileAssumed, assumed: l.assumed, MissingRows: l.MissingRows, Short: l.Short, There: l.There,
	}
}

// count takes everything that depends on the area and the code range. p is a pass
// with a guess at both, nil when there was none yet; lim is a guess at the range.
func (l *Look) count(ctx context.Context, r *reader, p *pass, lim CodeRange) error {
	opt := r.opt
	if opt.Area != nil {
		area := opt.Area.Intersect(r.whole())
		if area.Empty() {
			return fmt.Errorf("the image area set for %s lies outside its picture of %d x %d pixels; set it again", base(r.info.Path), r.whole().Dx(), r.whole().Dy())
		}
		l.Area, l.AreaFrom, l.AreaNote = area, AreaByHand, ""
	}
	area := r.grid.stored(l.Area)
	ok := false
	var d depth
	var err error
	if p != nil {
		if ok, err = r.correct(ctx, p, area); err != nil {
			return err
		}
		d = effectiveDepth(&p.hist, r.info.Bits)
		lim = findCodeRange(&p.hist, d)
	}
	for {
		if opt.CodeRange != nil {
			lim = *opt.CodeRange
		}
		if ok && p.lim.Ceiling == lim.Ceiling && p.lim.Floor == lim.Floor {
			break
		}
		if p, err = r.pass(ctx, nil, lim, area, [2]span{}); err != nil {
			return err
		}
		if p.count != area { // rows that were there a moment ago are not
			return &scan.TruncatedError{Path: r.info.Path, RowsRead: r.present, Rows: r.info.Height}
		}
		ok = true
		d = effectiveDepth(&p.hist, r.info.Bits)
		lim = findCodeRange(&p.hist, d)
	}
	l.Hist = p.hist
	l.EffectiveBits = d.bits
	l.Ceiling, l.Floor, l.CeilingFrom, l.FloorFrom = lim.Ceiling, lim.Floor, lim.CeilingFrom, lim.FloorFrom
	l.Mean = l.Hist.mean()
	l.Hist.pack()
	l.Blown, l.Blocked = p.high.of(l.Hist.Pixels), p.low.of(l.Hist.Pixels)
	l.BlownShare, l.BlockedShare = upright(r.grid, 1, p.highShare), upright(r.grid, 1, p.lowShare)
	l.cache = new(lookCache)
	return nil
}

// Damage says in a few words where a scan ends that is not whole, "cut at row 80" or
// "damaged at row 80", counted as the file stores them; "" where it is whole.
func (l *Look) Damage() string {
	var short *scan.TruncatedError
	if l == nil || !errors.As(l.Short, &short) {
		return ""
	}
	word := "cut"
	if short.Damaged {
		word = "damaged"
	}
	return fmt.Sprintf("%s at row %d", word, short.RowsRead)
}

// HasPreviewOf reports whether the look's preview is what NewLook makes with this
// PreviewSide.
func (l *Look) HasPreviewOf(side int) bool {
	return l.Preview != nil && l.Preview.Factor == previewFactor(l.Info.Width, l.Info.Height, side)
}

// codeRange returns the range that the look was counted with.
func (l *Look) codeRange() CodeRange {
	return CodeRange{l.Ceiling, l.Floor, l.CeilingFrom, l.FloorFrom}
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
