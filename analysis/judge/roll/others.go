package roll

import (
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
)

// Said is what a judge said of one frame, kept apart from the frames so that no later
// verdict writes over it. It is told by the scan's hash, else by its name and stop.
type Said struct {
	Name    string  `json:"name"`             // the scan's file name without a folder
	SHA256  string  `json:"sha256,omitempty"` // lower-case hex, of the scan that was judged
	Stop    float64 `json:"stop"`             // as it was labelled then
	Verdict Verdict `json:"verdict,omitempty"`
	Note    string  `json:"note,omitempty"`

	extra extra
}

// Original is the scan of which a frame's file is a light preview.
type Original struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes,omitempty"`
	Width  int    `json:"width,omitempty"` // pixels, upright
	Height int    `json:"height,omitempty"`
}

// Sitting is one judging of the roll beside those of others: until it is done their marks
// are not shown.
type Sitting struct {
	Session string   `json:"session"`         // told apart by it, 16 hex digits
	Begun   string   `json:"begun,omitempty"` // day, ISO 8601
	Done    string   `json:"done,omitempty"`  // day on which the others' marks were shown; "" they are hidden
	Pack    string   `json:"pack,omitempty"`  // the pack that the roll came in, 16 hex digits
	From    string   `json:"from,omitempty"`  // whose pack that was
	Mine    []string `json:"mine,omitempty"`  // sessions that were done here: what is sent back
}

// MaxSessions is how many sittings a roll remembers as its own.
const MaxSessions = MaxMarks

// ScanHash is the hash of the scan that is judged: of the frame's file, or of the scan that
// it is a preview of. "" is not known.
func (f Frame) ScanHash() string {
	if f.Preview != nil {
		return f.Preview.SHA256
	}
	return f.SHA256
}

// ScanName is the name of the scan that is judged, without its folder.
func (f Frame) ScanName() string {
	if f.Preview != nil {
		return f.Preview.Name
	}
	return f.Name()
}

// Previews counts the frames whose files are light previews of scans that are elsewhere.
func (r *Roll) Previews() (n int) {
	for _, f := range r.Frames {
		if f.Preview != nil {
			n++
		}
	}
	return n
}

// PreviewNote says that a roll is of light previews, "" where it is of scans.
func (r *Roll) PreviewNote() string {
	n := r.Previews()
	if n == 0 {
		return ""
	}
	from := "their sender"
	if r.Sitting != nil && r.Sitting.From != "" {
		from = r.Sitting.From
	}
	return fmt.Sprintf("This roll came in a pack: %d of %d frames are light previews, and the full scans stayed with %s. It is judged at preview size; Blown, Blocked and noise of single pixels are read lower or higher here than in the scans, whose readings, measured by the sender, came with the pack.", n, len(r.Frames), from)
}

// MarshalJSON writes the known members in their order, then the unknown ones.
func (s Said) MarshalJSON() ([]byte, error) { return compactJoin(plainSaid(s), s.extra) }

// UnmarshalJSON keeps the members that it does not know.
func (s *Said) UnmarshalJSON(text []byte) error {
	var v plainSaid
	x, err := split(text, &v)
	if err == nil {
		*s = Said(v)
		s.extra = x
	}
	return err
}

type plainSaid Said

// clone returns a copy that shares nothing.
func (m Marks) clone() Marks {
	m.extra, m.rangeExtra = maps.Clone(m.extra), maps.Clone(m.rangeExtra)
	m.Range = copied(m.Range)
	m.Verdicts = slices.Clone(m.Verdicts)
	for i := range m.Verdicts {
		m.Verdicts[i].extra = maps.Clone(m.Verdicts[i].extra)
	}
	return m
}

func (s *Sitting) clone() *Sitting {
	c := copied(s)
	if c != nil {
		c.Mine = slices.Clone(c.Mine)
	}
	return c
}

// others brings what stands beside the roll's own marks within the bounds.
func (c *cleaner) others() {
	for i := range c.r.Marks {
		c.judged(&c.r.Marks[i])
	}
	for i := range c.r.Frames {
		f := &c.r.Frames[i]
		if f.Preview == nil {
			continue
		}
		f.Preview.SHA256 = strings.ToLower(f.Preview.SHA256)
		c.text(&f.Preview.Name, "name of a scan", MaxText, "", i)
		if !f.Preview.valid() {
			c.say(Damaged, i, "What %s is a preview of cannot be read in the roll file: it is taken for a scan.", quote(f.Name()))
			f.Preview = nil
		}
	}
	if s := c.r.Sitting; s != nil {
		c.text(&s.Begun, "day of a sitting", MaxText, "", -1)
		c.text(&s.Done, "day of a sitting", MaxText, "", -1)
		c.text(&s.From, "sender of a pack", MaxText, "", -1)
		s.Mine = slices.DeleteFunc(s.Mine, func(m string) bool { return !IsID(m) })
		s.Mine = s.Mine[:min(len(s.Mine), MaxSessions)]
		if !IsID(s.Session) || s.Pack != "" && !IsID(s.Pack) {
			c.say(Damaged, -1, "The sitting in the roll file is damaged: other judges' marks are hidden until yours are done anew.")
			c.r.Sitting = nil
		}
	}
}

