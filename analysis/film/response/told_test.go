package response

import (
	"cmp"
	"context"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/median"
)

// trueBracket is a bracket whose exposures are known, each within unsure stops.
type trueBracket struct {
	name   string
	list   []bracketFrame
	unsure []float64
	last   int // frames from it on have no known truth; 0: all have one
}

// shutterUnsure is by how much the time that a mechanical shutter gives may be off, in
// stops: that of the frame and, alike for all frames, that of the base frame. Common
// practice, no source.
const shutterUnsure = 0.05

// trueBrackets are the real brackets, with what is known of their truth:
//
//	lb_4          frames.csv takes frame 7 for 1/25 s and the lens's f/4.8 for f/5; here
//	              are times and f-numbers as they stand in the files. Frames 2 and 3 are
//	              1/125 s at f/5.6 both and differ by a quarter of a stop of light, so a
//	              lens that is stopped down is unsure by that much.
//	ssar_desktop  labels from a list. Frames 8 to 12 are one exposure under five labels,
//	              so none from 8 on is known.
//	syc_scene1    the phone's processing differs by frame: nothing is to be measured.
func trueBrackets(t *testing.T) (out []trueBracket) {
	t.Helper()
	root := bracketsRoot(t, "TestDarkAndBlown takes")
	for _, name := range []string{"lb_1", "lb_3", "lb_4", "ssar_taipei", "ssar_desktop", "syc_scene1"} {
		column := "stop"
		if name == "lb_1" || name == "syc_scene1" {
			column = "exif_time_s"
		}
		b := trueBracket{name: name, list: readBracket(t, filepath.Join(root, name), column)}
		slices.SortStableFunc(b.list, func(x, y bracketFrame) int { return cmp.Compare(x.file, y.file) })
		b.unsure = slices.Repeat([]float64{shutterUnsure}, len(b.list))
		switch name {
		case "lb_4":
			const wide = 4.526 // f/4.8 in stops: 2 log2 4.8
			for j, v := range [][2]float64{{-23.0 / 3, 17.0 / 3}, {-7, 5}, {-7, 5}, {-20.0 / 3, 14.0 / 3}, {-19.0 / 3, wide}, {-17.0 / 3, wide}, {-5, wide}, {-14.0 / 3, wide}, {-10.0 / 3, wide}, {-2, wide}} {
				b.list[j].ev = v[0] - v[1]
				if v[1] > wide {
					b.unsure[j] = 0.25
				}
			}
		case "ssar_desktop":
			b.last = 7
		}
		out = append(out, b)
	}
	return out
}

// within counts the frames whose truth lies within two stated errors, granted what the
// truth itself is unsure by, and one shift for all of what the base frame's is.
func within(t *testing.T, b trueBracket, frames []Frame, r *Result) (in, of int) {
	t.Helper()
	for _, shift := range []float64{0, -shutterUnsure, shutterUnsure} {
		n, all := 0, 0
		for j, q := range r.Frames {
			if q.MeasuredStop == nil || j == r.Base || b.last > 0 && j >= b.last {
				continue
			}
			all++
			off := *q.MeasuredStop - (b.list[j].ev - b.list[r.Base].ev)
			if math.Abs(off+shift) <= 2**q.MeasuredStopError+b.unsure[j] {
				n++
			}
			if shift == 0 {
				t.Logf("%s, base %s: %s at %+.2f is off by %+.3f, stated %.3f", b.name, filepath.Base(b.list[r.Base].file), filepath.Base(b.list[j].file), frames[j].Stop, off, *q.MeasuredStopError)
			}
		}
		in, of = max(in, n), all
	}
	return in, of
}

// Over all frames of the real brackets, from either end and from the middle as base
// frame (two of the three for each bracket, in turn; all on request), the truth lies within two stated errors in nine of ten; a camera's fixed response
// is never said to be corrected frame by frame; and frames that show little do not move
// the others.
func TestRealBracketsTold(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	in, of := 0, 0
	for k, b := range trueBrackets(t) {
		if b.name == "syc_scene1" {
			continue // registered and judged by TestRealBracketHandHeld
		}
		looks := looksOfList(t, b.list)
		for n, base := range []int{0, len(looks) - 1, len(looks) / 2} {
			if (n+k)%3 == 0 && !all() {
				continue
			}
			if b.last > 0 && base >= b.last {
				base = b.last - 1
			}
			if b.name == "ssar_taipei" && base == 0 || b.name == "lb_3" && base == 0 {
				continue // a base frame of nearly nothing but black tells nothing of the others
			}
			frames := framesOf(looks, b.list, base)
			r, err := Fit(context.Background(), frames, base, Options{})
			if err != nil {
				t.Fatal(err)
			}
			n, all := within(t, b, frames, r)
			t.Logf("%s, base %s: %d of %d frames; %s", b.name, filepath.Base(b.list[base].file), n, all, r.Scan.Reason)
			in, of = in+n, of+all
			if r.Scan.Fixed != nil && !*r.Scan.Fixed {
				t.Errorf("%s: told as corrected: %s", b.name, r.Scan.Reason)
			}
		}
	}
	t.Logf("%d of %d frames within two stated errors", in, of)
	if 10*in < 9*of {
		t.Errorf("only %d of %d frames within two stated errors", in, of)
	}
}

