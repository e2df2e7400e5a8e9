package response

import (
	"fmt"
	"math"
)

const (
	swapLeast = 0.25 // stops by which both labels of a swapped pair are off
	swapRest  = 0.4  // of that may be left when they are exchanged
)

// labelFindings flags labels that disagree with the pictures by more than
// LabelLimit and by more than twice what the measurement may be off, and names
// pairs that were swapped. It is silent where the frames were not scanned alike.
func (r *Result) labelFindings(frames []Frame) {
	r.Labels = nil
	off := func(j int) float64 { return *r.Frames[j].MeasuredStop - frames[j].Stop }
	var at []int
	for j := range frames {
		q := &r.Frames[j]
		if !frames[j].StopKnown || q.MeasuredStop == nil {
			continue
		}
		if d := math.Abs(off(j)); d > swapLeast && d > 2**q.MeasuredStopError {
			at = append(at, j)
		}
	}
	paired := map[int]int{}
	for i, a := range at {
		for _, b := range at[i+1:] {
			if _, taken := paired[a]; taken {
				break
			}
			if _, taken := paired[b]; taken {
				continue
			}
			gap := math.Abs(frames[a].Stop - frames[b].Stop)
			rest := math.Max(math.Abs(*r.Frames[a].MeasuredStop-frames[b].Stop), math.Abs(*r.Frames[b].MeasuredStop-frames[a].Stop))
			if gap > swapLeast && rest < swapRest*math.Min(math.Abs(off(a)), math.Abs(off(b))) {
				paired[a], paired[b] = b, a
			}
		}
	}
	for _, j := range at {
		f := LabelFinding{Frame: j, Swapped: -1, Label: frames[j].Stop, Measured: *r.Frames[j].MeasuredStop}
		if o, ok := paired[j]; ok {
			f.Swapped = o
			f.Text = fmt.Sprintf("%s is labelled %s and shows %s stops; its label is swapped with that of %s.", r.name(j), signed(f.Label), signed(f.Measured), r.name(o))
		} else if math.Abs(off(j)) > LabelLimit {
			f.Text = fmt.Sprintf("%s is labelled %s and shows %s stops; check the label.", r.name(j), signed(f.Label), signed(f.Measured))
		} else {
			continue
		}
		r.Labels = append(r.Labels, f)
	}
}

// signed writes a stop: "+1", "-0.33", "0".
func signed(s float64) string {
	v := math.Round(s*100) / 100
	if v == 0 {
		return "0"
	}
	return fmt.Sprintf("%+g", v)
}