// judged brings one judge's verdicts within the bounds.
func (c *cleaner) judged(m *Marks) {
	c.text(&m.Date, "day of a judge", MaxText, "", -1)
	if m.Session != "" && !IsID(m.Session) {
		c.say(Damaged, -1, "The session of %s in the roll file is damaged: the marks are taken without it.", quote(m.Judge))
		m.Session = ""
	}
	if m.Seen != "" && m.Seen != OnPreviews {
		m.Seen = ""
	}
	if len(m.Verdicts) > MaxFrames {
		c.say(LeftOut, -1, "%s judged %d frames in the roll file and a roll has at most %d: the others were left out.", quote(m.Judge), len(m.Verdicts), MaxFrames)
		m.Verdicts = m.Verdicts[:MaxFrames]
	}
	kept := m.Verdicts[:0]
	for _, s := range m.Verdicts {
		c.text(&s.Name, "name of a scan", MaxText, "", -1)
		c.text(&s.Note, "note of a judge", MaxNote, "\n\t", -1)
		s.SHA256 = strings.ToLower(s.SHA256)
		if !s.Verdict.known() || !(math.Abs(s.Stop) <= stops.Limit) || s.SHA256 != "" && !isHash(s.SHA256) {
			c.say(LeftOut, -1, "A verdict of %s in the roll file cannot be used and was left out: ask for it again.", quote(m.Judge))
			continue
		}
		kept = append(kept, s)
	}
	m.Verdicts = kept
}

// OnPreviews says in Marks that previews were judged and not the scans.
const OnPreviews = "previews"

func (o *Original) valid() bool {
	return o.Name != "" && isHash(o.SHA256) && o.Bytes >= 0 && o.Width >= 0 && o.Height >= 0 && o.Width <= MaxSide && o.Height <= MaxSide
}

// IsID reports whether s is what sessions and packs are told by: 16 hex digits in lower case.
func IsID(s string) bool {
	_, err := hex.DecodeString(s)
	return err == nil && len(s) == 16 && s == strings.ToLower(s)
}

// validateOthers returns what of other judges keeps the roll from being saved.
func (r *Roll) validateOthers() error {
	for _, f := range r.Frames {
		if p := f.Preview; p != nil && (!p.valid() || tame(p.Name, MaxText, "") != p.Name) {
			return fmt.Errorf("the scan that %s is a preview of is not known: open the pack again", quote(f.Name()))
		}
	}
	for _, m := range r.Marks {
		if tame(m.Date, MaxText, "") != m.Date || len(m.Verdicts) > MaxFrames || m.Session != "" && !IsID(m.Session) {
			return fmt.Errorf("the marks of %s cannot be saved: take them in again", quote(m.Judge))
		}
		for _, s := range m.Verdicts {
			if !s.Verdict.known() || tame(s.Name, MaxText, "") != s.Name || tame(s.Note, MaxNote, "\n\t") != s.Note || !(math.Abs(s.Stop) <= stops.Limit) {
				return fmt.Errorf("the verdict of %s on %s cannot be saved: take the marks in again", quote(m.Judge), quote(s.Name))
			}
		}
	}
	if s := r.Sitting; s != nil && (!IsID(s.Session) || len(s.Mine) > MaxSessions || tame(s.From, MaxText, "") != s.From) {
		return fmt.Errorf("the sitting cannot be saved: begin it anew")
	}
	return nil
}

// Text returns the roll as the text of a roll file in dir.
func (r *Roll) Text(dir string) ([]byte, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	return r.encode(dir)
}

// Parse reads the text of a roll file of a folder, as Load does.
func Parse(text []byte, dir string) (*Roll, []Problem, error) {
	if len(text) > MaxFileBytes {
		return nil, nil, fmt.Errorf("it has %d bytes and a roll file at most %d", len(text), MaxFileBytes)
	}
	return decode(text, dir)
}
