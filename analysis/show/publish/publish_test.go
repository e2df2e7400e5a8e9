package publish_test

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film"
	"stopladder/analysis/film/finding"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/publish"
	"stopladder/analysis/show/row"
)

const program = "Stopladder test"

// courtyard is the demo roll, measured at a small size, with a judge's range.
var courtyard = sync.OnceValues(func() (*film.Roll, error) {
	d, err := simulate.NewDemoOf("reversal", 640, 480)
	if err != nil {
		return nil, err
	}
	r := &roll.Roll{Title: "Courtyard", Stock: d.Stock, Exposure: d.Exposure, Marks: []roll.Marks{{Judge: "A. Judge", Range: &roll.Range{Lo: -1.25, Hi: 0.75}}}}
	for i, n := range d.Names() {
		v := roll.Unjudged
		if i == 2 {
			v = roll.Strains
		}
		r.Frames = append(r.Frames, roll.Frame{File: n, Stop: simulate.DefaultStops()[i], Verdict: v})
	}
	return load.Measure(context.Background(), load.Of(r), nil, load.Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) { return d.Open(i), nil }}, nil)
})

func sheetOf(t testing.TB, o plate.Options) *publish.Sheet {
	t.Helper()
	r, err := courtyard()
	if err != nil {
		t.Fatal(err)
	}
	return &publish.Sheet{Roll: r, Options: o, Software: program, Format: publish.FormatPNG}
}

func written(t testing.TB, s *publish.Sheet, name string) (path string) {
	t.Helper()
	var b bytes.Buffer
	if err := s.Write(context.Background(), &b); err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// tool runs a program of the system's; without it the test is skipped.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skipf("%s is not installed", name)
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func flat(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "\u00a0", " ")), " ")
}

// What poppler reads back from the PDF of every arrangement is what the measured roll says:
// stops, shares, what happened, the ranges, the finding.
func TestPDFReadBack(t *testing.T) {
	for _, a := range plate.Arrangements() {
		s := sheetOf(t, plate.Options{Arrangement: a, Width: 1600})
		s.Format = publish.FormatPDF
		path := written(t, s, "sheet.pdf")
		info := tool(t, "pdfinfo", path)
		for _, want := range []string{"Title:           Courtyard", "Creator:         " + program, "Pages:           1"} {
			if !strings.Contains(info, want) {
				t.Errorf("%s: pdfinfo does not say %q:\n%s", a, want, info)
			}
		}
		if fonts := tool(t, "pdffonts", path); strings.Count(fonts, "TrueType") < 2 || strings.Contains(fonts, " no  no ") {
			t.Errorf("%s: the type is not embedded:\n%s", a, fonts)
		}
		// Raw keeps the order of the file, in which wrapped lines follow each other.
		read := flat(tool(t, "pdftotext", "-raw", path, "-"))
		want := []string{"Courtyard", s.Roll.Judged.Stock, s.Roll.Judged.Exposure, flat(strings.Join(s.Roll.Finding(s.Roll.Limits()), " ")), finding.Span(s.Roll.Range().Holds), "A. Judge: " + stops.Label(-1.25) + " to " + stops.Label(0.75), program}
		for i, d := range row.Of(s.Roll, nil) {
			if a == plate.Single && d.Stop != 0 {
				continue
			}
			want = append(want, stops.Label(d.Stop))
			if a == plate.Pair {
				if v := d.Scales.Criteria[0].At(d); v != nil && i != s.Roll.Base {
					want = append(want, flat(d.Scales.Criteria[0].Figure(*v)))
				}
				continue
			}
			want = append(want, flat(plate.Happened(d)))
			if a == plate.Details {
				continue
			}
			for _, l := range row.Losses(d) {
				want = append(want, row.Percent(l.Share))
			}
		}
		for _, w := range want {
			if !strings.Contains(read, flat(w)) {
				t.Errorf("%s: %q is not in the PDF's text:\n%s", a, w, read)
			}
		}
		if n := strings.Count(tool(t, "pdfimages", "-list", path), " jpeg "); n < 3 {
			t.Errorf("%s: %d pictures in the PDF", a, n)
		}
	}
}

// PNGs say depth, space and size on paper to ImageMagick, and are told as the program's own.
func TestPNG(t *testing.T) {
	for _, c := range []struct {
		depth int
		space colour.Display
		want  []string
	}{
		{8, colour.SRGB, []string{"Depth: 8", "Title: Courtyard", "1600x900+0+0", "38.1x38.1"}},
		{16, colour.DisplayP3, []string{"16-bit", "Title: Courtyard", "icc:description: Display P3"}},
	} {
		s := sheetOf(t, plate.Options{Width: 1600})
		s.Depth, s.Space = c.depth, c.space
		path := written(t, s, "sheet.png")
		text := tool(t, "identify", "-verbose", path)
		for _, w := range c.want {
			if !strings.Contains(text, w) {
				t.Errorf("%d bits: ImageMagick does not say %q:\n%s", c.depth, w, text)
			}
		}
		if !pngwrite.Wrote(head(t, path)) {
			t.Error("the PNG is not told as the program's own")
		}
	}
}

func head(t *testing.T, path string) []byte {
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b[:min(len(b), 1<<16)]
}

func TestJPEG(t *testing.T) {
	s := sheetOf(t, plate.Options{Width: 1600, Ground: plate.White})
	s.Format, s.Space = publish.FormatJPEG, colour.DisplayP3
	path := written(t, s, "sheet.jpg")
	text := tool(t, "identify", "-verbose", path)
	for _, w := range []string{"1600x900", "icc:description: Display P3", "97x97"} {
		if !strings.Contains(text, w) {
			t.Errorf("ImageMagick does not say %q:\n%s", w, text)
		}
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := jpeg.Decode(f); err != nil {
		t.Error(err)
	}
	if !pngwrite.Wrote(head(t, path)) {
		t.Error("the JPEG is not told as the program's own")
	}
}

// What is shown before it is written is what is written, to the pixel.
func TestPreviewIsThePage(t *testing.T) {
	for _, a := range []plate.Arrangement{plate.Wide, plate.Ladder, plate.Details} {
		s := sheetOf(t, plate.Options{Arrangement: a, Width: 1600, Masks: true})
		img, err := s.Image(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(bytes.NewReader(readAll(t, written(t, s, "sheet.png"))))
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds() != img.Rect {
			t.Fatalf("%s: %v and %v", a, got.Bounds(), img.Rect)
		}
		for y := 0; y < img.Rect.Dy(); y += 3 {
			for x := range img.Rect.Dx() {
				r, g, b, _ := got.At(x, y).RGBA()
				if c := img.RGBAAt(x, y); uint32(c.R)*257 != r || uint32(c.G)*257 != g || uint32(c.B)*257 != b {
					t.Fatalf("%s: the pixel at %v is another", a, image.Pt(x, y))
				}
			}
		}
	}
}

func readAll(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A sheet that is stopped ends at once, with the context's error.
func TestStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s := sheetOf(t, plate.Options{Arrangement: plate.Ladder, Width: 3000})
	s.Progress = func(done, total int) {
		if done == 2 {
			cancel()
		}
	}
	var b bytes.Buffer
	if err := s.Write(ctx, &b); err != context.Canceled {
		t.Errorf("%v", err)
	}
}
