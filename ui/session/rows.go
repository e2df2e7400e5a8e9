package session

import (
	"slices"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
)

// rows are the frames as the ladder draws them, kept while nothing that they show changes.
type rows struct {
	of       any // what they were made of: the measured roll and how far its reading is
	list     []*row.Data
	at       int // the row under the marker
	measured *latitude.Result
	criteria *row.Criteria // that measured gives
}

// Rows returns the frames as the ladder and the pages draw them, in the order of the roll:
// what was measured, what the judge said, how far the reading is, and where the marker
// stands.
func (s *State) Rows() []*row.Data {
	type made struct{ film, reading any }
	now, k := made{s.film, s.reading.version}, &s.rows
	if k.of != now {
		k.of, k.at = now, -1
		k.list = row.Of(s.film, s.prepared)
		for i, d := range k.list {
			d.Message = Sentence(d.Message)
			s.reading.mark(s.film.Frames[i].File, d)
		}
		if r := s.film.Range(); r != nil && len(k.list) > 0 {
			if r == k.measured { // the same limits on the same costs are one pointer: nothing of it is drawn anew
				for _, d := range k.list {
					d.Scales.Criteria = k.criteria
				}
			}
			k.measured, k.criteria = r, k.list[0].Scales.Criteria
		}
	}
	if at := s.Current(); at != k.at {
		k.list = slices.Clone(k.list) // who holds the rows of before keeps them
		for _, i := range []int{k.at, at} {
			if i >= 0 && i < len(k.list) {
				d := *k.list[i]
				d.Current = i == at
				k.list[i] = &d
			}
		}
		k.at = at
	}
	return k.list
}

// thumbSide is the longest side of a thumbnail in pixels: the tallest row on a screen of
// twice the usual density.
const thumbSide = 360

// drawnOf makes what is drawn of a look.
func drawnOf(l *measure.Look) *row.Data {
	d := &row.Data{Look: l}
	d.Prepare()
	if l.Preview != nil {
		d.Thumb = render.Area(l, nil, thumbSide, thumbSide)
	}
	return d
}

// prepared fills what is drawn of a look, which the work of reading has made.
func (s *State) prepared(d *row.Data) {
	made := s.drawn[d.Look]
	if made == nil {
		made = drawnOf(d.Look)
		s.drawn[d.Look] = made
	}
	d.Thumb, d.Hist, d.Ceiling, d.Floor = made.Thumb, made.Hist, made.Ceiling, made.Floor
}
