package response

import (
	"cmp"
	"context"
	"encoding/csv"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/bracket/exposure"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/register"
	"stopladder/analysis/numeric/median"
	"stopladder/analysis/scan"
)

// bracketsDir holds real bracketed exposures of digital cameras with the times
// from their files; it is not part of the project.
const bracketsDir = "../../../../shared/real-brackets"

func realBracket(t *testing.T, name string) []bracketFrame {
	t.Helper()
	return readBracket(t, filepath.Join(bracketsRoot(t, "TestKnownTripod and TestKnownLevelled take"), name), "exif_time_s")
}

// bracketsRoot is where the real brackets lie; it skips where they do not.
func bracketsRoot(t *testing.T, instead string) string {
	t.Helper()
	root := bracketsDir
	if shared := os.Getenv("STOPLADDER_SHARED"); shared != "" {
		root = filepath.Join(shared, "real-brackets")
	}
	if _, err := os.Stat(root); err != nil {
		t.Skip("SKIPPED: the real brackets are not here; " + instead + " their place")
	}
	return root
}

// knownBracket is one of the repository's own rolls of known truth.
func knownBracket(t *testing.T, name, column string) []bracketFrame {
	t.Helper()
	return readBracket(t, filepath.Join("../../../testdata/rolls", name), column)
}

type bracketFrame struct {
	file string
	ev   float64
}

// readBracket lists a bracket from under to over. A time that is one of the
// standard series is what the series means, not what is engraved: 1/60 s is 1/64
// (package exposure); others are taken as they are.
func readBracket(t *testing.T, dir, column string) []bracketFrame {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "frames.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := slices.Index(rows[0], column)
	var out []bracketFrame
	for _, r := range rows[1:] {
		s, err := strconv.ParseFloat(r[at], 64)
		if err != nil {
			t.Fatal(err)
		}
		ev := s // of a column in stops
		if strings.HasSuffix(column, "_s") {
			if m, ok := exposure.Find(exposure.Times(), s); ok {
				s = m.Exact
			}
			ev = -exposure.Tv(s)
		}
		out = append(out, bracketFrame{filepath.Join(dir, r[0]), ev})
	}
	slices.SortFunc(out, func(a, b bracketFrame) int { return cmp.Compare(a.ev, b.ev) })
	for i := len(out) - 1; i >= 0; i-- {
		out[i].ev -= out[0].ev
	}
	return out
}

