package session

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"stopladder/analysis/film/patch"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/show/plot"
	"stopladder/analysis/show/row"
)

// suggestions is how many patches are proposed at once.
const suggestions = 8

// Patch returns the index of the chosen patch.
func (s *State) Patch() int { return s.patch }

// addPatch drops a patch on the place x, y of the i-th frame, full-resolution pixels; it
// is kept in the base frame's pixels.
func (s *State) addPatch(i int, x, y float64) Effect {
	p, err := s.patchAt(i, x, y)
	if err != nil {
		return refuse("No patch placed", err)
	}
	e := s.edited(Marks|View, "patch", func(r *roll.Roll) { r.Patches = append(r.Patches, p) })
	s.patch = len(s.roll.Patches) - 1
	return e
}

// patchAt returns the patch on a place of a frame. The error says why it cannot be placed.
func (s *State) patchAt(i int, x, y float64) (p roll.Patch, err error) {
	b := s.Base()
	if b < 0 || s.Frame(b).Look == nil {
		return p, fmt.Errorf("a patch is placed by the base frame, and it is not read yet")
	}
	if i != b {
		m := s.Frame(i).Map
		if m == nil {
			return p, fmt.Errorf("frame %s does not lie on the base frame: click in the base frame, or place the frame by hand first", stops.Label(s.roll.Frames[i].Stop))
		}
		back, ok := affine.Inverse(*m)
		if !ok {
			return p, fmt.Errorf("frame %s lies on the base frame in a way that cannot be followed back; place it by hand", stops.Label(s.roll.Frames[i].Stop))
		}
		x, y = affine.At(back, x, y)
	}
	l := s.Frame(b).Look
	if x < 0 || y < 0 || x >= float64(l.Info.Width) || y >= float64(l.Info.Height) {
		return p, fmt.Errorf("the base frame does not show this place")
	}
	p = roll.Patch{X: x, Y: y, R: float64(min(l.Area.Dx(), l.Area.Dy())) / 90}
	used := map[string]bool{}
	for _, q := range s.roll.Patches {
		used[q.Name] = true
	}
	for n := 1; p.Name == "" || used[p.Name]; n++ {
		p.Name = fmt.Sprintf("Patch %d", n)
	}
	return p, nil
}

// SuggestPatches puts flat places over the tonal range in the place of the patches that
// there are, as one step of undo.
type SuggestPatches struct{}

func (SuggestPatches) apply(s *State) Effect {
	var found []roll.Patch
	if b := s.Base(); b >= 0 && s.Frame(b).Look != nil {
		found = patch.Suggest(s.Frame(b).Look, suggestions)
	}
	if len(found) == 0 {
		return Effect{Hint: "No flat place was found, or the base frame is not read yet"}
	}
	s.patch = 0
	return s.edited(Marks|View, "suggested patches", func(r *roll.Roll) { r.Patches = found })
}

// ChoosePatch chooses one of the patches.
type ChoosePatch struct{ Patch int }

func (c ChoosePatch) apply(s *State) Effect {
	if c.Patch < 0 || c.Patch >= len(s.roll.Patches) {
		return Effect{}
	}
	s.patch = c.Patch
	return Effect{Redraw: View}
}

// NextPatch chooses the next patch, after the last the first.
type NextPatch struct{}

func (NextPatch) apply(s *State) Effect {
	return ChoosePatch{(s.patch + 1) % max(1, len(s.roll.Patches))}.apply(s)
}

// changePatch changes the patch that is chosen.
func (s *State) changePatch(what string, change func(r *roll.Roll, k int)) Effect {
	k := s.patch
	if k < 0 || k >= len(s.roll.Patches) {
		return Effect{}
	}
	e := s.edited(Marks|View, what, func(r *roll.Roll) { change(r, k) })
	s.patch = max(0, min(k, len(s.roll.Patches)-1))
	return e
}

// NamePatch names the chosen patch.
type NamePatch struct{ Name string }

