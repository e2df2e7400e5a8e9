package ladder

import (
	"image"
	"math"

	"fyne.io/fyne/v2"

	"stopladder/analysis/show/explain"
	"stopladder/analysis/show/row"
)

// thing is what the pointer is over, as far as a card explains it.
type thing struct {
	frame  int      // -1: none
	part   row.Part // of its row
	column string   // of figures; "" none
	axis   bool
	limit  bool
	grip   grip
}

// thingAt returns what is at a position, and its rectangle in the ladder's units.
func (l *Ladder) thingAt(p fyne.Position) (t thing, at fyne.Position, size fyne.Size) {
	t = thing{frame: -1}
	if l.state.Empty() {
		return t, p, size
	}
	g := l.at(p)
	frame, part := l.partAt(p)
	t.grip = g
	width := l.Size().Width
	switch {
	case g == lowerPost || g == upperPost:
		t.axis = true
		return t, fyne.NewPos(0, p.Y-10), fyne.NewSize(axisWidth, 20)
	case g == marker:
		f := l.geo.at(float64(p.Y) - l.header())
		if f < 0 {
			t.grip = nothing
			return t, p, size
		}
		t.frame, t.axis = f, true
	case g == limitLine:
		t.limit = true
		return t, fyne.NewPos(p.X-4, p.Y-10), fyne.NewSize(8, 20)
	default:
		t.frame, t.part = frame, part
		if l.picture.density == row.Figures {
			t.column = l.columnAt(p.X)
			if float64(p.Y) < l.header() && t.column != "" {
				return t, fyne.NewPos(p.X-10, 0), fyne.NewSize(20, float32(l.header()))
			}
		}
	}
	if t.frame >= 0 {
		s := l.geo.slots[t.frame]
		return t, fyne.NewPos(0, float32(s.top-l.geo.offset+l.header())), fyne.NewSize(width, float32(s.height))
	}
	return t, p, size
}

// card returns the explanation of a thing.
func (l *Ladder) card(t thing) explain.Card {
	film := l.state.Film()
	set := ""
	if !l.state.Empty() {
		set = l.state.Roll().LimitSet().Title()
	}
	var d *row.Data
	if rows := l.state.Rows(); t.frame >= 0 && t.frame < len(rows) {
		d = rows[t.frame]
	}
	switch {
	case t.limit:
		if all := l.state.Rows()[0].Scales.Criteria; all != nil && all[l.limit.criterion] != nil {
			return explain.Criterion(all[l.limit.criterion], nil)
		}
	case t.axis && (t.grip == lowerPost || t.grip == upperPost):
		return explain.Range(l.state.Range(), film.Range(), set)
	case t.axis && d != nil:
		return explain.Stop(d)
	case t.column != "":
		for i := range row.Costs {
			if all := l.state.Rows()[0].Scales.Criteria; t.column == row.CostID(i) && all != nil && all[i] != nil {
				return explain.Criterion(all[i], d)
			}
		}
		if t.column == "verdict" && d != nil {
			return explain.Verdict(d, set)
		}
		for _, c := range l.columns {
			if c.ID == t.column {
				return explain.Column(c, d)
			}
		}
	case d != nil && t.part != row.NoPart:
		return explain.Part(d, t.part, set)
	case d != nil && l.picture.density == row.Marks:
		return explain.Verdict(d, set)
	}
	return explain.Card{}
}

// tell asks for the card of what is under the pointer, when that is another thing.
func (l *Ladder) tell(p fyne.Position) {
	if l.OnCard == nil {
		return
	}
	t, at, size := l.thingAt(p)
	if t == l.told {
		return
	}
	l.told = t
	l.OnCard(l.card(t), fyne.CurrentApp().Driver().AbsolutePositionForObject(l).Add(at), size)
}

// untell takes the card away.
func (l *Ladder) untell() {
	l.told = thing{frame: -2}
	if l.OnCard != nil {
		l.OnCard(explain.Card{}, fyne.Position{}, fyne.Size{})
	}
}

// CardHere returns the card of what the pointer is over, else that of the frame under the
// marker, with the place of what it explains on the window: for a key.
func (l *Ladder) CardHere() (explain.Card, fyne.Position, fyne.Size) {
	if l.state.Empty() {
		return explain.Card{}, fyne.Position{}, fyne.Size{}
	}
	origin := fyne.CurrentApp().Driver().AbsolutePositionForObject(l)
	if l.inside {
		t, at, size := l.thingAt(l.pointer)
		if c := l.card(t); !c.Empty() {
			return c, origin.Add(at), size
		}
	}
	i := l.state.Current()
	s := l.geo.slots[i]
	return explain.Verdict(l.state.Rows()[i], l.state.Roll().LimitSet().Title()),
		origin.Add(fyne.NewPos(0, float32(s.top-l.geo.offset+l.header()))), fyne.NewSize(l.Size().Width, float32(s.height))
}

// partAt returns the frame and the part of its row that is at a position; -1 for none.
func (l *Ladder) partAt(p fyne.Position) (frame int, part row.Part) {
	if l.state.Empty() || p.X < axisWidth || float64(p.Y) < l.header() {
		return -1, row.NoPart
	}
	frame = l.geo.at(float64(p.Y) - l.header())
	if frame < 0 || l.picture.density != row.Multiples {
		return frame, row.NoPart
	}
	k, s := l.picture.scale, l.geo.slots[frame]
	r := image.Rect(0, 0, l.picture.width, int(math.Round((s.top+s.height-l.geo.offset)*k))-int(math.Round((s.top-l.geo.offset)*k)))
	at := image.Pt(int(float64(p.X-axisWidth)*k), int((float64(p.Y)-l.header()-s.top+l.geo.offset)*k))
	return frame, row.PlaceMultiple(k, r, s.height).At(at)
}
