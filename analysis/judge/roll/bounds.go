package roll

import (
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"stopladder/analysis/judge/stops"
)

// What a roll file may hold. A real roll is a thousandth of it.
const (
	MaxFileBytes = 8 << 20 // bytes of a roll file
	MaxFrames    = 1000
	MaxMarks     = 64
	MaxText      = 1000   // characters of title, stock, judge, ...
	MaxNote      = 20_000 // characters of a note
	MaxPath      = 4096   // bytes of a path
	MaxSide      = 1_000_000
	maxNoisy     = 100.0 // L* units
	MaxPatches   = 200
)

// clean brings a decoded roll within the bounds: paths become absolute, and what
// cannot be used is left out with a Problem. The error is for a roll that cannot
// be used at all.
func (r *Roll) clean(dir string) (problems []Problem, err error) {
	if len(r.Frames) > MaxFrames {
		return nil, fmt.Errorf("it lists %d frames and a roll has at most %d", len(r.Frames), MaxFrames)
	}
	if len(r.Marks) > MaxMarks {
		return nil, fmt.Errorf("it lists marks of %d judges and a roll has at most %d", len(r.Marks), MaxMarks)
	}
	c := &cleaner{r: r, dir: dir, seen: map[string]bool{}}
	c.head()
	c.frames()
	c.view()
	c.patches()
	c.marks()
	c.others()
	c.blind()
	return c.problems, nil
}

// cleaner brings a roll within the bounds.
type cleaner struct {
	r        *Roll
	dir      string          // of the roll file
	seen     map[string]bool // files of the frames
	problems []Problem
}

// say enters a problem; frame -1 is the roll.
func (c *cleaner) say(code Code, frame int, format string, args ...any) {
	c.problems = append(c.problems, Problem{Code: code, Frame: frame, Text: fmt.Sprintf(format, args...)})
}

func (c *cleaner) text(s *string, what string, most int, lines string, frame int) {
	if t := tame(*s, most, lines); t != *s {
		*s = t
		c.say(Damaged, frame, "The %s in the roll file was too long or held control characters: check it, it was shortened or cleaned.", what)
	}
}

func (c *cleaner) head() {
	r := c.r
	for _, l := range r.Block() {
		c.text(l.Text, l.What, MaxText, "", -1)
	}
	c.text(&r.AssumedProfile, "assumed profile", MaxPath, "", -1)
	if r.Demo != "" && r.Demo != "reversal" && r.Demo != "negative" {
		c.text(&r.Demo, "name of the demo film", MaxText, "", -1)
		c.say(Damaged, -1, "The roll file names the demo film %s, which this program does not have: open the built-in demo instead.", quote(r.Demo))
	}
	if !(r.NoisyLimit >= 0 && r.NoisyLimit <= maxNoisy) {
		c.say(Damaged, -1, "The limit for Noisy in the roll file (%g) is no value in L* units from 0 to %g: the default is used, set it again.", r.NoisyLimit, maxNoisy)
		r.NoisyLimit = 0
	}
	if r.Surround < 0 || r.Surround > 255 {
		c.say(Damaged, -1, "The surround in the roll file (%d) is no grey from 1 to 255: the default is used, set it again.", r.Surround)
		r.Surround = 0
	}
}

func (c *cleaner) frames() {
	r, frames := c.r, c.r.Frames
	r.Frames = make([]Frame, 0, len(frames))
	for i, f := range frames {
		if c.placed(i, &f) {
			c.frame(len(r.Frames), &f)
			r.Frames = append(r.Frames, f)
		}
	}
	if r.BaseFile == "" {
		return
	}
	if r.Demo == "" && badPath(r.BaseFile) == "" {
		aside := slices.IndexFunc(r.Frames, func(f Frame) bool { return f.Aside() && f.elsewhere == r.BaseFile })
		if aside >= 0 {
			r.BaseFile = r.Frames[aside].File
		} else {
			r.BaseFile = toMemory(r.BaseFile, c.dir)
		}
	}
	if !c.seen[r.BaseFile] {
		c.say(Damaged, -1, "The base frame that was chosen by hand is not among the frames: the frame nearest to 0 is taken, choose again.")
		r.BaseFile = ""
	}
}

