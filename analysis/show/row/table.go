package row

import (
	"image"
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// numbers returns a group of right-aligned figures under one title.
func numbers(id, title string, priority int, cell float64, subs []string, get func(d *Data) []string) Column {
	w := cell * float64(len(subs))
	return Column{ID: id, Title: title, Subs: subs, Min: w, Ideal: w, Max: w * 1.15, Priority: priority, Text: get,
		Draw: func(c *paint.Canvas, r image.Rectangle, d *Data) {
			st := text(c, sizeText).Aligned(paint.Right)
			if float64(r.Dy()) < c.U(15) {
				st = st.Sized(sizeSmall)
			}
			vals := get(d)
			for i := range subs {
				s := "–"
				if i < len(vals) {
					s = vals[i]
				}
				q := st
				if s == "–" || s == "0" {
					q.Col = c.Pal.Dim
				}
				cell := subRect(r, i, len(subs))
				cell.Min.X += c.Px(3)
				c.TextIn(cell, s, q)
			}
		}}
}

// Columns returns the built-in columns in their order on the ladder: dragged narrow a
// strip of thumbnails, dragged wide the readings table of the whole roll.
func Columns() []Column {
	cols := []Column{pictureColumn(), histogramColumn(), castColumn(), lossColumn(), verdictColumn()}
	look := func(get func(l *measure.Look) []string) func(d *Data) []string {
		return func(d *Data) []string {
			if d == nil || d.Look == nil {
				return nil
			}
			return get(d.Look)
		}
	}
	clip := func(c measure.Clip) []string {
		return []string{percentCell(c.R), percentCell(c.G), percentCell(c.B), percentCell(c.Any), percentCell(c.All)}
	}
	rgb := []string{"R", "G", "B"}
	clips := []string{"R", "G", "B", "any", "all"}
	cols = append(cols, fileColumn(), measuredColumn(), shiftColumn(),
		numbers("blown", "Blown, % of area", 10, 42, clips, look(func(l *measure.Look) []string { return clip(l.Blown) })),
		numbers("blocked", "Blocked, % of area", 11, 42, clips, look(func(l *measure.Look) []string { return clip(l.Blocked) })),
		numbers("noisy", "Noisy", 13, 46, []string{"%"}, func(d *Data) []string {
			if d == nil || d.Rel == nil || d.Rel.Noisy == nil {
				return nil
			}
			return []string{percentCell(*d.Rel.Noisy)}
		}))
	for i, name := range BandNames {
		cols = append(cols, numbers("band"+name, name+", mean colour", 14+i, 42, []string{"L*", "a*", "b*", "ΔL*", "Δa*", "Δb*"}, func(d *Data) []string {
			if d == nil || d.Rel == nil || d.Rel.Bands[i] == nil {
				return nil
			}
			b := d.Rel.Bands[i]
			return []string{number.Fixed(b.L, 1), number.Signed(b.A, 1), number.Signed(b.B, 1), number.Signed(b.DL, 1), number.Signed(b.Da, 1), number.Signed(b.Db, 1)}
		}))
	}
	cols = append(cols,
		numbers("mean", "Mean code", 17, 50, rgb, look(func(l *measure.Look) []string {
			return []string{groupedF(l.Mean.R), groupedF(l.Mean.G), groupedF(l.Mean.B)}
		})),
		numbers("ceiling", "Scan ceiling", 18, 50, rgb, look(func(l *measure.Look) []string {
			return []string{grouped(l.Ceiling.R), grouped(l.Ceiling.G), grouped(l.Ceiling.B)}
		})),
		numbers("floor", "Scan floor", 19, 50, rgb, look(func(l *measure.Look) []string {
			return []string{grouped(l.Floor.R), grouped(l.Floor.G), grouped(l.Floor.B)}
		})),
		numbers("bits", "Depth", 20, 44, []string{"bits"}, look(func(l *measure.Look) []string {
			return []string{number.Fixed(float64(l.EffectiveBits), 0)}
		})))
	return cols
}

// fileColumn names the scan.
func fileColumn() Column {
	return Column{ID: "file", Title: "Scan", Unit: "pixels, depth", Min: 84, Ideal: 120, Max: 180, Priority: 12,
		Text: func(d *Data) []string {
			if d.Damage != "" {
				return []string{d.File + ", " + d.Damage}
			}
			return []string{d.File}
		},
		Draw: func(c *paint.Canvas, r image.Rectangle, d *Data) {
			sub := ""
			if d.Look != nil {
				sub = size(d.Look)
			}
			if d.Damage != "" {
				stack(c, r, []string{d.File, d.Damage, sub})
				return
			}
			stack(c, r, []string{d.File, sub})
		}}
}

func size(l *measure.Look) string {
	return grouped(l.Info.Width) + " × " + grouped(l.Info.Height) + ", " + bits(l.Info.Bits)
}

// stack draws lines of text centred in height, the first in full strength; what
// does not fit in height is left out.
func stack(c *paint.Canvas, r image.Rectangle, lines []string) {
	lh := c.U(14.5)
	n := min(len(lines), max(1, int(float64(r.Dy())/lh)))
	y := float64(r.Min.Y) + math.Max(0, (float64(r.Dy())-lh*float64(n))/2)
	for i, s := range lines[:n] {
		st := dim(c, sizeSmall)
		if i == 0 {
			st = text(c, sizeText)
		}
		c.TextIn(image.Rect(r.Min.X, int(y), r.Max.X, min(int(y+lh), r.Max.Y)), s, st)
		y += lh
	}
}
