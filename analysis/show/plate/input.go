package plate

import (
	"fmt"
	"image"
	"path/filepath"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/film/register"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/show/sheet"
)

// Input is what a page shows: what sheets show, and what only pages need.
type Input struct {
	sheet.Input
	// Standing is what the figures rest on in a line: clauses that are joined by
	// semicolons.
	Standing []string
	Aspects  []float64 // width over height of each frame's picture; 0 or missing: not known
	Salvage  []Brought // each frame's salvage at the limits' grade
	Grade    criteria.Grade
	Details  []Detail
	Base     int // index of the base frame, -1: none
	// BaseArea is the image area of the base frame, in which details lie.
	BaseArea image.Rectangle
	Salvaged bool   // the pictures are shown brought to the base frame
	Shown    string // how the pictures are shown: "scans as they are"
}

// Brought says what bringing a frame to the base frame costs.
type Brought struct {
	Done  bool     // there is a salvage to show
	Costs []string // figures with their names, the most telling first
}

// Detail is a spot of the scene that is shown at 1:1.
type Detail struct {
	Name string
	At   image.Point // centre, full-resolution pixels of the base frame
	Lift float64     // stops by which it is shown lighter
}

// standing returns what the figures of a roll rest on, in clauses.
func standing(r *film.Roll) (out []string) {
	out = append(out, "This roll, this lab, this scanner")
	placed, all := 0, 0
	for _, f := range r.Frames {
		if f.Look == nil {
			continue
		}
		all++
		if g := f.Registration; g.How == register.Base || g.Reliable() || g.How == register.Hand {
			placed++
		}
	}
	switch {
	case all == 0:
	case placed == all && all > 1:
		out = append(out, "all frames registered")
	case all > 1:
		out = append(out, fmt.Sprintf("%d of %d frames registered", placed, all))
	}
	if n := len(r.Frames) - all; n > 0 {
		out = append(out, fmt.Sprintf("%d of %d scans not read", n, len(r.Frames)))
	}
	if res := r.Response; res == nil {
		out = append(out, "stops as labelled, no response measured")
	} else {
		switch {
		case res.Scan.Fixed == nil:
			out = append(out, "whether all were scanned alike is not known")
		case *res.Scan.Fixed:
			out = append(out, "scanned with fixed settings")
		default:
			out = append(out, "NOT scanned alike")
		}
		if res.Curve == nil {
			out = append(out, "stops as labelled, no response measured")
		}
		var off []string
		for _, l := range res.Labels {
			if l.Frame >= 0 && l.Frame < len(r.Frames) {
				off = append(off, filepath.Base(filepath.FromSlash(r.Frames[l.Frame].File)))
			}
		}
		if len(off) > 0 {
			out = append(out, "labels contradicted by the pictures: "+strings.Join(off, ", "))
		}
	}
	if e := r.Range(); e != nil {
		out = append(out, "measured with frames salvaged by "+string(e.Set.Grade)+", limits: "+e.Set.Title())
	}
	assumed := 0
	for _, f := range r.Frames {
		if f.Look != nil && (f.Look.ProfileAssumed || f.Look.Space != nil && f.Look.Space.Assumed()) {
			assumed++
		}
	}
	if assumed > 0 {
		name := "sRGB"
		if r.Judged.AssumedProfile != "" {
			name = r.Judged.AssumedProfile
		}
		out = append(out, "no colour profile in "+of(assumed, all)+": "+name+" assumed")
	}
	return out
}

func of(n, all int) string {
	if n == all {
		return "the scans"
	}
	return fmt.Sprintf("%d of %d scans", n, all)
}