// placed reports whether entry i of the file has a scan and a stop, and no other
// entry the same scan; its path becomes absolute.
func (c *cleaner) placed(i int, f *Frame) bool {
	if why := badPath(f.File); why != "" {
		c.say(LeftOut, -1, "Frame %d of the roll file was left out, its path %s: open its scan again.", i+1, why)
		return false
	}
	if !(math.Abs(f.Stop) <= stops.Limit) {
		c.say(LeftOut, -1, "%s was left out, its stop %g is more than %g from the base: open the scan again and label it.", quote(f.File), f.Stop, stops.Limit)
		return false
	}
	switch {
	case c.r.Demo != "":
	case elsewhere(f.File, c.dir) != "":
		f.setAside(i, c.dir)
	default:
		f.File = toMemory(f.File, c.dir)
	}
	if c.seen[f.File] {
		c.say(LeftOut, -1, "%s stands twice in the roll file and its second entry was left out: check its stop and verdict.", quote(f.File))
		return false
	}
	c.seen[f.File] = true
	return true
}

// frame cleans what belongs to the frame that will be at place at.
func (c *cleaner) frame(at int, f *Frame) {
	name := quote(f.Name())
	c.text(&f.Note, "note on "+name, MaxNote, "\n\t", at)
	if f.SHA256 = strings.ToLower(f.SHA256); f.SHA256 != "" && !isHash(f.SHA256) {
		c.say(Damaged, at, "The fingerprint of %s in the roll file is damaged: it cannot be said whether the scan has changed.", name)
		f.SHA256 = ""
	}
	f.Bytes = max(f.Bytes, 0)
	if !f.Verdict.known() {
		c.say(Damaged, at, "The verdict on %s in the roll file is none that this program knows: judge the frame again.", name)
		if word, err := compact(f.Verdict); err == nil {
			// Written back as it was while nobody judges anew.
			if f.extra == nil {
				f.extra = extra{}
			}
			f.extra["verdict"] = word
		}
		f.Verdict = Unjudged
	}
	switch f.Origin {
	case FromName, FromOrder, ByHand, FromDemo, FromPlan:
	default:
		f.Origin = ByHand
	}
	if f.Placed != nil && !f.Placed.valid() {
		c.say(Damaged, at, "The placement of %s in the roll file is impossible: the program finds it anew, correct it by hand.", name)
		f.Placed = nil
	}
	if f.Area != nil && !f.Area.valid() {
		c.say(Damaged, at, "The image area of %s in the roll file is impossible: the program finds it anew, correct it by hand.", name)
		f.Area, f.areaExtra = nil, nil
	}
	if f.Hand != nil {
		if err := f.Hand.Validate(); err != nil {
			c.say(Damaged, at, "The salvage by hand of %s in the roll file cannot be used (%v): make it again.", name, err)
			f.Hand = nil
		}
	}
}

func (c *cleaner) view() {
	if c.r.View == nil {
		return
	}
	if err := c.r.View.Validate(); err != nil {
		c.say(Damaged, -1, "The view correction in the roll file cannot be used (%v): the frames are shown as scanned.", err)
		c.r.View = nil
	}
}

func (c *cleaner) patches() {
	r, patches := c.r, c.r.Patches
	r.Patches = nil
	for i, p := range patches {
		if i >= MaxPatches {
			c.say(LeftOut, -1, "The roll file lists %d patches and a roll has at most %d: the others were left out.", len(patches), MaxPatches)
			break
		}
		if !p.valid() {
			c.say(LeftOut, -1, "Patch %d of the roll file lies at an impossible place and was left out: set it again.", i+1)
			continue
		}
		c.text(&p.Name, "name of a patch", MaxText, "", -1)
		r.Patches = append(r.Patches, p)
	}
}

