package against

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/shelf"
	"stopladder/assets"
)

func is(v float64) *float64 { return &v }

// made is a roll with readings that were made up: a straight response of a slope, ends of a
// range with an error.
func made(name string, change func(r *roll.Roll, k *kept.Readings)) Roll {
	k := &kept.Readings{Program: "t", Viewing: 2000, Limits: criteria.Default(),
		Response: &kept.Response{MidGrey: "metered", First: -1.8, Step: 0.04}, Noise: &kept.Noise{},
		Costs: &kept.Costs{Values: map[string]kept.Samples{}, Errors: map[string]kept.Samples{}},
		Range: kept.Range{Holds: &kept.Ends{Lo: kept.End{Stop: -1, Error: 0.1, By: "noise"}, Hi: kept.End{Stop: 2, Error: 0.1, By: "lostArea"}},
			Strains: &kept.Ends{Lo: kept.End{Stop: -2, Error: 0.1, By: "noise"}, Hi: kept.End{Stop: 4, Open: true}}}}
	slope(k, 1.5)
	for s := -6.0; s <= 4; s += 0.5 {
		k.Noise.Stops, k.Noise.L, k.Noise.Error = append(k.Noise.Stops, s), append(k.Noise.L, 1), append(k.Noise.Error, 0.03)
	}
	for s := -3.0; s <= 4; s += 0.25 {
		k.Costs.Stops = append(k.Costs.Stops, s)
		for _, c := range criteria.All() {
			k.Costs.Values[c.Key()], k.Costs.Errors[c.Key()] = append(k.Costs.Values[c.Key()], is(math.Abs(s)/10)), append(k.Costs.Errors[c.Key()], is(0.01))
		}
	}
	r := &roll.Roll{Stock: "invented 100", Scene: "yard", Metering: "incident", Development: "as rated", Lab: "north", Scanner: "drum"}
	if change != nil {
		change(r, k)
	}
	r.Readings = k
	return Roll{Name: name, Path: "/x/" + name + roll.Ext, Roll: r, Readings: k}
}

func slope(k *kept.Readings, g float64) {
	for c := range 3 {
		k.Response.Density[c], k.Response.Error[c] = nil, nil
		for i := range 91 {
			x := k.Response.First + k.Response.Step*float64(i)
			k.Response.Density[c] = append(k.Response.Density[c], is(0.745-g*x))
			k.Response.Error[c] = append(k.Response.Error[c], is(0.005))
		}
	}
}

