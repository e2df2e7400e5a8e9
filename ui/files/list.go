package files

import (
	"cmp"
	"image"
	"slices"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/paint"
	"stopladder/ui/paper"
	"stopladder/ui/theme"
)

// Measures of the listing, toolkit units.
const (
	rowHeight  = 24
	headHeight = 26
	sizeWidth  = 80
	dateWidth  = 130
)

// twice is the longest time between the clicks of a double one, and again the longest
// between letters that are one word.
const (
	twice   = 400 * time.Millisecond
	oneWord = time.Second
)

// column is what the listing is sorted by.
type column int

const (
	byName column = iota
	bySize
	byDate
)

// listing is folders and files in one list, with size and date. It is used as on any
// desktop: a click chooses, with Ctrl one more, with Shift all up to there; a double click
// or Return opens; letters jump to a name; Backspace goes to the folder above.
type listing struct {
	paper.Paper
	many     bool // several may be chosen
	entries  []Entry
	chosen   map[string]bool
	at       int // cursor, -1 before the first
	anchor   int // where Shift counts from
	top      float64
	by       column
	back     bool
	focused  bool
	clicked  bool // the last choice was made with the mouse or by the keys, not by filling
	over     fyne.Canvas
	onPath   func(string) // a path is begun to be written
	onNone   func()       // Return, while there is no cursor
	onOpen   func(Entry)
	onUp     func()
	onEscape func()
	onChange func()

	now    func() time.Time // of a clock; a test turns it
	last   time.Time
	lastAt int
	word   string
	wordAt time.Time
	mods   func() fyne.KeyModifier
}

var (
	_ fyne.Focusable    = (*listing)(nil)
	_ fyne.Scrollable   = (*listing)(nil)
	_ desktop.Mouseable = (*listing)(nil)
)

func newListing(over fyne.Canvas) *listing {
	l := &listing{over: over, chosen: map[string]bool{}, at: -1, now: time.Now, mods: func() fyne.KeyModifier {
		if d, ok := fyne.CurrentApp().Driver().(desktop.Driver); ok {
			return d.CurrentKeyModifiers()
		}
		return 0
	}}
	l.Draw = l.draw
	l.SetMinSize(fyne.NewSize(300, headHeight+4*rowHeight))
	l.ExtendBaseWidget(l)
	return l
}

// fill shows other entries; at is the name that the cursor goes to, "" for none.
func (l *listing) fill(entries []Entry, at string) {
	l.entries, l.chosen, l.at, l.anchor, l.top, l.word = entries, map[string]bool{}, -1, 0, 0, ""
	l.sort()
	if i := slices.IndexFunc(l.entries, func(e Entry) bool { return e.Name == at }); i >= 0 {
		l.at, l.anchor = i, i
		l.chosen[at] = true
		l.reveal()
	}
	l.Refresh()
}

// sort keeps folders first.
func (l *listing) sort() {
	slices.SortStableFunc(l.entries, func(a, b Entry) int {
		if a.Dir != b.Dir {
			if a.Dir {
				return -1
			}
			return 1
		}
		c := 0
		switch l.by {
		case bySize:
			c = cmp.Compare(a.Size, b.Size)
		case byDate:
			c = a.Changed.Compare(b.Changed)
		}
		if c == 0 {
			c = stops.Natural(a.Name, b.Name)
		}
		if l.back {
			c = -c
		}
		return c
	})
}

// files are the names of the files that are chosen, as they are shown.
func (l *listing) files() (names []string) {
	for _, e := range l.entries {
		if l.chosen[e.Name] && !e.Dir {
			names = append(names, e.Name)
		}
	}
	return names
}

// folder is the folder that alone is chosen, "" where there is none.
func (l *listing) folder() string {
	name := ""
	for _, e := range l.entries {
		if l.chosen[e.Name] {
			if name != "" || !e.Dir {
				return ""
			}
			name = e.Name
		}
	}
	return name
}

