package plan

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"stopladder/analysis/bracket/exposure"
)

// Way is how the light was metered.
type Way string

// Ways of metering.
const (
	Unsaid    Way = ""
	Incident  Way = "incident"
	Reflected Way = "reflected"
	Sunny     Way = "sunny" // no meter: the rule of thumb f/16 at 1/ISO
)

// Reading is what a meter said. Speed is the film speed that it was set to; 0
// where the reading knows none (lux, cd/m2).
type Reading struct {
	Way      Way
	EV       float64 // to set, at Speed; for lux and cd/m2 at ISO 100
	Speed    float64 // arithmetic ISO
	Constant float64 // C or K of ISO 2720, 0 where none came in
	Text     string  // the reading in plain words, for cards and assumptions
}

// At returns the EV to set for a film of arithmetic speed iso.
func (r Reading) At(iso float64) float64 { return r.EV + math.Log2(iso/r.Speed) }

const (
	// Light at ISO 100, from an overcast night without moon (0.0001 lux in
	// published tables of natural light, EV -14.6; a quarter moon gives EV -6 by ANSI
	// PH2.7-1986, as the web quotes it) to beyond any surface in sun (EV 16, the same).
	minEV, maxEV       = -15.0, 26.0
	minSpeed, maxSpeed = 0.5, 204800.0
	footcandle         = 10.7639 // lux
)

var (
	speedTail = regexp.MustCompile(`(?:@|\bat\b)\s*(?:iso\s*)?([0-9.,]+(?:/[0-9]+°?)?|[0-9]+\s*(?:°|deg|din))\s*$`)
	atTime    = regexp.MustCompile(`(?:@|\bat\b)\s*(1/[0-9])`) // "f/8 @ 1/125": no speed is written so
	isoTail   = regexp.MustCompile(`\biso\s*([0-9.,]+(?:/[0-9]+°?)?|[0-9]+\s*(?:°|deg|din))\s*$`)
	constant  = regexp.MustCompile(`\b([ck])\s*=?\s*([0-9]+(?:[.,][0-9]+)?)\b`)
	lightUnit = regexp.MustCompile(`^([0-9][0-9 .,'’]*)\s*(klux|klx|lux|lx|fc|cd/m2|cd/m²|cd|nits?)$`)
	unitTail  = regexp.MustCompile(`(?:lux|lx|fc|cd|cd/m2|cd/m²|nits?)$`)
	spaced    = regexp.MustCompile(`^[0-9]{1,3}(?:[ '’][0-9]{3})+(?:[.,][0-9]+)?$`)
	evText    = regexp.MustCompile(`^(?:ev|lv)?\s*([+-]?)\s*([0-9]+)?\s*([.,][0-9]+|[0-9]+/[0-9]+)?\s*(?:ev|lv)?$`)
	sunnyText = regexp.MustCompile(`^sunny\s*[- ]?\s*(?:f/?)?\s*([0-9.]+)?$`)
)

const meterExamples = "write for example f/11 1/125, EV 14 at ISO 100, 10000 lux or 4000 cd/m2"

// ParseReading reads what a meter said, as somebody writes it: "f/11 1/125", "EV 14
// at ISO 100", "10000 lux", "incident 64 klux C=330", "reflected 4000 cd/m2 K=14",
// "sunny 16". A speed in the text, or speed (0: none), is what the meter was set
// to; film, 0 where not yet known, stands in for a reading in aperture and time.
// An EV without any speed is refused unless the film is ISO 100, the speed that
// EV is mostly quoted at: it could mean two things. So could "10,000 lux", which is
// refused; a space or an apostrophe may stand between thousands of lux and cd/m2.
func ParseReading(text string, speed, film float64) (Reading, error) {
	m := &meterText{text: text, speed: speed, film: film,
		rest: strings.Join(strings.Fields(strings.ToLower(strings.ReplaceAll(text, "−", "-"))), " ")}
	if m.rest == "" {
		return Reading{}, fmt.Errorf("the meter reading is missing: %s", meterExamples)
	}
	if err := ambiguous(m.rest); err != nil {
		return Reading{}, err
	}
	m.rest = strings.TrimSpace(strings.NewReplacer("½", " 1/2", "⅓", " 1/3", "⅔", " 2/3", "  ", " ").Replace(m.rest))
	m.rest = atTime.ReplaceAllString(m.rest, " $1")
	for _, take := range []func() error{m.takeWay, m.takeConstant, m.takeSpeed} {
		if err := take(); err != nil {
			return Reading{}, err
		}
	}
	if f := sunnyText.FindStringSubmatch(m.rest); f != nil {
		return sunny(f[1], film, text)
	}
	if f := lightUnit.FindStringSubmatch(m.rest); f != nil {
		return light(m.r, f[1], f[2], text)
	}
	if m.r.Constant != 0 {
		return Reading{}, fmt.Errorf("%s has a meter constant but no light: a constant belongs to lux or cd/m2, a reading in EV or in time and aperture has it in it", quote(text))
	}
	if f := evText.FindStringSubmatch(m.rest); f != nil && (f[2] != "" || f[3] != "") {
		return m.ev(f[1], f[2], f[3])
	}
	return m.setting()
}

