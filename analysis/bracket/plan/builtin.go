package plan

import (
	"slices"

	"stopladder/analysis/bracket/exposure"
)

// Generic returns the cameras that are built in: kinds of shutter with an ordinary
// lens, named for what they are. None is a model of anybody's.
func Generic() []Camera {
	return []Camera{
		{Name: "leaf shutter 1 s - 1/500", Times: times(1, 1./500, false), Apertures: apertures(2.8, 22, false), ApertureClicks: Halves, Bulb: true},
		{Name: "focal-plane shutter 1 s - 1/1000", Times: times(1, 1./1000, false), Apertures: apertures(2, 16, false), ApertureClicks: Halves, Bulb: true},
		{Name: "electronic shutter 30 s - 1/4000, thirds", Times: times(30, 1./4000, true), Apertures: apertures(2.8, 22, true), Bulb: true},
		{Name: "electronic shutter 8 s - 1/1000, full stops", Times: times(8, 1./1000, false), Apertures: apertures(2.8, 22, false), ApertureClicks: Halves, Bulb: true},
		{Name: "large-format shutter 1 s - 1/400", Times: append(times(1, 1./250, false), "1/400"), Apertures: apertures(5.6, 64, false), ApertureClicks: Thirds, Bulb: true},
		{Name: "old leaf shutter 1 s - 1/300", Times: []string{"1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/300"},
			Apertures: []string{"3.5", "4", "5.6", "8", "11", "16", "22"}, Bulb: true},
	}
}

// times and apertures are the engraved marks of the standard series from one to
// the other, full stops or thirds.
func times(longest, shortest float64, thirds bool) []string {
	out := texts(exposure.Times(), longest, shortest, thirds)
	if at := slices.Index(out, "0.5"); at >= 0 && !thirds {
		out[at] = "1/2" // as dials say it; displays of thirds say 0.5
	}
	return out
}

func apertures(widest, smallest float64, thirds bool) []string {
	return texts(exposure.Apertures(), widest, smallest, thirds)
}

func texts(marks []exposure.Mark, from, to float64, thirds bool) (out []string) {
	a, _ := exposure.Find(marks, from)
	b, _ := exposure.Find(marks, to)
	for _, m := range marks {
		if m.Sixths >= a.Sixths && m.Sixths <= b.Sixths && (thirds || m.Sixths%6 == 0) {
			out = append(out, m.Text)
		}
	}
	return out
}
