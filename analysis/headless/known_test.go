package headless

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"flag"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
)

// The repository's testdata: testdata/README.md says how each file was made and
// what must come out of it.
const testdata = "../../testdata"

var makeKnown = flag.Bool("known", false, "write testdata's rolls and hostile files anew")

// knownRoll is a roll of testdata/rolls and how it is made.
type knownRoll struct {
	name  string
	stock simulate.Stock
	o     simulate.Options
	times []string // of the frames, as engraved; nil: none are said
}

func knownRolls() []knownRoll {
	thirds := []float64{-3, -2, -2. / 3, 0, 1, 5. / 3, 3}
	return []knownRoll{
		{"hand-held", simulate.Reversal(), simulate.Options{Seed: 7, W: 140, H: 120, Stops: []float64{-2, -1, 0, 1, 2}, MaxShift: 0.012, MaxRotation: 0.3, ShutterError: 0.08}, nil},
		{"tripod", simulate.Negative(), simulate.Options{Seed: 11, W: 140, H: 120, Stops: thirds}, []string{"1/500", "1/250", "1/100", "1/60", "1/30", "1/20", "1/8"}},
		{"levelled", simulate.Reversal(), simulate.Options{Seed: 5, W: 140, H: 120, Stops: []float64{-1, 0, 1}, AutoCorrect: true}, nil},
	}
}

// fileOf is the name of a frame.
func fileOf(stop float64) string {
	s := strconv.FormatFloat(math.Round(stop*100)/100, 'f', -1, 64)
	if stop > 0 {
		s = "+" + s
	}
	return "garden " + s + ".png"
}

// truthHead heads frames.csv. time_s is there where times are said.
var truthHead = []string{"file", "time_s", "label", "exposure", "dx", "dy", "rotation"}

// frames returns the files of a roll: its frames in 8 bits with the scanner's
// profile, and frames.csv with the truth.
func (k knownRoll) frames(t *testing.T) map[string][]byte {
	t.Helper()
	r, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	rows := [][]string{truthHead}
	for i, s := range k.o.Stops {
		f, err := simulate.Shoot(context.Background(), r, k.stock, k.o, s)
		if err != nil {
			t.Fatal(err)
		}
		img := image.NewNRGBA(image.Rect(0, 0, k.o.W, k.o.H))
		for p := range k.o.W * k.o.H {
			c := f.Pixels.Pix[3*p : 3*p+3]
			img.SetNRGBA(p%k.o.W, p/k.o.W, color.NRGBA{uint8(c[0] >> 8), uint8(c[1] >> 8), uint8(c[2] >> 8), 255})
		}
		files[fileOf(s)] = pngWithProfile(t, img, simulate.Profile())
		seconds := ""
		if k.times != nil {
			d, _ := strconv.ParseFloat(strings.TrimPrefix(k.times[i], "1/"), 64)
			seconds = strconv.FormatFloat(1/d, 'g', -1, 64)
		}
		g := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
		rows = append(rows, []string{fileOf(s), seconds, g(s), g(f.Truth.Exposure), g(f.Truth.Shift[0]), g(f.Truth.Shift[1]), g(f.Truth.Rotation)})
	}
	var b bytes.Buffer
	if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	files["frames.csv"] = b.Bytes()
	return files
}

// pngWithProfile is a PNG with an ICC profile (iCCP, W3C PNG, section 11.3.2.3).
func pngWithProfile(t *testing.T, img image.Image, icc []byte) []byte {
	t.Helper()
	var b, z bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	w := zlib.NewWriter(&z)
	w.Write(icc)
	w.Close()
	const head = 8 + 25 // signature and IHDR
	return append(append(bytes.Clone(b.Bytes()[:head]), pngChunk("iCCP", append([]byte("scanner\x00\x00"), z.Bytes()...))...), b.Bytes()[head:]...)
}

