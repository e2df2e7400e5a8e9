package publish_test

import (
	"fmt"
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/render"
)

// Patches stand on a page that has room for them, with the figures of the measured roll.
func TestPatchesAreOnThePage(t *testing.T) {
	r := sheetOf(t, plate.Options{}).Roll
	judged := r.Judged.Clone()
	judged.Patches = []roll.Patch{{Name: "yellow wall", X: 110, Y: 230, R: 8}, {Name: "tiles", X: 330, Y: 440, R: 8}}
	r = r.With(judged)
	set := r.Patches()
	if set == nil || len(set.Readings) != 2 {
		t.Fatal("the patches were not read")
	}
	var want []string
	for k, p := range set.Patches {
		line := p.Name
		for i, q := range set.Readings[k] { // the demo's frames are in the order of stops
			if q.DeltaE == nil {
				if i != r.Base {
					t.Errorf("%s is not read in frame %d: %s", p.Name, i, q.Reason)
				}
				line += " –"
				continue
			}
			line += fmt.Sprintf(" %.1f", *q.DeltaE)
		}
		want = append(want, line)
	}
	in, with := plate.FromRoll(r, render.Shown{}, program), 0
	for _, a := range []plate.Arrangement{plate.Wide, plate.Pair, plate.Single} {
		for _, s := range plate.Shapes() {
			p, err := plate.Lay(in, plate.Options{Arrangement: a, Shape: s, Frames: []int{r.Base}})
			if err != nil {
				t.Fatal(err)
			}
			var words []string
			for _, m := range p.Marks {
				if w, ok := m.(drawing.Text); ok {
					words = append(words, w.S)
				}
			}
			read := strings.Join(words, " ")
			if !strings.Contains(read, "Patches, ΔE00") {
				continue
			}
			with++
			for _, line := range want {
				if !strings.Contains(read, line) {
					t.Errorf("%s, %s: %q is not on the page: %s", a, s, line, read)
				}
			}
		}
	}
	if with == 0 {
		t.Error("no page has room for patches")
	}
	t.Logf("%d pages have them", with)
}
