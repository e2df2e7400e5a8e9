package manual

import (
	"fyne.io/fyne/v2"
	"stopladder/ui/theme"
)

// set gives an object a width and returns the height that it takes then: what wraps knows
// it only when it has its width.
func set(o fyne.CanvasObject, x, y, w float32) float32 {
	o.Move(fyne.NewPos(x, y))
	o.Resize(fyne.NewSize(w, o.Size().Height))
	h := o.MinSize().Height
	o.Resize(fyne.NewSize(w, h))
	return h
}

// column sets blocks below each other, not wider than is read well.
type column struct{ height float32 }

func (c *column) Layout(o []fyne.CanvasObject, size fyne.Size) {
	y := float32(0)
	for _, x := range o {
		y += set(x, 0, y, min(textWidth, size.Width-16))
	}
	c.height = y
}

func (c *column) MinSize(o []fyne.CanvasObject) fyne.Size {
	h := float32(0)
	for _, x := range o {
		h += x.MinSize().Height
	}
	return fyne.NewSize(300, h+24)
}

// hanging sets a mark and a text that hangs beside it.
type hanging struct{ in, mark float32 }

func (h *hanging) Layout(o []fyne.CanvasObject, size fyne.Size) {
	o[0].Move(fyne.NewPos(h.in, 0))
	o[0].Resize(o[0].MinSize())
	set(o[1], h.in+h.mark, 0, max(40, size.Width-h.in-h.mark))
}

func (h *hanging) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(h.in+h.mark+60, max(o[0].MinSize().Height, o[1].MinSize().Height))
}

// grid sets a table: columns as wide as their words want, and where that is too much the
// wide ones give way.
type grid struct {
	cols int
	want []float32
}

const (
	leastColumn = 60
	cellPad     = 16 // what a text needs around its words
)

func (g *grid) measure(k int, words string) {
	for len(g.want) <= k {
		g.want = append(g.want, leastColumn)
	}
	g.want[k] = max(g.want[k], fyne.MeasureText(words, theme.Body, fyne.TextStyle{Bold: true}).Width+cellPad)
}

// widths deals out what there is: columns that want less than an equal share get what they
// want, and the others share the rest.
func (g *grid) widths(all float32) []float32 {
	out := make([]float32, len(g.want))
	left, open := all, len(g.want)
	for done := false; !done && open > 0; {
		done = true
		share := left / float32(open)
		for k, w := range g.want {
			if out[k] == 0 && w <= share {
				out[k] = w
				left -= w
				open--
				done = false
			}
		}
	}
	for k := range out {
		if out[k] == 0 {
			out[k] = max(leastColumn, left/float32(open))
		}
	}
	return out
}

func (g *grid) Layout(o []fyne.CanvasObject, size fyne.Size) {
	w := g.widths(size.Width)
	y := float32(0)
	for i := 0; i+g.cols <= len(o); i += g.cols {
		x, tall := float32(0), float32(0)
		for k := range g.cols {
			tall = max(tall, set(o[i+k], x, y, w[k]))
			x += w[k]
		}
		y += tall - 6
	}
}

func (g *grid) MinSize(o []fyne.CanvasObject) fyne.Size {
	h := float32(6)
	for i := 0; i+g.cols <= len(o); i += g.cols {
		tall := float32(0)
		for k := range g.cols {
			tall = max(tall, o[i+k].MinSize().Height)
		}
		h += tall - 6
	}
	return fyne.NewSize(200, h)
}
