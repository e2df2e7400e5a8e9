package response

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/demo/simulate"
)

// Debian's python3-opencv, not any other Python of the machine.
const python = "/usr/bin/python3"

// script runs OpenCV's calibrations of 8-bit frames with known exposures (files
// and stops in turn). "steps": the median step between neighbouring frames in
// stops, green channel, from the Debevec & Malik response. "curves": log2 exposure
// per code by Debevec & Malik and by Robertson, channels B, G, R. "debevec": by the
// first alone, which is quick on large pictures; "unblue": the same without the quarter
// of the pixels that is bluest, by blue over green of all frames together.
const script = `
import sys, numpy as np, cv2
what, rest = sys.argv[1], sys.argv[2:]
ims = [cv2.imread(f) for f in rest[0::2]]
ev = np.array([float(v) for v in rest[1::2]])
t = (2.0 ** (ev - ev.mean())).astype(np.float32)
if what == "unblue": # where a pixel stands means nothing to the calibration
    s = np.sum([im.astype(float) for im in ims], 0)
    blue = s[:, :, 0] / (s[:, :, 1] + 1)
    keep = blue <= np.percentile(blue, 75)
    n = keep.sum() // 512 * 512
    ims = [np.ascontiguousarray(im[keep][:n].reshape(-1, 512, 3)) for im in ims]
deb = np.log2(np.maximum(cv2.createCalibrateDebevec(300, 10, False).process(ims, t)[:, 0, :], 1e-9))
if what == "steps":
    for a, b in zip(ims[:-1], ims[1:]):
        x, y = cv2.blur(a[:, :, 1], (5, 5)), cv2.blur(b[:, :, 1], (5, 5))
        m = (x > 25) & (x < 200) & (y > 25) & (y < 200)
        print("%.4f" % np.median(deb[y[m], 1] - deb[x[m], 1]))
elif what in ("debevec", "unblue"):
    for i in range(256):
        print(*("%.5f" % v for v in deb[i]))
else:
    rob = np.log2(np.maximum(cv2.createCalibrateRobertson(100, 1e-4).process(ims, t)[:, 0, :], 1e-9))
    for i in range(256):
        print(*("%.5f" % v for v in list(deb[i]) + list(rob[i])))
`

