package card

import (
	"fmt"
	"strings"

	"stopladder/analysis/bracket/plan"
)

// facts returns the lines under the title, most important first.
func facts(f *plan.File) []string {
	p := &f.Plan
	film := join(f.Form.Stock, plan.Speed(p.ISO))
	if f.Form.Format != "" {
		film = join(film, f.Form.Format)
	}
	if p.Left != nil {
		film = join(film, fmt.Sprintf("%s, then %d left", span(p), *p.Left))
	}
	base := p.Frames[p.Base()]
	exposure := fmt.Sprintf("Base %s %s (EV %.2f), metered %s", base.Aperture.Number(), base.Time.Seconds(), base.EV, p.Meter)
	if f.Form.Filter != "" {
		exposure = join(exposure, "filter "+f.Form.Filter)
	}
	camera := join(f.Camera.Name, "hold "+p.Held)
	return []string{film, exposure, join(camera, "takes about "+p.Duration())}
}

func span(p *plan.Plan) string {
	first, last := p.Frames[0].Number, p.Frames[len(p.Frames)-1].Number
	if first == last {
		return fmt.Sprintf("frame %d", first)
	}
	return fmt.Sprintf("frames %d to %d", first, last)
}

// extreme returns the stop at an end of the bracket: sign -1 the under end.
func extreme(p *plan.Plan, sign float64) float64 {
	v := 0.0
	for _, f := range p.Frames {
		if sign*f.Stop > sign*v {
			v = f.Stop
		}
	}
	return v
}

func join(a, b string) string {
	switch {
	case a == "":
		return b
	case b == "":
		return a
	}
	return a + ", " + b
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// click returns between which marks a ring clicks: "click 5.6–8", "1st click 5.6–8".
func click(m plan.Mark) string {
	marks, which, _ := strings.Cut(m.Between, ", ")
	lead := "click "
	if which != "" {
		lead = strings.NewReplacer("first", "1st", "second", "2nd", "third", "3rd").Replace(which) + " "
	}
	return lead + strings.Replace(marks, " and ", "–", 1)
}

// Texts returns all that a person wrote of a plan and its log.
func Texts(f *plan.File) []string {
	out := []string{f.Form.Title, f.Form.Stock, f.Form.Camera, f.Form.Filter}
	if f.Log != nil {
		out = append(out, f.Log.Note)
		for _, s := range f.Log.Shots {
			out = append(out, s.Note)
		}
	}
	return out
}
