// Package palette finds a command by its words: an entry, and under it every command that
// the words stand in, with its key, whether it is on, and why it cannot be done where it
// cannot.
package palette

import (
	"image"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/show/paint"
	"stopladder/ui/commands"
	"stopladder/ui/page"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
	"stopladder/ui/veil"
)

// Size of the card and height of a line, toolkit units.
const (
	width   = 720
	height  = 560
	lineHgt = 44
)

// Palette is the card on which a command is found.
type Palette struct {
	*veil.Veil
	over  fyne.Canvas
	table commands.Table
	entry *entry
	list  *list
	found []*commands.Command
	at    int // chosen
}

// New returns the card for a table of commands.
func New(over fyne.Canvas, table commands.Table) *Palette {
	p := &Palette{over: over, table: table}
	p.entry = newEntry(p)
	p.entry.SetPlaceHolder("What is to be done: a word of it, or a key")
	p.entry.OnChanged = p.search
	p.list = newList(p)
	foot := canvas.NewText("Up and Down choose, Return does it, Escape closes", theme.Quiet)
	foot.TextSize = theme.Small
	body := container.NewBorder(page.Padded(0, 6, 0, 0, p.entry), page.Padded(6, 0, 2, 0, foot), nil, nil, p.list)
	p.Veil = veil.New(over, page.Padded(10, 8, 10, 10, body), func(w fyne.Size) (fyne.Position, fyne.Size) {
		s := fyne.NewSize(min(width, w.Width-40), min(height, w.Height-80))
		return fyne.NewPos((w.Width-s.Width)/2, max(20, (w.Height-s.Height)/4)), s
	})
	p.search("")
	return p
}

// Show opens the card with an empty entry that has the keyboard.
func (p *Palette) Show() {
	p.entry.SetText("")
	p.search("")
	p.Veil.Show()
	p.Focus(p.entry)
}

// Found returns the titles of the commands that are listed now, in order.
func (p *Palette) Found() (titles []string) {
	for _, c := range p.found {
		titles = append(titles, c.Name())
	}
	return titles
}

func (p *Palette) search(question string) {
	p.found, p.at = p.table.Search(question), 0
	p.list.top = 0
	p.list.Refresh()
}

func (p *Palette) move(by int) {
	p.at = max(0, min(len(p.found)-1, p.at+by))
	p.list.reveal()
	p.list.Refresh()
}

// do closes the card and does the chosen command. One that cannot be done leaves it open:
// its line says why.
func (p *Palette) do() {
	if p.at < 0 || p.at >= len(p.found) {
		return
	}
	c := p.found[p.at]
	if c.Blocked() != "" {
		c.Do() // says why
		return
	}
	p.Hide()
	c.Do()
}

// entry is the line in which the words are written.
type entry struct {
	widget.Entry
	p *Palette
}

func newEntry(p *Palette) *entry {
	e := &entry{p: p}
	e.ExtendBaseWidget(e)
	return e
}

// TypedKey implements fyne.Focusable.
func (e *entry) TypedKey(k *fyne.KeyEvent) {
	rows := max(1, e.p.list.rows()-1)
	switch k.Name {
	case fyne.KeyUp:
		e.p.move(-1)
	case fyne.KeyDown:
		e.p.move(1)
	case fyne.KeyPageUp:
		e.p.move(-rows)
	case fyne.KeyPageDown:
		e.p.move(rows)
	case fyne.KeyReturn, fyne.KeyEnter:
		e.p.do()
	case fyne.KeyEscape:
		e.p.Hide()
	default:
		e.Entry.TypedKey(k)
	}
}

// TypedRune implements fyne.Focusable. The stroke that opened the card comes as a letter
// after it, and nothing begins with it.
func (e *entry) TypedRune(r rune) {
	if r == '/' && e.Text == "" {
		return
	}
	e.Entry.TypedRune(r)
}

// AcceptsTab keeps the keyboard in the entry: the list is moved with Up and Down.
func (e *entry) AcceptsTab() bool { return true }

// list shows the commands that were found.
type list struct {
	paper.Paper
	p   *Palette
	top float64 // first line that is shown, with fractions
}

var (
	_ fyne.Tappable   = (*list)(nil)
	_ fyne.Scrollable = (*list)(nil)
)

func newList(p *Palette) *list {
	l := &list{p: p}
	l.Draw = l.draw
	l.SetMinSize(fyne.NewSize(200, lineHgt*2))
	l.OnHover = func(_, y float64, ok bool) {
		if i := int(y/(lineHgt*l.Scale()) + l.top); ok && i < len(p.found) && i != p.at {
			p.at = i
			l.Refresh()
		}
	}
	l.ExtendBaseWidget(l)
	return l
}

