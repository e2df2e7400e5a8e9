// Package sheet draws the annotated comparison picture of a roll and writes it
// as a PNG that says what colour space it is in.
//
// The sheet is the ladder of the window, made for paper: the stop axis with one
// row of small multiples per frame stands in the middle, at true distances, and
// the pictures stand left and right of it by turns. Each picture may so be two
// rungs high and is still centred on its own stop.
package sheet

import (
	"context"
	"fmt"
	"image"
	"sort"

	"stopladder/analysis/film"
	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
)

// Widths that Draw accepts, in pixels.
const (
	MinWidth = 1600
	MaxWidth = 20000
)

// Frame is one frame of the sheet.
type Frame struct {
	Data *row.Data
	// Picture returns the frame's image area as sRGB, to be drawn at w x h
	// pixels or fewer; it may return any size. nil: Data.Thumb is drawn.
	Picture func(ctx context.Context, w, h int) (*image.RGBA, error)
	// Shown says how the picture is shown where it is not as scanned, a few words.
	Shown string
	// Origin says where the label came from; "" is not said on the sheet.
	Origin roll.Origin
}

// Input is what a sheet shows. Empty words are left out.
type Input struct {
	Title, Stock, Exposure, Judge, Date string

	Range    *roll.Range      // the judge's; nil when not marked
	Measured *latitude.Result // what the criteria give; nil when not measured

	Frames []Frame

	// Response is drawn under the ladder when a response was measured; nil or
	// without a curve it has no place.
	Response *plot.Data
	// Finding is what the roll comes to, measured and in the judge's words.
	Finding row.Finding
	// Salvage is drawn under the response; nil or without anything measured it has no
	// place.
	Salvage *Salvage
	// Patches are drawn beside the salvage; without rows they have no place.
	Patches row.Section
	// Correction is the view correction of all frames in words, which the pictures are
	// shown with; "" shows the scans as they are.
	Correction string
	// Conditions say in whole sentences what the roll told of itself: whether the
	// frames are registered, their stops measured, the scans fixed. The foot
	// begins with it.
	Conditions []string

	// Notes are assumptions and remarks besides those that Draw finds in the
	// frames' own readings.
	Notes   []string
	Program string // name and version, for the foot
}

// FromRoll returns what the sheet of a measured roll shows, its frames as they are
// looked at. program is name and version, for the foot.
func FromRoll(r *film.Roll, look render.Shown, program string) Input {
	judged := r.Judged
	in := Input{Title: judged.Called(), Stock: judged.Stock, Exposure: judged.Exposure, Date: judged.Date, Program: program,
		Notes: r.Notes, Conditions: conditions(r), Salvage: salvageOf(r), Patches: row.PatchSection(r), Finding: row.FindingOf(r)}
	if len(judged.Marks) > 0 {
		in.Judge, in.Range = judged.Marks[0].Judge, judged.Marks[0].Range
	}
	if r.Response != nil && r.Response.Curve != nil {
		d := plot.Of(r)
		in.Response = &d
	}
	if in.Salvage != nil {
		in.Measured = in.Salvage.Range
	}
	if v := judged.View; v != nil && !v.IsZero() && look.Corrected {
		in.Correction = v.Words()
	}
	for i, d := range row.Of(r, nil) {
		f := Frame{Data: d, Origin: judged.Frames[i].Origin}
		if d.Look != nil {
			own, all, words := look.Of(r, i)
			c := render.Corrected(own, all)
			if c != nil || look.Grade != "" {
				f.Shown = words
			}
			f.Picture = func(ctx context.Context, w, h int) (*image.RGBA, error) {
				return render.Area(d.Look, c, w, h), ctx.Err()
			}
		}
		in.Frames = append(in.Frames, f)
	}
	return in
}

// printPixels is the width from which a sheet says its size on paper: A3 across at
// 300 pixels an inch.
const printPixels = 4961

// Meta returns what the file of a sheet so many pixels wide says of itself.
func (in Input) Meta(width int) pngwrite.Meta {
	m := pngwrite.Meta{Title: in.Title, Software: in.Program}
	if width >= printPixels {
		m.PPI = 300
	}
	return m
}

// Options say how the sheet is drawn.
type Options struct {
	Width    int // pixels, MinWidth..MaxWidth
	Progress func(done, total int)
}

// Draw draws the sheet; its height follows from the frames. It ends early with
// the context's error. A picture that cannot be had does not end it: its place
// says so.
func Draw(ctx context.Context, in Input, opt Options) (*image.RGBA, error) {
	if opt.Width < MinWidth || opt.Width > MaxWidth {
		return nil, fmt.Errorf("a sheet of %d pixels width cannot be drawn: choose %d to %d", opt.Width, MinWidth, MaxWidth)
	}
	frames := ordered(in.Frames, in.Range)
	all := make([]*row.Data, len(frames))
	for i := range frames {
		all[i] = frames[i].Data
	}
	row.Share(all)

	scale := float64(opt.Width) / unitsWide
	probe := paint.New(image.NewRGBA(image.Rect(0, 0, 1, 1)), scale)
	l := plan(probe, in, frames)
	img := image.NewRGBA(image.Rect(0, 0, opt.Width, l.height))
	c := paint.New(img, scale).With(&paint.Sheet)
	c.Fill(img.Rect, c.Pal.Surround)
	drawTitle(c, l, in, frames)
	if len(frames) == 0 {
		c.TextIn(l.ladder, "This roll has no frames yet.", paint.Style{Size: 16, Col: c.Pal.Text, Align: paint.Centre})
	} else {
		drawLadder(c, l, in, frames, all)
		for i := range frames {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if err := drawPicture(ctx, c, l, i, frames[i]); err != nil {
				return nil, err
			}
			if opt.Progress != nil {
				opt.Progress(i+1, len(frames))
			}
		}
	}
	drawResponse(c, l, in)
	drawSalvage(c, l, in)
	drawFoot(c, l, in, frames)
	return img, ctx.Err()
}

// ordered copies the frames as they stand on the ladder, from the top (most
// exposure) down; the copies may be changed.
func ordered(frames []Frame, g *roll.Range) []Frame {
	out := make([]Frame, 0, len(frames))
	for _, f := range frames {
		if f.Data == nil {
			f.Data = &row.Data{}
		}
		d := *f.Data
		d.Current = false // the marker belongs to the window
		d.InRange = g != nil && d.Stop >= g.Lo && d.Stop <= g.Hi
		f.Data = &d
		out = append(out, f)
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Data.Stop > out[b].Data.Stop })
	return out
}
