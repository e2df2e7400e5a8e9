package ui

import (
	"image"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
)

// showChips shows the state of the switches and the percentages of the frame
// under the marker.
func (w *Window) showChips() {
	s := w.state
	for _, id := range []string{"one", "pair", "grid", "beside", "edge", "pictures", "costs", "detail", "curve", "readings", "correction", "corrected", "salvaged", "bands", "patches", "salvage", "opinions", "difference-colour"} {
		w.setChip(id, "")
	}
	blown, blocked, noisy, lost := "", "", "", ""
	if i := s.Current(); i >= 0 {
		if l := s.Frame(i).Look; l != nil {
			blown, blocked = row.Percent(l.Blown.Any), row.Percent(l.Blocked.Any)
		}
		if v := s.NoisyShown(i); v != nil {
			noisy = row.Percent(*v)
		}
		if c := s.Film().Cost(i, criteria.Exposure); c != nil && c.LostArea != nil {
			lost = row.Percent(*c.LostArea)
		}
	}
	for id, figure := range map[string]string{"blown": blown, "blocked": blocked, "noisy": noisy, "lost": lost} {
		w.setChip(id, strings.TrimSpace(w.cmds.Find(id).Title+"  "+figure))
	}
}

// setChip shows a switch's state on all its chips; text "" leaves theirs.
func (w *Window) setChip(id, text string) {
	on := w.cmds.Find(id).Checked()
	for _, c := range w.chips[id] {
		t := text
		if t == "" {
			t = c.Text
		}
		c.Set(t, on, false)
	}
}

// maskChip returns the switch of a mask: a piece of its pattern, its name and its
// share of the frame under the marker.
func (w *Window) maskChip(id string, kind paint.Kind) *chip.Chip {
	cmd := w.cmds.Find(id)
	c := w.chip(id, "")
	c.Swatch = swatch(func(k *paint.Canvas, r image.Rectangle) { k.FillMask(r, kind, true) })
	c.Wide = cmd.Title + "  88.8 %"
	return c
}
