package session

import (
	"fmt"
	"io"
	"math"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/patch"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
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

// patchColumns are the readings that stand side by side on the page, by their short
// names; the last gives way to one that is plotted and not among them.
var patchColumns = []string{"L*", "ΔE00", "CC R−G", "CC B−G", "S/N"}

func (s *Session) stops() []float64 {
	var out []float64
	for _, f := range s.Roll.Frames {
		out = append(out, f.Stop)
	}
	return out
}

// PatchColumn is the reading that the plot of the patches shows, L* unless another
// was chosen.
func (s *Session) PatchColumn() patch.Column {
	all := patch.Columns()
	for _, c := range all {
		if c.Short == s.patchReading {
			return c
		}
	}
	return all[0]
}

// ShowPatchReading chooses the reading that is plotted, by its short name.
func (s *Session) ShowPatchReading(short string) {
	s.patchReading = short
	s.Emit(ViewChanged)
}

// SortPatches sorts the table by a reading, which is plotted too: falling at first,
// then rising, then as placed.
func (s *Session) SortPatches(short string) {
	switch {
	case s.patchReading != short || s.patchSort == unsorted:
		s.patchSort = falling
	case s.patchSort == falling:
		s.patchSort = rising
	default:
		s.patchSort = unsorted
	}
	s.ShowPatchReading(short)
}

type sorting int

const (
	unsorted sorting = iota
	falling
	rising
)

// words says how the table is sorted.
func (k sorting) words() string { return [...]string{"", ", falling", ", rising"}[k] }

// PatchTables are the readings of all patches in the i-th frame, of the chosen one
// in every frame, and everything that is known of it in the i-th. click does what a
// click on one of their cells asks for: a head sorts, a row chooses.
func (s *Session) PatchTables(i int) (sections []row.Section, click func(row.Cell)) {
	click = func(row.Cell) {}
	if len(s.Roll.Patches) == 0 {
		return []row.Section{{Title: "No patches yet", Rows: []row.Row{prose("Place one by a click on the picture, or let flat places over the tonal range be suggested. Patches follow the registration into every frame.")}}}, click
	}
	set := s.PatchSet()
	if set == nil {
		return []row.Section{{Title: "Patches", Rows: []row.Row{prose("They are read when all frames are read and compared.")}}}, click
	}
	shown := s.PatchColumn()
	cols := patchColumnsWith(shown)
	var heads []string
	for _, c := range cols {
		heads = append(heads, c.Short)
	}
	rows := set.Rows(s.stops())
	here := row.Section{Title: "In " + stops.Label(s.Roll.Frames[i].Stop) + s.patchSort.words(), Heads: heads, By: shown.Short}
	over := row.Section{Heads: heads, By: shown.Short}
	all := row.Section{}
	var hereRows []patch.Row
	var overAt []int // frame of each row
	for _, r := range rows {
		if r.Frame == i {
			hereRows = append(hereRows, r)
		}
		if r.Patch != s.Patch {
			continue
		}
		over.Title = r.Name + " over stops"
		line := row.Row{Name: stops.Label(r.Stop), Strong: r.Frame == i, Values: patchValues(cols, r.Reading)}
		if r.Reading.Reason != "" {
			line = prose(stops.Label(r.Stop) + ": " + r.Reading.Reason)
		}
		over.Rows, overAt = append(over.Rows, line), append(overAt, r.Frame)
		if h := r.Reading.Headroom; h != nil && (h.Blown != nil || h.Blocked != nil) {
			over.Rows = append(over.Rows, prose(fmt.Sprintf("From the base: %s stops to Blown, %s to Blocked.", figure(h.Blown, 1, true), figure(h.Blocked, 1, true))))
			overAt = append(overAt, r.Frame)
		}
		if r.Frame == i {
			all.Title = "Every reading of " + r.Name + " in " + stops.Label(r.Stop)
			for _, c := range patch.Columns() {
				all.Rows = append(all.Rows, row.Row{Name: c.Name, Values: []string{c.Words(c.Value(r.Reading))}, Strong: c.Short == shown.Short})
			}
		}
	}
	if s.patchSort != unsorted {
		patch.Sort(hereRows, shown, s.patchSort == falling)
	}
	for _, r := range hereRows {
		line := row.Row{Name: r.Name, Strong: r.Patch == s.Patch, Values: patchValues(cols, r.Reading)}
		if s.Roll.Patches[r.Patch].Neutral {
			line.Name += ", neutral"
		}
		here.Rows = append(here.Rows, line)
	}
	return []row.Section{here, over, all}, func(c row.Cell) {
		switch {
		case c.Row < 0 && c.Col >= 0 && c.Col < len(heads):
			s.SortPatches(heads[c.Col])
		case c.Section == 0 && c.Row >= 0 && c.Row < len(hereRows):
			s.Patch = hereRows[c.Row].Patch
			s.Emit(ViewChanged)
		case c.Section == 1 && c.Row >= 0 && c.Row < len(overAt):
			s.Go(overAt[c.Row])
		case c.Section == 2 && c.Row >= 0 && c.Row < len(patch.Columns()):
			s.ShowPatchReading(patch.Columns()[c.Row].Short)
		}
	}
}

// patchColumnsWith are the columns of the page, with one that must be among them.
func patchColumnsWith(shown patch.Column) (cols []patch.Column) {
	for _, want := range patchColumns {
		if want == shown.Short {
			shown = patch.Column{}
		}
		for _, c := range patch.Columns() {
			if c.Short == want {
				cols = append(cols, c)
			}
		}
	}
	if shown.Short != "" {
		cols[len(cols)-1] = shown
	}
	return cols
}

func patchValues(cols []patch.Column, r *patch.Reading) (out []string) {
	for _, c := range cols {
		out = append(out, c.Words(c.Value(r)))
	}
	return out
}

// PatchPlot is the chosen reading of all patches over the stops of the roll; i is
// the frame under the playhead.
func (s *Session) PatchPlot(i int) plot.Over {
	c := s.PatchColumn()
	d := plot.Over{Title: c.Name, Decimals: c.Decimals, Signed: c.Signed, At: math.NaN()}
	if i >= 0 && i < len(s.Roll.Frames) {
		d.At = s.Roll.Frames[i].Stop
	}
	set := s.PatchSet()
	switch {
	case len(s.Roll.Patches) == 0:
		d.Reason = "Patches are plotted over stops here."
	case set == nil:
		d.Reason = "Patches are read when all frames are."
	default:
		for k, p := range set.Patches {
			q := plot.Series{Name: p.Name, Strong: k == s.Patch}
			for _, r := range set.Rows(s.stops()) {
				if r.Patch != k {
					continue
				}
				v := c.Value(r.Reading)
				if v == nil {
					v = new(float64)
					*v = math.NaN()
				}
				q.Stops, q.Values = append(q.Stops, r.Stop), append(q.Values, *v)
			}
			d.Series = append(d.Series, q)
		}
	}
	return d
}

// PatchCSV writes every reading of every patch in every frame.
func (s *Session) PatchCSV(w io.Writer) error {
	set := s.PatchSet()
	if set == nil {
		return fmt.Errorf("there is no patch that could be read yet")
	}
	return patch.CSV(w, set.Rows(s.stops()))
}
