package plan

import (
	"errors"
	"strings"
	"testing"
)

// Bad input gets one clear sentence that names its field; what was typed stays.
func TestFieldErrors(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Form)
		field  Field
		says   string
	}{
		"zero aperture":   {func(f *Form) { f.Meter = "f/0 1/125" }, FieldMeter, "f/8"},
		"zero time":       {func(f *Form) { f.Meter = "f/8 0 s" }, FieldMeter, "1/125"},
		"ISO 0":           {func(f *Form) { f.ISO = "0" }, FieldISO, "ISO 400"},
		"no ISO":          {func(f *Form) { f.ISO = "" }, FieldISO, "missing"},
		"step 0":          {func(f *Form) { f.Step = "0" }, FieldStep, "1/2"},
		"step negative":   {func(f *Form) { f.Step = "-1" }, FieldStep, "1/2"},
		"step of words":   {func(f *Form) { f.Step = "fine" }, FieldStep, "1/2"},
		"too long":        {func(f *Form) { f.Step = "1/2" }, FieldTo, "15 frames"},
		"one too many":    {func(f *Form) { f.BaseAgain = true }, FieldTo, "9 frames"},
		"late on roll":    {func(f *Form) { f.First = "3" }, FieldTo, "6 frames free"},
		"beyond the roll": {func(f *Form) { f.First = "9" }, FieldFirst, "beyond"},
		"swapped":         {func(f *Form) { f.From, f.To = "4", "-3" }, FieldFrom, "swap"},
		"without base":    {func(f *Form) { f.From = "+1" }, FieldFrom, "base"},
		"under only":      {func(f *Form) { f.To = "-1" }, FieldTo, "base"},
		"not in steps":    {func(f *Form) { f.From = "-1/2" }, FieldFrom, "steps"},
		"no from":         {func(f *Form) { f.From = " " }, FieldFrom, "missing"},
		"far":             {func(f *Form) { f.To = "99" }, FieldTo, "16"},
		"camera":          {func(f *Form) { f.Camera = "pinhole" }, FieldCamera, "leaf"},
		"no camera":       {func(f *Form) { f.Camera = "" }, FieldCamera, "leaf"},
		"many cameras":    {func(f *Form) { f.Camera = "shutter" }, FieldCamera, "more than one"},
		"vary":            {func(f *Form) { f.Vary = "film" }, FieldVary, "shutter"},
		"hold a time":     {func(f *Form) { f.Hold = "1/60" }, FieldHold, "f/8"},
		"hold a number":   {func(f *Form) { f.Vary, f.Hold = "aperture", "f/8" }, FieldHold, "1/60"},
		"hold both":       {func(f *Form) { f.Hold = "f/8 1/60" }, FieldHold, "one"},
		"hold what's not": {func(f *Form) { f.Hold = "f/64" }, FieldHold, "f/22"},
		"hold no time":    {func(f *Form) { f.Vary, f.Hold = "aperture", "1/4000" }, FieldHold, "1/500"},
		"format":          {func(f *Form) { f.Format = "7x7" }, FieldFormat, "6x7"},
		"frames":          {func(f *Form) { f.Frames = "none" }, FieldFrames, "whole number"},
		"first":           {func(f *Form) { f.First = "0" }, FieldFirst, "whole number"},
		"order":           {func(f *Form) { f.Order = "random" }, FieldOrder, "base-first"},
		"reciprocity":     {func(f *Form) { f.Reciprocity = "0.5" }, FieldReciprocity, "1.31"},
		"falling table":   {func(f *Form) { f.Reciprocity = "10=20, 2=3" }, FieldReciprocity, "rise"},
		"shorter":         {func(f *Form) { f.Reciprocity = "10=5" }, FieldReciprocity, "shorter"},
		"correct by what": {func(f *Form) { f.Correct = true }, FieldReciprocity, "exponent"},
		"filter":          {func(f *Form) { f.Filter = "grey" }, FieldFilter, "ND 0.9"},
		"filter in doubt": {func(f *Form) { f.Filter = "ND 3" }, FieldFilter, "3x"},
		"title":           {func(f *Form) { f.Title = "two\nlines" }, FieldTitle, "one line"},
		"stock":           {func(f *Form) { f.Stock = strings.Repeat("x", 300) }, FieldStock, "200"},
		"meter speed":     {func(f *Form) { f.MeterSpeed = "fast" }, FieldMeterSpeed, "ISO 400"},
		"two speeds":      {func(f *Form) { f.Meter, f.MeterSpeed = "EV 14 at ISO 400", "100" }, FieldMeter, "leave one out"},
	} {
		f := form()
		c.change(&f)
		before := f
		_, err := New(f, Generic())
		es := Fields(err)
		if len(es) != 1 {
			t.Errorf("%s: %d errors, want one: %v", name, len(es), err)
			continue
		}
		if f != before {
			t.Errorf("%s: the form was changed", name)
		}
		e := es[0]
		if e.Field != c.field || !strings.Contains(e.Text, c.says) {
			t.Errorf("%s: %s: %s", name, e.Field, e.Text)
		}
		if strings.Contains(e.Text, "\n") || strings.HasSuffix(e.Text, ".") || strings.Contains(e.Text, "%!") {
			t.Errorf("%s: no clean sentence: %q", name, e.Text)
		}
		var one *FieldError
		if !errors.As(err, &one) || one.Field != c.field {
			t.Errorf("%s: %T does not lead to a *FieldError", name, err)
		}
	}
}