func compare(t testing.TB, rolls ...Roll) *Result {
	t.Helper()
	r, err := Compare(rolls, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func has(t *testing.T, r *Result, g Group, want ...string) {
	t.Helper()
	all := strings.Join(r.Sentences(g), "\n")
	for _, w := range want {
		if !strings.Contains(all, w) {
			t.Errorf("%s does not say %q:\n%s", g, w, all)
		}
	}
}

func TestRollsThatAreTheSame(t *testing.T) {
	r := compare(t, made("a", nil), made("b", nil))
	if r.Apart() != 0 || r.Tried < 40 {
		t.Errorf("%d of %d figures differ", r.Apart(), r.Tried)
	}
	has(t, r, Ranges, "Under, what holds is the same within 0.2 stop.", "Over, what is usable with work goes to the last frame in all of them")
	has(t, r, Response, "The contrast about mid-grey in green is the same within 0.0")
	if r.Spread == nil || !strings.Contains(strings.Join(r.Held(), " "), "one test made again") {
		t.Errorf("nothing varied, and it is no test made again: %v", r.Held())
	}
	for _, s := range r.Spread {
		if !s.Covered() || s.Spread != 0 {
			t.Errorf("%+v", s)
		}
	}
}

// What is told is told by the right roll, whichever is named first.
func TestDifferencesAreTold(t *testing.T) {
	b := made("b", func(r *roll.Roll, k *kept.Readings) {
		r.Stock = "other 400"
		k.Range.Holds.Hi.Stop, k.Range.Holds.Lo.Stop = 2.67, -1.03
		k.Range.Strains.Lo.Stop = -2.75
		slope(k, 1.2)
		for i := range k.Noise.L {
			k.Noise.L[i] = 1.5
		}
	})
	for _, rolls := range [][]Roll{{made("a", nil), b}, {b, made("a", nil)}} {
		r := compare(t, rolls...)
		has(t, r, Ranges, "b holds further over than a by ⅔ stop (+2.67 against +2.00, ± 0.14).", "Under, what holds is the same within 0.2 stop.",
			"b is usable with work further under than a by ¾ stop (−2.75 against −2.00, ± 0.14).")
		has(t, r, Response, "a is steeper about mid-grey in green than b (1.50 against 1.20", "b draws shadows further below mid-grey than a", "b draws lights further above mid-grey than a")
		has(t, r, Noise, "b shows more noise in the base frame than a at −4, −2, 0 and +2 (at −4: 1.50 L* against 1.00 L*, ± 0.08 L*)")
		if s := strings.Join(r.Held(), " "); !strings.Contains(s, "varied: film stock (") || !strings.Contains(s, "what differs is of the stocks") {
			t.Error(s)
		}
		if r.Spread != nil {
			t.Error("another stock is a test made again")
		}
	}
}

// An end that a roll does not reach is a bound: beyond it nothing is told.
func TestOpenEnds(t *testing.T) {
	open := func(at float64) func(*roll.Roll, *kept.Readings) {
		return func(_ *roll.Roll, k *kept.Readings) {
			k.Range.Holds.Hi = kept.End{Stop: at, Open: true}
			k.Range.Holds.Lo = kept.End{Stop: -at, Open: true}
		}
	}
	ends := func(lo, hi float64) func(*roll.Roll, *kept.Readings) {
		return func(_ *roll.Roll, k *kept.Readings) {
			k.Range.Holds.Lo.Stop, k.Range.Holds.Hi.Stop = lo, hi
		}
	}
	r := compare(t, made("wide", open(3)), made("narrow", ends(-1, 1)))
	has(t, r, Ranges, "wide holds further over than narrow by at least 2 stops (at least +3.00 against +1.00", "wide holds further under than narrow by at least 2 stops")
	r = compare(t, made("short", open(1)), made("far", ends(-3, 3)))
	for _, s := range r.Sentences(Ranges) {
		if strings.Contains(s, "further over") || strings.Contains(s, "holds further under") {
			t.Errorf("a roll that ends for want of frames is told to hold less: %s", s)
		}
	}
}

func TestWhatVaried(t *testing.T) {
	change := func(f func(r *roll.Roll)) Roll { return made("b", func(r *roll.Roll, _ *kept.Readings) { f(r) }) }
	for _, c := range []struct {
		b       Roll
		held    string
		warning string
	}{
		{change(func(r *roll.Roll) { r.Lab = "south"; r.Scanner = "line" }), "One film by lab and scanner: what differs is of developing and scanning", ""},
		{change(func(r *roll.Roll) { r.Stock = "other" }), "One test on several film stocks", ""},
		{change(func(r *roll.Roll) { r.Development = "pushed" }), "One stock developed in several ways", ""},
		{change(func(r *roll.Roll) { r.Stock = "other"; r.Lab = "south" }), "cannot be put down to one of them", ""},
		{change(func(r *roll.Roll) { r.Scene = "shore" }), "Only the scene varied", "The scenes differ (yard; shore)"},
		{change(func(r *roll.Roll) { r.Metering = "spot" }), "Only the metering varied", "The metering differs"},
		{change(func(r *roll.Roll) { r.Stock = "other"; r.Lab = "" }), "as far as lab did not vary, which is not noted", ""},
		{change(func(r *roll.Roll) { r.Scene = "" }), "may be of what is not noted (scene)", "Whether it was one scene is not noted"},
		{change(func(r *roll.Roll) { r.Lab = " NORTH " }), "one test made again", ""},
	} {
		r := compare(t, made("a", nil), c.b)
		if s := strings.Join(r.Held(), " "); !strings.Contains(s, c.held) {
			t.Errorf("%s\nis not told: %s", c.held, s)
		}
		if c.warning != "" && !strings.Contains(strings.Join(r.Warnings, " "), c.warning) {
			t.Errorf("no warning %q: %v", c.warning, r.Warnings)
		}
	}
}

// Ranges and costs by other limits, noise at another scale, are not compared.
func TestWhatDoesNotCompare(t *testing.T) {
	strict, _ := criteria.ByName("archive")
	r := compare(t, made("a", nil), made("b", func(_ *roll.Roll, k *kept.Readings) { k.Limits = strict; k.Viewing = 1000; no := false; k.Fixed = &no }))
	for _, g := range []Group{Ranges, Costs, Noise} {
		if s := r.Sentences(g); len(s) > 0 {
			t.Errorf("%s is compared: %v", g, s)
		}
	}
	w := strings.Join(r.Warnings, " ")
	for _, want := range []string{"different limits", "viewing scale", "not scanned alike"} {
		if !strings.Contains(w, want) {
			t.Errorf("no warning of %s: %s", want, w)
		}
	}
}

// Nothing is ranked that is not told apart: neighbours that differ by less than their
// errors are in no order, though the ends of the chain differ.
func TestNoRankAmongTheAlike(t *testing.T) {
	var rolls []Roll
	for i := range 5 {
		rolls = append(rolls, made(string(rune('p'+i)), func(_ *roll.Roll, k *kept.Readings) { k.Range.Holds.Hi.Stop = 2 + 0.12*float64(i) }))
	}
	r := compare(t, rolls...)
	all := strings.Join(r.Sentences(Ranges), "\n")
	for i := range 4 {
		if s := fmt.Sprintf("%s holds further over than %s ", Letter(i+1), Letter(i)); strings.Contains(all, s) {
			t.Errorf("neighbours are ranked: %s", s)
		}
	}
	if !strings.Contains(all, "E holds further over than A by") || !strings.Contains(all, "Over, what holds: no other two can be told apart.") {
		t.Error(all)
	}
}

func TestRepeatedFrames(t *testing.T) {
	a := made("a", func(_ *roll.Roll, k *kept.Readings) {
		for _, f := range []struct{ stop, measured float64 }{{-1, -1.02}, {0, 0}, {0, 0.06}, {1, 1}} {
			k.Frames = append(k.Frames, kept.Frame{File: "f", Stop: is(f.stop), Measured: is(f.measured), MeasuredError: is(0.01), Curves: &kept.Cost{DeltaE: is(0.4)}})
		}
	})
	r := compare(t, a, made("b", nil))
	if len(r.Repeats) != 1 || r.Repeats[0].Frames != 2 || math.Abs(r.Repeats[0].Spread-2*0.06/math.Sqrt2) > 1e-9 || math.Abs(r.Repeats[0].Stated-0.02) > 1e-9 {
		t.Errorf("%+v", r.Repeats)
	}
	if s := strings.Join(RepeatedWords(r), " "); !strings.Contains(s, "a has 2 frames at 0") {
		t.Error(s)
	}
}

func TestBadCalls(t *testing.T) {
	if _, err := Compare([]Roll{made("a", nil)}, Options{}); err == nil {
		t.Error("one roll is compared")
	}
	var many []Roll
	for range 13 {
		many = append(many, made("a", nil))
	}
	if _, err := Compare(many, Options{}); err == nil {
		t.Error("thirteen rolls are compared")
	}
	if _, err := Take(&shelf.Entry{Roll: &roll.Roll{}, Path: "/x/y.stopladder"}); err == nil || !strings.Contains(err.Error(), "keeps no readings") {
		t.Error(err)
	}
	r := compare(t, many[:3]...)
	if r.Rolls[0].Name == r.Rolls[1].Name {
		t.Error("rolls of one name are not told apart")
	}
}

func TestDocumentConforms(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("compare-1")))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("compare-1.json", doc); err != nil {
		t.Fatal(err)
	}
	sch, err := c.Compile("compare-1.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range []Roll{made("b", nil), made("b", func(r *roll.Roll, k *kept.Readings) {
		*k = kept.Readings{Program: "t", Limits: criteria.Default()}
		*r = roll.Roll{}
	}),
		made("b", func(r *roll.Roll, k *kept.Readings) { slope(k, 1); r.Lab = "<&>" })} {
		var out bytes.Buffer
		if err := compare(t, made("a", nil), b).Documented("t").EncodeJSON(&out); err != nil {
			t.Fatal(err)
		}
		var v any
		if err := json.Unmarshal(out.Bytes(), &v); err != nil {
			t.Fatal(err)
		}
		if err := sch.Validate(v); err != nil {
			t.Errorf("%v\n%s", err, out.Bytes())
		}
	}
}

// BenchmarkTwelve compares twelve rolls and writes what it comes to; it is to take less than
// a second.
func BenchmarkTwelve(b *testing.B) {
	var rolls []Roll
	for i := range Most {
		rolls = append(rolls, made(fmt.Sprint("roll ", i), func(_ *roll.Roll, k *kept.Readings) {
			slope(k, 1+0.1*float64(i))
			k.Range.Holds.Hi.Stop = 1 + 0.3*float64(i)
		}))
	}
	for range b.N {
		r := compare(b, rolls...)
		if len(r.Documented("t").Differences) == 0 {
			b.Fatal("nothing differs")
		}
	}
}