// The tripod's brackets are told as fixed with their darkest frames and without, and
// these move no other frame by more than a hundredth of its stops.
func TestRealDarkFramesTiltNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	for _, b := range trueBrackets(t) {
		if b.name != "lb_1" && b.name != "lb_3" {
			continue
		}
		if b.name == "lb_1" {
			slices.Reverse(b.list) // from the darkest
		}
		tiltsNothing(t, b.name, framesOf(looksOfList(t, b.list), b.list, len(b.list)-1), 3)
	}
}

func tiltsNothing(t *testing.T, name string, frames []Frame, dark int) {
	t.Helper()
	base := len(frames) - 1
	with, err := Fit(context.Background(), frames, base, Options{})
	if err != nil {
		t.Fatal(err)
	}
	without, err := Fit(context.Background(), frames[dark:], base-dark, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for k, r := range []*Result{with, without} {
		if r.Scan.Fixed == nil || !*r.Scan.Fixed {
			t.Errorf("%s, %d: not told as fixed: %s", name, k, r.Scan.Reason)
		}
	}
	for j := dark; j < base; j++ {
		a, b := with.Frames[j].MeasuredStop, without.Frames[j-dark].MeasuredStop
		if a == nil || b == nil {
			t.Errorf("%s: frame %d is not measured", name, j)
			continue
		}
		t.Logf("%s at %+.2f: %+.3f, without the darkest %+.3f", name, frames[j].Stop, *a, *b)
		if math.Abs(*a-*b) > math.Max(0.02, 0.01*math.Abs(*a)) {
			t.Errorf("%s at %+.2f: %+.3f, without the darkest %+.3f", name, frames[j].Stop, *a, *b)
		}
	}
}

// The same on the adversary's rolls: 8-bit pictures from nearly black to nearly blown, of
// exposures that are known.
func TestDarkAndBlown(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	in, of := 0, 0
	films := adversary.Stocks()
	for k, film := range []string{"slide-dyes", "slide-2", "negative-dyes"} {
		r := adversary.Roll{Film: films[film], Scene: []string{"brick", "night", "foliage"}[k], Seed: uint64(60 + k), Bits: 8,
			Stops: []float64{-8, -7, -6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5}, Drift: []float64{0, 0.04, -0.03, 0, 0.05, -0.04, 0.02, -0.03, 0, 0.04, -0.05, 0.03, -0.02, 0.04}}
		frames := foreign(t, r)
		base := slices.Index(r.Stops, 0)
		res, err := Fit(context.Background(), frames, base, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if res.Scan.Fixed == nil || !*res.Scan.Fixed || len(res.Labels) > 0 {
			t.Errorf("%s: %s %+v", film, res.Scan.Reason, res.Labels)
		}
		for j, q := range res.Frames {
			if q.MeasuredStop == nil || j == base {
				continue
			}
			of++
			off := *q.MeasuredStop - r.Exposure(j)
			if math.Abs(off) <= 2**q.MeasuredStopError {
				in++
			}
			t.Logf("%s at %+g: off by %+.3f, stated %.3f", film, r.Stops[j], off, *q.MeasuredStopError)
		}
		if k == 0 || all() {
			tiltsNothing(t, film, frames[:base+1], 2)
		}
	}
	t.Logf("%d of %d frames within two stated errors", in, of)
	if 10*in < 9*of || of < 30 {
		t.Errorf("only %d of %d frames within two stated errors", in, of)
	}
}

// The response of the tripod's real brackets against Debevec & Malik's, as OpenCV
// calibrates it on the same frames told their times: within 0.15 stop at every code from
// 30 to 240, scale and origin fitted.
//
// A channel may have no one response: the camera of lb_3 lightens the blue of blue things
// further than that of others. Where a channel passes the bound, the frames themselves must
// show that, by sameCodeApart, and without the bluest quarter of the picture, a twilight
// sky, the calibration must be within the same 0.15 (found: 0.100, where all pixels
// together give 0.153 and those without the yellowest quarter 0.26).
func TestRealAgainstOpenCV(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	for _, b := range trueBrackets(t) {
		if b.name != "lb_1" && b.name != "lb_3" {
			continue
		}
		looks := looksOfList(t, b.list)
		frames := framesOf(looks, b.list, len(b.list)/2)
		r, err := Fit(context.Background(), frames, len(b.list)/2, Options{})
		if err != nil {
			t.Fatal(err)
		}
		var args []string
		for _, f := range b.list {
			args = append(args, f.file, strconv.FormatFloat(f.ev, 'g', -1, 64))
		}
		theirs := openCV(t, append([]string{"debevec"}, args...)...)
		without := ""
		for c := range 3 {
			most, at := offCalibration(t, r.Curve, looks[0], c, theirs)
			t.Logf("%s channel %d: most %.3f stop at code %.0f", b.name, c, most, at)
			if most <= curveWithin {
				continue
			}
			apart := sameCodeApart(t, b.list, looks, c)
			if without == "" {
				without = openCV(t, append([]string{"unblue"}, args...)...)
			}
			less, at := offCalibration(t, r.Curve, looks[0], c, without)
			t.Logf("%s channel %d, without the bluest quarter of the picture: most %.3f stop at code %.0f", b.name, c, less, at)
			if apart < codesApart || less > curveWithin {
				t.Errorf("%s channel %d: %.3f stop off, without the bluest quarter %.3f; the same code parts by %.1f codes", b.name, c, most, less, apart)
			}
		}
	}
}

const (
	curveWithin = 0.15 // stops: how near the response must come to that of the published method
	codesApart  = 8    // as contradiction has it: a difference of fewer codes is none
)

// offCalibration returns the greatest distance between a channel's curve and one of
// OpenCV's, stops, scale and origin fitted, and the code where it is.
func offCalibration(t *testing.T, k *Curve, l *measure.Look, c int, theirs string) (most, at float64) {
	t.Helper()
	lines := strings.Split(strings.TrimSpace(theirs), "\n")
	var x, y, codes []float64
	for code := 30; code <= 240; code++ {
		v, err := strconv.ParseFloat(strings.Fields(lines[code])[2-c], 64)
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := k.LogEOf(c, -math.Log10(float64(l.Space.Tone()[c][code]))); ok {
			x, y, codes = append(x, e/stopLog), append(y, v), append(codes, float64(code))
		}
	}
	if len(x) < 120 {
		t.Fatalf("channel %d: %d codes only", c, len(x))
	}
	slope, _ := lineFit(x, y)
	sx, sy := 0.0, 0.0
	for i := range x {
		sx, sy = sx+x[i]/float64(len(x)), sy+y[i]/float64(len(x))
	}
	for i := range x {
		if d := math.Abs(y[i] - sy - slope*(x[i]-sx)); d > most {
			most, at = d, codes[i]
		}
	}
	return most, at
}

// sameCodeApart returns by how many codes the bluest quarter of the picture and the rest
// part at most in a frame where the one before shows both at one code of a channel, 140 to
// 160. No one response of the channel explains that, whatever the light did and however it
// is calibrated: this asks no curve. (Found: 16 in blue, at most 5 in red and green.)
func sameCodeApart(t *testing.T, list []bracketFrame, looks []*measure.Look, c int) (most float64) {
	t.Helper()
	frames := framesOf(looks, list, len(list)/2)
	means := cellCodes(frames)
	var blue []float64
	for _, m := range means {
		b, g := 0.0, 1.0
		for j := range frames {
			b, g = b+m[j][2], g+m[j][1]
		}
		blue = append(blue, b/g)
	}
	sorted := slices.Sorted(slices.Values(blue))
	from := sorted[len(sorted)*3/4]
	for j := range len(frames) - 1 {
		var to [2][]float64
		for i, m := range means {
			if m[j][c] < 140 || m[j][c] > 160 {
				continue
			}
			k := 0
			if blue[i] > from {
				k = 1
			}
			to[k] = append(to[k], m[j+1][c])
		}
		if len(to[0]) < liftLeast || len(to[1]) < liftLeast {
			continue
		}
		rest, bluest := median.Of(to[0]), median.Of(to[1])
		t.Logf("frames %d and %d, channel %d: from 140..160 to %.0f, in the bluest quarter to %.0f", j+1, j+2, c, rest, bluest)
		most = math.Max(most, math.Abs(bluest-rest))
	}
	return most
}
