package plan

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"stopladder/analysis/bracket/exposure"
	"stopladder/analysis/judge/stops"
)

// Vary says what makes the bracket.
type Vary string

// What a bracket may vary.
const (
	Shutter  Vary = "shutter"  // the time; the aperture is held, and with it depth of field and vignetting
	Aperture Vary = "aperture" // the aperture; the time is held
	Both     Vary = "both"     // what is held is left only where the other does not reach
)

// Order is the order in which frames are exposed.
type Order string

// Orders of a bracket.
const (
	BaseFirst Order = "base-first"
	UnderOver Order = "under-over"
	OverUnder Order = "over-under"
)

// Form is a plan as somebody typed it. Empty fields are defaults where there is
// one: shutter is varied, what is held is chosen, one-stop steps, frame 1, base
// first, no filter, no reciprocity figures.
type Form struct {
	Title       string `json:"title,omitempty"`
	Stock       string `json:"stock,omitempty"`       // of the film, as its box says
	Meter       string `json:"meter"`                 // see ParseReading
	MeterSpeed  string `json:"meterSpeed,omitempty"`  // film speed that the meter was set to
	Filter      string `json:"filter,omitempty"`      // light lost in filter or bellows: "3 stops", "ND 0.9", "ND8", "8x"
	ISO         string `json:"iso"`                   // film speed
	Camera      string `json:"camera"`                // name, or a part of it that no other has
	Vary        string `json:"vary,omitempty"`        // shutter, aperture or both
	Hold        string `json:"hold,omitempty"`        // "f/8" or "1/60"; empty: chosen
	From        string `json:"from"`                  // stops
	To          string `json:"to"`                    // stops
	Step        string `json:"step,omitempty"`        // "1", "1/2", "1/3"
	Format      string `json:"format,omitempty"`      // see ParseFormat; empty: not counted
	Frames      string `json:"frames,omitempty"`      // of the roll, instead of the format's
	First       string `json:"first,omitempty"`       // number of the first frame that is free
	Order       string `json:"order,omitempty"`       // base-first, under-over or over-under
	BaseAgain   bool   `json:"baseAgain,omitempty"`   // the base frame once more at the end
	Reciprocity string `json:"reciprocity,omitempty"` // "1.31", "p 0.86", or a table "2=3, 10=20"
	Correct     bool   `json:"correct,omitempty"`     // lengthen the times by it
}

// Request is a form that was read.
type Request struct {
	Title, Stock string
	Meter        Reading
	Filter       float64 // stops taken off the light
	ISO          float64
	Camera       Camera
	Vary         Vary
	HoldAperture *Mark // nil: chosen
	HoldTime     *Mark // nil: chosen
	From, To     float64
	Step         float64
	Format       Format
	First        int // number of the first frame on the roll
	Order        Order
	BaseAgain    bool
	Failure      exposure.Failure
	Correct      bool
}

// MaxFrames is the longest bracket, repeats included.
const MaxFrames = 72

