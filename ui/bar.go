package ui

import (
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// judgeBar is the strip under the pictures in which the frame under the
// marker is judged: verdict, note, and the two ends of the range.
type judgeBar struct {
	w        *Window
	object   fyne.CanvasObject
	frame    *canvas.Text
	verdicts map[roll.Verdict]*chip.Chip
	note     *noteEntry
	rangeTxt *canvas.Text
	measured *canvas.Text      // the measured range, under the judge's
	ends     fyne.CanvasObject // the ends of the range, which stand under the ladder
	opinions *chip.Chip        // the tab, which there is not always room for
	lower    *chip.Chip
	upper    *chip.Chip
	narrow   bool   // there is little room under the ladder
	file     string // whose note is being edited
}

func newJudgeBar(w *Window) *judgeBar {
	b := &judgeBar{w: w, verdicts: map[roll.Verdict]*chip.Chip{}}
	b.frame = canvas.NewText("", theme.Text)
	b.frame.TextSize = theme.Head
	b.frame.TextStyle.Bold = true
	row := []fyne.CanvasObject{container.NewGridWrap(fyne.NewSize(58, 26), container.NewCenter(b.frame))}
	for _, v := range []struct {
		verdict roll.Verdict
		cmd     string
	}{{roll.Holds, "holds"}, {roll.Strains, "strains"}, {roll.Breaks, "breaks"}} {
		c := w.chip(v.cmd, "")
		b.verdicts[v.verdict] = c
		row = append(row, c)
	}
	b.note = newNoteEntry()
	b.note.SetPlaceHolder("Note")
	b.note.OnChanged = func(s string) {
		if b.file != "" {
			w.apply(session.SetNote{File: b.file, Text: s, When: time.Now()})
		}
	}
	b.note.done = w.leaveEntry
	b.rangeTxt = canvas.NewText("", theme.Text)
	b.rangeTxt.TextSize = theme.Body
	b.lower, b.upper = w.chip("lower", ""), w.chip("upper", "")
	var tabs []fyne.CanvasObject
	for _, id := range []string{"pictures", "curve", "readings", "bands", "patches", "salvage", "correction", "opinions"} {
		t := w.chip(id, "")
		t.Tab = true
		if id == "opinions" {
			b.opinions = t
		}
		tabs = append(tabs, t)
	}
	b.object = container.New(&footLayout{b}, container.NewHBox(row...), container.New(layout.NewCustomPaddedLayout(0, 0, 6, 10), b.note), page.Row(tabs...))
	b.measured = canvas.NewText("", theme.Quiet)
	b.measured.TextSize = theme.Small
	b.ends = container.New(&endsLayout{b}, b.rangeTxt, b.lower, b.upper, b.measured)
	return b
}

// endsLayout lays the ends of the range under the ladder: the words with the two buttons
// beside them, and the measured range below. Under a narrow ladder the buttons are left out,
// which the keys and the menu have as well, and the measured range loses its uncertainty.
type endsLayout struct{ b *judgeBar }

const (
	endsWords = 138 // width of the range's words beside the buttons
	endsRow   = 26
)

func (l *endsLayout) Layout(_ []fyne.CanvasObject, size fyne.Size) {
	b := l.b
	lower, upper := b.lower.MinSize().Width, b.upper.MinSize().Width
	narrow := size.Width < endsWords+lower+upper+8
	if narrow != b.narrow {
		b.narrow = narrow
		b.showMeasured()
	}
	b.rangeTxt.Move(fyne.NewPos(0, (endsRow-b.rangeTxt.MinSize().Height)/2))
	b.rangeTxt.Resize(b.rangeTxt.MinSize())
	b.measured.Move(fyne.NewPos(0, endsRow+4))
	b.measured.Resize(b.measured.MinSize())
	for i, c := range []*chip.Chip{b.lower, b.upper} {
		if narrow {
			c.Hide()
			continue
		}
		c.Show()
		c.Resize(fyne.NewSize(c.MinSize().Width, endsRow))
		c.Move(fyne.NewPos(endsWords+float32(i)*(lower+4), 0))
	}
}

func (l *endsLayout) MinSize([]fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(60, endsRow+4+l.b.measured.MinSize().Height)
}

// showMeasured writes the measured range, as much of it as there is room for.
func (b *judgeBar) showMeasured() {
	e := b.w.state.Film().Range()
	words := MeasuredWords(e)
	if b.narrow && words != "" {
		words = "Measured " + number.Signed(e.Holds.Lo.Stop, 2) + " … " + number.Signed(e.Holds.Hi.Stop, 2)
	}
	if b.measured.Text != words {
		b.measured.Text = words
		b.measured.Refresh()
	}
}

// footLayout gives verdicts and tabs what they want and the note the rest. Where that is too
// little the tabs leave their keys out, as chip.Row does, then the tab of the opinions goes
// while it has nothing to say, which the menu has as well, and last the keys of the verdicts.
type footLayout struct{ b *judgeBar }

// leastNote is the least width of a note's entry, toolkit units.
const leastNote = 116

func (l *footLayout) Layout(o []fyne.CanvasObject, size fyne.Size) {
	l.settle(size.Width, o)
	x := float32(0)
	put := func(o fyne.CanvasObject, w float32) {
		o.Move(fyne.NewPos(x, 0))
		o.Resize(fyne.NewSize(w, size.Height))
		x += w
	}
	judge, tabs := o[0].MinSize().Width, o[2].MinSize().Width
	put(o[0], judge)
	put(o[1], max(leastNote, size.Width-judge-tabs))
	put(o[2], max(0, size.Width-x))
}

// settle decides what is left out.
func (l *footLayout) settle(width float32, o []fyne.CanvasObject) {
	fits := func(opinions, keys bool) bool {
		show(l.b.opinions, opinions)
		for _, c := range l.b.verdicts {
			if c.Compact == keys {
				c.Compact = !keys
				c.Refresh()
			}
		}
		return o[0].MinSize().Width+leastNote+o[2].MinSize().Width <= width
	}
	speaks := l.b.w.state.Judges() > 1 || l.b.w.state.Panel() == session.OpinionsPanel
	switch {
	case fits(true, true):
	case !speaks && fits(false, true):
	default:
		fits(speaks, false)
	}
}

func show(c fyne.CanvasObject, on bool) {
	switch {
	case on && !c.Visible():
		c.Show()
	case !on && c.Visible():
		c.Hide()
	}
}

// MinSize implements fyne.Layout: with all that can be left out left out.
func (l *footLayout) MinSize(o []fyne.CanvasObject) fyne.Size {
	w, h := float32(leastNote), float32(0)
	for i, x := range o {
		m := x.MinSize()
		if i != 1 {
			w += m.Width
		}
		h = max(h, m.Height)
	}
	for _, c := range l.b.verdicts {
		if !c.Compact {
			c.Compact = true
			short := c.MinSize().Width
			c.Compact = false
			w -= c.MinSize().Width - short
		}
	}
	if l.b.opinions.Visible() && l.b.w.state.Judges() <= 1 {
		w -= l.b.opinions.MinSize().Width + 4
	}
	return fyne.NewSize(w, h)
}

// changed shows the state.
func (b *judgeBar) changed(c session.Parts) {
	if c&(session.Marks|session.Frames|session.Readings) != 0 {
		b.showMeasured()
	}
	if c&(session.Marker|session.Frames|session.Marks) == 0 {
		return
	}
	s := b.w.state
	i := s.Current()
	if i < 0 {
		b.file = ""
		b.frame.Text = ""
		b.note.SetText("")
		b.note.Disable()
		for _, ch := range b.verdicts {
			ch.Set(ch.Text, false, true)
		}
	} else {
		f := s.Roll().Frames[i]
		b.frame.Text = stops.Label(f.Stop)
		b.note.Enable()
		if b.file != f.File { // first, so that the text goes to no frame but its own
			b.file = ""
			b.note.SetText(f.Note)
			b.file = f.File
		} else if b.note.Text != f.Note && !b.note.focused {
			b.note.SetText(f.Note)
		}
		for v, ch := range b.verdicts {
			ch.Set(ch.Text, f.Verdict == v, false)
		}
	}
	b.rangeTxt.Text = RangeWords(s.Range())
	b.lower.Set(b.lower.Text, false, i < 0)
	b.upper.Set(b.upper.Text, false, i < 0)
	b.frame.Refresh()
	b.rangeTxt.Refresh()
}

// trial shows the range while a post is dragged; nil shows the judge's own again.
func (b *judgeBar) trial(r *roll.Range) {
	if r == nil {
		r = b.w.state.Range()
	}
	b.rangeTxt.Text = RangeWords(r)
	b.rangeTxt.Refresh()
}

// RangeWords returns the judge's range in words.
func RangeWords(r *roll.Range) string {
	if r == nil {
		return "Range not marked"
	}
	return "Range " + stops.Label(r.Lo) + " … " + stops.Label(r.Hi)
}

// MeasuredWords returns the measured range in words, "" while there is none.
func MeasuredWords(e *latitude.Result) string {
	if e == nil || e.Holds.Reason != "" {
		return ""
	}
	end := func(x latitude.End) string {
		w := number.Signed(x.Stop, 2)
		if x.Open {
			return w + " or further"
		}
		return w + " ± " + number.Fixed(x.Uncertainty, 2)
	}
	return "Measured " + end(e.Holds.Lo) + " … " + end(e.Holds.Hi)
}

// noteEntry is an entry that gives the keyboard back on Enter and Escape.
type noteEntry struct {
	widget.Entry
	done    func()
	focused bool
}

func newNoteEntry() *noteEntry {
	e := &noteEntry{}
	e.ExtendBaseWidget(e)
	e.OnSubmitted = func(string) { e.leave() }
	return e
}

func (e *noteEntry) leave() {
	if e.done != nil {
		e.done()
	}
}

// TypedKey implements fyne.Focusable.
func (e *noteEntry) TypedKey(k *fyne.KeyEvent) {
	if k.Name == fyne.KeyEscape {
		e.leave()
		return
	}
	e.Entry.TypedKey(k)
}

// FocusGained implements fyne.Focusable.
func (e *noteEntry) FocusGained() { e.focused = true; e.Entry.FocusGained() }

// FocusLost implements fyne.Focusable.
func (e *noteEntry) FocusLost() {
	e.focused = false
	e.Entry.FocusLost()
}
