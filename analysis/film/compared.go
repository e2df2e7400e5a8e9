package film

import (
	"path/filepath"
	"strings"
)

// Omitted is a frame that takes no part in what is told of the roll as a whole.
type Omitted struct {
	Frame int
	Why   string // a clause: "could not be read"
}

// NotCompared returns the frames that the range does not rest on, in the order of the
// roll: not read, without a label, not registered, or under a label that the pictures
// contradict. A sentence on the roll as a whole says that they are left out.
func (r *Roll) NotCompared() (out []Omitted) {
	for i := range r.Frames {
		f := &r.Frames[i]
		why := ""
		switch {
		case i == r.Base:
		case f.Look == nil:
			why = "could not be read"
		case f.Unlabelled:
			why = "has no label"
		case r.Base >= 0 && r.Fitted != nil && f.Map == nil:
			why = "could not be registered"
		case r.Response != nil && i < len(r.Response.Frames) && r.Response.Contradicted(i):
			why = "contradicts its label"
		}
		if why != "" {
			out = append(out, Omitted{i, why})
		}
	}
	return out
}

// leftOut names the frames of NotCompared with their reasons; "" where there are none.
func (r *Roll) leftOut() string {
	var parts []string
	for _, o := range r.NotCompared() {
		parts = append(parts, filepath.Base(filepath.FromSlash(r.Frames[o.Frame].File))+" ("+o.Why+")")
	}
	return strings.Join(parts, ", ")
}