func (c *cleaner) marks() {
	for i := range c.r.Marks {
		m := &c.r.Marks[i]
		c.text(&m.Judge, "name of a judge", MaxText, "", -1)
		c.text(&m.Finding, "finding of a judge", MaxNote, "\n\t", -1)
		if m.Range == nil {
			continue
		}
		if !(math.Abs(m.Range.Lo) <= stops.Limit && math.Abs(m.Range.Hi) <= stops.Limit) {
			c.say(Damaged, -1, "The judge's range in the roll file lies outside %g stops: mark it again.", stops.Limit)
			m.Range, m.rangeExtra = nil, nil
		} else if m.Range.Lo > m.Range.Hi {
			c.say(Damaged, -1, "The ends of the judge's range in the roll file were swapped: check the range.")
			m.Range.Lo, m.Range.Hi = m.Range.Hi, m.Range.Lo
		}
	}
}

// Validate returns what keeps the roll from being saved, in one sentence; nil when
// nothing does.
func (r *Roll) Validate() error {
	for _, check := range []func() error{r.validateHead, r.validatePatches, r.validateFrames, r.validateMarks, r.validateOthers, r.validateBlind} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

func (r *Roll) validateHead() error {
	switch {
	case len(r.Frames) > MaxFrames:
		return fmt.Errorf("the roll has %d frames and a roll file holds at most %d: leave some out", len(r.Frames), MaxFrames)
	case len(r.Marks) > MaxMarks:
		return fmt.Errorf("the roll has marks of %d judges and a roll file holds at most %d: leave some out", len(r.Marks), MaxMarks)
	case !(r.NoisyLimit >= 0 && r.NoisyLimit <= maxNoisy):
		return fmt.Errorf("the limit for Noisy is %g and must lie between 0 and %g L* units: set it again", r.NoisyLimit, maxNoisy)
	case r.Surround < 0 || r.Surround > 255:
		return fmt.Errorf("the surround is %d and must lie between 0 and 255: set it again", r.Surround)
	}
	for _, l := range append(r.Block(), BlockLine{"demo", "name of the demo film", &r.Demo}) {
		if tame(*l.Text, MaxText, "") != *l.Text {
			return fmt.Errorf("the %s has more than %d characters or holds a line break or control character: shorten or clean it", l.What, MaxText)
		}
	}
	if tame(r.AssumedProfile, MaxPath, "") != r.AssumedProfile {
		return errors.New("the name of the assumed profile is too long or holds a control character: choose it again")
	}
	if r.View != nil {
		if err := r.View.Validate(); err != nil {
			return fmt.Errorf("the view correction cannot be saved: %w", err)
		}
	}
	if r.Limits != nil {
		if err := r.Limits.Validate(); err != nil {
			return fmt.Errorf("the limits cannot be saved: %w", err)
		}
	}
	return nil
}

func (r *Roll) validatePatches() error {
	if len(r.Patches) > MaxPatches {
		return fmt.Errorf("the roll has %d patches and a roll file holds at most %d: take some away", len(r.Patches), MaxPatches)
	}
	for _, p := range r.Patches {
		if !p.valid() || tame(p.Name, MaxText, "") != p.Name {
			return fmt.Errorf("the patch %s has an impossible place or name: set it again", quote(p.Name))
		}
	}
	return nil
}

func (r *Roll) validateFrames() error {
	seen := map[string]bool{}
	for i := range r.Frames {
		f := &r.Frames[i]
		if why := badPath(f.File); why != "" {
			return fmt.Errorf("the scan %s cannot stand in a roll file, its path %s: rename it and open it again", quote(f.File), why)
		}
		if seen[f.File] {
			return fmt.Errorf("the scan %s stands twice in the roll: leave one out", quote(f.Name()))
		}
		if err := f.validate(); err != nil {
			return err
		}
		seen[f.File] = true
	}
	return nil
}

func (f *Frame) validate() error {
	name := quote(f.Name())
	switch {
	case !(math.Abs(f.Stop) <= stops.Limit):
		return fmt.Errorf("the stop of %s is %g and must lie within %g of the base: label it again", name, f.Stop, stops.Limit)
	case tame(f.Note, MaxNote, "\n\t") != f.Note:
		return fmt.Errorf("the note on %s has more than %d characters or holds control characters: shorten or clean it", name, MaxNote)
	case f.Area != nil && !f.Area.valid():
		return fmt.Errorf("the image area of %s is impossible: set it again", name)
	case f.Placed != nil && !f.Placed.valid():
		return fmt.Errorf("the placement of %s is impossible: place it again", name)
	case f.Hand != nil && f.Hand.Validate() != nil:
		return fmt.Errorf("the salvage by hand of %s cannot be saved: %w", name, f.Hand.Validate())
	case f.SHA256 != "" && !isHash(f.SHA256):
		return fmt.Errorf("the fingerprint of %s is damaged: open the scan again", name)
	case !f.Verdict.known():
		return fmt.Errorf("the verdict on %s is not known: judge it again", name)
	}
	return nil
}

func (r *Roll) validateMarks() error {
	for _, m := range r.Marks {
		if tame(m.Judge, MaxText, "") != m.Judge {
			return fmt.Errorf("the judge's name has more than %d characters or holds a control character: shorten or clean it", MaxText)
		}
		if tame(m.Finding, MaxNote, "\n\t") != m.Finding {
			return fmt.Errorf("the judge's finding has more than %d characters or holds control characters: shorten or clean it", MaxNote)
		}
		if g := m.Range; g != nil && !(g.Lo >= -stops.Limit && g.Lo <= g.Hi && g.Hi <= stops.Limit) {
			return fmt.Errorf("the judge's range from %g to %g stops is impossible: mark it again", g.Lo, g.Hi)
		}
	}
	return nil
}

func (v Verdict) known() bool {
	return v == Unjudged || v == Holds || v == Strains || v == Breaks
}

// valid: scans of one gate differ by far less; more is no placement of a frame.
func (p Placement) valid() bool {
	shift := func(v float64) bool { return math.Abs(v) <= MaxSide }
	return shift(p.DX) && shift(p.DY) && math.Abs(p.Rotation) <= 45 && p.Scale >= 0.25 && p.Scale <= 4
}

func (a Area) valid() bool {
	return a.X >= 0 && a.Y >= 0 && a.W > 0 && a.H > 0 && a.X <= MaxSide && a.Y <= MaxSide && a.W <= MaxSide && a.H <= MaxSide
}

// badPath returns why a path cannot stand in a roll file; "" when it can.
func badPath(path string) string {
	switch {
	case path == "":
		return "is empty"
	case len(path) > MaxPath:
		return fmt.Sprintf("is longer than %d bytes", MaxPath)
	case !utf8.ValidString(path):
		return "is not valid UTF-8 text"
	case hasControl(path, ""):
		return "holds a control character"
	}
	return ""
}

func isHash(s string) bool {
	_, err := hex.DecodeString(s)
	return err == nil && len(s) == 64 && s == strings.ToLower(s)
}

// hasControl reports whether s holds a control or direction-changing character other
// than those allowed. The latter could make one file name look like another.
func hasControl(s, allowed string) bool {
	return strings.ContainsFunc(s, func(r rune) bool { return forbidden(r) && !strings.ContainsRune(allowed, r) })
}

func forbidden(r rune) bool {
	return unicode.IsControl(r) || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == '\u2028' || r == '\u2029'
}

// tame cuts a text to most characters and makes spaces of control characters.
func tame(s string, most int, allowed string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	if hasControl(s, allowed) {
		s = strings.Map(func(r rune) rune {
			if forbidden(r) && !strings.ContainsRune(allowed, r) {
				return ' '
			}
			return r
		}, s)
	}
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most])
	}
	return s
}

// quote puts a file name in quotation marks for a sentence, the end of a long one.
func quote(name string) string {
	if rs := []rune(name); len(rs) > 120 {
		name = "…" + string(rs[len(rs)-120:])
	}
	return fmt.Sprintf("%q", filepath.ToSlash(name))
}

// valid reports whether a patch lies somewhere.
func (p Patch) valid() bool {
	return math.Abs(p.X) <= MaxSide && math.Abs(p.Y) <= MaxSide && p.R > 0 && p.R <= MaxSide
}
