package row

import (
	"cmp"
	"fmt"
	"slices"

	"stopladder/analysis/film"
	"stopladder/analysis/judge/stops"
)

// PatchSection returns the roll's patches as a table: a row for each, and how far its colour
// is from the base frame's in every frame by stop, CIEDE2000. It has no rows where there are
// no patches, or they were not read.
func PatchSection(r *film.Roll) (s Section) {
	set := r.Patches()
	if set == nil {
		return s
	}
	s.Title = "Patches, ΔE00 from the base frame"
	var order []int
	for i := range r.Frames {
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(r.Judged.Frames[a].Stop, r.Judged.Frames[b].Stop) })
	for _, i := range order {
		s.Heads = append(s.Heads, stops.Label(r.Judged.Frames[i].Stop))
	}
	for k, p := range set.Patches {
		line := Row{Name: p.Name, Strong: p.Neutral}
		for _, i := range order {
			v := "–"
			if q := set.Readings[k][i]; q.Reason == "" && q.DeltaE != nil {
				v = fmt.Sprintf("%.1f", *q.DeltaE)
			}
			line.Values = append(line.Values, v)
		}
		s.Rows = append(s.Rows, line)
	}
	return s
}
