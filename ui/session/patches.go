package session

import (
	"fmt"
	"io"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/patch"
	"stopladder/analysis/roll"
	"stopladder/analysis/rung"
	"stopladder/analysis/stops"
)

// suggestions is how many patches are proposed at once.
const suggestions = 8

// AddPatch drops a patch on the place x, y of the i-th frame, full-resolution
// pixels; it is kept in the base frame's pixels. The error says why it cannot be
// placed.
func (s *Session) AddPatch(i int, x, y float64) error {
	b := s.Base()
	if b < 0 || s.Frame(b).Row.Look == nil {
		return fmt.Errorf("a patch is placed by the base frame, and it is not read yet")
	}
	if i != b {
		m := s.Frame(i).Map
		if m == nil {
			return fmt.Errorf("frame %s does not lie on the base frame: click in the base frame, or place the frame by hand first", stops.Label(s.Roll.Frames[i].Stop))
		}
		var ok bool
		if x, y, ok = back(*m, x, y); !ok {
			return fmt.Errorf("frame %s lies on the base frame in a way that cannot be followed back; place it by hand", stops.Label(s.Roll.Frames[i].Stop))
		}
	}
	l := s.Frame(b).Row.Look
	if x < 0 || y < 0 || x >= float64(l.Info.Width) || y >= float64(l.Info.Height) {
		return fmt.Errorf("the base frame does not show this place")
	}
	p := roll.Patch{X: x, Y: y, R: float64(min(l.Area.Dx(), l.Area.Dy())) / 90}
	used := map[string]bool{}
	for _, q := range s.Roll.Patches {
		used[q.Name] = true
	}
	for n := 1; p.Name == "" || used[p.Name]; n++ {
		p.Name = fmt.Sprintf("Patch %d", n)
	}
	s.Edit("patch", func(r *roll.Roll) { r.Patches = append(r.Patches, p) })
	s.Patch = len(s.Roll.Patches) - 1
	s.Emit(ViewChanged)
	return nil
}

func back(m f64.Aff3, x, y float64) (float64, float64, bool) {
	det := m[0]*m[4] - m[1]*m[3]
	if det == 0 {
		return 0, 0, false
	}
	x, y = x-m[2], y-m[5]
	return (m[4]*x - m[1]*y) / det, (m[0]*y - m[3]*x) / det, true
}

// SuggestPatches puts flat places over the tonal range in the place of the patches
// that there are, as one step of undo, and says how many it found.
func (s *Session) SuggestPatches() int {
	b := s.Base()
	if b < 0 {
		return 0
	}
	found := patch.Suggest(s.Frame(b).Row.Look, suggestions)
	if len(found) > 0 {
		s.Edit("suggested patches", func(r *roll.Roll) { r.Patches = found })
		s.Patch = 0
		s.Emit(ViewChanged)
	}
	return len(found)
}

// ChangePatch changes or, where change returns false, takes away the patch that is
// chosen.
func (s *Session) ChangePatch(what string, change func(p *roll.Patch) bool) {
	k := s.Patch
	if k < 0 || k >= len(s.Roll.Patches) {
		return
	}
	s.Edit(what, func(r *roll.Roll) {
		if p := r.Patches[k]; change(&p) {
			if p.Neutral { // one neutral is what casts are told against
				for i := range r.Patches {
					r.Patches[i].Neutral = false
				}
			}
			r.Patches[k] = p
		} else {
			r.Patches = append(r.Patches[:k:k], r.Patches[k+1:]...)
		}
	})
	s.Patch = max(0, min(s.Patch, len(s.Roll.Patches)-1))
	s.Emit(ViewChanged)
}

// patchColumns are the readings of the page, by their short names.
var patchColumns = []string{"L*", "ΔE00", "CC R−G", "CC B−G", "S/N"}

func (s *Session) stops() []float64 {
	var out []float64
	for _, f := range s.Roll.Frames {
		out = append(out, f.Stop)
	}
	return out
}

// PatchTables are the readings of all patches in the i-th frame, and of the chosen
// one in every frame.
func (s *Session) PatchTables(i int) []rung.Section {
	if len(s.Roll.Patches) == 0 {
		return []rung.Section{{Title: "No patches yet", Rows: []rung.Row{prose("Place one by a click on the picture, or let flat places over the tonal range be suggested. Patches follow the registration into every frame.")}}}
	}
	set := s.PatchSet()
	if set == nil {
		return []rung.Section{{Title: "Patches", Rows: []rung.Row{prose("They are read when all frames are read and compared.")}}}
	}
	var cols []patch.Column
	for _, want := range patchColumns {
		for _, c := range patch.Columns() {
			if c.Short == want {
				cols = append(cols, c)
			}
		}
	}
	here := rung.Section{Title: "In " + stops.Label(s.Roll.Frames[i].Stop), Heads: patchColumns}
	over := rung.Section{Heads: patchColumns}
	for _, r := range set.Rows(s.stops()) {
		row := rung.Row{}
		for _, c := range cols {
			row.Values = append(row.Values, c.Words(c.Value(r.Reading)))
		}
		if r.Frame == i {
			row.Name, row.Strong = r.Name, r.Patch == s.Patch
			if s.Roll.Patches[r.Patch].Neutral {
				row.Name += ", neutral"
			}
			here.Rows = append(here.Rows, row)
		}
		if r.Patch == s.Patch {
			over.Title = r.Name + " over stops"
			row.Name, row.Strong = stops.Label(r.Stop), r.Frame == i
			over.Rows = append(over.Rows, row)
			if r.Reading.Reason != "" {
				over.Rows[len(over.Rows)-1] = prose(stops.Label(r.Stop) + ": " + r.Reading.Reason)
			}
			if h := r.Reading.Headroom; h != nil && (h.Blown != nil || h.Blocked != nil) {
				over.Rows = append(over.Rows, prose(fmt.Sprintf("From the base: %s stops to Blown, %s to Blocked.", figure(h.Blown, 1, true), figure(h.Blocked, 1, true))))
			}
		}
	}
	return []rung.Section{here, over}
}

// PatchCSV writes every reading of every patch in every frame.
func (s *Session) PatchCSV(w io.Writer) error {
	set := s.PatchSet()
	if set == nil {
		return fmt.Errorf("there is no patch that could be read yet")
	}
	return patch.CSV(w, set.Rows(s.stops()))
}
