package sheet

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"

	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
)

// Measures of the response's place, units.
const (
	plotHeight = 380.0
	plotWidth  = 920.0 // with the stops beside it
	plotGap    = 24.0
	stopLead   = 19.0
)

func hasResponse(in Input) bool { return in.Response != nil && in.Response.Curve != nil }

// stopRow is a frame in the table of stops.
type stopRow struct {
	label, measured, stderr, off string
	flagged                      bool
}

// stopRows returns the frames whose stops were measured, the most exposed first as on
// the ladder.
func stopRows(in Input) (out []stopRow) {
	if in.Response == nil {
		return nil
	}
	fs := slices.Clone(in.Response.Frames)
	slices.SortStableFunc(fs, func(a, b plot.Frame) int { return cmp.Compare(b.Stop, a.Stop) })
	if !slices.ContainsFunc(fs, func(f plot.Frame) bool { return f.Measured != nil }) {
		return nil
	}
	for _, f := range fs {
		r := stopRow{label: f.Name, measured: "–", stderr: "", off: ""}
		if r.label == "" && f.Labelled {
			r.label = stops.Label(f.Stop)
		}
		if f.Measured != nil && finite(*f.Measured) {
			r.measured = number.Signed(*f.Measured, 2)
			if f.Error != nil && finite(*f.Error) {
				r.stderr = fmt.Sprintf("± %.2f", *f.Error)
			}
		}
		if off, ok := f.Off(); ok && math.Abs(off) > row.MeasuredTolerance {
			r.off, r.flagged = number.Signed(off, 2), math.Abs(off) > response.LabelLimit
		}
		out = append(out, r)
	}
	return out
}

// drawResponse draws the response plot and beside it the stops, labelled and
// measured.
func drawResponse(c *paint.Canvas, l *layout, in Input) {
	if l.plot.Empty() {
		return
	}
	plot.Draw(c, l.plot, *in.Response, plot.Options{})
	r := l.table
	if r.Empty() {
		return
	}
	r = image.Rect(r.Min.X, r.Min.Y+c.Px(6), r.Max.X, r.Max.Y-c.Px(4))
	c.TextIn(image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+c.Px(18)), "Stops, labelled and measured", bold(c, 12))
	rows := stopRows(in)
	top := r.Min.Y + c.Px(24)
	fit := int(float64(r.Max.Y-top)/c.U(stopLead)) - 1
	if fit < 1 {
		return
	}
	// Many frames stand in two columns; what is more than that is counted.
	cols := 1
	if len(rows) > fit {
		cols = 2
	}
	more := len(rows) - fit*cols
	if more > 0 {
		more++ // the last line says so
		rows = rows[:fit*cols-1]
	}
	w := min(r.Dx()/cols, c.Px(280))
	for k := range cols {
		cell := func(i, line int) image.Rectangle {
			x0, step := r.Min.X+w*k, float64(w-c.Px(12))/4
			y := top + int(c.U(stopLead)*float64(line))
			return image.Rect(x0+int(step*float64(i)), y, x0+int(step*float64(i+1)), y+c.Px(stopLead))
		}
		for i, s := range []string{"label", "measured", "error", "off label"} {
			c.TextIn(cell(i, 0), s, quiet(c, 12-float64(cols)).Aligned(paint.Right))
		}
		first := cell(0, 0)
		c.HLine(first.Min.X+c.Px(8), cell(3, 0).Max.X, first.Max.Y, 1, c.Pal.Rule)
		for n := range fit {
			i := k*fit + n
			if i >= len(rows) {
				break
			}
			q := rows[i]
			c.TextIn(cell(0, n+1), q.label, bold(c, 12.5).Aligned(paint.Right))
			c.TextIn(cell(1, n+1), q.measured, plain(c, 12.5).Aligned(paint.Right))
			c.TextIn(cell(2, n+1), q.stderr, quiet(c, 12.5).Aligned(paint.Right))
			st := plain(c, 12.5)
			at := cell(3, n+1)
			if q.flagged {
				st = bold(c, 12.5)
				text := int(math.Ceil(c.Width(q.off, st)))
				c.Frame(image.Rect(at.Max.X-text-c.Px(4), at.Min.Y+c.Px(2), at.Max.X+c.Px(4), at.Max.Y-c.Px(2)), 1, c.Pal.White)
			}
			c.TextIn(at, q.off, st.Aligned(paint.Right))
		}
	}
	if more > 0 {
		y := top + int(c.U(stopLead)*float64(fit))
		c.TextIn(image.Rect(r.Min.X+w*(cols-1), y, r.Max.X, y+c.Px(stopLead)), fmt.Sprintf("and %d more", more), quiet(c, 11).Aligned(paint.Right))
	}
}