func pngChunk(kind string, data []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, kind...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// TestKnownIsMade holds the stored files to the code that makes them (make known
// writes them anew).
func TestKnownIsMade(t *testing.T) {
	want := map[string][]byte{}
	for _, k := range knownRolls() {
		for name, b := range k.frames(t) {
			want[filepath.Join("rolls", k.name, name)] = b
		}
	}
	for name, b := range hostile(t) {
		want[filepath.Join("hostile", name)] = b
	}
	if *makeKnown {
		for name, b := range want {
			path := filepath.Join(testdata, name)
			if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, b, 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	if runtime.GOARCH != "amd64" {
		t.Log("other processors round otherwise: the pixels are not compared")
	}
	for name, b := range want {
		got, err := os.ReadFile(filepath.Join(testdata, name))
		if err != nil {
			t.Error(err)
		} else if runtime.GOARCH == "amd64" && !bytes.Equal(got, b) {
			t.Errorf("%s is not what is made now: see what changed, then run make known", name)
		}
	}
	seen := 0
	for _, dir := range []string{"rolls/*", "hostile"} {
		paths, _ := filepath.Glob(filepath.Join(testdata, dir, "*"))
		for _, p := range paths {
			name, _ := filepath.Rel(testdata, p)
			if seen++; want[name] == nil {
				t.Errorf("nothing makes %s", name)
			}
		}
	}
	if seen == 0 {
		t.Error("no file was seen")
	}
}

// frameTruth is a line of frames.csv.
type frameTruth struct {
	file                              string
	label, exposure, dx, dy, rotation float64
}

func readTruth(t *testing.T, roll string) (all []frameTruth) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata, "rolls", roll, "frames.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows[1:] {
		f := frameTruth{file: r[0]}
		for i, to := range []*float64{&f.label, &f.exposure, &f.dx, &f.dy, &f.rotation} {
			if *to, err = strconv.ParseFloat(r[i+2], 64); err != nil {
				t.Fatal(err)
			}
		}
		all = append(all, f)
	}
	return all
}

type codes struct{ R, G, B uint8 }

// readings are the parts of the JSON that are compared.
type readings struct {
	Base   *string
	Frames []struct {
		File              string
		Stop              *float64
		MeasuredStop      *float64
		MeasuredStopError *float64
		Registration      *struct{ DX, DY, Rotation float64 }
		Ceiling, Floor    *codes
		Blown, Blocked    *struct{ Any, All float64 }
		Error             *string
	}
	Scan struct {
		Fixed    *bool
		Findings []string
	}
	Labels struct{ Findings []string }
	Range  struct{ Holds, Strains []*float64 }
	Notes  []string
}

// measureKnown runs the command on a folder or a file.
func measureKnown(t *testing.T, path string, flags ...string) (status int, out *readings, stderr string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(context.Background(), append([]string{"measure", path, "--json", "-"}, flags...), streams{strings.NewReader(""), &o, &e})
	if o.Len() > 0 {
		out = &readings{}
		if err := json.Unmarshal(o.Bytes(), out); err != nil {
			t.Fatalf("%s: %v", path, err)
		}
	}
	return status, out, e.String()
}

// clipped counts, with Go's own decoder, the shares of a frame's pixels that have a
// channel at the ceiling or above it, and at the floor or under it.
func clipped(t *testing.T, path string, ceiling, floor codes) (blown, blocked float64) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
			if c.R >= ceiling.R || c.G >= ceiling.G || c.B >= ceiling.B {
				blown++
			}
			if c.R <= floor.R || c.G <= floor.G || c.B <= floor.B {
				blocked++
			}
		}
	}
	n := float64(b.Dx() * b.Dy())
	return blown / n, blocked / n
}