func (l *list) rows() int { return int(l.Size().Height / lineHgt) }

// reveal moves the list so that the chosen line is seen whole.
func (l *list) reveal() {
	seen := float64(l.Size().Height) / lineHgt
	at := float64(l.p.at)
	l.top = max(0, min(at, max(l.top, at+1-seen)))
}

// Tapped implements fyne.Tappable.
func (l *list) Tapped(e *fyne.PointEvent) {
	if i := int(float64(e.Position.Y)/lineHgt + l.top); i >= 0 && i < len(l.p.found) {
		l.p.at = i
		l.Refresh()
		l.p.do()
	}
}

// Scrolled implements fyne.Scrollable.
func (l *list) Scrolled(e *fyne.ScrollEvent) {
	most := float64(len(l.p.found)) - float64(l.Size().Height)/lineHgt
	l.top = max(0, min(most, l.top-max(-2, min(2, float64(e.Scrolled.DY)/lineHgt))))
	l.Refresh()
}

// Cursor implements desktop.Cursorable.
func (l *list) Cursor() desktop.Cursor { return desktop.PointerCursor }

func (l *list) draw(c *paint.Canvas, r image.Rectangle) {
	c.Fill(r, theme.Surface)
	if len(l.p.found) == 0 {
		c.TextIn(image.Rect(r.Min.X+c.Px(10), r.Min.Y, r.Max.X, r.Min.Y+c.Px(lineHgt)), "No command has these words.", paint.Style{Size: theme.Body, Col: theme.Quiet})
		return
	}
	for i := int(l.top); i < len(l.p.found); i++ {
		y := r.Min.Y + c.Px((float64(i)-l.top)*lineHgt)
		if y >= r.Max.Y {
			break
		}
		l.line(c, image.Rect(r.Min.X, y, r.Max.X-c.Px(8), y+c.Px(lineHgt)-1), l.p.found[i], i == l.p.at)
	}
	if n, seen := float64(len(l.p.found)), float64(r.Dy())/c.U(lineHgt); n > seen { // how far down it stands
		h := float64(r.Dy())
		c.Fill(image.Rect(r.Max.X-c.Px(4), r.Min.Y+int(h*l.top/n), r.Max.X, r.Min.Y+int(h*(l.top+seen)/n)), theme.Line)
	}
}

// line draws one command: what it is called and its key above, what it does or why it cannot
// be done below.
func (l *list) line(c *paint.Canvas, r image.Rectangle, cmd *commands.Command, chosen bool) {
	if chosen {
		c.RoundRect(r, c.U(3), theme.Hover)
	}
	in := image.Rect(r.Min.X+c.Px(10), r.Min.Y+c.Px(3), r.Max.X-c.Px(10), r.Max.Y-c.Px(3))
	mid := (in.Min.Y + in.Max.Y) / 2
	why := cmd.Blocked()
	title := paint.Style{Size: theme.Body, Weight: paint.Medium, Col: theme.Text}
	quiet := paint.Style{Size: theme.Small, Col: theme.Quiet}
	if why != "" {
		title.Col = theme.Quiet
	}
	if chosen { // on its lighter ground quiet letters have too little contrast
		title.Col, quiet.Col = theme.Text, theme.Text
	}
	var keys []string
	for _, k := range cmd.Keys {
		if s := k.String(); len(keys) == 0 || keys[len(keys)-1] != s {
			keys = append(keys, s)
		}
	}
	right := in.Max.X
	if len(keys) > 0 {
		s := strings.Join(keys[:min(2, len(keys))], " or ")
		right -= int(c.TextIn(image.Rect(in.Min.X, in.Min.Y, right, mid), s, quiet.Tinted(theme.Text).Aligned(paint.Right))) + c.Px(12)
	}
	w := c.TextIn(image.Rect(in.Min.X, in.Min.Y, right, mid), cmd.Name(), title)
	where := cmd.In()
	if cmd.Checked != nil && why == "" && cmd.Checked() {
		where += "  ·  on"
	}
	c.TextIn(image.Rect(in.Min.X+int(w)+c.Px(10), in.Min.Y, right, mid), where, quiet)
	below := cmd.Hint
	if why != "" {
		below = "Not now: " + why
	}
	c.TextIn(image.Rect(in.Min.X, mid, in.Max.X, in.Max.Y), below, quiet)
}
