package load_test

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/report"
)

// shot is a simulated roll, kept in memory, with a film border, and how often its
// scans were opened.
type shot struct {
	roll   *roll.Roll
	opened map[string]int
	opt    load.Options
}

func simulated(t *testing.T) *shot {
	t.Helper()
	s := &shot{roll: &roll.Roll{Demo: "simulated"}, opened: map[string]int{}} // no files, so no hashes
	demo, err := simulate.NewDemoOf("negative", 384, 256)
	if err != nil {
		t.Fatal(err)
	}
	names, stops := demo.Names(), demo.Stops()
	sources := map[string]scan.Source{}
	for i, stop := range stops {
		if stop < -2 || stop > 2 {
			continue
		}
		s.roll.Frames = append(s.roll.Frames, roll.Frame{File: names[i], Stop: stop, Origin: roll.FromDemo})
		sources[names[i]] = demo.Open(i)
	}
	s.opt = load.Options{Open: func(r *roll.Roll, i int) (scan.Source, error) {
		f := r.Frames[i].File
		s.opened[f]++
		if src := sources[f]; src != nil {
			return src, nil
		}
		return nil, errors.New(f + " is not there")
	}}
	return s
}

func (s *shot) measure(t *testing.T, have *film.Roll) *film.Roll {
	t.Helper()
	clear(s.opened)
	r, err := load.Measure(context.Background(), load.Of(s.roll), have, s.opt, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func readings(t *testing.T, r *film.Roll) string {
	t.Helper()
	var b bytes.Buffer
	if err := report.Build(r, report.Options{Version: "test"}).EncodeJSON(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Whatever changes, a roll that is measured again gives the readings of one that is
// measured from nothing, to the byte. Read from left to right the changes are those
// of a judge at work; each is made of what the one before left. Where the next change
// leaves standing what this one made, the two are held against nothing together; one by
// one with STOPLADDER_ALL_ROLLS=1.
func TestMeasuredAgainIsMeasuredAlike(t *testing.T) {
	s := simulated(t)
	area := &roll.Area{X: 48, Y: 40, W: 240, H: 160}
	r := s.measure(t, nil)
	for _, c := range []struct {
		name   string
		change func(r *roll.Roll)
		reads  bool // scans must be opened for it
		stands bool // until after the next change
	}{
		{"nothing", func(r *roll.Roll) {}, false, true},
		{"an area by hand", func(r *roll.Roll) { r.Frames[1].Area = area }, true, false},
		{"a verdict", func(r *roll.Roll) { r.Frames[1].Verdict = roll.Holds }, false, true},
		{"a placing", func(r *roll.Roll) { r.Frames[0].Placed = &roll.Placement{DX: 3, DY: -2, Rotation: 0.1, Scale: 1} }, false, true},
		{"a label", func(r *roll.Roll) { r.Frames[0].Stop = -2.5 }, false, false},
		{"another base", func(r *roll.Roll) { r.BaseFile = r.Frames[3].File }, true, false},
		{"back to the first base", func(r *roll.Roll) { r.BaseFile = "" }, false, false},
		{"no area", func(r *roll.Roll) { r.Frames[1].Area = nil }, false, true},
		{"no placing", func(r *roll.Roll) { r.Frames[0].Placed = nil }, false, false},
		{"a limit of noise", func(r *roll.Roll) { r.NoisyLimit = 1.5 }, false, false},
		{"a profile of scans without one", func(r *roll.Roll) { r.AssumedProfile = "Linear sRGB" }, true, false},
		{"an order", func(r *roll.Roll) { r.Frames[0].Stop, r.Frames[4].Stop = 2, -2; r.Sort() }, false, true},
		{"a frame less", func(r *roll.Roll) { r.Frames = r.Frames[:4] }, false, false},
		{"a frame that is not there", func(r *roll.Roll) { r.Frames = append(r.Frames, roll.Frame{File: "lost", Stop: 3}) }, false, true},
		{"a patch", func(r *roll.Roll) { r.Patches = []roll.Patch{{Name: "wall", X: 160, Y: 120, R: 8}} }, false, false},
	} {
		s.roll = s.roll.Clone()
		c.change(s.roll)
		r = s.measure(t, r)
		if opened := len(s.opened) > 0; opened && !c.reads && s.opened["lost"] == 0 {
			t.Errorf("%s: scans were read again: %v", c.name, s.opened)
		}
		got := readings(t, r)
		if !c.stands || os.Getenv("STOPLADDER_ALL_ROLLS") != "" {
			if want := readings(t, s.measure(t, nil)); got != want {
				t.Fatalf("after %s the readings are others than from nothing: %s", c.name, differ(got, want))
			}
		}
		if with := readings(t, r.With(s.roll)); with != got {
			t.Fatalf("after %s the same judgement gives other readings: %s", c.name, differ(with, got))
		}
	}
}

// A scan that is to be read again is read, and no other.
func TestReadAgainReadsOneScan(t *testing.T) {
	s := simulated(t)
	r := s.measure(t, nil)
	want := readings(t, r)
	file := s.roll.Frames[2+rand.IntN(2)].File
	again := s.measure(t, r.Without(file))
	if s.opened[file] == 0 || readings(t, again) != want {
		t.Errorf("opened %v", s.opened)
	}
	for f := range s.opened {
		if f != file {
			t.Errorf("%s was opened for %s", f, file)
		}
	}
}

// What is shown of Noisy while a roll is read does not change when it is read: a frame by
// itself takes texture for noise.
func TestNoisyIsToldOnce(t *testing.T) {
	s := simulated(t)
	shown := map[int]float64{}
	r, err := load.Measure(context.Background(), load.Of(s.roll), nil, s.opt, func(e load.Event) {
		if e.Kind != load.Related {
			return
		}
		rel := e.Roll.Frames[e.Frame].Relation
		for _, note := range rel.Notes {
			if strings.HasPrefix(note, "Noise") {
				t.Errorf("frame %d: %q is said of noise that is yet to be told", e.Frame, note)
			}
		}
		if rel.Noisy != nil {
			if was, ok := shown[e.Frame]; ok && was != *rel.Noisy {
				t.Errorf("frame %d was shown with %v Noisy, and then with %v", e.Frame, was, *rel.Noisy)
			}
			shown[e.Frame] = *rel.Noisy
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(shown) != len(s.roll.Frames) {
		t.Errorf("noise is told of %d frames", len(shown))
	}
	for i, f := range r.Frames {
		if f.Relation.NoiseLater || f.Relation.Noisy == nil || *f.Relation.Noisy != shown[i] {
			t.Errorf("frame %d ends with %v Noisy, %v was shown", i, f.Relation.Noisy, shown[i])
		}
	}
}

// differ shows the first place where two texts differ.
func differ(a, b string) string {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			from := max(0, i-200)
			return a[from:min(len(a), i+120)] + "\n--- against ---\n" + b[from:min(len(b), i+120)]
		}
	}
	return "one ends early"
}

// A roll that an event hands over does not change any more, however the measurement goes
// on: the window draws it meanwhile. The marks of frames were once written into it.
func TestRollsOfEventsStay(t *testing.T) {
	s := simulated(t)
	type handed struct {
		kind   load.Kind
		roll   *film.Roll
		frames []film.Frame
		fitted []response.Frame
	}
	var all []handed
	if _, err := load.Measure(t.Context(), load.Of(s.roll), nil, s.opt, func(e load.Event) {
		if e.Roll != nil {
			all = append(all, handed{e.Kind, e.Roll, slices.Clone(e.Roll.Frames), slices.Clone(e.Roll.Fitted)})
		}
	}); err != nil {
		t.Fatal(err)
	}
	fitted := 0
	for _, h := range all {
		if len(h.fitted) > 0 {
			fitted++
		}
		if !slices.Equal(h.fitted, h.roll.Fitted) || !reflect.DeepEqual(h.frames, h.roll.Frames) {
			t.Errorf("the roll of an event of kind %v changed afterwards", h.kind)
		}
	}
	if fitted == 0 {
		t.Error("no event had fitted frames")
	}
}
