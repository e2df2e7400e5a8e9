package card

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/image/font/sfnt"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/assets"
)

// plans are cards of every kind: short, long, in thirds, with clicks between marks,
// minutes, frames out of reach, long texts, a log.
func plans(t *testing.T) map[string]*plan.File {
	t.Helper()
	long := strings.Repeat("a long name without end ", 8)
	out := map[string]*plan.File{}
	for name, f := range map[string]plan.Form{
		"eight":   {Title: "Courtyard in sun", Stock: "invented 400", Meter: "f/11 1/125", ISO: "400", Camera: "leaf shutter", From: "-3", To: "4", Format: "6x9"},
		"single":  {Meter: "f/11 1/125", ISO: "400", Camera: "leaf shutter", From: "0", To: "0"},
		"thirds":  {Meter: "4000 cd/m2", ISO: "400", Camera: "electronic shutter 30", From: "-3", To: "4", Step: "1/3", Format: "35mm"},
		"halves":  {Meter: "10000 lux", ISO: "100", Camera: "leaf shutter", From: "-2", To: "2", Step: "1/2", Vary: "aperture", BaseAgain: true},
		"clicks":  {Meter: "EV 9", ISO: "100", Camera: "large", From: "-1", To: "1", Step: "1/3", Vary: "aperture"},
		"coarse":  {Meter: "10000 lux", ISO: "400", Camera: "old leaf", From: "-3", To: "4", Format: "6x7", BaseAgain: true},
		"minutes": {Meter: "EV 3", ISO: "100", Camera: "large", From: "-3", To: "4", Hold: "f/32", Reciprocity: "1.31", Correct: true},
		"short":   {Meter: "EV 17", ISO: "100", Camera: "leaf shutter", From: "-3", To: "4", Hold: "f/2.8"},
		"texts":   {Title: long, Stock: long, Meter: "f/11 1/125", ISO: "400", Camera: "electronic shutter 30", From: "-8", To: "8", Step: "1/3", First: "900"},
	} {
		p, err := plan.New(f, plan.Generic())
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = p
	}
	logged, err := plan.New(plan.Form{Title: "Logged", Meter: "f/11 1/125", ISO: "400", Camera: "leaf shutter", From: "-3", To: "4"}, plan.Generic())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []plan.Shot{
		{Number: 1, State: plan.Done, Clock: "14:05"}, {Number: 2, State: plan.Done, Setting: "1/250", Note: strings.Repeat("a long note ", 30)},
		{Number: 3, State: plan.Missed}, {Number: 4, State: plan.Spoiled, Note: "dog"},
	} {
		if err := logged.Put(s, 0); err != nil {
			t.Fatal(err)
		}
	}
	if err := logged.SetLight(plan.Light{Meter: "f/11 1/100", Clock: "14:20"}); err != nil {
		t.Fatal(err)
	}
	logged.Log.Note = strings.Repeat("what happened in the field ", 20)
	out["logged"] = logged
	return out
}

// Every card keeps to its page, has a box for every frame, and sets no text over
// another.
func TestLayout(t *testing.T) {
	for name, f := range plans(t) {
		for _, size := range Sizes() {
			ps, err := pages(f, size)
			if err != nil {
				t.Fatal(err)
			}
			ticks := 0
			for n, p := range ps {
				where := fmt.Sprintf("%s, %s page %d", name, size.Name, n+1)
				inside := func(what string, pts ...drawing.Pt) {
					for _, p := range pts {
						if p.X < margin-0.01 || p.Y < 0 || p.X > size.Width-margin+0.01 || p.Y > size.Height-margin+0.01 {
							t.Errorf("%s: %s leaves the page: %+v", where, what, pts)
						}
					}
				}
				for _, m := range p.Marks {
					switch m := m.(type) {
					case drawing.Frame:
						ticks++
						if m.Max.X-m.Min.X < 4 {
							t.Errorf("%s: a box of %.1f mm is too small to tick", where, m.Max.X-m.Min.X)
						}
						inside("a box", m.Min, m.Max)
					case drawing.Area:
						inside("an area", m.Pts...)
					case drawing.Line:
						inside("a line", m.Pts...)
					}
				}
				inPage(t, where, p)
			}
			if ticks != len(f.Plan.Frames) {
				t.Errorf("%s, %s: %d boxes for %d frames", name, size.Name, ticks, len(f.Plan.Frames))
			}
			if len(f.Plan.Frames) <= 9 && name != "logged" && name != "coarse" && len(ps) != 1 {
				t.Errorf("%s, %s: %d frames take %d pages", name, size.Name, len(f.Plan.Frames), len(ps))
			}
		}
	}
}

