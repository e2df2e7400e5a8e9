package row

import (
	"image"
	"math"

	"stopladder/analysis/show/paint"
)

// Sizes of type, units.
const (
	sizeTitle = 11.0
	sizeText  = 11.5
	sizeSmall = 10.0
	sizeTiny  = 9.0
)

// HeaderHeight is the height, in units, that DrawHeader is made for.
const HeaderHeight = 36.0

func text(c *paint.Canvas, size float64) paint.Style { return paint.Style{Size: size, Col: c.Pal.Text} }
func dim(c *paint.Canvas, size float64) paint.Style  { return paint.Style{Size: size, Col: c.Pal.Dim} }

// DrawHeader draws titles and units of the columns; all gives the scales that
// the units name and may be nil.
func DrawHeader(c *paint.Canvas, r image.Rectangle, placed []Placed, all ...*Data) {
	c = c.Clipped(r)
	h := r.Dy()
	two := float64(h) >= c.U(24)
	for _, p := range placed {
		cell := p.Rect(r)
		if cell.Dx() < c.Px(32) {
			continue // a word cut to two letters says nothing
		}
		top, low := cell, cell
		if two {
			top.Max.Y = r.Min.Y + h/2
			low.Min.Y = r.Min.Y + h/2
		}
		st := dim(c, sizeTitle).Bold().Tinted(c.Pal.Text)
		title := p.Title
		if p.Short != "" && c.Width(title, st) > float64(cell.Dx()) {
			title = p.Short
		}
		if len(p.Subs) > 0 && p.Draw != nil {
			group(c, top, title, st)
		} else {
			c.TextIn(top, title, st)
		}
		if !two {
			continue
		}
		switch {
		case p.DrawHead != nil:
			p.DrawHead(c, low, all)
		case len(p.Subs) > 0:
			for i, s := range p.Subs {
				c.TextIn(subRect(low, i, len(p.Subs)), s, dim(c, sizeSmall).Aligned(paint.Right))
			}
		default:
			c.TextIn(low, p.Unit, dim(c, sizeSmall))
		}
	}
}

// group draws the title of several sub-columns over a line that spans them.
func group(c *paint.Canvas, r image.Rectangle, title string, st paint.Style) {
	c.TextIn(r, title, st.Aligned(paint.Right))
	c.HLine(r.Min.X+c.Px(8), r.Max.X, r.Max.Y-c.Px(1), 1, c.Pal.Rule)
}

// DrawRung draws one frame's row: its ground, and each placed column that draws
// frame by frame. A nil frame draws the bare ground.
func DrawRung(c *paint.Canvas, r image.Rectangle, placed []Placed, d *Data) {
	r0 := r
	if r.Empty() {
		return
	}
	c = c.Clipped(r)
	if d == nil {
		c.Fill(r, c.Pal.Panel)
		return
	}
	if d.Current {
		c.Fill(r, c.Pal.Current)
		c.HLine(r.Min.X, r.Max.X, r.Min.Y, 1, c.Pal.Strong)
		c.HLine(r.Min.X, r.Max.X, r.Max.Y-c.Px(1)+c.Px(1)/2, 1, c.Pal.Strong)
	} else {
		c.Fill(r, c.Pal.Panel)
	}
	inset := rungInset(c, r)
	r.Min.Y += inset
	r.Max.Y -= inset
	if d.State == Failed {
		drawFailed(c, r, placed, d)
	} else {
		for _, p := range placed {
			if p.Draw == nil {
				continue
			}
			if cell := p.Rect(r); !cell.Empty() {
				p.Draw(c.Clipped(cell.Inset(-c.Px(2)).Intersect(r0)), cell, d)
			}
		}
	}
	if d.InRange {
		// The judge's range runs along the rungs' left edge as well, so that it
		// is seen where the axis is not.
		c.Fill(image.Rect(r0.Min.X, r0.Min.Y, r0.Min.X+c.Px(2), r0.Max.Y), c.Pal.Judge)
	}
}

// DrawColumns draws the plots that span all rungs; call it after the rungs.
// full is the rectangle of all rungs.
func DrawColumns(c *paint.Canvas, full image.Rectangle, placed []Placed, yOf func(stop float64) float64, all []*Data) {
	for _, p := range placed {
		if p.DrawColumn == nil {
			continue
		}
		if cell := p.Rect(full); !cell.Empty() {
			p.DrawColumn(c.Clipped(cell), cell, yOf, all)
		}
	}
}

// drawFailed keeps the verdict, which is the judge's, and gives the rest of the
// row to the sentence that says what is wrong.
func drawFailed(c *paint.Canvas, r image.Rectangle, placed []Placed, d *Data) {
	rest := r
	for i, p := range placed {
		if p.ID == "picture" && p.Draw != nil {
			cell := p.Rect(r)
			p.Draw(c.Clipped(cell), cell, d)
			if i+1 < len(placed) {
				rest.Min.X = r.Min.X + placed[i+1].X
			} else {
				return
			}
		}
	}
	rest.Min.X = max(rest.Min.X, r.Min.X+c.Px(side))
	rest.Max.X -= c.Px(side)
	title := text(c, sizeText).Bold()
	body := dim(c, sizeSmall)
	lh := c.U(14)
	lines := int((float64(rest.Dy()) - 2) / lh)
	if lines < 1 || rest.Dx() < c.Px(24) {
		return
	}
	head := "Not read"
	if d.File != "" {
		head = "Not read: " + d.File
	}
	var rows []string
	if lines > 1 {
		rows = c.Wrap(d.Message, body, float64(rest.Dx()), lines-1)
	}
	y := float64(rest.Min.Y) + (float64(rest.Dy())-lh*float64(1+len(rows)))/2
	line := func(s string, st paint.Style) {
		c.TextIn(image.Rect(rest.Min.X, int(y), rest.Max.X, int(y+lh)), s, st)
		y += lh
	}
	line(head, title)
	for _, s := range rows {
		line(s, body)
	}
}

// rungInset is how far a rung's cells keep from its upper and lower end, in pixels.
func rungInset(c *paint.Canvas, r image.Rectangle) int {
	return c.Px(math.Min(pad, float64(r.Dy())/c.Scale/12))
}
