// Package explain says what a thing on the ladder is, what its value means for this frame,
// and what decided it, in a sentence or two. What a thing is comes from the manual's
// glossary (assets/manual/words.md); the values come from the row that is drawn.
package explain

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/row"
)

// Card is an explanation.
type Card struct {
	Title string
	Text  []string // paragraphs
}

// Empty reports whether there is nothing to say.
func (c Card) Empty() bool { return c.Title == "" && len(c.Text) == 0 }

// Part explains a part of a frame's row; set is what the limits in force are called.
func Part(d *row.Data, part row.Part, set string) Card {
	switch part {
	case row.PicturePart:
		return picture(d)
	case row.BlownPart:
		return clipped(d, "Blown", "ceiling", func(l *measure.Look) measure.Clip { return l.Blown }, d.FlatLight)
	case row.BlockedPart:
		return clipped(d, "Blocked", "floor", func(l *measure.Look) measure.Clip { return l.Blocked }, d.FlatDark)
	case row.NoisyPart:
		return noisy(d)
	case row.VerdictPart, row.WhyPart:
		return Verdict(d, set)
	}
	return Card{}
}

// sentence writes a glossary entry as a sentence.
func sentence(word string) string {
	s := Word(word)
	if s == "" {
		return ""
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// on says what was measured.
func on(d *row.Data) string {
	if d.Look == nil {
		return "Not measured yet."
	}
	a := d.Look.Area
	s := fmt.Sprintf("Counted on the scan's own pixels: %d × %d of the image area.", a.Dx(), a.Dy())
	if d.Look.Short != nil {
		s += " The file is cut or damaged: what is missing was not counted."
	}
	return s
}

func clipped(d *row.Data, word, end string, of func(*measure.Look) measure.Clip, flat *float64) Card {
	c := Card{Title: word, Text: []string{sentence(word)}}
	if d.Look != nil {
		v := of(d.Look)
		c.Title += " " + row.Percent(v.Any)
		s := fmt.Sprintf("Here %s of the area is at the %s in at least one channel (R %s, G %s, B %s), %s in all three.",
			row.Percent(v.Any), end, row.Percent(v.R), row.Percent(v.G), row.Percent(v.B), row.Percent(v.All))
		if flat != nil && *flat > 0 {
			s += fmt.Sprintf(" Besides, %s is flat: not clipped, and yet the film no longer separates tones there.", row.Percent(*flat))
		}
		c.Text = append(c.Text, s)
	}
	c.Text = append(c.Text, on(d))
	return c
}

func noisy(d *row.Data) Card {
	c := Card{Title: "Noisy", Text: []string{sentence("Noisy")}}
	switch {
	case d.Pending && (d.Rel == nil || d.Rel.Noisy == nil):
		c.Text = append(c.Text, "The frame is being compared with the base frame; it is told when that is done.")
	case d.Rel == nil || d.Rel.Noisy == nil:
		c.Text = append(c.Text, "Not known for this frame: noise is told against a base frame that both show.")
	default:
		c.Title += " " + row.Percent(*d.Rel.Noisy)
		s := fmt.Sprintf("Here %s of the area passes the limit of %s L*", row.Percent(*d.Rel.Noisy), number.Fixed(d.Rel.NoiseLimit, 1))
		if e := d.Rel.NoisyError; e != nil && *e > 0 {
			s += " (± " + row.Percent(*e) + ")"
		}
		s += "."
		if d.Rel.NoiseKnown < 0.995 {
			s += fmt.Sprintf(" It could be told on %s of the area.", row.Percent(d.Rel.NoiseKnown))
		}
		if d.Rel.NoiseLater {
			s += " Provisional: the frames are still being compared."
		}
		c.Text = append(c.Text, s)
	}
	return c
}

func picture(d *row.Data) Card {
	c := Card{Title: d.File}
	if d.Look != nil {
		i := d.Look.Info
		c.Text = append(c.Text, fmt.Sprintf("%s stops, %s, %d × %d pixels, %d bit (%d in use).", d.Name(), i.Format, i.Width, i.Height, i.Bits, d.Look.EffectiveBits))
	}
	if off, ok := d.Off(); ok {
		c.Text = append(c.Text, measuredWords(d, off))
	}
	if d.Note != "" {
		c.Text = append(c.Text, "Note: "+d.Note)
	}
	if d.Message != "" {
		c.Text = append(c.Text, d.Message)
	}
	return c
}

func measuredWords(d *row.Data, off float64) string {
	s := "The picture lies at " + number.Signed(*d.MeasuredStop, 2)
	if e := d.MeasuredStopError; e != nil && !math.IsNaN(*e) {
		s += " ± " + number.Fixed(*e, 2)
	}
	s += " stops from the base frame"
	if math.Abs(off) > row.MeasuredTolerance {
		s += ", " + number.Signed(off, 2) + " off its label"
	}
	return s + "."
}

// Verdict explains the verdict of a frame: the judge's, what the limits suggest, and the
// criteria with the figures that decided.
func Verdict(d *row.Data, set string) Card {
	c := Card{Title: row.VerdictWord(d.Verdict)}
	if d.Verdict != roll.Unjudged {
		c.Title = "Your verdict: " + c.Title
	} else if d.Suggested != "" && !d.Base {
		c.Title = "Suggested: " + strings.ToUpper(d.Suggested[:1]) + d.Suggested[1:]
	}
	if d.Base {
		c.Text = append(c.Text, "The base frame, which all others are held against: it costs nothing by definition.")
	} else if e, ok := d.Decide(); ok {
		c.Text = append(c.Text, decided(d, e, set))
		if rest := others(d, e); rest != "" {
			c.Text = append(c.Text, rest)
		}
	} else if d.Pending {
		c.Text = append(c.Text, "This frame is being compared with the base frame; the limits suggest nothing before that is done.")
	} else if d.Scales.Criteria == nil {
		c.Text = append(c.Text, "The limits suggest nothing yet: the frames are not compared.")
	} else {
		c.Text = append(c.Text, "The limits suggest nothing: too little of this frame could be compared with the base frame.")
	}
	if d.Verdict != roll.Unjudged && d.Suggested != "" && !d.Base {
		c.Text = append(c.Text, "The limits suggest: "+d.Suggested+". The last word is yours.")
	} else if d.Verdict == roll.Unjudged {
		c.Text = append(c.Text, "The last word is yours: H, S or B.")
	}
	return c
}

// decided says which figure decided, and its limits.
func decided(d *row.Data, e row.Decision, set string) string {
	k := e.Criterion
	limits := fmt.Sprintf("the limit for Holds is %s, for Strains %s", k.LimitWords(k.Holds), k.LimitWords(k.Strains))
	if set != "" {
		limits += " (" + set + ")"
	}
	lead := "Once brought to the base frame: "
	if !e.Passed {
		lead = "Within every limit; nearest is "
	}
	return lead + k.Figure(e.Value) + "; " + limits + ". " + k.Hint
}

// others lists the criteria that did not decide.
func others(d *row.Data, e row.Decision) string {
	var parts []string
	for _, k := range d.Scales.Criteria {
		if k == nil || k == e.Criterion {
			continue
		}
		if v := k.At(d); v != nil && !math.IsNaN(*v) {
			parts = append(parts, k.Figure(*v))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "Besides: " + strings.Join(parts, ", ") + "."
}

// Column explains a column of figures, and this frame's value in it; d may be nil.
func Column(col row.Column, d *row.Data) Card {
	c := Card{Title: col.Title}
	if s := columns[col.ID]; s != "" {
		c.Text = append(c.Text, s)
	} else if strings.HasPrefix(col.ID, "band") {
		c.Text = append(c.Text, sentence("tonal band")+" L* is lightness, a* runs from green to red, b* from blue to yellow; Δ is the difference from the base frame. Colours are of what stands there, so they change with contrast too: casts are read on greys.")
	}
	if d == nil || col.Text == nil {
		return c
	}
	var values []string
	for _, v := range col.Text(d) {
		if v = strings.TrimSpace(v); v != "" {
			values = append(values, v)
		}
	}
	if len(values) > 0 {
		text := strings.Join(values, "  ")
		if len(col.Subs) == len(values) {
			text = ""
			for i, v := range values {
				text += col.Subs[i] + " " + v + "   "
			}
		}
		c.Text = append(c.Text, d.Name()+": "+strings.TrimSpace(text))
	}
	return c
}

// columns says what the columns of figures hold.
var columns = map[string]string{
	"picture":   "The frame as it was scanned, or as it is shown salvaged.",
	"histogram": "How many pixels of the image area have how much light, in stops under the scan's white, on one axis for all frames. Heights are roots of counts, so that little shows; dashed lines are the scan's ceiling and floor.",
	"cast":      "Where greys of the base frame have moved in this frame: redder to the right, yellower up. The black, grey and white dots are at the light of shadows, midtones and highlights.",
	"losses":    "Shares of the image area: clipped in any channel, flat besides in the weaker pattern, and Noisy.",
	"verdict":   "Yours in full strength; what the limits suggest stands under it and never for it.",
	"file":      "The scan, its size in pixels and its depth.",
	"measured":  "Where the picture itself lies, from how its light maps onto the base frame's through the measured response, with its standard error, and how far that is off the label.",
	"shift":     "How the frame lies on the base frame, in full-resolution pixels and degrees, and how sure that is.",
	"blown":     "Share of the image area at the scan's ceiling: by channel, in any, in all.",
	"blocked":   "Share of the image area at the scan's floor: by channel, in any, in all.",
	"noisy":     "Share of the image area whose noise passes the limit once the frame is brought to the base frame's brightness.",
	"mean":      "Mean code value of the image area, by channel.",
	"ceiling":   "The code value at which the scan piles up at its light end.",
	"floor":     "The code value at which the scan piles up at its dark end.",
	"bits":      "Bits of the code values that are really in use.",
}

// Criterion explains a cost with its limits.
func Criterion(k *row.Criterion, d *row.Data) Card {
	c := Card{Title: k.Title, Text: []string{k.Hint + " The full line is the limit for Holds (" + k.LimitWords(k.Holds) + "), the dashed one for Strains (" + k.LimitWords(k.Strains) + "); both are yours to drag."}}
	if d != nil {
		if v := k.At(d); v != nil && !math.IsNaN(*v) {
			c.Text = append(c.Text, d.Name()+": "+k.Figure(*v)+".")
		}
	}
	return c
}

// Stop explains a frame's place on the axis.
func Stop(d *row.Data) Card {
	c := Card{Title: d.Name() + " stops"}
	if d.Unlabelled {
		c.Text = append(c.Text, "No label bears this stop out: it is a guess from the order of the scans.")
	} else {
		c.Text = append(c.Text, sentence("label"))
	}
	switch off, ok := d.Off(); {
	case ok && d.Flagged():
		c.Text = append(c.Text, measuredWords(d, off)+" The picture contradicts the label by more than a third of a stop.")
	case ok:
		c.Text = append(c.Text, measuredWords(d, off)+" The white wedge shows it.")
	case d.MeasuredReason != "":
		c.Text = append(c.Text, d.MeasuredReason)
	}
	return c
}

// Range explains the judge's range and the measured one.
func Range(judge *roll.Range, e *latitude.Result, set string) Card {
	c := Card{Title: "Range"}
	if judge == nil {
		c.Text = append(c.Text, "Yours is not marked: the hollow posts wait at the ends. Drag them, or press [ and ] at the marker.")
	} else {
		c.Text = append(c.Text, "Yours (amber): "+stops.Label(judge.Lo)+" to "+stops.Label(judge.Hi)+" stops. Drag the posts in quarter stops.")
	}
	switch {
	case e == nil:
		c.Text = append(c.Text, "The measured range is known when the frames are compared.")
	case e.Holds.Reason != "":
		c.Text = append(c.Text, e.Holds.Reason)
	default:
		end := func(x latitude.End) string {
			s := number.Signed(x.Stop, 2)
			if x.Open {
				return s + " or further (the last frame keeps every limit)"
			}
			return s + " ± " + number.Fixed(x.Uncertainty, 2) + " (" + x.By.Word() + ")"
		}
		s := "Measured (white): " + end(e.Holds.Lo) + " to " + end(e.Holds.Hi)
		if set != "" {
			s += ", limits: " + set
		}
		c.Text = append(c.Text, s+". In words it is rounded towards the base frame, in quarter stops.")
	}
	return c
}
