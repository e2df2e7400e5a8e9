package card

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/legible"
)

// Columns is the width of the plain-text card: what a phone shows upright.
const Columns = 40

// Text writes the card as plain text.
func Text(w io.Writer, f *plan.File) error {
	var real *plan.Real
	if f.Log != nil {
		r, err := f.Real()
		if err != nil {
			return err
		}
		real = r
	}
	var b strings.Builder
	title := f.Form.Title
	if title == "" {
		title = "Bracket"
	}
	p := &f.Plan
	folded(&b, "", strings.ToUpper(title)+" "+stops.ASCII(extreme(p, -1))+" to "+stops.ASCII(extreme(p, 1)))
	for _, s := range facts(f) {
		folded(&b, "", s)
	}
	b.WriteString("\n")
	timeWide := 0
	for _, fr := range p.Frames {
		timeWide = max(timeWide, utf8.RuneCountInString(fr.Time.Seconds()))
	}
	for i, fr := range p.Frames {
		name := stops.ASCII(fr.Stop)
		if fr.Stop == 0 {
			name = "base"
		}
		row := fmt.Sprintf("%s %2d  %-6s %*s  %s", box2(f, fr.Number), fr.Number, name, timeWide, fr.Time.Seconds(), fr.Aperture.Number())
		b.WriteString(strings.TrimRight(row, " ") + "\n")
		var under []string
		if fr.Short {
			under = append(under, "out of reach")
		}
		if math.Abs(fr.Deviation) >= 0.05 {
			under = append(under, "really "+plan.Hundredths(fr.Real()))
		}
		if fr.Aperture.Between != "" {
			under = append(under, "aperture between "+fr.Aperture.Between)
		}
		if fr.Time.Between != "" {
			under = append(under, "time between "+fr.Time.Between)
		}
		if fr.Time.Watch {
			under = append(under, "B, by watch")
		}
		under = append(under, became(f, real, i)...)
		if len(under) > 0 {
			folded(&b, "        ", strings.Join(under, ", "))
		}
	}
	b.WriteString("\n")
	if f.Log != nil && f.Log.Light != nil {
		folded(&b, "", "Light at the end: "+join(f.Log.Light.Meter, f.Log.Light.Clock))
	} else {
		b.WriteString("Light at the end: ____________ at ____\n")
	}
	for _, w := range p.Warnings {
		folded(&b, "  ", "! "+w.Text)
	}
	for _, s := range p.Cautions {
		folded(&b, "  ", "- "+s)
	}
	if f.Log != nil && f.Log.Note != "" {
		folded(&b, "", "Notes: "+oneLine(f.Log.Note))
	} else {
		b.WriteString("Notes:\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func box2(f *plan.File, number int) string {
	switch s := f.Shot(number); {
	case s == nil:
		return "[ ]"
	case s.State == plan.Done:
		return "[x]"
	}
	return "[-]"
}

// became returns what the log has of a frame.
func became(f *plan.File, real *plan.Real, i int) (out []string) {
	fr := f.Plan.Frames[i]
	s := f.Shot(fr.Number)
	if s == nil || real == nil {
		return nil
	}
	if s.State != plan.Done {
		out = append(out, string(s.State))
	} else {
		if s.Setting != "" {
			out = append(out, "set "+s.Setting)
		}
		for _, e := range real.Exposed {
			if e.Frame == i && math.Abs(e.Stop-fr.Real()) >= 0.05 {
				out = append(out, "got "+plan.Hundredths(e.Stop))
			}
		}
	}
	for _, t := range []string{s.Clock, oneLine(s.Note)} {
		if t != "" {
			out = append(out, t)
		}
	}
	return out
}

// folded writes s in lines of at most Columns characters, those after the first
// behind indent; with an indent of spaces alone the first stands behind it too when
// it is longer than two.
func folded(b *strings.Builder, indent, s string) {
	lead := ""
	if len(indent) > 2 {
		lead = indent
	}
	line := lead
	for _, w := range strings.Fields(legible.Line(s)) {
		if utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > Columns && strings.TrimSpace(line) != "" {
			b.WriteString(line + "\n")
			line = indent
		}
		if strings.TrimSpace(line) != "" {
			line += " "
		}
		line += w
	}
	if strings.TrimSpace(line) != "" {
		b.WriteString(line + "\n")
	}
}
