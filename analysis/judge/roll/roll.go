package roll

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/stops"
)

// Problem is one thing that is wrong with a roll while the rest stays usable.
type Problem struct {
	Code  Code
	Frame int    // index into Frames; -1: the roll
	Text  string // one sentence: what, which file, what to do
	Found string // where a missing scan seems to be now, absolute; "" unknown
}

// Code names a kind of problem; it is stable, for programs and tests.
type Code string

// The problems of a roll.
const (
	Damaged    Code = "damaged"      // a value in the roll file was unusable and replaced
	LeftOut    Code = "left-out"     // an entry of the roll file was unusable
	Missing    Code = "missing"      // a scan is not where the roll file says
	Changed    Code = "changed"      // a scan is not the file that was judged
	Unreadable Code = "unreadable"   // a scan is there and cannot be read
	Ambiguous  Code = "ambiguous"    // several files could be the missing scan
	SearchCut  Code = "search-cut"   // the folder is too large to search whole
	NotAllSeen Code = "not-all-seen" // parts of the folder could not be read
)

// Name is the scan's file name without its folder.
func (f Frame) Name() string {
	p := filepath.ToSlash(f.File)
	if drive.MatchString(f.File) {
		p = strings.ReplaceAll(p, `\`, "/") // also where this system has no drives
	}
	return path.Base(p)
}

// Called returns what the roll is called: its title, else its file's name, else its
// folder's; "" for a roll without frames.
func (r *Roll) Called() string {
	switch {
	case r.Title != "":
		return r.Title
	case r.path != "":
		return strings.TrimSuffix(filepath.Base(r.path), Ext)
	case len(r.Frames) == 0:
		return ""
	}
	return filepath.Base(filepath.Dir(filepath.FromSlash(r.Frames[0].File)))
}

// Path is the absolute path of the roll file; "" while it was never saved.
func (r *Roll) Path() string { return r.path }

// In returns a copy of r that belongs to the roll file at path, absolute. Nothing is
// written.
func (r *Roll) In(path string) *Roll {
	c := r.Clone()
	c.path, c.disk = path, ""
	return c
}

// StoredAs returns a copy of r that belongs to the roll file of o, in the version in
// which o was read or written, with the readings that it keeps. Nothing is written.
func (r *Roll) StoredAs(o *Roll) *Roll {
	c := r.In(o.path)
	c.disk, c.Readings = o.disk, o.Readings
	return c
}

// Base returns the index of the base frame: the one chosen by hand, else the
// first at 0, else the nearest to 0 (the over one of two equally near). note is ""
// for a frame at 0 and else says what stands in. The index is -1 without frames.
func (r *Roll) Base() (index int, note string) {
	labels := make([]float64, len(r.Frames))
	for i, f := range r.Frames {
		labels[i] = f.Stop
		if r.BaseFile != "" && f.File == r.BaseFile {
			if math.Abs(f.Stop) >= stops.Near {
				note = fmt.Sprintf("%s at %s was chosen by hand as the base frame.", quote(f.Name()), stops.Label(f.Stop))
			}
			return i, note
		}
	}
	index, exact := stops.Base(labels)
	if index >= 0 && !exact {
		note = fmt.Sprintf("No frame stands at 0: %s at %s, the nearest, is taken as the base.",
			quote(r.Frames[index].Name()), stops.Label(labels[index]))
	}
	return index, note
}

// Sort orders the frames by stop, the most underexposed first, and those at one
// stop by name.
func (r *Roll) Sort() {
	slices.SortStableFunc(r.Frames, func(a, b Frame) int {
		switch {
		case a.Stop < b.Stop:
			return -1
		case a.Stop > b.Stop:
			return 1
		}
		return stops.Natural(a.Name(), b.Name())
	})
}

// Judge returns the one judge's marks of a version 1 roll to read and to change;
// they are added when the roll has none.
func (r *Roll) Judge() *Marks {
	if len(r.Marks) == 0 {
		r.Marks = []Marks{{}}
	}
	return &r.Marks[0]
}

// OwnFinding returns what the roll comes to in the judge's own words, and whose they are;
// "" where the judge wrote none.
func (r *Roll) OwnFinding() (text, judge string) {
	if len(r.Marks) == 0 {
		return "", ""
	}
	return r.Marks[0].Finding, r.Marks[0].Judge
}

// SetRange marks the judge's range, its ends snapped to quarter stops and in
// either order.
func (r *Roll) SetRange(a, b float64) {
	lo, hi := stops.Quarter(min(a, b)), stops.Quarter(max(a, b))
	r.Judge().Range = &Range{Lo: lo, Hi: hi}
}

// Contains says whether a stop lies within the range, its ends included.
func (g Range) Contains(stop float64) bool { return stop >= g.Lo-stops.Near && stop <= g.Hi+stops.Near }

// Judged counts the frames with a verdict.
func (r *Roll) Judged() (n int) {
	for _, f := range r.Frames {
		if f.Verdict != Unjudged {
			n++
		}
	}
	return n
}

// Word is the verdict as it is shown: "Holds", "Strains", "Breaks", "" unjudged.
func (v Verdict) Word() string {
	switch v {
	case Holds:
		return "Holds"
	case Strains:
		return "Strains"
	case Breaks:
		return "Breaks"
	}
	return ""
}

// Clone returns a copy that shares nothing with r.
func (r *Roll) Clone() *Roll {
	c := *r
	c.extra = maps.Clone(r.extra)
	c.Frames = slices.Clone(r.Frames)
	for i := range c.Frames {
		f := &c.Frames[i]
		f.extra, f.areaExtra = maps.Clone(f.extra), maps.Clone(f.areaExtra)
		f.Area, f.Placed, f.Preview = copied(f.Area), copied(f.Placed), copied(f.Preview)
		if f.Hand != nil {
			h := f.Hand.Clone()
			f.Hand = &h
		}
	}
	c.Patches = slices.Clone(r.Patches)
	c.Readings = r.Readings.Clone()
	c.Limits = copied(r.Limits)
	if r.View != nil {
		v := r.View.Clone()
		c.View = &v
	}
	c.Marks = slices.Clone(r.Marks)
	for i := range c.Marks {
		c.Marks[i] = c.Marks[i].clone()
	}
	c.Sitting = r.Sitting.clone()
	c.Blind = cloneBlind(r.Blind)
	return &c
}

// copied returns a pointer to a copy, nil for nil.
func copied[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}

// LimitSet returns the limits that the roll is held against.
func (r *Roll) LimitSet() criteria.Set {
	if r.Limits != nil {
		return *r.Limits
	}
	return criteria.Default()
}

// Stale says why the readings that the roll keeps are not those that a version of the
// program would take of it now, in one clause; "" when they are. Scans are told by the
// hashes that the roll remembers: whether the files are still those is Check's to say.
func (r *Roll) Stale(program string) string {
	scans := make([]kept.Scan, len(r.Frames))
	for i, f := range r.Frames {
		scans[i] = kept.Scan{File: f.ScanName(), SHA256: f.ScanHash(), Stop: f.Stop}
	}
	why := r.Readings.Stale(program, scans)
	switch {
	case why != "":
		return why
	case r.Readings.Basis != r.Basis():
		return "area, placement, base frame or profile changed since"
	case !r.Readings.Limits.Same(r.LimitSet()):
		return "its limits changed since"
	}
	return ""
}

// Basis is a digest, 16 hex digits, of what else a measurement rests on than scans and
// labels: image areas and placements set by hand, the base frame chosen, the assumed profile.
func (r *Roll) Basis() string {
	type frame struct {
		Area   *Area
		Placed *Placement
	}
	var all struct {
		Base, Profile string
		Frames        []frame
	}
	all.Profile = r.AssumedProfile
	for _, f := range r.Frames {
		if r.BaseFile != "" && r.BaseFile == f.File {
			all.Base = f.ScanName()
		}
		all.Frames = append(all.Frames, frame{f.Area, f.Placed})
	}
	text, _ := json.Marshal(all) // of numbers and texts: no error
	return digest(text)[:16]
}
