package session

import (
	"fmt"
	"math"

	"stopladder/analysis/film/cast"
	"stopladder/analysis/film/comparison"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/noise"
	"stopladder/analysis/film/patch"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/row"
)

const none = row.None

// figure writes a value that may not be known.
func figure(v *float64, decimals int, sign bool) string {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return none
	}
	if sign {
		return number.Signed(*v, decimals)
	}
	return number.Fixed(*v, decimals)
}

func hundredfold(v float64) *float64 { v *= 100; return &v }

func prose(text string) row.Row { return row.Row{Name: text, Prose: true} }

// BandTables returns what is known of the tonal bands of the i-th frame: casts, noise,
// codes and detail, in figures and in words.
func (s *State) BandTables(i int) []row.Section {
	if i < 0 || i >= len(s.roll.Frames) {
		return nil
	}
	d := s.Rows()[i]
	head := row.Section{Title: d.Name() + " stops, casts of greys", Heads: []string{"a*", "b*", "CC R−G", "CC B−G"}}
	if d.Look == nil || d.Rel == nil {
		why := "This frame has not been read yet."
		if d.Message != "" {
			why = d.Message
		}
		return []row.Section{{Title: d.Name(), Rows: []row.Row{prose(why)}}}
	}
	a := s.film.Compared(i)
	switch {
	case d.Base:
		head = row.Section{Title: d.Name() + ", base frame", Rows: []row.Row{prose("Its greys are what the other frames' casts are told against.")}}
	case a == nil:
		head.Heads, head.Rows = nil, []row.Row{prose("Read when the whole roll is.")}
	default:
		for b := measure.Bands - 1; b >= 0; b-- {
			head.Rows = append(head.Rows, greyRow(row.BandNames[b], a.Bands[b].Grey))
		}
		head.Rows = append(head.Rows, row.Row{Name: "Crossover", Values: []string{withUnit(a.Crossover, 1, "ΔE00")}})
		if a.Words != "" {
			head.Rows = append(head.Rows, prose(a.Words))
		}
		if d.CastReason != "" {
			head.Rows = append(head.Rows, prose(d.CastReason))
		}
	}
	out := []row.Section{head}
	if n, ok := s.neutralSection(i); ok {
		out = append(out, n)
	}
	mean := row.Section{Title: "Mean colour of what stands there", Heads: []string{"L*", "a*", "b*", "Δa*", "Δb*"}}
	for b := measure.Bands - 1; b >= 0; b-- {
		line := row.Row{Name: row.BandNames[b], Values: []string{none, none, none, none, none}}
		if v := d.Rel.Bands[b]; v != nil {
			line.Values = []string{number.Fixed(v.L, 1), number.Signed(v.A, 1), number.Signed(v.B, 1), number.Signed(v.Da, 1), number.Signed(v.Db, 1)}
		}
		mean.Rows = append(mean.Rows, line)
	}
	out = append(out, mean)
	out = append(out, noiseSections(d, a == nil, func(b int) (snr, l, after *float64) {
		if a != nil {
			snr, l, after = a.Bands[b].SNR, a.Bands[b].NoiseL, a.Bands[b].NoiseLSalvaged
		}
		return
	})...)
	if n, ok := s.levelsSection(); ok {
		out = append(out, n)
	}
	detail := row.Section{Title: "Detail"}
	if a != nil && !d.Base {
		for b := measure.Bands - 1; b >= 0; b-- {
			v := none
			if k := a.Bands[b].ContrastKept; k != nil {
				v = number.Fixed(100**k, 0) + " % of the base's local contrast"
			}
			detail.Rows = append(detail.Rows, row.Row{Name: row.BandNames[b], Values: []string{v}})
		}
	}
	detail.Rows = append(detail.Rows, prose(cast.Losses(d.Look.Blown.Any, d.Look.Blocked.Any, row.Percent)))
	return append(out, detail)
}

