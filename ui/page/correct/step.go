package correct

import (
	"image"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/paint"
	"stopladder/ui/paper"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// step is one part of the correction on the page: its head, which says what the step costs,
// and what it is made with.
type step struct {
	which  session.HandStep
	name   string
	head   *paper.Paper
	object fyne.CanvasObject

	words string
	short string  // where there is no room for words
	share float64 // of the limit that the step takes
	known bool
}

// headHeight is the height of a step's head, toolkit units.
const headHeight = 30

func newStep(which session.HandStep, with ...fyne.CanvasObject) *step {
	s := &step{which: which, name: stepWords[which].title}
	s.head = paper.New(fyne.NewSize(140, headHeight), s.paint)
	s.object = container.NewVBox(append([]fyne.CanvasObject{s.head}, with...)...)
	return s
}

// paint draws the name, what the step costs in words, and how much of the limit that is.
func (s *step) paint(c *paint.Canvas, r image.Rectangle) {
	line := image.Rect(r.Min.X+c.Px(2), r.Min.Y+c.Px(4), r.Max.X-c.Px(2), r.Max.Y-c.Px(6))
	col := c.Pal.Dim
	if s.share > 1 {
		col = c.Pal.Text
	}
	head, style := paint.Style{Size: theme.Body, Weight: paint.Medium, Col: c.Pal.Text}, paint.Style{Size: theme.Small, Col: col, Align: paint.Right}
	line.Min.X += int(c.TextIn(line, s.name, head)) + c.Px(10)
	words := s.words
	if c.Width(words, style) > float64(line.Dx()) { // the line under it has the share as well
		words = s.short
	}
	c.TextIn(line, words, style)
	y := r.Max.Y - c.Px(4)
	x0, x1 := r.Min.X+c.Px(2), r.Max.X-c.Px(2)
	if !s.known {
		c.Fill(image.Rect(x0, y, x1, y+c.Px(1)), theme.Line)
		return
	}
	c.Fill(image.Rect(x0, y, x1, y+c.Px(3)), theme.Well)
	// The whole line is twice the limit, so that what is over it is seen as over it.
	mid := (x0 + x1) / 2
	c.Fill(image.Rect(x0, y, x0+int(math.Min(1, s.share/2)*float64(x1-x0)), y+c.Px(3)), col)
	c.VLine(mid, y-c.Px(2), y+c.Px(5), 1, c.Pal.Text)
}

// show takes over what the step costs; nil is not known.
func (s *step) show(c *session.StepCosts, measuring, hand bool) {
	was := *s
	s.words, s.short, s.share, s.known = "", "", 0, false
	switch {
	case !hand:
	case c == nil && measuring:
		s.words = "being measured"
	case c == nil:
	case !c.Steps[s.which].Used:
		s.words = "not used"
	default:
		x := c.Steps[s.which]
		s.known, s.share = true, x.Share
		if s.words = "costs nothing"; x.Share >= 0.005 {
			s.short = x.By.Word() + " " + x.By.Figure(x.Before) + " › " + x.By.Words(x.After)
			s.words = s.short + ", " + explain.ShareOf(x.Share) + " the limit"
		}
	}
	if s.short == "" {
		s.short = s.words
	}
	if s.words != was.words || s.share != was.share || s.known != was.known {
		s.head.Refresh()
	}
}
