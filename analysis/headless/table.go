package headless

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/report"
)

// writeTable writes the readings for people: most exposure on top as on the
// ladder, percentages of the image area, casts as a* b* against the base frame.
func writeTable(w io.Writer, doc *report.Report) error {
	head := []string{"stop", "file", "Blown", "Blocked", "Noisy", "shadows", "midtones", "highlights", "verdict"}
	rows := [][]string{head}
	for i := len(doc.Frames) - 1; i >= 0; i-- {
		rows = append(rows, tableRow(doc.Frames[i]))
	}
	var b strings.Builder
	if t := title(doc); t != "" {
		fmt.Fprintf(&b, "%s\n\n", t)
	}
	align(&b, rows, []bool{2: true, 3: true, 4: true, 8: false})
	b.WriteString("\nBlown, Blocked: any channel at the scan's ceiling or floor. Noisy: over the limit of ")
	fmt.Fprintf(&b, "%.4g L* once\nbrought to the base frame's brightness. All as percentages of the image area. Bands: change of\nCIELAB L* a* b* against the base frame", doc.NoiseLimit)
	if doc.Base != nil {
		fmt.Fprintf(&b, " %s", printable(*doc.Base))
	}
	b.WriteString(". A dash: not measurable, see the notes.\n")
	writeRange(&b, doc)
	list(&b, "Assumptions", doc.Assumptions)
	list(&b, "Notes", notes(doc))
	_, err := io.WriteString(w, b.String())
	return err
}

// writeRange writes what salvage costs and how far the film holds by it.
func writeRange(b *strings.Builder, doc *report.Report) {
	head := []string{"stop", "Lost", "dE00", "95 %", "noise L*", "crossover", "contrast", "suggested", "because of"}
	rows := [][]string{head}
	number := func(v *float64, format string) string {
		if v == nil {
			return dash
		}
		return fmt.Sprintf(format, *v)
	}
	for i := len(doc.Frames) - 1; i >= 0; i-- {
		f := &doc.Frames[i]
		if f.Salvage == nil || f.Stop == nil {
			continue
		}
		c := &f.Salvage.Balance
		switch doc.Limits.Grade {
		case criteria.Exposure:
			c = &f.Salvage.Exposure
		case criteria.Curves:
			c = &f.Salvage.Curves
		}
		row := []string{stops.ASCII(*f.Stop), percent(c.LostArea), number(c.DeltaE, "%.1f"), number(c.P95, "%.1f"), number(c.NoiseL, "%.1f"),
			number(c.Crossover, "%.1f"), dash, dash, strings.Join(f.SuggestedBy, ", ")}
		if c.ContrastKept != nil {
			row[6] = fmt.Sprintf("%.0f %%", 100**c.ContrastKept)
		}
		if f.Suggested != nil {
			row[7] = *f.Suggested
		}
		rows = append(rows, row)
	}
	if len(rows) == 1 {
		return
	}
	fmt.Fprintf(b, "\nSalvage by %s, limits: %s\n\n", doc.Limits.Grade, printable(doc.Limits.Title()))
	align(b, rows, []bool{1: true, 2: true, 3: true, 4: true, 5: true, 6: true, 8: false})
	b.WriteString("\n")
	for _, s := range doc.Finding {
		b.WriteString(wrap(s, 100) + "\n")
	}
}

// wrap breaks a sentence into lines of at most so many characters.
func wrap(s string, width int) string {
	var b strings.Builder
	n := 0
	for _, w := range strings.Fields(s) {
		k := utf8.RuneCountInString(w)
		if n > 0 && n+1+k > width {
			b.WriteString("\n")
			n = 0
		} else if n > 0 {
			b.WriteString(" ")
			n++
		}
		b.WriteString(w)
		n += k
	}
	return b.String()
}

func title(doc *report.Report) string {
	var parts []string
	for _, s := range []*string{doc.Roll.Title, doc.Roll.Stock, doc.Roll.Exposure, doc.Roll.Date} {
		if s != nil {
			parts = append(parts, printable(*s))
		}
	}
	return strings.Join(parts, ", ")
}

const dash = "-"

func tableRow(f report.Frame) []string {
	row := []string{dash, printable(f.File), dash, dash, percent(f.Noisy), change(f.Bands.Shadows), change(f.Bands.Midtones), change(f.Bands.Highlights), ""}
	if f.Stop != nil {
		row[0] = stops.ASCII(*f.Stop)
	}
	if f.Blown != nil {
		row[2] = percent(&f.Blown.Any)
	}
	if f.Blocked != nil {
		row[3] = percent(&f.Blocked.Any)
	}
	if f.Verdict != nil {
		row[8] = *f.Verdict
	}
	if f.Damage != nil { // beside a verdict, which stands
		row[8] = strings.TrimPrefix(row[8]+", "+*f.Damage, ", ")
	}
	switch {
	case f.Error == nil:
	case f.Blown == nil:
		row[8] = "could not be read"
	default:
		row[8] = "changed meanwhile"
	}
	return row
}

func percent(v *float64) string {
	if v == nil {
		return dash
	}
	if *v > 0 && *v < 0.00005 {
		return "<0.01 %" // little is not nothing
	}
	return fmt.Sprintf("%.2f %%", 100**v)
}

func change(b *report.Band) string {
	if b == nil {
		return dash
	}
	return fmt.Sprintf("%+5.1f %+5.1f %+5.1f", b.DL, b.Da, b.Db)
}

// notes gathers those of the roll and of the frames; one that several frames
// share is written once.
func notes(doc *report.Report) []string {
	out := append([]string{}, doc.Notes...)
	var texts []string
	files := map[string][]string{}
	for _, f := range doc.Frames {
		if f.Error != nil {
			out = append(out, *f.Error)
		}
		for _, n := range f.Notes {
			if f.Error != nil && n == *f.Error {
				continue
			}
			if files[n] == nil {
				texts = append(texts, n)
			}
			files[n] = append(files[n], f.File)
		}
	}
	for _, n := range texts {
		who := strings.Join(files[n], ", ")
		if len(files[n]) == len(doc.Frames) && len(doc.Frames) > 1 {
			who = "All scans"
		}
		out = append(out, who+": "+n)
	}
	return out
}

func list(b *strings.Builder, heading string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", heading)
	for _, l := range lines {
		fmt.Fprintf(b, "  %s\n", printable(l))
	}
}

// printable keeps file names and notes from steering the terminal.
func printable(s string) string { return legible.Line(s) }

// align writes rows in columns two spaces apart; right says which columns stand
// to the right (text/tabwriter knows only all or none).
func align(b *strings.Builder, rows [][]string, right []bool) {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			width[i] = max(width[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(cell))
			if right[i] {
				line.WriteString(pad + cell + "  ")
			} else {
				line.WriteString(cell + pad + "  ")
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}
