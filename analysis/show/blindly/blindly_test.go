package blindly

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/judge/blind"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/assets"
)

// judged is a roll that was judged blind by a rule, with some slips; so many verdicts.
func judged(t *testing.T, verdicts int) *roll.Roll {
	t.Helper()
	r := &roll.Roll{Title: "Yard"}
	for s := -3.0; s <= 4; s++ {
		r.Frames = append(r.Frames, roll.Frame{File: fmt.Sprintf("/scans/%+g.tif", s), Stop: s, Origin: roll.ByHand})
	}
	r.Judge().Judge = "A. Judge"
	r.SetRange(-1, 2)
	if err := blind.Begin(r, "2026-11-30", "curves", 3, 4); err != nil {
		t.Fatal(err)
	}
	b := &r.Blind[0]
	for i := 0; i < verdicts && blind.Next(b) >= 0; i++ {
		s := b.Views[blind.Next(b)].Stop
		v := roll.Holds
		switch {
		case i == 5 || i == 17: // slips
			v = roll.Strains
		case s < -2 || s > 3:
			v = roll.Breaks
		case s < -1 || s > 2:
			v = roll.Strains
		}
		blind.Mark(b, v, 2.5, "2026-11-30")
	}
	return r
}

// The JSON keeps its schema: done, broken off, hardly begun, and of a roll without any.
func TestJSONKeepsItsSchema(t *testing.T) {
	raw, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("blind-1")))
	if err != nil {
		t.Fatal(err)
	}
	k := jsonschema.NewCompiler()
	if err := k.AddResource("blind-1.json", raw); err != nil {
		t.Fatal(err)
	}
	schema, err := k.Compile("blind-1.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{99, 11, 1, 0, -1} {
		r := judged(t, n)
		if n < 0 {
			r.Blind = nil
		}
		var b bytes.Buffer
		if err := JSON(&b, r, "Stopladder test"); err != nil {
			t.Fatal(err)
		}
		inst, err := jsonschema.UnmarshalJSON(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(inst); err != nil {
			t.Errorf("%d verdicts: %v", n, err)
		}
		var d Document
		if err := json.Unmarshal(b.Bytes(), &d); err != nil {
			t.Fatal(err)
		}
		if n == 99 {
			j := d.Judgings[0]
			if j.Views != 24 || j.ToCome != 0 || j.Holds == nil || j.Usable == nil || d.Range == nil || j.Pairs != 24 {
				t.Errorf("%+v", j)
			}
			if h := j.Holds; h.Under.Stop > -0.9 || h.Under.Stop < -2.1 || h.Over.Stop < 1.9 || h.Over.Stop > 3.1 {
				t.Errorf("what holds from -1 to +2 is told as %+v %+v", h.Under, h.Over)
			}
		}
	}
}

func TestTextSaysAll(t *testing.T) {
	var b strings.Builder
	if err := Text(&b, judged(t, 99)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Blind judging by A. Judge, 2026-11-30, frames salvaged (curves)", "\n+4 ", "What holds: from", "same verdict in", "Marked with the labels in sight: −1 to +2."} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("lacks %q:\n%s", want, b.String())
		}
	}
}

// All of the plot stands in it, at small and large sizes, with many views.
func TestAllStandsInThePlot(t *testing.T) {
	r := judged(t, 99)
	res := blind.Of(r, &r.Blind[0])
	for _, size := range [][2]float64{{700, 320}, {1100, 460}, {2000, 800}} {
		list := Draw(res, r.Marks[0].Range, DarkLook(), size[0], size[1])
		marks := 0
		for _, m := range list.Marks {
			switch m := m.(type) {
			case drawing.Dot:
				marks++
				if m.At.X < 0 || m.At.X > size[0] || m.At.Y < 0 || m.At.Y > size[1]-60 {
					t.Errorf("%v: a verdict at %v", size, m.At)
				}
			case drawing.Text:
				if m.At.Y > size[1]-4 || m.At.Y < 8 {
					t.Errorf("%v: %q at %v", size, m.S, m.At)
				}
			}
		}
		if marks < 12 {
			t.Errorf("%v: only %d verdicts are drawn", size, marks)
		}
	}
	if dir := os.Getenv("STOPLADDER_LOOK"); dir != "" {
		img := image.NewRGBA(image.Rect(0, 0, 1100, 560))
		Draw(res, r.Marks[0].Range, DarkLook(), 1100, 560).Paint(paint.New(img, 1), img.Rect)
		f, err := os.Create(filepath.Join(dir, "blind.png"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := png.Encode(f, img); err != nil {
			t.Fatal(err)
		}
	}
}