func texts(p *page) (all []drawing.Text) {
	for _, m := range p.Marks {
		if t, ok := m.(drawing.Text); ok {
			all = append(all, t)
		}
	}
	return all
}

func inPage(t *testing.T, where string, p *page) {
	t.Helper()
	type span struct {
		x0, x1, y, em float64
		s             string
	}
	var spans []span
	for _, x := range texts(p) {
		em := x.Style.Size
		w := width(x.S, em, x.Style.Weight == paint.Medium) / slack // as wide as the PDF may set it
		x0 := x.At.X
		if x.Style.Align == paint.Right {
			x0 -= w
		}
		spans = append(spans, span{x0, x0 + w, x.At.Y, em, x.S})
		if x0 < margin-0.3 || x0+w > p.W-margin+0.6 || x.At.Y-em*0.75 < 0 || x.At.Y > p.H-2 {
			t.Errorf("%s: %q leaves the page, %.1f to %.1f mm at %.1f", where, x.S, x0, x0+w, x.At.Y)
		}
		if cut := strings.HasSuffix(x.S, "…"); cut && !strings.Contains(where, "texts") && !strings.Contains(where, "logged") {
			t.Errorf("%s: %q is cut", where, x.S)
		}
		if em < 1.8 {
			t.Errorf("%s: %q is set in %.2f mm, too small to read", where, x.S, em)
		}
	}
	slices.SortFunc(spans, func(a, b span) int { return cmp.Compare(a.x0, b.x0) })
	for i, a := range spans {
		for _, b := range spans[i+1:] {
			if b.x0 < a.x1-0.05 && b.y-0.7*b.em < a.y-0.05 && a.y-0.7*a.em < b.y-0.05 {
				t.Errorf("%s: %q and %q stand over each other", where, a.s, b.s)
			}
		}
	}
}

// The type that is carried has every character that a card writes by itself.
func TestGlyphs(t *testing.T) {
	for name, data := range map[string][]byte{"regular": assets.FontRegular, "medium": assets.FontMedium} {
		font, err := sfnt.Parse(data)
		if err != nil {
			t.Fatal(err)
		}
		var buf sfnt.Buffer
		for which, f := range plans(t) {
			ps, err := pages(f, A6)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range ps {
				for _, x := range texts(p) {
					for _, r := range x.S {
						if i, err := font.GlyphIndex(&buf, r); err != nil || i == 0 {
							t.Errorf("%s, %s: no glyph for %q in %q", name, which, r, x.S)
						}
					}
				}
			}
		}
	}
}

