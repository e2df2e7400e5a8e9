package plan

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"stopladder/analysis/bracket/exposure"
)

// Mark is a setting of a shutter or a lens.
type Mark struct {
	Text    string  `json:"text"`              // as engraved, or the usual figure of a click between: "1/125", "6.7"
	Between string  `json:"between,omitempty"` // of an unmarked click: the marks on both sides, "5.6 and 8", of thirds also which: "5.6 and 8, first click"
	Nominal float64 `json:"nominal"`           // the figure, an f-number or seconds
	Exact   float64 `json:"exact"`             // what it stands for
	Watch   bool    `json:"watch,omitempty"`   // a time on B, timed by hand
	Tested  bool    `json:"tested,omitempty"`  // Exact was measured on this shutter
}

// What a setting may be; wider than any camera.
const (
	maxNumber = 512.0
	minNumber = 0.5
	maxTime   = 4 * 3600.0
	minTime   = 1.0 / 64000
)

// number reads a plain or decimal figure or a fraction, without sign.
func number(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if a, b, isFraction := strings.Cut(text, "/"); isFraction {
		n, ok1 := number(a)
		d, ok2 := number(b)
		return n / d, ok1 && ok2 && d > 0
	}
	if text == "" || strings.Trim(text, "0123456789.,") != "" || len(text) > 20 {
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	return v, err == nil
}

// grouped finds a figure whose comma or full stop may stand between thousands: one to
// three digits that do not begin with 0, then groups of exactly three.
var grouped = regexp.MustCompile(`(?:^|[^0-9.,])([1-9][0-9]{0,2}(?:[.,][0-9]{3})+)(?:[^0-9]|$)`)

// ambiguous refuses a text with a figure that could be a thousand times another:
// "10,000" is ten thousand to some and ten to others.
func ambiguous(text string) error {
	m := grouped.FindStringSubmatch(text)
	if m == nil {
		return nil
	}
	whole := strings.NewReplacer(",", "", ".", "").Replace(m[1])
	if len(whole) > 6 { // two groups
		return fmt.Errorf("%s has separators between thousands: write the figure without them, for example 10000", quote(m[1]))
	}
	decimal := strings.Replace(m[1], ",", ".", 1)
	short := strings.TrimRight(strings.TrimRight(decimal, "0"), ".")
	if short == decimal {
		short += "0" // four decimals are no group of thousands
	}
	return fmt.Errorf("%s could be %s or %s: write the one that is meant just so, without a separator between thousands", quote(m[1]), whole, short)
}

// ParseAperture reads an f-number as somebody writes it: "f/8", "f8", "8", "1:8".
// It is snapped to the standard marks (thirds first, then halves); a figure that is
// none of them stands for itself. A figure that could be thousands is refused.
func ParseAperture(text string) (Mark, error) {
	if err := ambiguous(text); err != nil {
		return Mark{}, err
	}
	return readAperture(text)
}

func readAperture(text string) (Mark, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	for _, lead := range []string{"f/", "f:", "1:", "f "} {
		if rest, cut := strings.CutPrefix(t, lead); cut {
			t = rest
			break
		}
	}
	t = strings.TrimSpace(strings.TrimPrefix(t, "f"))
	v, ok := number(t)
	switch {
	case !ok || strings.Contains(t, "/"):
		return Mark{}, fmt.Errorf("%s is no aperture: write for example f/8", quote(text))
	case !(v >= minNumber && v <= maxNumber):
		return Mark{}, fmt.Errorf("an aperture of f/%s cannot be: write an f-number from f/%g to f/%g, for example f/8", t, minNumber, maxNumber)
	}
	return snapped(t, v, exposure.Apertures(), exposure.HalfApertures()), nil
}

// ParseTime reads a shutter time as somebody writes it: "1/125", "2 s", "0.5",
// `2"`. It is snapped, and refused, like ParseAperture's.
func ParseTime(text string) (Mark, error) {
	if err := ambiguous(text); err != nil {
		return Mark{}, err
	}
	return readTime(text)
}

func readTime(text string) (Mark, error) {
	t := minutes(strings.ToLower(strings.TrimSpace(text)))
	for _, end := range []string{"seconds", "second", "secs", "sec", "s", `"`, "″"} {
		if rest, cut := strings.CutSuffix(t, end); cut {
			t = strings.TrimSpace(rest)
			break
		}
	}
	v, ok := number(t)
	switch {
	case !ok:
		return Mark{}, fmt.Errorf("%s is no shutter time: write for example 1/125 or 2 s", quote(text))
	case !(v >= minTime && v <= maxTime):
		return Mark{}, fmt.Errorf("a shutter time of %s s cannot be: write a time from 1/64000 s to 4 hours, for example 1/125", t)
	}
	return snapped(t, v, exposure.Times(), exposure.HalfTimes()), nil
}

var minutesText = regexp.MustCompile(`(\d{1,3})\s*(?:min\b|minutes?\b|m\b|min)\s*(?:(\d{1,2})\s*(?:s\b|sec\b|seconds?\b)?)?`)

// minutes turns "1 min 35 s" into "95s".
func minutes(text string) string {
	return minutesText.ReplaceAllStringFunc(text, func(t string) string {
		m := minutesText.FindStringSubmatch(t)
		min, _ := strconv.Atoi(m[1])
		sec, _ := strconv.Atoi("0" + m[2])
		return strconv.Itoa(60*min+sec) + "s"
	})
}

func snapped(text string, v float64, series ...[]exposure.Mark) Mark {
	for _, marks := range series {
		if m, ok := exposure.Find(marks, v); ok {
			return Mark{Text: text, Nominal: v, Exact: m.Exact}
		}
	}
	return Mark{Text: text, Nominal: v, Exact: v}
}

// isTime reports whether a text is a shutter time rather than an aperture: it has a
// fraction or names seconds.
func isTime(text string) bool {
	t := strings.ToLower(strings.TrimSpace(text))
	return !strings.HasPrefix(t, "f") && !strings.HasPrefix(t, "1:") &&
		(strings.Contains(t, "/") || strings.HasSuffix(t, "s") || strings.HasSuffix(t, "sec") || strings.HasSuffix(t, `"`) || strings.HasSuffix(t, "″"))
}

// ParseSetting reads an aperture, a shutter time, or both in either order: "f/8",
// "1/60", "f/8 1/60", "1/60, f/8". What is not said is nil.
func ParseSetting(text string) (aperture, time *Mark, err error) {
	for _, w := range settingWords(text) {
		var m Mark
		switch {
		case isTime(w):
			if time != nil {
				return nil, nil, fmt.Errorf("%s has two shutter times: write for example f/8 1/60", quote(text))
			}
			if m, err = ParseTime(w); err != nil {
				return nil, nil, err
			}
			time = &m
		case aperture != nil:
			if v, ok := number(w); ok && time == nil {
				return nil, nil, fmt.Errorf("%s has two apertures, or %s is a time that lacks its unit: write f/8 1/60, or f/8 %s s", quote(text), w, trimmed(v, 6))
			}
			return nil, nil, fmt.Errorf("%s has two apertures: write for example f/8 1/60", quote(text))
		default:
			if m, err = ParseAperture(w); err != nil {
				if !strings.ContainsAny(w, "0123456789") { // not even meant as one
					err = fmt.Errorf("%s is no setting: write for example f/8 1/60, f/8 or 1/60", quote(text))
				}
				return nil, nil, err
			}
			aperture = &m
		}
	}
	if aperture == nil && time == nil {
		return nil, nil, fmt.Errorf("%s is no setting: write for example f/8 1/60", quote(text))
	}
	return aperture, time, nil
}

// settingWords cuts the text of a setting into apertures and times. A unit or an f
// that stands by itself goes with its figure.
func settingWords(text string) (out []string) {
	words := strings.FieldsFunc(minutes(strings.ToLower(text)), func(r rune) bool { return r == ' ' || r == ';' || r == '\t' || r == '@' })
	// A comma between numbers is a decimal one; before a space or a letter it is not.
	var items []string
	for _, w := range words {
		for _, p := range strings.Split(w, ",f") {
			items = append(items, strings.Trim(p, ","))
		}
	}
	for i := 0; i < len(items); i++ {
		w := items[i]
		if i+1 < len(items) && slices.Contains([]string{"s", "sec", "second", "seconds"}, items[i+1]) {
			w += "s"
			i++
		}
		if w == "f" && i+1 < len(items) {
			i++
			w += "/" + items[i]
		}
		if w != "" && w != "at" {
			out = append(out, w)
		}
	}
	return out
}

// Number writes an aperture: "f/8".
func (m Mark) Number() string { return "f/" + m.Text }

// Seconds writes a time: "1/125", "2 s", "1 min 35 s" by watch.
func (m Mark) Seconds() string {
	if m.Watch && m.Nominal >= 60 {
		min, sec := math.Floor(m.Nominal/60), math.Mod(m.Nominal, 60)
		if sec == 0 {
			return fmt.Sprintf("%.0f min", min)
		}
		return fmt.Sprintf("%.0f min %.0f s", min, sec)
	}
	if strings.Contains(m.Text, "/") {
		return m.Text
	}
	return m.Text + " s"
}

// ExactNumber writes the exact f-number: "f/11.31".
func (m Mark) ExactNumber() string { return "f/" + trimmed(m.Exact, 4) }

// ExactSeconds writes the exact time: "1/128", "2 s".
func (m Mark) ExactSeconds() string {
	if m.Exact < 0.3 {
		return "1/" + trimmed(1/m.Exact, 4)
	}
	return trimmed(m.Exact, 3) + " s"
}

// trimmed writes v with so many significant digits and no zeros behind.
func trimmed(v float64, digits int) string {
	if v >= math.Pow10(digits) {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