// meterText is what a meter said, while it is taken apart.
type meterText struct {
	text        string  // as written
	rest        string  // not yet taken, in small letters
	speed, film float64 // ISO; 0 is none
	r           Reading
}

// takeWay takes the words that say which light was metered.
func (m *meterText) takeWay() error {
	for _, w := range []struct {
		word string
		way  Way
	}{{"incident", Incident}, {"reflected", Reflected}, {"spot", Reflected}} {
		if rest, found := cutWord(m.rest, w.word); found {
			if m.r.Way != Unsaid && m.r.Way != w.way {
				return fmt.Errorf("%s says both incident and reflected: leave one out", quote(m.text))
			}
			m.r.Way, m.rest = w.way, rest
		}
	}
	return nil
}

// takeConstant takes the meter's constant, which tells the way as well.
func (m *meterText) takeConstant() error {
	at := constant.FindStringSubmatchIndex(m.rest)
	if at == nil {
		return nil
	}
	m.r.Constant, _ = number(m.rest[at[4]:at[5]])
	way := map[string]Way{"c": Incident, "k": Reflected}[m.rest[at[2]:at[3]]]
	if m.r.Way != Unsaid && m.r.Way != way {
		return fmt.Errorf("%s mixes incident and reflected: C is the constant of incident light, K of reflected", quote(m.text))
	}
	m.r.Way = way
	m.rest = strings.TrimSpace(m.rest[:at[0]] + m.rest[at[1]:])
	return nil
}

// takeSpeed takes the film speed at the end, which must not contradict the one given.
func (m *meterText) takeSpeed() error {
	for _, tail := range []*regexp.Regexp{speedTail, isoTail} {
		at := tail.FindStringSubmatchIndex(m.rest)
		if at == nil {
			continue
		}
		s, err := ParseSpeed(m.rest[at[2]:at[3]])
		if err != nil {
			return fmt.Errorf("the meter's film speed in %s: %w", quote(m.text), err)
		}
		if m.speed > 0 && math.Abs(math.Log2(m.speed/s)) > 0.01 {
			return fmt.Errorf("the reading %s names ISO %s and the meter's speed is given as ISO %s: leave one out", quote(m.text), trimmed(s, 6), trimmed(m.speed, 6))
		}
		m.speed = s
		m.rest = strings.TrimSpace(m.rest[:at[0]])
		return nil
	}
	return nil
}