// choose makes i the cursor. With Ctrl it is chosen beside what is, or no longer; with Shift
// all from the anchor to it are.
func (l *listing) choose(i int, mods fyne.KeyModifier) {
	if i < 0 || i >= len(l.entries) {
		return
	}
	switch {
	case l.many && mods&fyne.KeyModifierShift != 0:
		l.chosen = map[string]bool{}
		for k := min(i, l.anchor); k <= max(i, l.anchor); k++ {
			l.chosen[l.entries[k].Name] = true
		}
	case l.many && mods&fyne.KeyModifierShortcutDefault != 0:
		if name := l.entries[i].Name; l.chosen[name] {
			delete(l.chosen, name)
		} else {
			l.chosen[name] = true
		}
		l.anchor = i
	default:
		l.chosen = map[string]bool{l.entries[i].Name: true}
		l.anchor = i
	}
	l.at, l.clicked = i, true
	l.reveal()
	l.Refresh()
	l.onChange()
}

func (l *listing) rows() float64 { return max(1, float64(l.Size().Height-headHeight)/rowHeight) }

func (l *listing) reveal() {
	l.top = max(0, min(float64(l.at), max(l.top, float64(l.at)+1-l.rows())))
}

// MouseDown implements desktop.Mouseable.
func (l *listing) MouseDown(e *desktop.MouseEvent) {
	l.over.Focus(l)
	if e.Button == desktop.MouseButtonSecondary {
		return
	}
	if e.Position.Y < headHeight {
		l.head(e.Position.X)
		return
	}
	i := int(float64(e.Position.Y-headHeight)/rowHeight + l.top)
	if i >= len(l.entries) {
		return
	}
	now := l.now()
	double := i == l.lastAt && now.Sub(l.last) <= twice && e.Modifier == 0
	l.last, l.lastAt = now, i
	l.choose(i, e.Modifier)
	if double {
		l.last = time.Time{}
		l.onOpen(l.entries[i])
	}
}

// MouseUp implements desktop.Mouseable.
func (l *listing) MouseUp(*desktop.MouseEvent) {}

// head sorts by the column that was clicked, again the other way.
func (l *listing) head(x float32) {
	by := byName
	switch w := l.Size().Width - 8; {
	case x > w-dateWidth:
		by = byDate
	case x > w-dateWidth-sizeWidth:
		by = bySize
	}
	l.back = by == l.by && !l.back
	l.by = by
	l.sort()
	l.Refresh()
}

// Scrolled implements fyne.Scrollable.
func (l *listing) Scrolled(e *fyne.ScrollEvent) {
	most := float64(len(l.entries)) - l.rows()
	l.top = max(0, min(most, l.top-max(-4, min(4, float64(e.Scrolled.DY)/rowHeight))))
	l.Refresh()
}

// FocusGained implements fyne.Focusable.
func (l *listing) FocusGained() { l.focused = true; l.Refresh() }

// FocusLost implements fyne.Focusable.
func (l *listing) FocusLost() { l.focused = false; l.Refresh() }

// TypedRune implements fyne.Focusable: letters that come soon after each other are the
// beginning of a name.
func (l *listing) TypedRune(r rune) {
	now := l.now()
	if now.Sub(l.wordAt) > oneWord {
		l.word = ""
	}
	switch {
	case l.word != "":
	case r == ' ':
		return
	case r == '/' || r == '~': // no name begins so: a path is being written
		l.onPath(string(r))
		return
	}
	l.word, l.wordAt = l.word+strings.ToLower(string(r)), now
	for i, e := range l.entries {
		if strings.HasPrefix(strings.ToLower(e.Name), l.word) {
			l.choose(i, 0)
			return
		}
	}
}

// TypedKey implements fyne.Focusable.
func (l *listing) TypedKey(k *fyne.KeyEvent) {
	mods := l.mods()
	move := func(i int) {
		l.choose(max(0, min(len(l.entries)-1, i)), mods&fyne.KeyModifierShift)
	}
	switch k.Name {
	case fyne.KeyUp:
		move(l.at - 1)
	case fyne.KeyDown:
		move(l.at + 1)
	case fyne.KeyPageUp:
		move(l.at - int(l.rows()))
	case fyne.KeyPageDown:
		move(l.at + int(l.rows()))
	case fyne.KeyHome:
		move(0)
	case fyne.KeyEnd:
		move(len(l.entries) - 1)
	case fyne.KeySpace:
		if l.word == "" && l.at >= 0 {
			l.choose(l.at, fyne.KeyModifierShortcutDefault)
		}
	case fyne.KeyReturn, fyne.KeyEnter:
		if l.at >= 0 && l.at < len(l.entries) {
			l.onOpen(l.entries[l.at])
		} else {
			l.onNone()
		}
	case fyne.KeyBackspace:
		l.onUp()
	case fyne.KeyEscape:
		l.onEscape()
	}
}