func looksOfList(t *testing.T, list []bracketFrame) (looks []*measure.Look) {
	t.Helper()
	for _, b := range list {
		src, err := scan.Open(b.file, scan.DefaultBounds)
		if err != nil {
			t.Fatal(err)
		}
		l, err := measure.NewLook(context.Background(), src, measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		looks = append(looks, l)
	}
	return looks
}

// framesOf are frames that did not move, under the labels that their exposures give.
func framesOf(looks []*measure.Look, list []bracketFrame, base int) (frames []Frame) {
	for j, l := range looks {
		frames = append(frames, Frame{Look: l, Stop: list[j].ev - list[base].ev, StopKnown: true, Map: f64.Aff3{1, 0, 0, 0, 1, 0}})
	}
	return frames
}

// bracket measures one; hand-held ones are registered by package register.
func bracket(t *testing.T, list []bracketFrame, handHeld bool) ([]bracketFrame, []Frame, *Result) {
	t.Helper()
	ctx := context.Background()
	base := len(list) / 2
	looks := looksOfList(t, list)
	frames := framesOf(looks, list, base)
	var stops []float64
	for _, f := range frames {
		stops = append(stops, f.Stop)
	}
	if handHeld {
		regs, err := register.Roll(ctx, looks, stops, base, register.Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		size := func(l *measure.Look) image.Point { return image.Pt(l.Info.Width, l.Info.Height) }
		for j, l := range looks {
			frames[j].Map, frames[j].Unregistered = regs[j].Affine(size(looks[base]), size(l)), regs[j].Refused()
		}
	}
	r, err := Fit(ctx, frames, base, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s; %s %v", r.Scan.Reason, r.Reason, r.Notes)
	return list, frames, r
}

// residuals of measured stops about the line of known ones that fits best, from
// frame first on.
func residuals(frames []Frame, r *Result, first int) map[int]float64 {
	var n, sx, sy, sxx, sxy float64
	for j, q := range r.Frames {
		if q.MeasuredStop != nil && j >= first {
			x, y := frames[j].Stop, *q.MeasuredStop
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		}
	}
	k := (n*sxy - sx*sy) / (n*sxx - sx*sx)
	c := (sy - k*sx) / n
	out := map[int]float64{}
	for j, q := range r.Frames {
		if q.MeasuredStop != nil {
			out[j] = (*q.MeasuredStop-c)/k - frames[j].Stop
		}
	}
	return out
}

// closest is the greatest residual of measured stops about the line of known ones,
// and that of the line that makes it least: how near the two can be brought by a scale
// and an origin.
func closest(frames []Frame, r *Result) float64 {
	best := math.Inf(1)
	for k := 0.9; k < 1.1; k += 1e-4 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for j, q := range r.Frames {
			if q.MeasuredStop == nil {
				return math.Inf(1)
			}
			v := *q.MeasuredStop/k - frames[j].Stop
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
		best = math.Min(best, (hi-lo)/2)
	}
	return best
}

// A tripod, uneven steps over 13 stops, a mechanical shutter, a room lit by a
// fluorescent lamp that the fast frames show alone. From 1/1000 s on the measured
// stops follow the times within 0.15 stop. Under 1/1000 s they do not, and no
// response could make them: fastSteps reads these frames through the response of
// the frames of 1/125 s and longer, and every range of codes and every channel
// says the same step to 0.06 stop, as where all light was multiplied by one
// factor. From 1/1600 to 1/1000 s it is 0.52 to 0.57 where the times say 0.67,
// from 1/3200 to 1/1600 s 0.87 to 0.91 where they say 1, from 1/8000 to 1/6400 s
// 0.12 to 0.17 where they say 0.33. Whether the shutter was off or the
// lamp flickered, the pictures cannot tell; the light was not what the times say.
func TestRealBracketTripod(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	list, frames, r := bracket(t, realBracket(t, "lb_1"), false)
	if r.Scan.Fixed == nil || !*r.Scan.Fixed {
		t.Fatalf("a camera's fixed response was not called fixed: %s", r.Scan.Reason)
	}
	slow := slices.IndexFunc(list, func(b bracketFrame) bool { return b.ev >= 2.9 })
	res := residuals(frames, r, slow)
	for j, q := range r.Frames {
		if q.MeasuredStop == nil {
			t.Errorf("%s: %s", filepath.Base(list[j].file), q.Reason)
			continue
		}
		t.Logf("%s %+.3f: %+.3f +- %.3f, beside the line %+.3f", filepath.Base(list[j].file), frames[j].Stop, *q.MeasuredStop, *q.MeasuredStopError, res[j])
		if j >= slow && math.Abs(res[j]) > 0.15 {
			t.Errorf("%s: %.3f stop beside the known times", filepath.Base(list[j].file), res[j])
		}
	}
	// Scale and origin can bring all frames within 0.15 stop, the fast ones as well.
	if c := closest(frames, r); c > 0.15 {
		t.Errorf("the best line is %.3f stop beside the known times", c)
	} else {
		t.Logf("all %d frames within %.3f stop of the known times, with the scale and origin that bring them closest", len(list), c)
	}
	if t.Failed() {
		return
	}
	fastSteps(t, list, frames, slow)
	stepsByOpenCV(t, list, r)
}

// stepsByOpenCV holds the steps between measured stops against those of OpenCV's
// response, scale fitted.
func stepsByOpenCV(t *testing.T, list []bracketFrame, r *Result) {
	t.Helper()
	out := openCV(t, openCVSteps(list)...)
	var theirs, ours []float64
	for j, line := range strings.Fields(out) {
		v, err := strconv.ParseFloat(line, 64)
		if err != nil {
			t.Fatal(err)
		}
		theirs = append(theirs, v)
		ours = append(ours, *r.Frames[j+1].MeasuredStop-*r.Frames[j].MeasuredStop)
	}
	var num, den float64
	for j := range ours {
		num, den = num+ours[j]*theirs[j], den+ours[j]*ours[j]
	}
	for j := range ours {
		d := ours[j]*num/den - theirs[j]
		t.Logf("step %d: %.3f, OpenCV %.3f, file %.3f", j, ours[j]*num/den, theirs[j], list[j+1].ev-list[j].ev)
		if math.Abs(d) > 0.08 {
			t.Errorf("step %d: %.3f stop off OpenCV's", j, d)
		}
	}
}

// fastSteps holds the steps up to frame slow against the response that the
// frames beyond the middle have without them: where the ranges of codes and the
// channels agree on a step, it is a step of light, whatever the response.
func fastSteps(t *testing.T, list []bracketFrame, frames []Frame, slow int) {
	t.Helper()
	mid := len(list) / 2
	r, err := Fit(context.Background(), frames[mid:], (len(list)-mid)/2, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Curve == nil {
		t.Fatal(r.Reason)
	}
	off := 0
	for j := range slow {
		known := list[j+1].ev - list[j].ev
		var all []float64
		words := ""
		for c := range 2 { // blue ends before the lamp's brighter tones do
			for _, codes := range [][2]uint16{{12, 30}, {30, 60}, {60, 100}, {100, 140}} {
				if v := stepOf(r.Curve, frames[j].Look, frames[j+1].Look, c, codes); len(v) >= 50 {
					all = append(all, median.Of(v))
					words += fmt.Sprintf("  %c %d..%d %.3f", "RGB"[c], codes[0], codes[1], median.Of(v))
				}
			}
		}
		if len(all) < 3 {
			t.Fatalf("%s: too little to read", filepath.Base(list[j].file))
		}
		lo, hi := slices.Min(all), slices.Max(all)
		t.Logf("%s to %s, %.3f by the times:%s", filepath.Base(list[j].file), filepath.Base(list[j+1].file), known, words)
		if hi-lo > 0.08 {
			t.Errorf("%s: its step is %.3f at some codes and %.3f at others, which speaks of the response", filepath.Base(list[j].file), lo, hi)
		}
		if hi < known-0.08 {
			off++
		}
	}
	// Three of the four are shorter than the times say at every range of codes.
	if off < 3 {
		t.Errorf("only %d of the fast steps are off at all codes: hold their times against the measurement", off)
	}
}

// stepOf are the stops from a to b that cells of 4 x 4 pixels show, where their
// middle lies in a range of codes of channel c.
func stepOf(k *Curve, a, b *measure.Look, c int, codes [2]uint16) (out []float64) {
	const side = 4
	p, q, tone := a.Preview, b.Preview, a.Space.Tone()[c]
	for y := 0; y+side <= p.H; y += side {
		for x := 0; x+side <= p.W; x += side {
			if m := p.Pix[3*((y+side/2)*p.W+x+side/2)+c]; m < codes[0] || m >= codes[1] {
				continue
			}
			var la, lb float64
			lo, hi := uint16(255), uint16(0)
			for i := range side * side {
				at := 3*((y+i/side)*p.W+x+i%side) + c
				la, lb = la+float64(tone[p.Pix[at]])/side/side, lb+float64(tone[q.Pix[at]])/side/side
				lo, hi = min(lo, p.Pix[at]), max(hi, q.Pix[at])
			}
			if lo < 3 || hi > 245 {
				continue
			}
			ea, oka := k.LogEOf(c, -math.Log10(la))
			eb, okb := k.LogEOf(c, -math.Log10(lb))
			if oka && okb {
				out = append(out, (eb-ea)/stopLog)
			}
		}
	}
	return out
}

// The testdata's tripod: uneven steps by known times, on film of known response.
func TestKnownTripod(t *testing.T) {
	list, frames, r := bracket(t, knownBracket(t, "tripod", "time_s"), false)
	if r.Scan.Fixed == nil || !*r.Scan.Fixed {
		t.Fatalf("not called fixed: %s", r.Scan.Reason)
	}
	if w := contradiction(frames); w != "" {
		t.Errorf("a fixed scanner is said to contradict itself: %s", w)
	}
	for j, e := range residuals(frames, r, 0) {
		if math.Abs(e) > 0.03 {
			t.Errorf("%s: %.3f stop beside the known times", filepath.Base(list[j].file), e)
		}
	}
	if c := closest(frames, r); c > 0.03 {
		t.Errorf("the best line is %.3f stop beside the known times", c)
	}
}

func TestKnownTripodAgainstOpenCV(t *testing.T) {
	list, _, r := bracket(t, knownBracket(t, "tripod", "time_s"), false)
	stepsByOpenCV(t, list, r)
	// This one is always run, so that what is kept of the others is known to be OpenCV's.
	kept, now := strings.Fields(openCV(t, openCVSteps(list)...)), strings.Fields(runOpenCV(t, openCVSteps(list)...))
	if len(kept) != len(now) || len(now) != len(list)-1 {
		t.Fatalf("%d steps, kept are %d", len(now), len(kept))
	}
	for i := range now {
		a, err := strconv.ParseFloat(kept[i], 64)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := strconv.ParseFloat(now[i], 64); err != nil || math.Abs(a-b) > 0.01 {
			t.Errorf("step %d: OpenCV gives %s now, kept is %s", i, now[i], kept[i])
		}
	}
}

// openCVSteps asks the script for the steps between the frames.
func openCVSteps(list []bracketFrame) []string {
	args := []string{"steps"}
	for _, b := range list {
		args = append(args, b.file, strconv.FormatFloat(b.ev, 'g', -1, 64))
	}
	return args
}

// The testdata's frames that were levelled one by one have no one response.
func TestKnownLevelled(t *testing.T) {
	if _, _, r := bracket(t, knownBracket(t, "levelled", "exposure"), false); r.Scan.Fixed == nil || *r.Scan.Fixed || r.Curve != nil {
		t.Errorf("%+v", r.Scan)
	}
}

// Hand-held, registered by package register. The pictures are a phone's, and they
// contradict any one response, whatever the times were: under one rising response
// the larger of two steps of exposure lifts every code further, yet from green
// codes about 110 frame 3 lies further over frame 1 than frame 4 does over frame 3
// (148 against 127), and from codes about 160 less far (188 against 226). The phone
// gave each picture a tone curve of its own. contradiction
// looks for such pairs. Where it finds them the roll must not be called fixed;
// where it finds none it must, and the measured stops must follow the times within
// 0.15. On the tripod's bracket it must find none.
func TestRealBracketHandHeld(t *testing.T) {
	list, frames, r := bracket(t, realBracket(t, "syc_scene1"), true)
	words := contradiction(frames)
	t.Log("contradiction: " + words)
	if r.Scan.Fixed == nil || *r.Scan.Fixed != (words == "") {
		t.Fatalf("contradiction %q, but: %s", words, r.Scan.Reason)
	}
	_, still, _ := bracket(t, realBracket(t, "lb_1"), false)
	if w := contradiction(still); w != "" {
		t.Errorf("a fixed camera is said to contradict itself: %s", w)
	}
	if words != "" {
		t.Skip("SKIPPED: these pictures have no fixed response, so the times say nothing; that was found and is all that can be checked")
	}
	res := residuals(frames, r, 0)
	for j, q := range r.Frames {
		if q.MeasuredStop == nil || math.Abs(res[j]) > 0.15 {
			t.Errorf("%s: %v, %.3f stop beside the known times", filepath.Base(list[j].file), q.MeasuredStop, res[j])
		}
	}
}

// lift is where the cells of one frame that lie in a range of codes lie in
// another: the median and its standard error.
type lift struct{ to, err float64 }

const (
	liftBins  = 12
	liftLeast = 20
)

// contradiction names the first two pairs of frames that no common rising
// response explains, channel by channel; "" when there are none. A difference
// counts from eight codes and from four standard errors on.
func contradiction(frames []Frame) string {
	means := cellCodes(frames)
	type pair struct{ a, b int }
	lifts := map[pair][3][liftBins]*lift{}
	var pairs []pair
	for a := range frames {
		for b := a + 1; b < min(a+3, len(frames)); b++ {
			var l [3][liftBins]*lift
			for c := range 3 {
				var v [liftBins][]float64
				for _, m := range means {
					from, to := m[a][c], m[b][c]
					if k := int((from - 10) / 20); from >= 10 && k < liftBins {
						// Within the bin, as if from its middle.
						v[k] = append(v[k], to-from+float64(k)*20+20)
					}
				}
				for k := range v {
					if len(v[k]) < liftLeast {
						continue
					}
					m := median.Of(v[k])
					dev := make([]float64, len(v[k]))
					for i := range dev {
						dev[i] = math.Abs(v[k][i] - m)
					}
					l[c][k] = &lift{m, 1.2533 * median.Of(dev) / 0.6745 / math.Sqrt(float64(len(dev)))}
				}
			}
			lifts[pair{a, b}] = l
			pairs = append(pairs, pair{a, b})
		}
	}
	for i, p := range pairs {
		for _, q := range pairs[:i] {
			for c := range 3 {
				more, less := -1, -1
				for k := range liftBins {
					x, y := lifts[p][c][k], lifts[q][c][k]
					if x == nil || y == nil || x.to > 240 && y.to > 240 {
						continue
					}
					d, sure := x.to-y.to, math.Max(8, 4*math.Hypot(x.err, y.err))
					if d > sure {
						more = k
					}
					if d < -sure {
						less = k
					}
				}
				if more >= 0 && less >= 0 {
					at := func(k int) string {
						return fmt.Sprintf("from %c %d to %.0f against %.0f", "RGB"[c], 20*k+20, lifts[p][c][k].to, lifts[q][c][k].to)
					}
					return fmt.Sprintf("frames %d-%d against %d-%d: %s, but %s", p.a+1, p.b+1, q.a+1, q.b+1, at(more), at(less))
				}
			}
		}
	}
	return ""
}

// cellCodes are the mean codes of even cells of ten preview pixels in all frames.
func cellCodes(frames []Frame) (out [][][3]float64) {
	const side = 10
	base := frames[len(frames)/2].Look
	f := float64(base.Preview.Factor)
	for y := side; y+2*side < base.Preview.H; y += side {
	cell:
		for x := side; x+2*side < base.Preview.W; x += side {
			v := make([][3]float64, len(frames))
			for j := range frames {
				m, p := frames[j].Map, frames[j].Look.Preview
				bx, by := float64(x)*f, float64(y)*f
				fx, fy := int((m[0]*bx+m[1]*by+m[2])/f+0.5), int((m[3]*bx+m[4]*by+m[5])/f+0.5)
				if fx < 0 || fy < 0 || fx+side > p.W || fy+side > p.H {
					continue cell
				}
				for i := range side * side {
					at := 3 * ((fy+i/side)*p.W + fx + i%side)
					for c := range 3 {
						v[j][c] += float64(p.Pix[at+c]) / side / side
					}
				}
			}
			out = append(out, v)
		}
	}
	return out
}
