package plate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/analysis/show/sheet"
)

// FromRoll returns what a page of a measured roll shows. program is name and version.
func FromRoll(r *film.Roll, look render.Shown, program string) Input {
	set := r.Limits()
	in := Input{Input: sheet.FromRoll(r, look, program), Standing: standing(r), Base: r.Base, Grade: set.Grade,
		Salvaged: look.Grade != "", Shown: shownWords(r, look)}
	for i := range r.Frames {
		f := &r.Frames[i]
		a := 0.0
		if f.Look != nil && f.Look.Area.Dy() > 0 {
			a = float64(f.Look.Area.Dx()) / float64(f.Look.Area.Dy())
		}
		in.Aspects = append(in.Aspects, a)
		in.Salvage = append(in.Salvage, brought(r, i, set, in.Frames[i].Data))
	}
	if b := r.Base; b >= 0 && r.Frames[b].Look != nil {
		in.BaseArea = r.Frames[b].Look.Area
		in.Details = chosenDetails(r.Frames[b].Look)
	}
	return in
}

// shownWords says how the pictures are shown, for the page's head.
func shownWords(r *film.Roll, look render.Shown) string {
	s := "pictures as scanned"
	if look.Grade != "" {
		s = "pictures brought to the base frame, " + look.Grade.InWords()
	}
	if v := r.Judged.View; look.Corrected && v != nil && !v.IsZero() {
		s += ", all corrected alike: " + v.Words()
	}
	return s
}

// brought returns what a frame's salvage costs, in the order of the criteria.
func brought(r *film.Roll, i int, set criteria.Set, d *row.Data) (b Brought) {
	if i == r.Base {
		return Brought{Done: true}
	}
	if _, ok := r.Settings(i, set.Grade); !ok {
		return b
	}
	b.Done = true
	for _, c := range []criteria.Criterion{criteria.LostArea, criteria.Noise, criteria.DeltaE, criteria.ContrastKept} {
		v := value(d, c)
		if v == nil || math.IsNaN(*v) {
			continue
		}
		if k := d.Scales.Criteria[c]; k != nil {
			b.Costs = append(b.Costs, strings.ReplaceAll(k.Figure(*v), " ", "\u00a0"))
		}
	}
	return b
}

// mostSingle is how many frames a page of a few, large, takes.
const mostSingle = 6

// FramesAt returns the frames of a roll that a list of stops names, such as "-2, 0, +1", in
// its order; none for an empty list. Errors say what the list has that the roll has not.
func FramesAt(r *roll.Roll, list string) (out []int, err error) {
	if strings.TrimSpace(list) == "" {
		return nil, nil
	}
	wanted, err := stops.ParseList(list)
	if err != nil {
		return nil, err
	}
	for _, w := range wanted {
		at := slices.IndexFunc(r.Frames, func(f roll.Frame) bool { return math.Abs(f.Stop-w) < 0.02 })
		if at < 0 {
			return nil, fmt.Errorf("the roll has no frame at %s", stops.Label(w))
		}
		out = append(out, at)
	}
	if len(out) > mostSingle {
		return nil, fmt.Errorf("%d frames are named; one to %d have room", len(out), mostSingle)
	}
	return out, nil
}
