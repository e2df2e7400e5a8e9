package response

import (
	"context"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/measure"
	"stopladder/analysis/scan"
)

// bracketsDir holds real bracketed exposures with known times; it is not part of
// the project.
const bracketsDir = "../../../shared/real-brackets"

type bracketFrame struct {
	file string
	ev   float64
}

func readBracket(t *testing.T, name string) []bracketFrame {
	t.Helper()
	dir := filepath.Join(bracketsDir, name)
	f, err := os.Open(filepath.Join(dir, "frames.csv"))
	if err != nil {
		t.Skipf("SKIPPED: the real brackets are not here (%v)", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := slices.Index(rows[0], "ev_rel")
	var out []bracketFrame
	for _, r := range rows[1:] {
		ev, err := strconv.ParseFloat(r[at], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, bracketFrame{filepath.Join(dir, r[0]), ev})
	}
	slices.SortFunc(out, func(a, b bracketFrame) int { return int(math.Copysign(1, a.ev-b.ev)) })
	return out
}

func bracketFrames(t *testing.T, name string) (frames []Frame, base int) {
	t.Helper()
	ctx := context.Background()
	list := readBracket(t, name)
	base = len(list) / 2
	for _, b := range list {
		src, err := scan.Open(b.file, scan.DefaultLimits)
		if err != nil {
			t.Fatal(err)
		}
		l, err := measure.NewLook(ctx, src, measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		frames = append(frames, Frame{Look: l, Stop: b.ev - list[base].ev, StopKnown: true, Map: f64.Aff3{1, 0, 0, 0, 1, 0}})
	}
	return frames, base
}

// Real exposures of a digital camera on a tripod, uneven steps over 13 stops: the
// measured stops must follow the times within 0.15 stop once scale and origin are
// fitted, and the response must be called fixed.
func TestRealBracketTripod(t *testing.T) {
	frames, base := bracketFrames(t, "lb_1")
	r, err := Fit(context.Background(), frames, base, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Log(r.Scan.Reason, r.Reason, r.Notes)
	for j, q := range r.Frames {
		if q.MeasuredStop == nil {
			t.Logf("%+.3f: %s", frames[j].Stop, q.Reason)
			continue
		}
		t.Logf("%+.3f: %+.3f +- %.3f, off %+.3f", frames[j].Stop, *q.MeasuredStop, *q.MeasuredStopError, *q.MeasuredStop-frames[j].Stop)
	}
	if r.fit != nil {
		for j := range frames {
			n := [3]int{}
			for i := range r.fit.m.cells {
				for c := range 3 {
					if r.fit.m.s[r.fit.m.index(i, c, j)] > 0 {
						n[c]++
					}
				}
			}
			t.Logf("%v %+.3f misfit %.4f %.4f %.4f", n, frames[j].Stop, r.fit.misfit(j, 0), r.fit.misfit(j, 1), r.fit.misfit(j, 2))
		}
	}
}
