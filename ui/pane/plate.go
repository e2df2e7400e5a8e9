package pane

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"

	"stopladder/analysis/numeric/legible"
)

// plate is the label on a picture: the stop, and small print beside and under it. It gives
// way to the picture: where the pane is small it says the stop alone, in smaller type.
type plate struct {
	back  *canvas.Rectangle
	label *canvas.Text
	lines [plateLines]*canvas.Text

	note string    // all of it, of which the lines show what there is room for
	room fyne.Size // of the pane that it was laid out for
	size fyne.Size
}

const (
	chipSize  = 13 // units of type
	noteSize  = 11
	smallSize = 11 // of the stop in a small pane
	inset     = 6  // of the plate from the pane's corner
	chipPad   = 5

	// A pane under these sides has room for the stop alone.
	smallWidth, smallHeight = 150, 96
	plateLines              = 3
	plateTall               = 0.3 // of the pane's height at most
)

func newPlate() *plate {
	pl := &plate{back: canvas.NewRectangle(chipBack), label: canvas.NewText("", chipText)}
	pl.back.CornerRadius = 3
	pl.label.TextStyle.Bold = true
	for i := range pl.lines {
		pl.lines[i] = canvas.NewText("", dimText)
		pl.lines[i].TextSize = noteSize
	}
	pl.back.Hide()
	return pl
}

// say changes the words and reports whether they are others.
func (pl *plate) say(label, note string) bool {
	label, note = legible.Line(label), legible.Line(note)
	if label == pl.label.Text && note == pl.note {
		return false
	}
	pl.label.Text, pl.note = label, note
	pl.room = fyne.Size{}
	return true
}

// empty reports whether it says nothing.
func (pl *plate) empty() bool { return pl.label.Text+pl.note == "" }

// fit lays the words out for a pane of a size, at the origin.
func (pl *plate) fit(room fyne.Size) {
	if room == pl.room {
		return
	}
	pl.room = room
	small := room.Width < smallWidth || room.Height < smallHeight
	pl.label.TextSize = chipSize
	pad, in := float32(chipPad), float32(inset)
	if small {
		pl.label.TextSize, pad, in = smallSize, 3, 3
		if room.Width < smallWidth/2 || room.Height < smallHeight/2 {
			pl.label.TextSize, pad = 9, 2
		}
	}
	l := fyne.MeasureText(pl.label.Text, pl.label.TextSize, pl.label.TextStyle)
	first := pad // where the first line of small print begins
	if pl.label.Text != "" {
		first += l.Width + pad
	} else {
		l = fyne.Size{}
	}
	n := fyne.MeasureText("Mg", noteSize, fyne.TextStyle{})
	var lines []string
	if !small || pl.label.Text == "" {
		most := 1 + max(0, min(plateLines-1, int((plateTall*room.Height-n.Height-4)/n.Height)))
		lines = fold(pl.note, room.Width-2*in-first-pad, room.Width-2*in-2*pad, most, func(s string) float32 {
			return fyne.MeasureText(s, noteSize, fyne.TextStyle{}).Width
		})
	}
	width, height := first, max(l.Height, n.Height)+4
	if pl.label.Text == "" {
		width = pad
	}
	for i, t := range pl.lines {
		text := ""
		if i < len(lines) {
			text = lines[i]
		}
		t.Text = text
		w := fyne.MeasureText(text, noteSize, fyne.TextStyle{}).Width
		at := fyne.NewPos(pad, height-2)
		if i == 0 {
			at = fyne.NewPos(first, 2+(max(l.Height, n.Height)-n.Height)*0.7)
		}
		if text != "" {
			width = max(width, at.X+w+pad)
			if i > 0 {
				height += n.Height
			}
		}
		t.Move(at)
		t.Resize(fyne.NewSize(w, n.Height))
		show(text != "", t)
	}
	if len(lines) == 0 || lines[0] == "" {
		width = max(width, pad+l.Width+pad)
	}
	pl.label.Move(fyne.NewPos(pad, 2))
	pl.label.Resize(l)
	show(pl.label.Text != "", pl.label)
	pl.size = fyne.NewSize(width, height)
	pl.back.Move(fyne.Position{})
	pl.back.Resize(pl.size)
	show(!pl.empty(), pl.back)
	for _, o := range pl.objects() {
		o.Refresh()
	}
}

// inset returns how far the plate stands from the pane's corner.
func (pl *plate) inset() float32 {
	if pl.room.Width < smallWidth || pl.room.Height < smallHeight {
		return 3
	}
	return inset
}

// seen shows or hides it; what says nothing stays hidden.
func (pl *plate) seen(on bool) {
	show(on && !pl.empty(), pl.back)
	show(on && pl.label.Text != "", pl.label)
	for _, t := range pl.lines {
		show(on && t.Text != "", t)
	}
}

// place moves the plate's corner, which fit has at the origin.
func (pl *plate) place(at fyne.Position) {
	by := at.Subtract(pl.back.Position())
	if by == (fyne.Position{}) {
		return
	}
	for _, o := range pl.objects() {
		o.Move(o.Position().Add(by))
	}
}

func (pl *plate) objects() []fyne.CanvasObject {
	out := []fyne.CanvasObject{pl.back, pl.label}
	for _, t := range pl.lines {
		out = append(out, t)
	}
	return out
}

// fold breaks small print into lines of a width, the first of another, where its phrases
// end: those are parted by three spaces or by a comma. What finds no place ends in an
// ellipsis.
func fold(note string, first, width float32, most int, measure func(string) float32) (lines []string) {
	if note == "" || most < 1 {
		return nil
	}
	line, room, more := "", first, ""
	for rest := note; rest != ""; {
		phrase, sep := rest, ""
		if i := strings.Index(rest, "   "); i >= 0 {
			phrase, sep = rest[:i], "   "
		}
		if i := strings.Index(phrase, ", "); i >= 0 {
			phrase, sep = phrase[:i], ", "
		}
		rest = strings.TrimPrefix(rest[len(phrase):], sep)
		comma := strings.TrimRight(sep, " ") // it stays on the line that it ends
		switch {
		case measure(line+more+phrase+comma) <= room:
			line += more + phrase
		case len(lines)+1 < most && (line != "" || room < width):
			if lines = append(lines, line+strings.TrimRight(more, " ")); measure(phrase+comma) > width {
				return append(lines, cut(phrase, width, measure))
			}
			line, room = phrase, width
		default:
			return append(lines, cut(line+more+phrase, room, measure))
		}
		more = sep
	}
	return append(lines, line)
}

// cut shortens a text to a width with an ellipsis, "" where nothing of it has room.
func cut(s string, width float32, measure func(string) float32) string {
	if measure(s) <= width {
		return s
	}
	for r := []rune(s); len(r) > 2; r = r[:len(r)-1] {
		if t := strings.TrimRight(string(r[:len(r)-1]), " ,") + "…"; measure(t) <= width {
			return t
		}
	}
	return ""
}
