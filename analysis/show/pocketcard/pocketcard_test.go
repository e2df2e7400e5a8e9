package pocketcard

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film"
	"stopladder/analysis/film/pocket"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/drawing"
	"stopladder/assets"
)

// measured is a small roll of another making.
var measured = sync.OnceValues(func() (*film.Roll, error) {
	r := adversary.Roll{Film: adversary.Stocks()["slide-2"], Scene: "brick", Seed: 3, Stops: []float64{-2, -1, 0, 1, 2}, Grain: 0.02, Blur: [2]float64{0.8, 1.4}, ReadSD: 1.5e-4, Size: 400}
	job := &load.Job{Roll: &roll.Roll{Demo: "no files, so no hashes", Title: "Yard", Stock: "Invented slide 100", Exposure: "f/11 1/125, incident"}}
	var scans []*scan.Pixels
	for i, s := range r.Stops {
		scans = append(scans, r.Frame(i).Pixels)
		job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: fmt.Sprintf("frame %d", i+1), Stop: s, Origin: roll.ByHand})
	}
	return load.Measure(context.Background(), job, nil, load.Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) { return scans[i], nil }}, nil)
})

func cardOf(t *testing.T, o pocket.Options) (*pocket.Card, Head) {
	t.Helper()
	m, err := measured()
	if err != nil {
		t.Fatal(err)
	}
	c, err := pocket.New(m, o)
	if err != nil {
		t.Fatal(err)
	}
	return c, HeadOf(m.Judged, "Stopladder test")
}

// The JSON keeps its schema, and its cells are those of the card.
func TestJSONKeepsItsSchema(t *testing.T) {
	c, h := cardOf(t, pocket.Options{Rated: 100})
	var b bytes.Buffer
	if err := JSON(&b, c, h); err != nil {
		t.Fatal(err)
	}
	raw, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("pocket-1")))
	if err != nil {
		t.Fatal(err)
	}
	k := jsonschema.NewCompiler()
	if err := k.AddResource("pocket-1.json", raw); err != nil {
		t.Fatal(err)
	}
	schema, err := k.Compile("pocket-1.json")
	if err != nil {
		t.Fatal(err)
	}
	inst, err := jsonschema.UnmarshalJSON(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(inst); err != nil {
		t.Error(err)
	}
	var d Document
	if err := json.Unmarshal(b.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Cells) != 37*8 {
		t.Fatalf("%d cells, want 37 lights at 8 exposures", len(d.Cells))
	}
	words := map[string]int{}
	for _, x := range d.Cells {
		words[x.State]++
		if want := c.At(x.Light, x.Exposed); want.State.Word() != x.State && !want.Near {
			t.Errorf("light %g exposed %g: %s, the card says %s", x.Light, x.Exposed, x.State, want.State.Word())
		}
	}
	if words["drawn"] == 0 || words["blown"] == 0 {
		t.Errorf("a slide from -3 to +4 has %v", words)
	}
	if d.Speed == nil || d.Speed.ISO == 0 {
		t.Errorf("no film speed: %v", d.Says)
	}
}

// Whatever is said, on every size and with long names, all stands on the card, and no line
// of type is under 5.6 points on paper.
func TestAllStandsOnTheCard(t *testing.T) {
	for _, size := range Sizes() {
		for _, title := range []string{"", "Yard", strings.Repeat("A long name of a film ", 12)} {
			c, h := cardOf(t, pocket.Options{Rated: 100})
			h.Stock = title
			list := Draw(c, h, size)
			cells := 0
			for _, m := range list.Marks {
				switch m := m.(type) {
				case drawing.Text:
					w := width(m.S, m.Style.Size, m.Style.Weight != 0)
					x0, x1 := m.At.X, m.At.X+w
					switch m.Style.Align {
					case 1:
						x0, x1 = m.At.X-w, m.At.X
					case 2:
						x0, x1 = m.At.X-w/2, m.At.X+w/2
					}
					if x0 < 0 || x1 > size.Width || m.At.Y > size.Height-1.5 || m.At.Y < 2 {
						t.Errorf("%s, %q: %q stands beyond the card, at %.1f to %.1f, %.1f", size.Name, title, m.S, x0, x1, m.At.Y)
					}
					if points := m.Style.Size * pointsPerMM; points < 4.9 {
						t.Errorf("%s: %q has %.1f points", size.Name, m.S, points)
					}
				case drawing.Dot:
					cells++
				}
			}
			if cells == 0 {
				t.Errorf("%s: no border is marked", size.Name)
			}
		}
	}
}

// PNG and PDF are of the size that they say (pdfinfo, pdftotext of poppler), and the PDF's
// words can be searched.
func TestFiles(t *testing.T) {
	c, h := cardOf(t, pocket.Options{Kind: pocket.Reversal})
	dir := t.TempDir()
	for _, size := range Sizes() {
		var b bytes.Buffer
		if err := PNG(&b, c, h, size); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		if img.Bounds().Dx() != size.Pixels {
			t.Errorf("%s: %v", size.Name, img.Bounds())
		}
		if n := colours(img); n < 20 {
			t.Errorf("%s: only %d colours", size.Name, n)
		}
	}
	path := filepath.Join(dir, "card.pdf")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := PDF(f, c, h, A7); err != nil {
		t.Fatal(err)
	}
	f.Close()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("poppler's pdftotext is not installed")
	}
	out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Invented slide 100", "This roll, this lab, this scanner", "Meter the light", "blown", "data sheet first"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("the PDF does not say %q:\n%s", want, out)
		}
	}
	info, err := exec.Command("pdfinfo", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(info), "209.76 x 297.64") && !strings.Contains(string(info), "(A7)") {
		t.Errorf("not A7:\n%s", info)
	}
}

func colours(img image.Image) int {
	seen := map[[3]uint32]bool{}
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y += 3 {
		for x := b.Min.X; x < b.Max.X; x += 3 {
			r, g, bl, _ := img.At(x, y).RGBA()
			seen[[3]uint32{r, g, bl}] = true
		}
	}
	return len(seen)
}

func TestTextHasEveryRow(t *testing.T) {
	c, h := cardOf(t, pocket.Options{})
	var b strings.Builder
	if err := Text(&b, c, h); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"\n+6 ", "\n−6 ", "exp. +4", "\n0 ", "This roll, this lab, this scanner"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, b.String())
		}
	}
}