// openCV returns what the script prints of files and stops. A calibration takes seconds
// and gives the same figures whenever it is asked, so what one gave is kept under
// testdata/opencv, named by the bytes of all that went into it: changed pictures, stops or
// script are calibrated anew. With STOPLADDER_ALL_ROLLS every calibration is run; it must
// then print what is kept.
func openCV(t *testing.T, args ...string) string {
	t.Helper()
	kept := filepath.Join("testdata", "opencv", args[0]+"-"+inputHash(t, args)+".txt")
	before, err := os.ReadFile(kept)
	if err == nil && !all() {
		return string(before)
	}
	now := runOpenCV(t, args...)
	if err != nil {
		t.Logf("OpenCV was run: there is no %s", kept)
		if *keep {
			if err := os.WriteFile(kept, []byte(now), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	} else if now != string(before) {
		t.Errorf("%s: OpenCV prints other figures now", kept)
	}
	return now
}

var keep = flag.Bool("opencv", false, "keep what OpenCV prints under testdata/opencv")

// inputHash names a calibration by its script, the files' contents and their stops.
func inputHash(t *testing.T, args []string) string {
	t.Helper()
	h := sha256.New()
	io.WriteString(h, script+args[0])
	for i := 1; i < len(args); i += 2 {
		file, err := os.ReadFile(args[i])
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(h, "|%d|", len(file))
		h.Write(file)
		io.WriteString(h, args[i+1])
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}

func runOpenCV(t *testing.T, args ...string) string {
	t.Helper()
	if err := exec.Command(python, "-c", "import cv2").Run(); err != nil {
		t.Skip("SKIPPED: python3-opencv is not here, nothing was checked against OpenCV")
	}
	cmd := exec.Command(python, append([]string{"-c", script}, args...)...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("OpenCV: %v\n%s", err, stderr.String())
	}
	return string(out)
}

// OpenCV's calibrateDebevec and calibrateRobertson, told the true exposures, on the
// same frames in 8 bits: over the codes that all know well the curves must agree,
// scale and origin fitted. Debevec & Malik's smoothed curve does so to a hundredth
// of a stop. Robertson's, as OpenCV iterates it, keeps 0.1 to 0.3 stop off the
// simulator's truth however long it runs; then it must be as far from ours as it is
// from the truth, and not further.
func TestAgainstOpenCV(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	for k := range 2 {
		o := simulate.Options{Seed: 21, W: 460, H: 400, ShutterError: 0.1}
		r := shoot(t, randomScene(700, 600, 33), stockFor(k), o, nil)
		res := r.fit(t, Options{})
		if res.Curve == nil {
			t.Fatal(res.Reason)
		}
		args := []string{"curves"}
		dir := t.TempDir()
		for j, f := range r.frames {
			p := f.Look.Preview
			img := image.NewNRGBA(image.Rect(0, 0, p.W, p.H))
			for i := range p.W * p.H {
				q := p.Pix[3*i:]
				img.SetNRGBA(i%p.W, i/p.W, color.NRGBA{uint8(q[0] >> 8), uint8(q[1] >> 8), uint8(q[2] >> 8), 255})
			}
			name := filepath.Join(dir, fmt.Sprintf("%d.png", j))
			w, err := os.Create(name)
			if err != nil {
				t.Fatal(err)
			}
			if err := png.Encode(w, img); err != nil {
				t.Fatal(err)
			}
			w.Close()
			args = append(args, name, strconv.FormatFloat(r.truth[j].Exposure, 'g', -1, 64))
		}
		lines := strings.Split(strings.TrimSpace(openCV(t, args...)), "\n")
		if len(lines) != 256 {
			t.Fatalf("OpenCV gave %d lines", len(lines))
		}
		tone := r.frames[0].Look.Space.Tone()
		for c := range 3 {
			for m, name := range []string{"Debevec", "Robertson"} {
				var x, y, z []float64
				for code := 40; code <= 215; code++ {
					v, err := strconv.ParseFloat(strings.Fields(lines[code])[3*m+2-c], 64)
					if err != nil {
						t.Fatal(err)
					}
					e, ok := res.Curve.LogEOf(c, -math.Log10(float64(tone[c][code<<8+128])))
					if ok {
						x, y, z = append(x, e/stopLog), append(y, v), append(z, exposureOf(r.truth[r.base], c, float64(code<<8+128))/stopLog)
					}
				}
				scale, rms := lineFit(x, y)
				trueScale, trueRMS := lineFit(z, y)
				t.Logf("stock %d channel %d %s: %d codes over %.1f stops, against ours scale %.3f, RMS %.3f stop, against the truth %.3f, %.3f", k, c, name, len(x), x[len(x)-1]-x[0], scale, rms, trueScale, trueRMS)
				switch {
				case len(x) < 120:
					t.Errorf("stock %d channel %d: %d codes only", k, c, len(x))
				case m == 0 && (math.Abs(scale-1) > 0.03 || rms > 0.03):
					t.Errorf("stock %d channel %d: %s disagrees", k, c, name)
				case math.Abs(scale-trueScale) > 0.03 || rms > trueRMS+0.02:
					t.Errorf("stock %d channel %d: %s is further from ours than from the truth", k, c, name)
				}
			}
		}
	}
}

// exposureOf is the log exposure that truly gives a code.
func exposureOf(t *simulate.Truth, c int, code float64) float64 {
	lo, hi := -4.0, 4.0
	for range 50 {
		if m := (lo + hi) / 2; t.Code(c, m) < code {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}

// lineFit of y on x: slope and RMS about it.
func lineFit(x, y []float64) (slope, rms float64) {
	var n, sx, sy, sxx, sxy float64
	for i := range x {
		n, sx, sy, sxx, sxy = n+1, sx+x[i], sy+y[i], sxx+x[i]*x[i], sxy+x[i]*y[i]
	}
	slope = (n*sxy - sx*sy) / (n*sxx - sx*sx)
	for i := range x {
		d := y[i] - (sy+slope*(n*x[i]-sx))/n
		rms += d * d / n
	}
	return slope, math.Sqrt(rms)
}