// All that is wrong is told at once, each in its place.
func TestAllErrorsAtOnce(t *testing.T) {
	_, err := New(Form{Meter: "f/0 1/60", ISO: "0", Camera: "none", From: "4", To: "-3", Step: "1"}, Generic())
	es := Fields(err)
	for _, f := range []Field{FieldMeter, FieldISO, FieldCamera, FieldFrom} {
		if es.On(f) == "" {
			t.Errorf("nothing is said of %s: %v", f, err)
		}
	}
	if es.On(FieldTo) != "" {
		t.Errorf("too much is said: %v", err)
	}
}

func TestFormats(t *testing.T) {
	// Common practice, no source.
	for name, want := range map[string]int{"6x4.5": 15, "6x4,5": 15, "645": 15, "645-16": 16, "6x6": 12, "6×7": 10, "67": 10, "6x8": 9, "6x9": 8, "6x12": 6, "6x17": 4,
		"35mm": 36, "135-24": 24, "35 mm": 36, "6x7-220": 20, "6x6 on 220": 24, "sheet": 0} {
		if f, err := ParseFormat(name); err != nil || f.Frames != want {
			t.Errorf("%s: %+v, %v; want %d", name, f, err, want)
		}
	}
	for _, f := range Formats() {
		if got, err := ParseFormat(f.Name); err != nil || got != f {
			t.Errorf("%s does not read as itself: %v", f.Name, err)
		}
	}
}

func TestGenericCameras(t *testing.T) {
	for _, c := range Generic() {
		if err := c.Validate(); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
		if got, err := Choose(Generic(), c.Name); err != nil || got.Name != c.Name {
			t.Errorf("%s is not found by its name: %v", c.Name, err)
		}
	}
	c, err := Choose(Generic(), "LEAF  shutter")
	if err != nil || !strings.HasPrefix(c.Name, "leaf") {
		t.Errorf("%v, %v", c.Name, err)
	}
}

// Clicks between the marks have the figures of the standard series.
func TestClicks(t *testing.T) {
	marks := func(clicks Clicks) (out []string) {
		_, as, err := Camera{Name: "x", Times: []string{"1"}, Apertures: []string{"2.8", "4", "5.6", "8", "11", "16", "22"}, ApertureClicks: clicks}.marks()
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range as {
			out = append(out, a.Text)
		}
		return out
	}
	for clicks, want := range map[Clicks]string{
		Marked: "2.8 4 5.6 8 11 16 22",
		Halves: "2.8 3.3 4 4.8 5.6 6.7 8 9.5 11 13 16 19 22",
		Thirds: "2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 22",
	} {
		if got := strings.Join(marks(clicks), " "); got != want {
			t.Errorf("%q: %s", clicks, got)
		}
	}
	_, as, err := Camera{Name: "x", Times: []string{"1"}, Apertures: []string{"8", "11"}, ApertureClicks: Thirds}.marks()
	if err != nil || as[1].Between != "8 and 11, first click" || as[2].Between != "8 and 11, second click" || as[0].Between != "" {
		t.Errorf("%+v, %v", as, err)
	}
	for name, c := range map[string]Camera{
		"no name": {Times: []string{"1"}, Apertures: []string{"8"}}, "no times": {Name: "x", Apertures: []string{"8"}},
		"no apertures": {Name: "x", Times: []string{"1"}}, "zero": {Name: "x", Times: []string{"1"}, Apertures: []string{"0"}},
		"twice": {Name: "x", Times: []string{"1/60", "1/60"}, Apertures: []string{"8"}}, "clicks": {Name: "x", Times: []string{"1"}, Apertures: []string{"8"}, TimeClicks: "many"},
		"dial":     {Name: "x", Times: []string{"500", "250", "125", "60", "30"}, Apertures: []string{"8"}},
		"bad test": {Name: "x", Times: []string{"1/500=1/10"}, Apertures: []string{"8"}}, "lines": {Name: "x\ny", Times: []string{"1"}, Apertures: []string{"8"}},
	} {
		if err := c.Validate(); len(Fields(err)) != 1 {
			t.Errorf("%s: %v", name, err)
		}
	}
}
