package register

import (
	"context"
	"fmt"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// OpenCV's phaseCorrelate (Debian python3-opencv) on pairs moved by a shift
// alone.
func TestAgainstOpenCV(t *testing.T) {
	if exec.Command("/usr/bin/python3", "-c", "import cv2, numpy").Run() != nil {
		t.Skip("SKIPPED: python3-opencv is not here, registration was not checked against it")
	}
	pt := newPaint(21, 240)
	dir := t.TempDir()
	a := pt.look(t, 420, 360, pose{}, 0, 1)
	save := func(name string, l *measure.Look) string {
		buf := make([]byte, 0, 2*420*360)
		for i := 1; i < len(l.Preview.Pix); i += 3 {
			buf = append(buf, byte(l.Preview.Pix[i]), byte(l.Preview.Pix[i]>>8))
		}
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, buf, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	pa := save("a", a)
	for i, s := range [][2]float64{{1.3, -0.6}, {-4.2, 3.75}, {4.8, 4.8}, {0, -9.5}} {
		b := pt.look(t, 420, 360, pose{x: s[0], y: s[1]}, 0.5, uint64(i+2))
		out, err := exec.Command("/usr/bin/python3", "-c", `
import cv2, numpy, sys
a, b = (numpy.fromfile(f, dtype='<u2').reshape(360, 420).astype(numpy.float64) for f in sys.argv[1:])
w = cv2.createHanningWindow((420, 360), cv2.CV_64F)
(x, y), r = cv2.phaseCorrelate(a, b, w)
print(x, y)
`, pa, save(fmt.Sprint(i), b)).Output()
		if err != nil {
			t.Fatal(err)
		}
		var x, y float64
		if _, err := fmt.Sscan(strings.TrimSpace(string(out)), &x, &y); err != nil {
			t.Fatal(err)
		}
		r := pair(t, a, b)
		t.Logf("true %v, OpenCV %.3f %.3f, here %.3f %.3f", s, x, y, r.DX, r.DY)
		// Its sub-pixel centroid is good to about a tenth of a pixel.
		if math.Abs(r.DX-x) > 0.15 || math.Abs(r.DY-y) > 0.15 {
			t.Errorf("shift %v: OpenCV says %.3f %.3f, here %.3f %.3f", s, x, y, r.DX, r.DY)
		}
		if e := math.Hypot(r.DX-s[0], r.DY-s[1]); e > math.Hypot(x-s[0], y-s[1])+0.02 {
			t.Errorf("shift %v: off by %.3f, OpenCV by %.3f", s, e, math.Hypot(x-s[0], y-s[1]))
		}
	}
}

// looksOf reads the scans that a pattern names, in the order of their names.
func looksOf(t *testing.T, pattern string) (looks []*measure.Look) {
	t.Helper()
	files, _ := filepath.Glob(pattern)
	for _, f := range files {
		src, err := scan.Open(f, scan.DefaultBounds)
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

// circle is how far, RMS over the picture in pixels, going from the first frame to
// the second to the third and straight back leads off.
func circle(t *testing.T, looks []*measure.Look) float64 {
	t.Helper()
	p, q, pq := pair(t, looks[0], looks[1]), pair(t, looks[1], looks[2]), pair(t, looks[0], looks[2])
	size := image.Pt(looks[0].Info.Width, looks[0].Info.Height)
	m := p.Then(q).Then(pq.Inverse()).Affine(size, size)
	var sum float64
	n := 0
	for y := 0.5; y < 8; y++ {
		for x := 0.5; x < 8; x++ {
			px, py := x/8*float64(size.X), y/8*float64(size.Y)
			gx, gy := apply(m, px, py)
			sum += (gx-px)*(gx-px) + (gy-py)*(gy-py)
			n++
		}
	}
	return math.Sqrt(sum / float64(n))
}

// The testdata's rolls: what stood still lies still, and circles of frames that
// moved close. (Where the frames lie is held against the truth in package headless.)
func TestKnownRolls(t *testing.T) {
	const rolls = "../../../testdata/rolls/"
	still := looksOf(t, rolls+"tripod/*.png")
	stops := []float64{1, 5. / 3, 3, -2. / 3, -2, -3, 0} // in the order of the names
	if len(still) != len(stops) {
		t.Fatalf("%d frames", len(still))
	}
	got, err := Roll(context.Background(), still, stops, 6, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range got {
		if !r.Reliable() || math.Hypot(r.DX, r.DY) > 0.02 || math.Abs(r.Rotation) > 0.02 {
			t.Errorf("tripod, %+.2f: %+v", stops[i], r)
		}
	}
	moved := looksOf(t, rolls+"hand-held/*.png")
	if len(moved) != 5 {
		t.Fatalf("%d frames", len(moved))
	}
	for i := range len(moved) - 2 {
		rms := circle(t, moved[i:])
		t.Logf("circle %d is open by %.3f px", i+1, rms)
		if rms > 0.3 {
			t.Errorf("circle %d is open by %.2f px", i+1, rms)
		}
	}
}

// Real bracketed exposures (see the README beside them).
func TestRealBrackets(t *testing.T) {
	root := os.Getenv("STOPLADDER_SHARED")
	if root == "" {
		root = "../../../../shared"
	}
	root = filepath.Join(root, "real-brackets")
	if _, err := os.Stat(root); err != nil {
		t.Skip("SKIPPED: the real brackets are not here; TestKnownRolls takes their place")
	}
	if testing.Short() {
		t.Skip("SKIPPED: reading the real brackets takes seconds")
	}
	read := func(pattern string) (looks []*measure.Look, stops []float64) {
		looks = looksOf(t, filepath.Join(root, pattern))
		for i := range looks {
			stops = append(stops, float64(i))
		}
		if len(looks) < 8 {
			t.Fatalf("%s: only %d files", pattern, len(looks))
		}
		return looks, stops
	}
	// On a tripod: nothing moves. Where a frame is relied upon it lies still. The
	// darkest four show a lamp in a corner and nothing else; they are found too,
	// and lie still as well as their errors say.
	looks, stops := read("lb_1/*.jpg")
	got, err := Roll(context.Background(), looks, stops, 5, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	relied := 0
	for i, r := range got {
		t.Logf("tripod %d: %.3f %.3f %.4f %.5f confidence %.3f %v", i+1, r.DX, r.DY, r.Rotation, r.Scale, r.Confidence, r.How)
		if r.Refused() || math.Abs(r.DX) > 3*r.StdErr.DX+0.1 || math.Abs(r.DY) > 3*r.StdErr.DY+0.1 || math.Hypot(r.DX, r.DY) > 1 {
			t.Errorf("tripod %d: %+v", i+1, r)
		}
		if r.Reliable() {
			relied++
			if math.Hypot(r.DX, r.DY) > 0.5 || math.Abs(r.Rotation) > 0.02 {
				t.Errorf("tripod %d moved: %+v", i+1, r)
			}
		}
	}
	if relied < 11 {
		t.Errorf("tripod: only %d of %d frames are relied upon", relied, len(got))
	}
	// Hand-held: shifts of about 19 px, and circles of three frames close.
	looks, stops = read("syc_scene1/*.JPG")
	got, err = Roll(context.Background(), looks, stops, 4, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	most := 0.0
	for i, r := range got {
		t.Logf("hand-held %d: %.2f %.2f %.4f %.5f errors %.2f %.2f confidence %.3f %v via %d", i+1, r.DX, r.DY, r.Rotation, r.Scale, r.StdErr.DX, r.StdErr.DY, r.Confidence, r.How, r.Via)
		if r.Refused() {
			t.Errorf("hand-held %d: %+v", i+1, r)
		}
		most = math.Max(most, math.Max(math.Abs(r.DX), math.Abs(r.DY)))
	}
	if most < 15 || most > 25 {
		t.Errorf("the largest shift is %.1f px", most)
	}
	for i := range 6 {
		rms := circle(t, looks[i:])
		t.Logf("circle %d: open by %.2f px RMS over the picture", i+1, rms)
		// A camera in the hand also tips, which bends the picture by
		// perspective: by pixels at the corners for a shift of 19. No
		// similarity follows that; a tenth of the shift is asked for.
		if rms > 1.9 {
			t.Errorf("circle %d: open by %.2f px RMS", i+1, rms)
		}
	}
}
