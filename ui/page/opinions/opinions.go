// Package opinions is the page on which the marks of all judges stand along the ladder,
// hidden until the judge's own are done.
package opinions

import (
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/packing"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/session"
)

// Page is the page.
type Page struct {
	state  *session.State
	object *fyne.Container
	plot   *paper.Paper
	head   *widget.Label
	words  *widget.Label
	pack   *chip.Chip
	side   *opinion.Side
	sent   sent
	today  func() string
	under  string // what the pointer is over, "" for nothing
}

// sent are the sender's readings of the roll file that they lie beside.
type sent struct {
	of      string
	figures []packing.Figures
}

// New returns the page of a state. chips are what can be done; pack, which may be nil, is the
// one among them that packs the roll, or what goes back.
func New(state *session.State, h page.Host, pack *chip.Chip, chips ...*chip.Chip) *Page {
	p := &Page{state: state, today: func() string { return time.Now().Format(time.DateOnly) }}
	p.plot = paper.New(fyne.NewSize(page.Width, 320), p.draw)
	p.plot.OnHover = func(x, y float64, ok bool) { p.under = p.at(x, y, ok); h.Hint(p.under) }
	h.Explain(p.plot, p.card)
	p.head, p.words, p.pack = text(), text(), pack
	var row []fyne.CanvasObject
	for _, c := range chips {
		row = append(row, c)
	}
	p.object = container.NewBorder(container.NewVBox(page.Padded(0, 0, 10, 10, page.Flush(p.head)), page.Padded(0, 4, 10, 10, page.Line(row...))), nil, nil, nil,
		container.NewVScroll(container.NewVBox(p.plot, page.Padded(0, 0, 10, 10, page.Flush(p.words)))))
	return p
}

// card explains the page, and what the pointer is over.
func (p *Page) card() explain.Card {
	c := explain.Plot("Second opinions", "opinion", "A column for each judging, a row for each frame from under at the foot to over at the top; the bar along a column is its range, in the accent's colour where it is your own. Dots at the left count the steps between the verdicts on a frame that lie furthest apart; an exclamation mark stands where the scan is another by now.")
	if p.under != "" {
		c.Text = append(c.Text, p.under+".")
	}
	return c
}

func text() *widget.Label {
	l := widget.NewLabel("")
	l.Wrapping = fyne.TextWrapWord
	return l
}

// Content implements page.Page.
func (p *Page) Content() fyne.CanvasObject { return p.object }

// Changed implements page.Page.
func (p *Page) Changed(session.Parts) {
	r := p.state.Roll()
	if r.Path() != p.sent.of {
		p.sent = sent{of: r.Path()}
		if r.Previews() > 0 {
			p.sent.figures = packing.Sent(r)
		}
	}
	if p.pack != nil {
		word := "Pack…"
		if r.Sitting != nil && r.Sitting.Pack != "" {
			word = "Send back…"
		}
		p.pack.Set(word, p.pack.On, p.pack.Off)
	}
	p.side = p.state.Opinions(p.today())
	p.head.SetText(headWords(r, p.side))
	var words []string
	for _, s := range p.side.Says() {
		words = append(words, legible.Line(s))
	}
	if len(p.sent.figures) > 0 {
		words = append(words, "Blown and Blocked at the right are of the full scans, measured by "+sender(r)+".")
	}
	p.words.SetText(strings.Join(words, "\n\n"))
	if p.plot.SetMinSize(fyne.NewSize(page.Width, height(len(r.Frames)))) {
		p.object.Refresh()
	}
	p.plot.Refresh()
}

func sender(r *roll.Roll) string {
	if r.Sitting != nil && r.Sitting.From != "" {
		return legible.Line(r.Sitting.From)
	}
	return "the sender"
}

// headWords say where the judging stands.
func headWords(r *roll.Roll, s *opinion.Side) string {
	words := ""
	if r.Previews() > 0 {
		words = "Light previews; the full scans stayed with " + sender(r) + ". "
	}
	switch {
	case s.Hidden > 0:
		return words + "Judge the frames and mark your range. The others' marks are shown once you are done."
	case len(s.Judgements) == 0:
		return words + "Nobody has judged this roll yet."
	case len(s.Judgements) == 1:
		return words + "One judging so far. Pack the roll for a friend, or judge it again in a month."
	}
	return words + "All judgings side by side, over above under as on the ladder."
}