// ev reads an exposure value of a sign, a whole part and a fraction, each of which
// may be "": "14/3" has the figure in the fraction, "14 1/3" has both.
func (m *meterText) ev(sign, whole, fraction string) (Reading, error) {
	if !strings.Contains(m.rest, "ev") && !strings.Contains(m.rest, "lv") {
		return Reading{}, fmt.Errorf("%s alone could be an EV, an aperture or a light: %s", quote(m.text), meterExamples)
	}
	v := 0.0
	if whole != "" {
		v, _ = number(whole)
	}
	if fraction != "" {
		if fraction[0] == '.' || fraction[0] == ',' {
			fraction = "0" + fraction
		}
		f, ok := number(fraction)
		if !ok {
			return Reading{}, fmt.Errorf("%s is no EV: write for example EV 13.7 or EV 13 2/3", quote(m.text))
		}
		v += f
	}
	if sign == "-" {
		v = -v
	}
	if m.speed == 0 {
		if m.film != 100 {
			return Reading{}, fmt.Errorf("an EV needs the film speed that the meter was set to: write for example EV %s at ISO 100", trimEV(v))
		}
		m.speed = 100
	}
	m.r.EV, m.r.Speed = v, m.speed
	m.r.Text = said(m.r.Way, fmt.Sprintf("EV %s at ISO %s", trimEV(v), trimmed(m.speed, 6)))
	return m.r.bounded()
}

// setting reads an aperture and a time.
func (m *meterText) setting() (Reading, error) {
	a, t, err := ParseSetting(m.rest)
	switch {
	case err != nil && (strings.HasPrefix(m.rest, "ev") || strings.HasPrefix(m.rest, "lv")):
		return Reading{}, fmt.Errorf("%s is no EV: write for example EV 13.7 or EV 13 2/3 at ISO 100", quote(m.text))
	case err != nil && unitTail.MatchString(m.rest):
		return Reading{}, fmt.Errorf("%s is no light that can be metered: write for example 10000 lux or 4000 cd/m2", quote(m.text))
	case err != nil && strings.ContainsAny(m.rest, "0123456789"):
		return Reading{}, err
	case err != nil:
		return Reading{}, fmt.Errorf("%s is no meter reading: %s", quote(m.text), meterExamples)
	case a == nil:
		return Reading{}, fmt.Errorf("the reading %s has a time and no aperture: write for example f/11 1/125", quote(m.text))
	case t == nil:
		return Reading{}, fmt.Errorf("the reading %s has an aperture and no time: write for example f/11 1/125", quote(m.text))
	}
	if m.speed == 0 {
		m.speed = m.film
	}
	m.r.EV, m.r.Speed = exposure.EV(a.Exact, t.Exact), m.speed
	m.r.Text = said(m.r.Way, fmt.Sprintf("%s %s at ISO %s", a.Number(), t.Seconds(), trimmed(m.speed, 6)))
	return m.r.bounded()
}

// bounded refuses a reading of light that is nowhere.
func (r Reading) bounded() (Reading, error) {
	if ev := r.At(100); !(ev >= minEV && ev <= maxEV) {
		return Reading{}, fmt.Errorf("%s is no light that can be metered: at ISO 100 light is from EV %g to EV %g, check the reading", r.Text, minEV, maxEV)
	}
	return r, nil
}

// light returns a reading in lux or cd/m2 by ISO 2720.
func light(r Reading, figure, unit, text string) (Reading, error) {
	figure = strings.TrimSpace(figure)
	if spaced.MatchString(figure) {
		figure = strings.NewReplacer(" ", "", "'", "", "’", "").Replace(figure)
	}
	v, ok := number(figure)
	if !ok || !(v > 0 && v <= 1e7) {
		return Reading{}, fmt.Errorf("%s is no light that can be metered: write for example 10000 lux or 4000 cd/m2", quote(text))
	}
	way, lo, hi, c := Incident, 240.0, 540.0, float64(exposure.CFlat)
	name := "C"
	switch unit {
	case "klux", "klx":
		v *= 1000
	case "fc":
		v *= footcandle
	case "lux", "lx":
	default:
		way, lo, hi, c, name = Reflected, 10.6, 13.4, exposure.K, "K"
	}
	if r.Way != Unsaid && r.Way != way {
		return Reading{}, fmt.Errorf("%s mixes incident and reflected: lux is incident light, cd/m2 is reflected", quote(text))
	}
	if r.Constant != 0 {
		c = r.Constant
	}
	if way == Reflected && c == 14 {
		hi = 14 // in use, outside the standard's range
	}
	if !(c >= lo && c <= hi) {
		return Reading{}, fmt.Errorf("a meter constant %s of %g is outside %g to %g (ISO 2720): look it up in the meter's manual, or leave it out for %g", name, c, lo, hi, map[Way]float64{Incident: exposure.CFlat, Reflected: exposure.K}[way])
	}
	out := Reading{Way: way, Speed: 100, Constant: c}
	if way == Incident {
		out.EV = exposure.Incident(v, 100, c)
		out.Text = fmt.Sprintf("incident, %s lux, C = %g", trimmed(v, 6), c)
	} else {
		out.EV = exposure.Reflected(v, 100, c)
		out.Text = fmt.Sprintf("reflected, %s cd/m2, K = %g", trimmed(v, 6), c)
	}
	return out.bounded()
}

