package sheet

import (
	"context"
	"image"
	"math"

	"stopladder/analysis/film/finding"
	"stopladder/analysis/judge/stops"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
)

func bold(c *paint.Canvas, size float64) paint.Style {
	return paint.Style{Size: size, Weight: paint.Medium, Col: c.Pal.Text}
}
func plain(c *paint.Canvas, size float64) paint.Style {
	return paint.Style{Size: size, Col: c.Pal.Text}
}
func quiet(c *paint.Canvas, size float64) paint.Style { return paint.Style{Size: size, Col: c.Pal.Dim} }

// drawTitle writes the title and, below it, what identifies the test.
func drawTitle(c *paint.Canvas, l *layout, in Input, frames []Frame) {
	r := l.title
	title := in.Title
	if title == "" {
		title = "Untitled roll"
	}
	line := image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+c.Px(40))
	c.TextIn(line, title, bold(c, 30))

	y := r.Min.Y + c.Px(50)
	items := titleItems(in, frames)
	if len(items) == 0 {
		return
	}
	// Items have the width of their words; the longest give way when all are too many.
	gap := c.U(30)
	widths := make([]float64, len(items))
	sum := -gap
	for i, it := range items {
		widths[i] = math.Max(c.Width(it[0], quiet(c, 11)), c.Width(it[1], plain(c, 15))) + 2
		sum += widths[i] + gap
	}
	for sum > float64(r.Dx()) {
		k := 0
		for i := range widths {
			if widths[i] > widths[k] {
				k = i
			}
		}
		cut := math.Min(sum-float64(r.Dx()), math.Max(1, widths[k]*0.1))
		widths[k] -= cut
		sum -= cut
	}
	x := float64(r.Min.X)
	for i, it := range items {
		x0, x1 := int(x), int(math.Ceil(x+widths[i]))
		c.TextIn(image.Rect(x0, y, x1, y+c.Px(16)), it[0], quiet(c, 11))
		c.TextIn(image.Rect(x0, y+c.Px(17), x1, y+c.Px(38)), it[1], plain(c, 15))
		if it[0] == rangeItem && in.Range != nil {
			c.Fill(image.Rect(x0, y+c.Px(40), x1, y+c.Px(43)), c.Pal.Judge)
		}
		x += widths[i] + gap
	}
}

const rangeItem = "Judge's range"

func titleItems(in Input, frames []Frame) (items [][2]string) {
	add := func(name, value string) {
		if value != "" {
			items = append(items, [2]string{name, value})
		}
	}
	add("Stock", in.Stock)
	add("Base exposure", in.Exposure)
	if n := len(frames); n > 0 {
		s := stops.Label(frames[n-1].Data.Stop) + " to " + stops.Label(frames[0].Data.Stop) + " stops"
		if n == 1 {
			s = stops.Label(frames[0].Data.Stop)
		}
		add(plural(n, "frame", "frames"), s)
	}
	add("Judge", in.Judge)
	if in.Range != nil {
		add(rangeItem, rangeWords(in.Range))
	} else {
		add(rangeItem, "not marked")
	}
	if in.Measured != nil {
		add("Measured range", finding.Span(in.Measured.Holds)) // nothing where there is none
	}
	add("Date", in.Date)
	return items
}

func rangeWords(g *roll.Range) string {
	return stops.Label(g.Lo) + " to " + stops.Label(g.Hi) + " stops"
}

// sheetColumns returns the ladder's columns without the thumbnail and the table: the
// pictures stand beside the ladder.
func sheetColumns() []row.Column {
	var out []row.Column
	for _, col := range row.Columns() {
		if col.ID == "picture" || col.Priority >= row.Table {
			continue
		}
		if col.ID == "verdict" {
			col.Min, col.Max = 130, 260
		}
		out = append(out, col)
	}
	return out
}

// drawLadder draws the range through the whole sheet, the rows and the axis.
func drawLadder(c *paint.Canvas, l *layout, in Input, frames []Frame, all []*row.Data) {
	drawThrough(c, l, in.Range)
	placed := row.Arrange(l.rows.Dx(), c.Scale, sheetColumns())
	row.DrawHeader(c, l.head, placed, all...)
	stops := make([]float64, len(frames))
	for i, f := range frames {
		stops[i] = f.Data.Stop
		row.DrawRung(c, l.row[i], placed, f.Data)
		drawTie(c, l, i, f)
	}
	row.DrawColumns(c, l.rows, placed, l.yOf, all)
	row.DrawAxisTo(c, l.axis, l.yOf, l.lo, l.hi, stops, l.at)
	row.DrawRange(c, l.axis, l.yOf, row.RangeMarks{Judge: in.Range, Measured: row.MeasuredRange(in.Measured)})
	row.DrawMeasured(c, l.axis, l.yOf, l.lo, l.hi, all)
}

