package roll

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
)

// Blind is one blind judging of the roll by its own judge: frames in random order, without
// labels. It stands beside the judge's ordinary marks and never in their place.
type Blind struct {
	Judge string `json:"judge,omitempty"`
	Begun string `json:"begun,omitempty"` // day, ISO 8601
	Done  string `json:"done,omitempty"`  // day; "" there are views to come
	Shown string `json:"shown,omitempty"` // the grade at which frames were shown; "" as scanned
	// Views are in the order in which they are shown; those without a verdict are to come.
	Views []View `json:"views"`

	extra extra
}

// View is one look at a frame. It is told by the scan's hash, else by its name and stop.
type View struct {
	Name    string  `json:"name"`             // the scan's file name without a folder
	SHA256  string  `json:"sha256,omitempty"` // lower-case hex, of the scan that was judged
	Stop    float64 `json:"stop"`             // as it was labelled then
	Verdict Verdict `json:"verdict,omitempty"`
	Seconds float64 `json:"seconds,omitempty"` // that the verdict took; 0 not known

	extra extra
}

type (
	plainBlind Blind
	plainView  View
)

// MarshalJSON writes the known members in their order, then the unknown ones.
func (b Blind) MarshalJSON() ([]byte, error) { return compactJoin(plainBlind(b), b.extra) }

// MarshalJSON writes the known members in their order, then the unknown ones.
func (v View) MarshalJSON() ([]byte, error) { return compactJoin(plainView(v), v.extra) }

// UnmarshalJSON keeps the members that it does not know.
func (b *Blind) UnmarshalJSON(text []byte) error {
	var v plainBlind
	x, err := split(text, &v)
	if err == nil {
		*b = Blind(v)
		b.extra = x
	}
	return err
}

// UnmarshalJSON keeps the members that it does not know.
func (v *View) UnmarshalJSON(text []byte) error {
	var p plainView
	x, err := split(text, &p)
	if err == nil {
		*v = View(p)
		v.extra = x
	}
	return err
}

// Bounds of what a roll file keeps of blind judgings.
const (
	MaxBlind = 64
	MaxViews = 4000
)

func cloneBlind(b []Blind) []Blind {
	b = slices.Clone(b)
	for i := range b {
		b[i].Views = slices.Clone(b[i].Views)
		b[i].extra = maps.Clone(b[i].extra)
	}
	return b
}

func (v View) valid() bool {
	return v.Verdict.known() && math.Abs(v.Stop) <= stops.Limit && v.Seconds >= 0 && v.Seconds < 1e6 &&
		v.Name != "" && tame(v.Name, MaxText, "") == v.Name && (v.SHA256 == "" || isHash(v.SHA256))
}

// blind brings blind judgings within the bounds.
func (c *cleaner) blind() {
	if len(c.r.Blind) > MaxBlind {
		c.say(LeftOut, -1, "The roll file has %d blind judgings and at most %d are read: the others were left out.", len(c.r.Blind), MaxBlind)
		c.r.Blind = c.r.Blind[:MaxBlind]
	}
	for i := range c.r.Blind {
		b := &c.r.Blind[i]
		c.text(&b.Judge, "name of a judge", MaxText, "", -1)
		c.text(&b.Begun, "day of a blind judging", MaxText, "", -1)
		c.text(&b.Done, "day of a blind judging", MaxText, "", -1)
		c.text(&b.Shown, "grade of a blind judging", MaxText, "", -1)
		n := len(b.Views)
		for k := range b.Views {
			b.Views[k].SHA256 = strings.ToLower(b.Views[k].SHA256)
		}
		b.Views = slices.DeleteFunc(b.Views, func(v View) bool { return !v.valid() })
		b.Views = b.Views[:min(len(b.Views), MaxViews)]
		if left := n - len(b.Views); left > 0 {
			c.say(LeftOut, -1, "%d views of a blind judging in the roll file cannot be used and were left out.", left)
		}
	}
}

// validateBlind returns what of blind judgings keeps the roll from being saved.
func (r *Roll) validateBlind() error {
	if len(r.Blind) > MaxBlind {
		return fmt.Errorf("a roll keeps at most %d blind judgings: take one away", MaxBlind)
	}
	for _, b := range r.Blind {
		if tame(b.Judge+b.Begun+b.Done+b.Shown, 4*MaxText, "") != b.Judge+b.Begun+b.Done+b.Shown || len(b.Views) > MaxViews || slices.ContainsFunc(b.Views, func(v View) bool { return !v.valid() }) {
			return fmt.Errorf("a blind judging cannot be saved: begin it anew")
		}
	}
	return nil
}

// blindly tells blind judgings by their days and how far each is.
func (r *Roll) blindly() string {
	var words []string
	for _, b := range r.Blind {
		said := 0
		for _, v := range b.Views {
			if v.Verdict != Unjudged {
				said++
			}
		}
		words = append(words, strings.TrimSpace(fmt.Sprintf("%s %d of %d views", b.Begun, said, len(b.Views))))
	}
	return strings.Join(words, ", ")
}