func (c NamePatch) apply(s *State) Effect {
	name := strings.TrimSpace(c.Name)
	if name == "" || utf8.RuneCountInString(name) > 60 {
		return Effect{Hint: "A patch has a name of 1 to 60 letters"}
	}
	return s.changePatch("name of a patch", func(r *roll.Roll, k int) { r.Patches[k].Name = name })
}

// ToggleNeutral calls the chosen patch grey in the scene, or no longer. One neutral is
// what casts are told against.
type ToggleNeutral struct{}

func (ToggleNeutral) apply(s *State) Effect {
	return s.changePatch("neutral patch", func(r *roll.Roll, k int) {
		for i := range r.Patches {
			r.Patches[i].Neutral = i == k && !r.Patches[i].Neutral
		}
	})
}

// RemovePatch takes the chosen patch away.
type RemovePatch struct{}

func (RemovePatch) apply(s *State) Effect {
	return s.changePatch("taking a patch away", func(r *roll.Roll, k int) { r.Patches = slices.Delete(r.Patches, k, k+1) })
}

// patchColumns are the readings that stand side by side on the page, by their short
// names; the last gives way to one that is plotted and not among them.
var patchColumns = []string{"L*", "ΔE00", "CC R−G", "CC B−G", "S/N"}

func (s *State) stops() []float64 {
	var out []float64
	for _, f := range s.roll.Frames {
		out = append(out, f.Stop)
	}
	return out
}

// PatchColumn returns the reading that the plot of the patches shows, L* unless another
// was chosen.
func (s *State) PatchColumn() patch.Column {
	all := patch.Columns()
	for _, c := range all {
		if c.Short == s.patchReading {
			return c
		}
	}
	return all[0]
}

// ShowPatchReading chooses the reading that is plotted, by its short name.
type ShowPatchReading struct{ Short string }

func (c ShowPatchReading) apply(s *State) Effect {
	s.patchReading = c.Short
	return Effect{Redraw: View}
}

// SortPatches sorts the table by a reading, which is plotted too: falling at first, then
// rising, then as placed.
type SortPatches struct{ Short string }

func (c SortPatches) apply(s *State) Effect {
	switch {
	case s.patchReading != c.Short || s.patchSort == unsorted:
		s.patchSort = falling
	case s.patchSort == falling:
		s.patchSort = rising
	default:
		s.patchSort = unsorted
	}
	return ShowPatchReading(c).apply(s)
}

type sorting int

const (
	unsorted sorting = iota
	falling
	rising
)

// words returns how the table is sorted.
func (k sorting) words() string { return [...]string{"", ", falling", ", rising"}[k] }

// PatchTables returns the readings of all patches in the i-th frame, of the chosen one
// in every frame, and everything that is known of it in the i-th. click is what a click
// on one of their cells changes, nil for nothing: a head sorts, a row chooses.
func (s *State) PatchTables(i int) (sections []row.Section, click func(row.Cell) Change) {
	click = func(row.Cell) Change { return nil }
	if len(s.roll.Patches) == 0 {
		return []row.Section{{Title: "No patches yet", Rows: []row.Row{prose("Place one by a click on the picture, or let flat places over the tonal range be suggested. Patches follow the registration into every frame.")}}}, click
	}
	set := s.film.Patches()
	if set == nil {
		return []row.Section{{Title: "Patches", Rows: []row.Row{prose("They are read when all frames are read and compared.")}}}, click
	}
	cols := patchColumnsWith(s.PatchColumn())
	var heads []string
	for _, c := range cols {
		heads = append(heads, c.Short)
	}
	rows := set.Rows(s.stops())
	here, patches := s.patchesHere(rows, i, cols)
	over, frames := s.patchOver(rows, i, cols)
	here.Heads, over.Heads = heads, heads
	here.By, over.By = s.PatchColumn().Short, s.PatchColumn().Short
	return []row.Section{here, over, s.patchReadings(rows, i)}, func(c row.Cell) Change {
		switch all := patch.Columns(); {
		case c.Row < 0:
			if c.Col >= 0 && c.Col < len(heads) {
				return SortPatches{heads[c.Col]}
			}
		case c.Section == 0 && c.Row < len(patches):
			return ChoosePatch{patches[c.Row]}
		case c.Section == 1 && c.Row < len(frames):
			return Go{frames[c.Row]}
		case c.Section == 2 && c.Row < len(all):
			return ShowPatchReading{all[c.Row].Short}
		}
		return nil
	}
}