// TypedShortcut implements fyne.Shortcutable.
func (l *listing) TypedShortcut(s fyne.Shortcut) {
	if _, ok := s.(*fyne.ShortcutSelectAll); ok && l.many {
		for _, e := range l.entries {
			if !e.Dir {
				l.chosen[e.Name] = true
			}
		}
		l.Refresh()
		l.onChange()
	}
}

func (l *listing) draw(c *paint.Canvas, r image.Rectangle) {
	c.Fill(r, theme.Well)
	quiet := paint.Style{Size: theme.Small, Col: theme.Quiet}
	bar := c.Px(8)
	cells := func(y0, y1 int) (name, size, date image.Rectangle) {
		date = image.Rect(r.Max.X-bar-c.Px(dateWidth), y0, r.Max.X-bar-c.Px(8), y1)
		size = image.Rect(date.Min.X-c.Px(sizeWidth), y0, date.Min.X-c.Px(12), y1)
		return image.Rect(r.Min.X+c.Px(32), y0, size.Min.X-c.Px(6), y1), size, date
	}
	y := r.Min.Y + c.Px(headHeight)
	body := c.Clipped(image.Rect(r.Min.X, y, r.Max.X, r.Max.Y))
	for i := int(l.top); i < len(l.entries); i++ {
		e := l.entries[i]
		y0 := y + c.Px((float64(i)-l.top)*rowHeight)
		if y0 >= r.Max.Y {
			break
		}
		line := image.Rect(r.Min.X, y0, r.Max.X-bar, y0+c.Px(rowHeight))
		col := theme.Quiet
		if l.chosen[e.Name] {
			body.Fill(line, theme.Hover)
			col = theme.Text
		}
		if i == l.at && l.focused {
			body.Frame(line, 1, theme.Accent)
		}
		name, size, date := cells(line.Min.Y, line.Max.Y)
		icon(body, image.Rect(line.Min.X+c.Px(10), line.Min.Y, line.Min.X+c.Px(26), line.Max.Y), e.Dir)
		body.TextIn(name, e.Name, paint.Style{Size: theme.Body, Col: theme.Text})
		if !e.Dir {
			body.TextIn(size, Bytes(e.Size), quiet.Tinted(col).Aligned(paint.Right))
		}
		body.TextIn(date, e.Changed.Format("2006-01-02 15:04"), quiet.Tinted(col).Aligned(paint.Right))
	}
	if n, seen := float64(len(l.entries)), l.rows(); n > seen {
		h := float64(r.Max.Y - y)
		c.Fill(image.Rect(r.Max.X-c.Px(5), y+int(h*l.top/n), r.Max.X-c.Px(1), y+int(h*(l.top+seen)/n)), theme.Line)
	}
	head := image.Rect(r.Min.X, r.Min.Y, r.Max.X, y)
	c.Fill(head, theme.Raised)
	name, size, date := cells(head.Min.Y, head.Max.Y)
	words := []string{"Name", "Size", "Changed"}
	// Signs that the typeface has: arrows are not among them, and not every system has one.
	if words[l.by] += " ˅"; l.back {
		words[l.by] = strings.Replace(words[l.by], "˅", "˄", 1)
	}
	c.TextIn(name, words[byName], quiet)
	c.TextIn(size, words[bySize], quiet.Aligned(paint.Right))
	c.TextIn(date, words[byDate], quiet.Aligned(paint.Right))
	if l.focused {
		c.Frame(r, 1.5, theme.Accent)
	}
}

// icon draws a folder or a sheet.
func icon(c *paint.Canvas, r image.Rectangle, folder bool) {
	w, h := c.Px(14), c.Px(11)
	x, y := r.Min.X, (r.Min.Y+r.Max.Y-h)/2
	if folder {
		c.Fill(image.Rect(x, y, x+w*2/5, y+c.Px(3)), theme.Quiet)
		c.Fill(image.Rect(x, y+c.Px(2), x+w, y+h), theme.Quiet)
		return
	}
	c.Frame(image.Rect(x+c.Px(2), y-c.Px(1), x+w-c.Px(3), y+h+c.Px(1)), 1, theme.Quiet)
}
