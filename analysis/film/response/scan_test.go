package response

import (
	"fmt"
	"strings"
	"testing"

	"stopladder/analysis/scan"
)

// lighten multiplies a frame's channels (code values), as a scanner that corrects
// this frame alone does.
func lighten(p *scan.Pixels, g [3]float64) {
	for i, v := range p.Pix {
		p.Pix[i] = uint16(min(float64(v)*g[i%3], 0.98*65535))
	}
}

// Twenty good rolls, of which some are tried: both stocks, several scenes, brackets, borders, movements and
// shutter errors, one in four with 8-bit data. None may be called corrected. The
// limits were found on other seeds.
func TestScanNoFalseAlarm(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	for i := range some(20) {
		o := goodOptions(i + 700)
		o.EightBitInSixteen = i%4 == 3
		r := shoot(t, sceneFor(t, i+35), stockFor(i), o, nil).fit(t, Options{})
		t.Logf("roll %d: %s %s", i, r.Scan.Reason, r.Reason)
		if r.Scan.Fixed == nil || !*r.Scan.Fixed {
			t.Errorf("roll %d: a good roll was not called fixed: %s", i, r.Scan.Reason)
		}
		if len(r.Labels) > 0 {
			t.Errorf("roll %d: good labels were flagged: %v", i, r.Labels)
		}
		if got := len(r.Scan.Findings); (got > 0) != o.EightBitInSixteen {
			t.Errorf("roll %d: findings %v", i, r.Scan.Findings)
		}
	}
}

// Twenty-four bad rolls, of which some are tried: every other two levelled frame by frame, the others with one
// or two frames corrected in colour and brightness. None may be called fixed.
func TestScanNoneMissed(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("SKIPPED: simulated rolls take seconds")
	}
	for i := range some(24) {
		o := goodOptions(i + 740)
		o.AutoCorrect = i%4 < 2
		var change func(j int, p *scan.Pixels)
		if !o.AutoCorrect {
			change = func(j int, p *scan.Pixels) {
				if j == 1+i%2 {
					lighten(p, [3]float64{1.15, 1.06, 0.97})
				}
			}
		}
		r := shoot(t, sceneFor(t, i+50), stockFor(i/2), o, change).fit(t, Options{})
		t.Logf("roll %d (levelled %v): %s %s", i, o.AutoCorrect, r.Scan.Reason, r.Reason)
		if r.Scan.Fixed == nil || *r.Scan.Fixed {
			t.Errorf("roll %d (levelled %v, %d frames): not found: %s", i, o.AutoCorrect, len(r.Frames), r.Scan.Reason)
			continue
		}
		if o.AutoCorrect {
			continue
		}
		// The one corrected frame is named and has the gains' order, red most.
		j := 1 + i%2
		name := fmt.Sprintf("frame %d.tif (", j+1)
		if j == r.Base {
			name = fmt.Sprintf("the base frame itself, frame %d.tif,", j+1)
		}
		if !strings.Contains(strings.Join(r.Scan.Findings, " "), name) {
			t.Errorf("roll %d: %s is not named in %v", i, name, r.Scan.Findings)
		}
		for _, g := range r.Scan.Gains {
			if g.Frame == j && j != r.Base && !(g.R > g.G && g.G > g.B) {
				t.Errorf("roll %d: gains %+v", i, g)
			}
		}
	}
}