// Request reads a form; cameras are those that Form.Camera may name. The error is
// Errors.
func (f Form) Request(cameras []Camera) (Request, error) {
	r := Request{Title: strings.TrimSpace(f.Title), Stock: strings.TrimSpace(f.Stock), BaseAgain: f.BaseAgain, Correct: f.Correct, First: 1, Vary: Shutter, Order: BaseFirst, Step: 1}
	var es Errors
	for _, t := range []struct {
		field Field
		what  string
		text  string
	}{{FieldTitle, "title", f.Title}, {FieldStock, "film stock", f.Stock}} {
		if len([]rune(t.text)) > 200 || controlled(t.text) {
			es.add(t.field, "the %s must be at most 200 characters on one line: shorten it", t.what)
		}
	}
	var err error
	r.ISO, err = ParseSpeed(f.ISO)
	es.put(FieldISO, err)
	meterSpeed := 0.0
	if strings.TrimSpace(f.MeterSpeed) != "" {
		meterSpeed, err = ParseSpeed(f.MeterSpeed)
		es.put(FieldMeterSpeed, err)
	}
	film := r.ISO
	if film == 0 {
		film = 100 // only so that the reading can be checked; the missing speed is told already
	}
	r.Meter, err = ParseReading(f.Meter, meterSpeed, film)
	es.put(FieldMeter, err)
	r.Filter, err = parseFilter(f.Filter)
	es.put(FieldFilter, err)
	r.Camera, err = Choose(cameras, f.Camera)
	if err == nil {
		err = r.Camera.Validate()
	}
	es.put(FieldCamera, err)

	if v := Vary(word(f.Vary)); v != "" {
		r.Vary = v
	}
	if r.Vary == "time" {
		r.Vary = Shutter
	}
	if !slices.Contains([]Vary{Shutter, Aperture, Both}, r.Vary) {
		es.add(FieldVary, "%s cannot be varied: write shutter, aperture or both", quote(f.Vary))
	}
	es.put(FieldHold, r.hold(f.Hold))

	r.From, err = parseEnd(f.From, "from", "-3")
	es.put(FieldFrom, err)
	r.To, err = parseEnd(f.To, "to", "+4")
	es.put(FieldTo, err)
	if strings.TrimSpace(f.Step) != "" {
		r.Step, err = stops.Parse(f.Step)
		if err != nil || r.Step <= 0 || r.Step > 4 {
			es.add(FieldStep, "%s is no step of a bracket: write 1, 1/2 or 1/3 of a stop", quote(f.Step))
			r.Step = 0
		}
	}
	if strings.TrimSpace(f.Format) != "" {
		r.Format, err = ParseFormat(f.Format)
		es.put(FieldFormat, err)
	} else {
		r.Format.Name = ""
	}
	if strings.TrimSpace(f.Frames) != "" {
		r.Format.Frames, err = parseCount(f.Frames, "number of frames on a roll", 1000)
		es.put(FieldFrames, err)
	}
	if strings.TrimSpace(f.First) != "" {
		r.First, err = parseCount(f.First, "frame of a roll", 1000)
		es.put(FieldFirst, err)
	}
	if o := Order(strings.ReplaceAll(word(f.Order), " ", "-")); o != "" {
		r.Order = o
	}
	if !slices.Contains([]Order{BaseFirst, UnderOver, OverUnder}, r.Order) {
		es.add(FieldOrder, "%s is no order of frames: write base-first, under-over or over-under", quote(f.Order))
	}
	r.Failure, err = ParseReciprocity(f.Reciprocity)
	es.put(FieldReciprocity, err)
	if f.Correct && err == nil && !r.Failure.Known() {
		es.add(FieldReciprocity, "times can only be lengthened with the film's figures: write its exponent, for example 1.31, or its table, for example 2=3, 10=20")
	}
	return r, es.or()
}

func (r *Request) hold(text string) error {
	if strings.TrimSpace(text) == "" || word(text) == "auto" {
		return nil
	}
	a, t, err := ParseSetting(text)
	switch {
	case err != nil:
		return err
	case a != nil && t != nil:
		return fmt.Errorf("%s names an aperture and a time, and only one can be held: write the one", quote(text))
	case r.Vary == Shutter && a == nil:
		return fmt.Errorf("when the shutter is varied the aperture is held: write an aperture, for example f/8, instead of %s", quote(text))
	case r.Vary == Aperture && t == nil:
		return fmt.Errorf("when the aperture is varied the shutter time is held: write a time, for example 1/60, instead of %s", quote(text))
	}
	r.HoldAperture, r.HoldTime = a, t
	return nil
}

func parseEnd(text, what, example string) (float64, error) {
	if strings.TrimSpace(text) == "" {
		return 0, fmt.Errorf("the bracket's end %q is missing: write for example %s", what, example)
	}
	return stops.Parse(text)
}