// sunny reads by the rule of thumb for daylight, common practice without a source: f/16
// at 1/ISO in sun with distinct shadows, f/22 on snow or sand, f/11 under light cloud,
// f/8 cloudy, f/5.6 heavy cloud, f/4 open shade.
func sunny(figure string, film float64, text string) (Reading, error) {
	if figure == "" {
		figure = "16"
	}
	m, err := ParseAperture(figure)
	if err != nil || m.Exact < 3.9 || m.Exact > 23 {
		return Reading{}, fmt.Errorf("%s is none of the rule's apertures: sunny 16 in sun, 22 on snow or sand, 11 under light cloud, 8 cloudy, 5.6 heavy cloud, 4 open shade", quote(text))
	}
	if film == 0 {
		film = 100
	}
	return Reading{Way: Sunny, EV: exposure.EV(m.Exact, 1/film), Speed: film,
		Text: fmt.Sprintf("no meter: %s at 1/%s s, by rule of thumb", m.Number(), trimmed(film, 6))}, nil
}

func said(w Way, text string) string {
	if w == Unsaid {
		return text
	}
	return string(w) + ", " + text
}

func cutWord(text, word string) (string, bool) {
	fields := strings.Fields(text)
	for i, f := range fields {
		if strings.Trim(f, ",:;") == word {
			return strings.Join(append(fields[:i:i], fields[i+1:]...), " "), true
		}
	}
	return text, false
}

func trimEV(v float64) string {
	s := fmt.Sprintf("%.2f", v)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// ParseSpeed reads a film speed as somebody writes it: "400", "ISO 400", "400/27°",
// "27°", "27 DIN".
func ParseSpeed(text string) (float64, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	t = strings.TrimSpace(strings.TrimPrefix(strings.TrimPrefix(t, "iso"), ":"))
	if t == "" {
		return 0, fmt.Errorf("the film speed is missing: write for example ISO 400")
	}
	if err := ambiguous(t); err != nil {
		return 0, err
	}
	degrees := func(d string) (int, bool) {
		for _, end := range []string{"°", "deg", "din"} {
			if rest, cut := strings.CutSuffix(d, end); cut {
				v, ok := number(rest)
				return int(v), ok && v == math.Trunc(v) && v < 100
			}
		}
		return 0, false
	}
	arithmetic, deg, both := strings.Cut(t, "/")
	if d, ok := degrees(t); ok && !both {
		s, known := exposure.SpeedOf(d)
		if !known {
			return 0, fmt.Errorf("%s is no film speed of the standard series: write for example 21° or ISO 100", quote(text))
		}
		return s, nil
	}
	v, ok := number(arithmetic)
	if !ok {
		return 0, fmt.Errorf("%s is no film speed: write for example ISO 400", quote(text))
	}
	if !(v >= minSpeed && v <= maxSpeed) {
		return 0, fmt.Errorf("a film speed of ISO %s cannot be: write a speed from %g to %g, for example ISO 400", arithmetic, minSpeed, maxSpeed)
	}
	if both {
		if !strings.HasSuffix(deg, "°") {
			deg += "°"
		}
		if d, ok := degrees(deg); !ok || d != exposure.Degrees(v) {
			return 0, fmt.Errorf("%s does not fit together, ISO %s is %d°: check both", quote(text), trimmed(v, 6), exposure.Degrees(v))
		}
	}
	return v, nil
}

// Speed writes a film speed in both scales: "ISO 400/27°".
func Speed(iso float64) string {
	return fmt.Sprintf("ISO %s/%d°", trimmed(iso, 6), exposure.Degrees(iso))
}
