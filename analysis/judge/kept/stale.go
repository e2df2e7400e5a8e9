package kept

import (
	"fmt"
	"math"
	"slices"
)

// Scan is a frame of the roll as it is now.
type Scan struct {
	File   string // name without folder
	SHA256 string // "" not known
	Stop   float64
}

// Stale says why the readings are not those of a roll as a program would measure it now,
// in one clause; "" when they are. A scan whose hash is not known on both sides is told by
// its name.
func (r *Readings) Stale(program string, scans []Scan) string {
	if r == nil {
		return "it was not measured yet"
	}
	if r.Program != program {
		return fmt.Sprintf("it was measured by version %s of the program", r.Program)
	}
	if len(r.Frames) != len(scans) {
		return fmt.Sprintf("it was measured with %d frames and has %d", len(r.Frames), len(scans))
	}
	taken := make([]bool, len(r.Frames))
	for _, s := range scans {
		at := -1
		for i := range r.Frames {
			f := &r.Frames[i]
			if taken[i] || f.File != s.File || f.SHA256 != "" && s.SHA256 != "" && f.SHA256 != s.SHA256 {
				continue
			}
			at = i
			break
		}
		if at < 0 {
			return fmt.Sprintf("%s is another scan than was measured", s.File)
		}
		taken[at] = true
		if f := &r.Frames[at]; f.Stop == nil || math.Abs(*f.Stop-s.Stop) > 1e-6 {
			return fmt.Sprintf("the label of %s was changed since it was measured", s.File)
		}
	}
	return ""
}

// Timed returns the readings with other times of their scans, by the names of files: they
// were found to be the same scans.
func (r *Readings) Timed(times map[string]string) *Readings {
	c := r.Clone()
	c.raw, c.Frames = nil, slices.Clone(r.Frames)
	for i := range c.Frames {
		if t, ok := times[c.Frames[i].File]; ok {
			c.Frames[i].Time = t
		}
	}
	return c
}