// ParseReciprocity reads a film's failure in long exposures: the exponent of Tc =
// Tm^P ("1.31"), Schwarzschild's p ("p 0.86"), or a table of metered and corrected
// seconds ("2=3, 10=20 s"). Empty is none known.
func ParseReciprocity(text string) (exposure.Failure, error) {
	t := word(text)
	var f exposure.Failure
	if t == "" || t == "none" {
		return f, nil
	}
	if !strings.Contains(t, "=") {
		inverse := false
		if rest, cut := strings.CutPrefix(t, "p"); cut {
			t = strings.TrimSpace(rest)
			inverse = true
		}
		v, ok := number(t)
		if ok && v > 0 && inverse && v < 1 {
			v = 1 / v
		}
		if !ok || !(v >= 1 && v <= 2) {
			return f, fmt.Errorf("%s is no exponent of reciprocity: write the data sheet's P from 1 to 2, for example 1.31, Schwarzschild's p, for example p 0.86, or a table, for example 2=3, 10=20", quote(text))
		}
		f.P = v
		return f, nil
	}
	sep := ","
	if strings.Contains(t, ";") {
		sep = ";"
	}
	for _, item := range strings.Split(t, sep) {
		if strings.TrimSpace(item) == "" {
			continue
		}
		m, c, _ := strings.Cut(item, "=")
		from, err := ParseTime(m)
		if err != nil {
			return f, err
		}
		to, err := ParseTime(c)
		if err != nil {
			return f, err
		}
		row := exposure.Correction{Metered: from.Nominal, Corrected: to.Nominal}
		if n := len(f.Table); n > 0 && (row.Metered <= f.Table[n-1].Metered || row.Corrected <= f.Table[n-1].Corrected) {
			return exposure.Failure{}, fmt.Errorf("the reciprocity table must rise in both columns, and %s does not: check it against the data sheet", quote(strings.TrimSpace(item)))
		}
		if row.Corrected < row.Metered {
			return exposure.Failure{}, fmt.Errorf("a corrected time is never shorter than the metered one, and %s is: check it against the data sheet", quote(strings.TrimSpace(item)))
		}
		f.Table = append(f.Table, row)
	}
	if len(f.Table) > maxMarks {
		return exposure.Failure{}, fmt.Errorf("the reciprocity table has more than %d rows: shorten it", maxMarks)
	}
	return f, nil
}

// Choose finds a camera by its name, or by words of it that no other has.
func Choose(cameras []Camera, name string) (Camera, error) {
	t := word(name)
	if t == "" {
		return Camera{}, fmt.Errorf("the camera is missing: name one of %s", names(cameras))
	}
	var found []Camera
	for _, c := range cameras {
		if word(c.Name) == t {
			return c, nil
		}
		if strings.Contains(word(c.Name), t) {
			found = append(found, c)
		}
	}
	// "leaf" begins one name and is inside another: what begins with it goes first.
	if len(found) > 1 {
		var begin []Camera
		for _, c := range found {
			if strings.HasPrefix(word(c.Name), t) {
				begin = append(begin, c)
			}
		}
		if len(begin) == 1 {
			found = begin
		}
	}
	switch len(found) {
	case 0:
		return Camera{}, fmt.Errorf("there is no camera %s: name one of %s", quote(name), names(cameras))
	case 1:
		return found[0], nil
	}
	return Camera{}, fmt.Errorf("%s fits more than one camera: name one of %s", quote(name), names(found))
}

func names(cameras []Camera) string {
	out := make([]string, len(cameras))
	for i, c := range cameras {
		out[i] = fmt.Sprintf("%q", c.Name)
	}
	return strings.Join(out, ", ")
}

func word(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// controlled reports whether a line holds a control or direction-changing character.
func controlled(s string) bool {
	return strings.ContainsFunc(s, func(r rune) bool {
		return unicode.IsControl(r) || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == '\u2028' || r == '\u2029'
	})
}
