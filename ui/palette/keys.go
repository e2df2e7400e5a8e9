package palette

import (
	"image"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/show/paint"
	"stopladder/ui/commands"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
)

// Measures of the page of keys, toolkit units.
const (
	keyLine   = 22
	keyHead   = 30
	keyColumn = 370 // the least width of a column
	keyWidth  = 96  // of the keys in it
)

// Keys returns the page of keys, by the groups of the menus and in columns, for a card of
// that width.
func Keys(table commands.Table, width float32) fyne.CanvasObject {
	var groups []commands.Listed
	for _, g := range table.ByGroup() {
		var with []*commands.Command
		for _, c := range g.Commands {
			if len(c.Keys) > 0 {
				with = append(with, c)
			}
		}
		if len(with) > 0 {
			groups = append(groups, commands.Listed{Name: g.Name, Commands: with})
		}
	}
	cols, tall := columns(groups, max(1, int(width/keyColumn)))
	p := paper.New(fyne.NewSize(100, tall), func(c *paint.Canvas, r image.Rectangle) {
		c.Fill(r, theme.Surface)
		for i, col := range cols {
			w := r.Dx() / len(cols)
			drawColumn(c, image.Rect(r.Min.X+i*w, r.Min.Y, r.Min.X+(i+1)*w-c.Px(16), r.Max.Y), col)
		}
	})
	return container.NewVScroll(p)
}

// columns deals groups out, in their order, to at most n columns that are as short as they
// can be, and returns the height of the tallest.
func columns(groups []commands.Listed, n int) (cols [][]commands.Listed, tall float32) {
	high := func(g commands.Listed) float32 { return keyHead + keyLine*float32(len(g.Commands)) }
	for _, g := range groups {
		tall = max(tall, high(g))
	}
	for ; ; tall += keyLine {
		cols = [][]commands.Listed{nil}
		var used float32
		for _, g := range groups {
			if used > 0 && used+high(g) > tall {
				cols, used = append(cols, nil), 0
			}
			cols[len(cols)-1] = append(cols[len(cols)-1], g)
			used += high(g)
		}
		if len(cols) <= n {
			return cols, tall
		}
	}
}

func drawColumn(c *paint.Canvas, r image.Rectangle, groups []commands.Listed) {
	y := r.Min.Y
	for _, g := range groups {
		c.TextIn(image.Rect(r.Min.X, y, r.Max.X, y+c.Px(keyHead)), g.Name, paint.Style{Size: theme.Head, Weight: paint.Medium, Col: theme.Text})
		y += c.Px(keyHead)
		for _, cmd := range g.Commands {
			line := image.Rect(r.Min.X, y, r.Max.X, y+c.Px(keyLine))
			key := line
			key.Max.X = key.Min.X + c.Px(keyWidth)
			c.TextIn(key, cmd.Keys[0].String(), paint.Style{Size: theme.Body, Weight: paint.Medium, Col: theme.Text})
			line.Min.X = key.Max.X + c.Px(6)
			c.TextIn(line, strings.TrimSuffix(cmd.Name(), "…"), paint.Style{Size: theme.Body, Col: theme.Quiet})
			y = line.Max.Y
		}
	}
}