// levelsSection returns the roll's noise by level: the S/N of each channel at stops below
// white.
func (s *State) levelsSection() (row.Section, bool) {
	n := s.film.Noise
	if n == nil {
		return row.Section{}, false
	}
	out := row.Section{Title: "S/N of the roll, by stops below white", Heads: []string{"R", "G", "B", "luminance"}}
	for k := range 11 {
		light := math.Exp2(-float64(k))
		line := row.Row{Name: fmt.Sprint(k)}
		told := false
		for _, sigma := range []float64{n.Sigma(0, light), n.Sigma(1, light), n.Sigma(2, light), n.SigmaY(light)} {
			v := noise.SNR(light, sigma)
			told = told || !math.IsNaN(v)
			line.Values = append(line.Values, figure(&v, 0, false))
		}
		if told {
			out.Rows = append(out.Rows, line)
		}
	}
	return out, len(out.Rows) > 0
}

func withUnit(v *float64, decimals int, unit string) string {
	if s := figure(v, decimals, false); s != none {
		return s + " " + unit
	}
	return none
}

// greyRow returns a grey's cast in figures.
func greyRow(name string, g comparison.Grey) row.Row {
	line := row.Row{Name: name, Values: []string{none, none, none, none}}
	if g.Cast != nil {
		line.Values[0], line.Values[1] = number.Signed(g.Cast.DA, 1), number.Signed(g.Cast.DB, 1)
	}
	if g.CC != nil {
		line.Values[2], line.Values[3] = number.Signed(100*g.CC.RG, 0), number.Signed(100*g.CC.BG, 0)
	}
	return line
}

// neutralSection holds the patch that the judge calls neutral against what the response
// says of a grey at its light: the check of the casts on the picture itself.
func (s *State) neutralSection(i int) (row.Section, bool) {
	set, base := s.film.Patches(), s.Base()
	if set == nil || base < 0 || i == base || s.film.Comparison == nil {
		return row.Section{}, false
	}
	for k, p := range set.Patches {
		if !p.Neutral {
			continue
		}
		out := row.Section{Title: "Check: “" + p.Name + "”, neutral in the scene", Heads: []string{"a*", "b*", "CC R−G", "CC B−G"}}
		here, there := set.Readings[k][i], set.Readings[k][base]
		for _, r := range []patch.Reading{here, there} {
			if r.Reason != "" {
				out.Heads, out.Rows = nil, []row.Row{prose("It cannot be read: " + r.Reason + ".")}
				return out, true
			}
		}
		seen := comparison.Grey{Cast: &cast.Shift{DA: here.A - there.A, DB: here.B - there.B}, CC: here.CC}
		out.Rows = []row.Row{greyRow("Seen, against the base", seen), greyRow("By the response", s.film.Comparison.GreyAt(i, there.Lum))}
		return out, true
	}
	return row.Section{}, false
}

func noiseSections(d *row.Data, waiting bool, of func(band int) (snr, l, after *float64)) []row.Section {
	out := row.Section{Title: "Noise, at the viewing scale", Heads: []string{"S/N", "", "L*", "salvaged"}}
	got, signal := false, false
	for b := measure.Bands - 1; b >= 0; b-- {
		snr, l, after := of(int(b))
		mark := ""
		if snr != nil {
			mark = noise.Word(*snr)
		}
		got, signal = got || snr != nil || after != nil, signal || snr != nil
		out.Rows = append(out.Rows, row.Row{Name: row.BandNames[b], Values: []string{figure(snr, 0, false), mark, figure(l, 2, false), figure(after, 2, false)}})
	}
	switch {
	case waiting:
		out.Heads, out.Rows = nil, []row.Row{prose("Read when the whole roll is.")}
	case !got:
		out.Heads, out.Rows = nil, []row.Row{prose("The roll does not tell its noise: it takes two registered frames or more of scans that are fixed.")}
	case !signal:
		out.Rows = append(out.Rows, prose("Told by this frame alone, as far as it is calm. S/N takes two registered frames or more of scans that are fixed."))
	default:
		out.Rows = append(out.Rows, prose("Marks of ISO 12232: 40 excellent, 10 acceptable. Salvaged: at the base frame's brightness."))
	}
	codes := row.Section{Title: "Green codes in use, by stops below white"}
	line := row.Row{Name: fmt.Sprintf("%d bit in use", d.Look.EffectiveBits)}
	for k, n := range d.Look.CodesPerStop(10) {
		if k < 4 {
			continue // lights have codes to spare
		}
		codes.Heads = append(codes.Heads, fmt.Sprintf("%d–%d", k, k+1))
		line.Values = append(line.Values, fmt.Sprint(n))
	}
	codes.Rows = []row.Row{line}
	return []row.Section{out, codes}
}