// patchesHere returns the table of all patches in the i-th frame, sorted, and the patch
// of each of its rows.
func (s *State) patchesHere(rows []patch.Row, i int, cols []patch.Column) (t row.Section, patches []int) {
	var here []patch.Row
	for _, r := range rows {
		if r.Frame == i {
			here = append(here, r)
		}
	}
	if s.patchSort != unsorted {
		patch.Sort(here, s.PatchColumn(), s.patchSort == falling)
	}
	t.Title = "In " + stops.Label(s.roll.Frames[i].Stop) + s.patchSort.words()
	for _, r := range here {
		line := row.Row{Name: r.Name, Strong: r.Patch == s.patch, Values: patchValues(cols, r.Reading)}
		if s.roll.Patches[r.Patch].Neutral {
			line.Name += ", neutral"
		}
		t.Rows, patches = append(t.Rows, line), append(patches, r.Patch)
	}
	return t, patches
}

// patchOver returns the table of the chosen patch in every frame, of which the i-th is
// looked at, and the frame of each of its rows.
func (s *State) patchOver(rows []patch.Row, i int, cols []patch.Column) (t row.Section, frames []int) {
	add := func(line row.Row, frame int) { t.Rows, frames = append(t.Rows, line), append(frames, frame) }
	for _, r := range rows {
		if r.Patch != s.patch {
			continue
		}
		t.Title = r.Name + " over stops"
		if r.Reading.Reason != "" {
			add(prose(stops.Label(r.Stop)+": "+r.Reading.Reason), r.Frame)
		} else {
			add(row.Row{Name: stops.Label(r.Stop), Strong: r.Frame == i, Values: patchValues(cols, r.Reading)}, r.Frame)
		}
		if h := r.Reading.Headroom; h != nil && (h.Blown != nil || h.Blocked != nil) {
			add(prose(fmt.Sprintf("From the base: %s stops to Blown, %s to Blocked.", figure(h.Blown, 1, true), figure(h.Blocked, 1, true))), r.Frame)
		}
	}
	return t, frames
}

// patchReadings returns every reading of the chosen patch in the i-th frame.
func (s *State) patchReadings(rows []patch.Row, i int) (t row.Section) {
	for _, r := range rows {
		if r.Patch != s.patch || r.Frame != i {
			continue
		}
		t.Title = "Every reading of " + r.Name + " in " + stops.Label(r.Stop)
		for _, c := range patch.Columns() {
			t.Rows = append(t.Rows, row.Row{Name: c.Name, Values: []string{c.Words(c.Value(r.Reading))}, Strong: c.Short == s.PatchColumn().Short})
		}
	}
	return t
}

// patchColumnsWith returns the columns of the page, with one that must be among them.
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

// PatchPlot returns the chosen reading of all patches over the stops of the roll; i is
// the frame under the marker.
func (s *State) PatchPlot(i int) plot.Over {
	c := s.PatchColumn()
	d := plot.Over{Title: c.Name, Decimals: c.Decimals, Signed: c.Signed, At: math.NaN()}
	if i >= 0 && i < len(s.roll.Frames) {
		d.At = s.roll.Frames[i].Stop
	}
	set := s.film.Patches()
	switch {
	case len(s.roll.Patches) == 0:
		d.Reason = "Patches are plotted over stops here."
	case set == nil:
		d.Reason = "Patches are read when all frames are."
	default:
		for k, p := range set.Patches {
			q := plot.Series{Name: p.Name, Strong: k == s.patch}
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
func (s *State) PatchCSV(w io.Writer) error {
	set := s.film.Patches()
	if set == nil {
		return fmt.Errorf("there is no patch that could be read yet")
	}
	return patch.CSV(w, set.Rows(s.stops()))
}