// The rolls of known truth: what was exposed, how the frames lie, and what is
// clipped comes out, within the errors that testdata/README.md gives.
func TestKnownRolls(t *testing.T) {
	for _, name := range []string{"hand-held", "tripod"} {
		t.Run(name, func(t *testing.T) {
			truth := readTruth(t, name)
			status, got, stderr := measureKnown(t, filepath.Join(testdata, "rolls", name))
			if status != 0 || stderr != "" || len(got.Frames) != len(truth) {
				t.Fatalf("status %d, %d frames of %d, %s", status, len(got.Frames), len(truth), stderr)
			}
			if got.Scan.Fixed == nil || !*got.Scan.Fixed || len(got.Labels.Findings) != 0 {
				t.Errorf("scan %+v, labels %+v", got.Scan, got.Labels)
			}
			for i, want := range truth {
				f := got.Frames[i]
				if f.File != want.file || f.Error != nil || f.MeasuredStop == nil || f.Registration == nil || f.Ceiling == nil || f.Floor == nil || f.Blown == nil || f.Blocked == nil {
					t.Fatalf("%s: %+v", want.file, f)
				}
				if e := math.Abs(*f.MeasuredStop - want.exposure); e > 0.1 || e > math.Max(0.01, 3**f.MeasuredStopError) {
					t.Errorf("%s: measured %+.3f ± %.3f, exposed %+.3f", f.File, *f.MeasuredStop, *f.MeasuredStopError, want.exposure)
				}
				off, turned := 0.2, 0.1 // pixels, degrees
				if name == "tripod" {
					off, turned = 0.02, 0.02
				}
				if e := math.Hypot(f.Registration.DX-want.dx, f.Registration.DY-want.dy); e > off || math.Abs(f.Registration.Rotation-want.rotation) > turned {
					t.Errorf("%s: lies at %.2f %.2f, %.3f°, moved by %.2f %.2f, %.3f°", f.File, f.Registration.DX, f.Registration.DY, f.Registration.Rotation, want.dx, want.dy, want.rotation)
				}
				// The scanner writes white at 98 % and black at 0.4 % of full scale, cut
				// to 8 bits. Negatives reach white in blue alone, and black nowhere.
				ceiling, floor := codes{250, 250, 250}, codes{1, 1, 1}
				if name == "tripod" {
					ceiling, floor = codes{255, 255, 250}, codes{}
				}
				if *f.Ceiling != ceiling || *f.Floor != floor {
					t.Errorf("%s: ceiling %v, floor %v, want %v and %v", f.File, *f.Ceiling, *f.Floor, ceiling, floor)
				}
				blown, blocked := clipped(t, filepath.Join(testdata, "rolls", name, f.File), ceiling, floor)
				if math.Abs(f.Blown.Any-blown) > 1e-9 || math.Abs(f.Blocked.Any-blocked) > 1e-9 {
					t.Errorf("%s: Blown %.5f, Blocked %.5f; counted %.5f and %.5f", f.File, f.Blown.Any, f.Blocked.Any, blown, blocked)
				}
			}
		})
	}
}

// Frames that a scanner levelled one by one are said to be, and nothing is said of
// the film's response.
func TestKnownLevelled(t *testing.T) {
	status, got, stderr := measureKnown(t, filepath.Join(testdata, "rolls", "levelled"))
	if status != 0 || stderr != "" || got.Scan.Fixed == nil || *got.Scan.Fixed || !strings.Contains(strings.Join(got.Scan.Findings, " "), "each frame was stretched to the same levels") {
		t.Errorf("status %d, %s%+v", status, stderr, got.Scan)
	}
	for _, f := range got.Frames {
		if f.MeasuredStop != nil {
			t.Errorf("%s has a measured stop", f.File)
		}
	}
}

// copied is the tripod's roll under other names.
func copied(t *testing.T, rename func(file string) string) string {
	t.Helper()
	dir := t.TempDir()
	for _, f := range readTruth(t, "tripod") {
		b, err := os.ReadFile(filepath.Join(testdata, "rolls", "tripod", f.file))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, rename(f.file)), b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// Two frames under each other's names are found out.
func TestKnownSwapped(t *testing.T) {
	const a, b = "garden -2.png", "garden +1.png"
	dir := copied(t, func(file string) string {
		switch file {
		case a:
			return b
		case b:
			return a
		}
		return file
	})
	status, got, stderr := measureKnown(t, dir)
	if status != 0 || stderr != "" || len(got.Labels.Findings) != 2 {
		t.Fatalf("status %d, %s%+v", status, stderr, got.Labels)
	}
	for _, f := range got.Labels.Findings {
		if !strings.Contains(f, "its label is swapped with that of") || !strings.Contains(f, a) || !strings.Contains(f, b) {
			t.Errorf("%q", f)
		}
	}
}

// Names that say nothing are not guessed at; told the labels, all is as before.
func TestKnownUnlabelled(t *testing.T) {
	n := 0
	dir := copied(t, func(string) string { n++; return string(rune('a'-1+n)) + ".png" })
	status, got, _ := measureKnown(t, dir)
	if status != 0 || got.Base != nil || !strings.Contains(strings.Join(got.Notes, " "), "--stops") {
		t.Errorf("status %d, base %v, notes %q", status, got.Base, got.Notes)
	}
	for _, f := range got.Frames {
		if f.Stop != nil || f.MeasuredStop != nil {
			t.Errorf("%s has a stop", f.File)
		}
	}
	status, got, stderr := measureKnown(t, dir, "--stops=-3,-2,-2/3,0,+1,+1.67,+3")
	if status != 0 || stderr != "" {
		t.Fatalf("status %d, %s", status, stderr)
	}
	for i, want := range readTruth(t, "tripod") {
		if f := got.Frames[i]; f.MeasuredStop == nil || math.Abs(*f.MeasuredStop-want.exposure) > 0.02 {
			t.Errorf("%s: %v, want %g", f.File, f.MeasuredStop, want.exposure)
		}
	}
}