// drawThrough lets the judge's range run through the whole sheet, behind all
// else: a lighter neutral ground between two amber lines.
func drawThrough(c *paint.Canvas, l *layout, g *roll.Range) {
	if g == nil || math.IsNaN(g.Lo+g.Hi) || math.IsInf(g.Lo+g.Hi, 0) {
		return
	}
	y0, y1 := int(math.Round(l.yOf(g.Hi))), int(math.Round(l.yOf(g.Lo)))
	band := image.Rect(0, y0, l.width, y1).Intersect(image.Rect(0, l.ladder.Min.Y, l.width, l.ladder.Max.Y))
	c.Fill(band, paint.Alpha(c.Pal.White, 0.03))
	for _, y := range []int{y0, y1} {
		if y > l.ladder.Min.Y && y < l.ladder.Max.Y { // not through the axis and its labels
			c.HLine(0, l.axis.Min.X, y, 1.5, c.Pal.Judge)
			c.HLine(l.axis.Max.X, l.width, y, 1.5, c.Pal.Judge)
		}
	}
}

// drawTie joins a picture to its place: on the left to the axis, on the right to
// its row.
func drawTie(c *paint.Canvas, l *layout, i int, f Frame) {
	line, box := l.row[i], l.picture[i]
	from := paint.Pt{X: float64(box.Min.X)}
	to := paint.Pt{X: float64(line.Max.X), Y: l.at[i]}
	if l.left[i] {
		from.X = float64(box.Max.X)
		to = paint.Pt{X: float64(l.axis.Min.X) + c.U(4), Y: l.yOf(f.Data.Stop)}
	}
	// A picture that had to move is met at its nearest height.
	from.Y = math.Max(float64(box.Min.Y)+c.U(8), math.Min(float64(box.Max.Y)-c.U(caption+8), to.Y))
	if math.Abs(from.Y-to.Y) < c.U(1) {
		c.HLine(int(from.X), int(to.X), int(math.Round(to.Y)), 1.5, c.Pal.Strong)
		return
	}
	c.Polyline([]paint.Pt{from, to}, 1.5, c.Pal.Strong)
}

// drawPicture draws a frame's picture and its caption.
func drawPicture(ctx context.Context, c *paint.Canvas, l *layout, i int, f Frame) error {
	box := l.picture[i]
	foot := image.Rect(box.Min.X, box.Max.Y-c.Px(caption), box.Max.X, box.Max.Y)
	area := box
	area.Max.Y = foot.Min.Y
	d := f.Data

	var pic *image.RGBA
	sentence := d.Message
	if d.State != row.Failed {
		pic = d.Thumb
		if f.Picture != nil {
			p, err := f.Picture(ctx, area.Dx(), area.Dy())
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case err != nil:
				sentence = err.Error()
			default:
				pic = p
			}
		}
	}
	fit := paint.Fit(area, 3, 2)
	if pic != nil && !pic.Rect.Empty() {
		fit = paint.Fit(area, pic.Rect.Dx(), pic.Rect.Dy())
	}
	// Pictures lean against the ladder.
	if l.left[i] {
		fit = fit.Add(image.Pt(area.Max.X-fit.Max.X, 0))
	} else {
		fit = fit.Add(image.Pt(area.Min.X-fit.Min.X, 0))
	}
	// One card holds picture and caption.
	foot.Min.X, foot.Max.X = fit.Min.X, fit.Max.X
	foot.Min.Y = fit.Max.Y
	foot.Max.Y = foot.Min.Y + c.Px(caption)
	c.Fill(foot, c.Pal.Panel)
	if pic != nil && !pic.Rect.Empty() {
		c.Picture(fit, pic)
	} else {
		missing(c, fit, d, sentence)
	}
	st := bold(c, 14)
	foot.Min.X += c.Px(7)
	foot.Max.X -= c.Px(7)
	w := c.TextIn(foot, d.Name(), st)
	if d.Base {
		rest := foot
		rest.Min.X += int(w) + c.Px(6)
		w += c.TextIn(rest, "base", quiet(c, 12)) + c.U(6)
	}
	if f.Shown != "" {
		rest := foot
		rest.Min.X += int(w) + c.Px(8)
		w += c.TextIn(rest, f.Shown, quiet(c, 12)) + c.U(8)
	}
	foot.Min.X += int(w) + c.Px(10)
	c.TextIn(foot, d.File, quiet(c, 11).Aligned(paint.Right))
	return nil
}

// missing stands where there is no picture.
func missing(c *paint.Canvas, r image.Rectangle, d *row.Data, sentence string) {
	c.Fill(r, c.Pal.Well)
	c.Frame(r, 1, c.Pal.Strong)
	head := "No picture"
	if d.State == row.Failed {
		head = "Not read"
	}
	in := r.Inset(c.Px(14))
	lh := c.U(16)
	rows := c.Wrap(sentence, quiet(c, 12), float64(in.Dx()), max(1, int(float64(in.Dy())/lh)-1))
	y := float64(in.Min.Y) + (float64(in.Dy())-lh*float64(1+len(rows)))/2
	c.TextIn(image.Rect(in.Min.X, int(y), in.Max.X, int(y+lh)), head, bold(c, 13).Aligned(paint.Centre))
	for _, s := range rows {
		y += lh
		c.TextIn(image.Rect(in.Min.X, int(y), in.Max.X, int(y+lh)), s, quiet(c, 12).Aligned(paint.Centre))
	}
}