// tool runs a tool of Debian's poppler-utils, an independent reader of PDF.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (Debian: poppler-utils)", name)
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func writePDF(t *testing.T, f *plan.File, size Size) string {
	t.Helper()
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := PDF(w, f, size, Meta{Software: "Stopladder test"}); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same plan gives two different files")
	}
	path := filepath.Join(t.TempDir(), "card.pdf")
	if err := os.WriteFile(path, a.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Poppler reads the PDF: page sizes of ISO 216, embedded type, text as text.
func TestPDF(t *testing.T) {
	for name, f := range plans(t) {
		for _, size := range Sizes() {
			path := writePDF(t, f, size)
			info := tool(t, "pdfinfo", path)
			m := regexp.MustCompile(`Page size:\s+([0-9.]+) x ([0-9.]+) pts`).FindStringSubmatch(info)
			if m == nil {
				t.Fatalf("%s", info)
			}
			var w, h float64
			fmt.Sscan(m[1], &w)
			fmt.Sscan(m[2], &h)
			if math.Abs(w-size.Width*72/25.4) > 0.02 || math.Abs(h-size.Height*72/25.4) > 0.02 {
				t.Errorf("%s: %s is %v x %v points", name, size.Name, w, h)
			}
			for _, l := range strings.Split(strings.TrimSpace(tool(t, "pdffonts", path)), "\n")[2:] {
				if !strings.Contains(l, "CID TrueType") || !strings.Contains(l, "yes") {
					t.Errorf("%s: type is not embedded: %s", name, l)
				}
			}
			text := tool(t, "pdftotext", "-layout", path, "-")
			for _, fr := range f.Plan.Frames {
				if !strings.Contains(text, fr.Time.Seconds()) || !strings.Contains(text, fr.Aperture.Number()) {
					t.Errorf("%s: %s %s is not in the text:\n%s", name, fr.Time.Seconds(), fr.Aperture.Number(), text)
				}
			}
			if !strings.Contains(text, "data sheet") {
				t.Errorf("%s: the caution is not in the text", name)
			}
		}
	}
}

// The two pens draw one card: the PNG against Poppler's picture of the PDF, both
// reduced to squares of 2 mm, since edges are smoothed differently.
func TestPensAgree(t *testing.T) {
	for _, name := range []string{"eight", "thirds", "minutes", "logged"} {
		f := plans(t)[name]
		path := writePDF(t, f, A6)
		stem := strings.TrimSuffix(path, ".pdf")
		tool(t, "pdftoppm", "-r", "300", "-png", "-gray", path, stem)
		pictures, err := Images(f, A6)
		if err != nil {
			t.Fatal(err)
		}
		found, err := filepath.Glob(stem + "-*.png")
		if err != nil || len(found) != len(pictures) {
			t.Fatalf("%s: %d pictures of %d pages, %v", name, len(found), len(pictures), err)
		}
		slices.Sort(found)
		for i, path := range found {
			raw, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			theirs, err := png.Decode(bytes.NewReader(raw))
			if err != nil {
				t.Fatal(err)
			}
			a, b := squares(pictures[i]), squares(theirs)
			if len(a) != len(b) {
				t.Fatalf("%s: %v and %v", name, pictures[i].Bounds(), theirs.Bounds())
			}
			sum, inked := 0.0, 0.0
			for k := range a {
				sum += math.Abs(a[k] - b[k])
				inked += 1 - b[k]
			}
			if inked < 10 || sum > 0.15*inked {
				t.Errorf("%s, page %d: the pictures differ by %.1f of %.1f squares of ink", name, i+1, sum, inked)
			}
		}
	}
}

// squares is the mean lightness 0..1 of squares of 2 mm.
func squares(img image.Image) (out []float64) {
	const side = 24
	b := img.Bounds()
	for y := 0; y+side <= b.Dy(); y += side {
		for x := 0; x+side <= b.Dx(); x += side {
			sum := 0.0
			for v := range side {
				for u := range side {
					_, g, _, _ := img.At(b.Min.X+x+u, b.Min.Y+y+v).RGBA()
					sum += float64(g) / 65535
				}
			}
			out = append(out, sum/(side*side))
		}
	}
	return out
}

// The PNG prints in the size of its page.
func TestPNG(t *testing.T) {
	f := plans(t)["eight"]
	for _, size := range Sizes() {
		pictures, err := Images(f, size)
		if err != nil || len(pictures) != 1 {
			t.Fatal(len(pictures), err)
		}
		var b bytes.Buffer
		if err := WritePNG(&b, pictures[0]); err != nil {
			t.Fatal(err)
		}
		raw := b.Bytes()
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		at := bytes.Index(raw, []byte("pHYs"))
		if at < 0 || raw[at+12] != 1 {
			t.Fatal("no resolution is given")
		}
		perMetre := float64(binary.BigEndian.Uint32(raw[at+4:]))
		if mm := float64(img.Bounds().Dx()) / perMetre * 1000; math.Abs(mm-size.Width) > 0.1 {
			t.Errorf("%s prints %.2f mm wide", size.Name, mm)
		}
		if mm := float64(img.Bounds().Dy()) / perMetre * 1000; math.Abs(mm-size.Height) > 0.1 {
			t.Errorf("%s prints %.2f mm high", size.Name, mm)
		}
	}
}

// The plain card fits a phone, and has every frame with its box.
func TestText(t *testing.T) {
	for name, f := range plans(t) {
		var b bytes.Buffer
		if err := Text(&b, f); err != nil {
			t.Fatal(err)
		}
		boxes := 0
		for _, l := range strings.Split(b.String(), "\n") {
			if n := utf8.RuneCountInString(l); n > Columns {
				t.Errorf("%s: %d characters: %s", name, n, l)
			}
			if regexp.MustCompile(`^\[[ x-]\] `).MatchString(l) {
				boxes++
			}
		}
		if boxes != len(f.Plan.Frames) {
			t.Errorf("%s: %d boxes for %d frames", name, boxes, len(f.Plan.Frames))
		}
	}
	var b bytes.Buffer
	if err := Text(&b, plans(t)["logged"]); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"[x]  1  base", "[-]  3  -2", "[-]  4  -1", "[ ]  5  +1", "set 1/250", "got", "f/11 1/100, 14:20"} {
		if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), strings.Join(strings.Fields(s), " ")) {
			t.Errorf("%q is missing:\n%s", s, b.String())
		}
	}
}

func TestParseSize(t *testing.T) {
	for _, s := range Sizes() {
		if got, err := ParseSize(strings.ToLower(s.Name)); err != nil || got != s {
			t.Errorf("%s: %v", s.Name, err)
		}
		if math.Abs(s.Height/s.Width-math.Sqrt2) > 0.01 {
			t.Errorf("%s is no page of ISO 216", s.Name)
		}
	}
	if _, err := ParseSize("letter"); err == nil {
		t.Error("any page is taken")
	}
}
