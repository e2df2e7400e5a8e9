package report

import (
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/assets"
)

// picture is a made-up scan of three fields at a gain, with a little noise.
func picture(gain float64) *scan.Pixels {
	const w, h = 360, 240
	px := &scan.Pixels{Header: scan.Info{Path: "x", Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3}, Pix: make([]uint16, 3*w*h)}
	rng := rand.New(rand.NewPCG(3, 3))
	for i := range px.Pix {
		level := [3]float64{9000, 30000, 55000}[i/3%w*3/w]
		px.Pix[i] = uint16(math.Min(65535, math.Max(0, level*gain+rng.NormFloat64()*300)))
	}
	return px
}

// measured is a roll of five frames, the first the base: three that are read, one
// that cannot be, and one without a label.
func measured(t *testing.T) *film.Roll {
	t.Helper()
	judged := &roll.Roll{Title: "Made up", Stock: "Invented 100", Marks: []roll.Marks{{Judge: "N. N.", Range: &roll.Range{Lo: -1.25, Hi: 2}}},
		Frames: []roll.Frame{
			{File: "/a/b/base 0.tif", Stop: 0, Origin: roll.FromName, Verdict: roll.Holds, Note: "fine, \"clean\"\nsecond line", SHA256: strings.Repeat("0a", 32)},
			{File: `C:\roll\minus.tif`, Stop: -2, Origin: roll.FromOrder},
			{File: "plus.tif", Stop: 1.0 / 3, Origin: roll.ByHand, Verdict: roll.Breaks},
			{File: "broken.tif", Stop: -1},
			{File: "loose.tif"},
		}}
	r := film.New(judged)
	for i, g := range []float64{1, 0.5, 1.5} {
		l, err := measure.NewLook(context.Background(), picture(g), measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		rel, err := measure.Relate(context.Background(), cmp.Or(r.Frames[0].Look, l), l, measure.Options{})
		if err != nil {
			t.Fatal(err)
		}
		r.Frames[i].Look, r.Frames[i].Relation = l, rel
	}
	r.Frames[3].Err = errors.New("broken.tif is not an image; scan it again")
	r.Frames[4].Look, r.Frames[4].Unlabelled = r.Frames[1].Look, true
	return r
}

func encoded(t *testing.T, r *Report) map[string]any {
	t.Helper()
	var buf bytes.Buffer
	if err := r.EncodeJSON(&buf); err != nil {
		t.Fatal(err)
	}
	validate(t, buf.Bytes())
	var v map[string]any
	if err := json.Unmarshal(buf.Bytes(), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func validate(t *testing.T, doc []byte) {
	t.Helper()
	raw := assets.Schema("measure-1")
	if raw == nil {
		t.Fatal("no schema measure-1 in assets")
	}
	s, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("measure-1.json", s); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("measure-1.json")
	if err != nil {
		t.Fatal(err)
	}
	inst, err := jsonschema.UnmarshalJSON(bytes.NewReader(doc))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(inst); err != nil {
		t.Error(err)
	}
}

// The contract of the headless command, key by key.
func TestContractKeys(t *testing.T) {
	doc := encoded(t, Build(measured(t), Options{Version: "test"}))
	has := func(v any, keys ...string) {
		t.Helper()
		m, ok := v.(map[string]any)
		if !ok {
			t.Fatalf("%v is no object", v)
		}
		for _, k := range keys {
			if _, ok := m[k]; !ok {
				t.Errorf("no key %q", k)
			}
		}
	}
	has(doc, "schema", "base", "frames")
	if doc["base"] != "base 0.tif" {
		t.Errorf("base %v", doc["base"])
	}
	frames := doc["frames"].([]any)
	if len(frames) != 5 {
		t.Fatalf("%d frames", len(frames))
	}
	var order []any
	for _, f := range frames {
		m := f.(map[string]any)
		order = append(order, m["file"])
		has(m, "file", "stop", "width", "height", "bits", "effectiveBits", "profile", "image", "blown", "blocked", "ceiling", "floor", "bands", "notes", "error", "verdict", "note")
		has(m["bands"], "shadows", "midtones", "highlights")
		if m["error"] != nil || m["stop"] == nil {
			continue
		}
		has(m["profile"], "name", "assumed")
		has(m["image"], "x", "y", "w", "h")
		for _, k := range []string{"blown", "blocked"} {
			has(m[k], "r", "g", "b", "any", "all")
		}
		for _, k := range []string{"ceiling", "floor"} {
			has(m[k], "r", "g", "b")
		}
		for _, b := range []string{"shadows", "midtones", "highlights"} {
			has(m["bands"].(map[string]any)[b], "area", "L", "a", "b", "dL", "da", "db")
		}
	}
	if want := []any{"minus.tif", "broken.tif", "base 0.tif", "plus.tif", "loose.tif"}; !slices.Equal(order, want) {
		t.Errorf("order %v", order)
	}
	base := frames[2].(map[string]any)
	sh := base["bands"].(map[string]any)["shadows"].(map[string]any)
	if sh["dL"] != 0.0 || sh["da"] != 0.0 || sh["db"] != 0.0 {
		t.Errorf("base against itself: %v", sh)
	}
}

// What is null has a reason in notes.
func TestNullHasReason(t *testing.T) {
	r := Build(measured(t), Options{})
	for _, f := range r.Frames {
		null := unread(f) || f.Bands.Shadows == nil || f.Bands.Midtones == nil || f.Bands.Highlights == nil || f.Noisy == nil || f.Stop == nil
		if null && len(f.Notes) == 0 {
			t.Errorf("%s: null without a reason", f.File)
		}
	}
	m := measured(t)
	m.Base = -1
	r = Build(m, Options{})
	if r.Base != nil || len(r.Notes) == 0 {
		t.Error("no base, and no word about it")
	}
	encoded(t, r)
}

func unread(f Frame) bool { return f.Width == nil || f.Ceiling == nil || f.Blown == nil }

// Neither NaN nor an infinity reaches a document.
func TestNoNaN(t *testing.T) {
	m := measured(t)
	e := m.Frames
	nan, inf := math.NaN(), math.Inf(1)
	l := *e[1].Look
	l.Blown.Any, l.Mean.G = nan, inf
	rel := *e[1].Relation
	rel.Noisy, rel.NoiseKnown = &inf, nan
	b := *rel.Bands[measure.Midtones]
	b.A = nan
	rel.Bands[measure.Midtones] = &b
	rel.BandNoise[measure.Shadows] = &nan
	e[1].Look, e[1].Relation = &l, &rel
	m.Judged.Frames[2].Stop = nan
	m.Judged.Marks, m.Judged.NoisyLimit = []roll.Marks{{Range: &roll.Range{Lo: nan, Hi: 1}}}, nan
	r := Build(m, Options{})
	encoded(t, r)
	var buf bytes.Buffer
	if err := r.EncodeCSV(&buf); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"NaN", "Inf"} {
		if strings.Contains(buf.String(), bad) {
			t.Errorf("%s in the table", bad)
		}
	}
	if f := r.Frames[0]; f.Blown != nil || f.Mean != nil || f.Noisy != nil || f.Bands.Midtones != nil || len(f.Notes) < 4 {
		t.Errorf("%+v", f)
	}
}

func TestCSV(t *testing.T) {
	r := Build(measured(t), Options{})
	var buf bytes.Buffer
	if err := r.EncodeCSV(&buf); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(buf.String(), "\r\n") {
		t.Error("RFC 4180 ends lines with CRLF")
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 6 {
		t.Fatalf("%d rows", len(rows))
	}
	col := map[string]int{}
	for i, n := range rows[0] {
		if _, twice := col[n]; twice {
			t.Errorf("column %q twice", n)
		}
		col[n] = i
	}
	for i, f := range r.Frames {
		row := rows[i+1]
		if row[col["file"]] != f.File || row[col["error"]] != str(f.Error) {
			t.Errorf("row %d: %v", i, row)
		}
		if f.Bands.Shadows == nil {
			if row[col["shadows_dLstar"]] != "" {
				t.Error("a cell for what is null")
			}
			continue
		}
		if got, err := strconv.ParseFloat(row[col["shadows_dLstar"]], 64); err != nil || got != f.Bands.Shadows.DL {
			t.Errorf("dL %v, want %v", got, f.Bands.Shadows.DL)
		}
		if got, err := strconv.ParseFloat(row[col["blown_all_fraction"]], 64); err != nil || got != f.Blown.All {
			t.Errorf("blown %v, want %v", got, f.Blown.All)
		}
	}
	// The reader turns the CRLF within quotes into LF.
	if got := rows[3][col["note"]]; got != "fine, \"clean\"\nsecond line" {
		t.Errorf("note %q", got)
	}
}

func TestAssumptionsAreListed(t *testing.T) {
	r := Build(measured(t), Options{})
	all := strings.Join(r.Assumptions, "\n")
	for _, want := range []string{"sRGB", "minus.tif", "registered", "Noisy"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in %s", want, all)
		}
	}
}

// What the roll as a whole told goes to the frames that it is of, whatever their
// order, and nothing that is not a number reaches the document.
func TestTruthInTheDocument(t *testing.T) {
	nan, one, fixed := math.NaN(), 1.02, false
	m := film.New(&roll.Roll{Frames: []roll.Frame{{File: "over.tif", Stop: 1}, {File: "base.tif", Stop: 0}}})
	m.Frames[0].Err, m.Frames[1].Err = errors.New("x"), errors.New("x")
	m.Response = &response.Result{
		Frames: []response.Reading{{MeasuredStop: &one, MeasuredStopError: &nan, Flat: &response.Flat{Light: 0.25, Dark: 0}}, {Reason: "one colour only"}},
		Curve: &response.Curve{LogE: []float64{-1, 0}, Density: [3][]float64{{2, nan}, {2, 1}, {nan, nan}},
			Channels: [3]response.Channel{{Gamma: 1.5, UsefulStops: 4}, {Gamma: 1.6}, {Gamma: math.Inf(1)}}, MidGrey: response.MidGreyMetered},
		Scan:   response.Scan{Fixed: &fixed, Gains: []response.Gain{{Frame: 0, R: 0.5, G: 0.4, B: 0.3}}, Findings: []string{"over.tif was lightened."}},
		Labels: []response.LabelFinding{{Frame: 0, Text: "over.tif is labelled +1 and measures +2."}},
	}
	doc := Build(m, Options{Version: "test"})
	var b bytes.Buffer
	if err := doc.EncodeJSON(&b); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Frames []struct {
			File              string
			MeasuredStop      *float64
			MeasuredStopError *float64
			Flat              *response.Flat
			Notes             []string
		}
		Scan     Scan
		Labels   Labels
		Response *Response
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	base, over := got.Frames[0], got.Frames[1]
	if over.File != "over.tif" || over.MeasuredStop == nil || *over.MeasuredStop != 1.02 || over.MeasuredStopError != nil || over.Flat.Light != 0.25 {
		t.Errorf("over: %+v", over)
	}
	if base.MeasuredStop != nil || !strings.Contains(strings.Join(base.Notes, " "), "one colour only") {
		t.Errorf("base: %+v", base)
	}
	if g := got.Scan.Gains["over.tif"]; *got.Scan.Fixed || g.G != 0.4 || len(got.Scan.Findings) != 1 || len(got.Labels.Findings) != 1 {
		t.Errorf("scan %+v, labels %+v", got.Scan, got.Labels)
	}
	r := got.Response
	if r.R[1] != nil || *r.R[0] != 2 || r.B[0] != nil || *r.Gamma.R != 1.5 || r.Gamma.B != nil || *r.UsefulStops.R != 4 {
		t.Errorf("response %+v", r)
	}
}
