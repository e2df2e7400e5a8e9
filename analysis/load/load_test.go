package load

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
)

// frameSource is an invented scan: 96 x 64 pixels, codes in a scattered order.
func frameSource(path string, gain int) *scan.Pixels {
	const w, h = 96, 64
	p := &scan.Pixels{Header: scan.Info{Path: path, Format: "TIFF", Width: w, Height: h, Bits: 16, Channels: 3, Orientation: 1}}
	for i := range w * h {
		v := uint16(min(65535, gain*((i/4*7919)%(w*h)+40)))
		p.Pix = append(p.Pix, v, v, v)
	}
	return p
}

func labelledRoll(stops ...float64) *Job {
	job := &Job{Roll: &roll.Roll{}}
	for _, s := range stops {
		job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: "frame", Stop: s, Origin: roll.ByHand})
	}
	job.Roll.Demo = "invented" // no files, so no hashes
	return job
}

func TestOutward(t *testing.T) {
	for _, c := range []struct {
		name  string
		stops []float64
		want  []int
	}{
		{"ladder", []float64{-2, -1, 0, 1, 2, 3}, []int{2, 1, 3, 0, 4, 5}},
		{"two at 0: the first is the base", []float64{0, 0, 1}, []int{0, 1, 2}},
		{"none at 0: the nearest, over before under", []float64{-1, 1, 2}, []int{1, 0, 2}},
		{"one", []float64{3}, []int{0}},
	} {
		if got := outward(labelledRoll(c.stops...)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	job := labelledRoll(0, -1, 0, 2)
	job.Unknown = []bool{true, false, false, false}
	if got, want := outward(job), []int{2, 1, 3, 0}; !slices.Equal(got, want) {
		t.Errorf("a frame without a label comes last: %v, want %v", got, want)
	}
	job = labelledRoll(-1, 0, 1)
	job.Roll.Frames[2].File = "chosen"
	job.Roll.BaseFile = "chosen"
	if got := job.Base(); got != 2 {
		t.Errorf("base %d, want the chosen frame 2", got)
	}
	job.Roll.BaseFile, job.Unknown = "", []bool{true, true, true}
	if got := job.Base(); got != -1 {
		t.Errorf("base %d of a roll without labels, want -1", got)
	}
}

func TestMeasureEvents(t *testing.T) {
	job := labelledRoll(-1, 0, 1, 2)
	broken := errors.New("frame is broken; scan it again")
	opt := Options{Open: func(r *roll.Roll, i int) (scan.Source, error) {
		if i == 2 {
			return nil, broken
		}
		return frameSource("frame", 4+4*i), nil
	}}
	fitted, compared := 0, 0
	seen := map[int][]Kind{}
	var looked []int
	res, err := Measure(t.Context(), job, nil, opt, func(e Event) {
		if e.Kind == Fitted {
			fitted++
		} else if e.Kind == Compared {
			compared++
		} else if e.Kind != Reading {
			seen[e.Frame] = append(seen[e.Frame], e.Kind)
		} else if e.Progress < 0 || e.Progress > 1 {
			t.Errorf("progress %v", e.Progress)
		}
		if e.Kind == Looked && !slices.Contains(looked, e.Frame) {
			looked = append(looked, e.Frame)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if want := []int{1, 0, 3}; !slices.Equal(looked, want) {
		t.Errorf("frames came in the order %v, want %v", looked, want)
	}
	for i, kinds := range seen {
		if i == 2 {
			if !slices.Equal(kinds, []Kind{Failed}) {
				t.Errorf("broken frame: %v", kinds)
			}
			continue
		}
		// Read and related; then again what the roll as a whole, the base
		// frame or the registration made different.
		ok := len(kinds) >= 3 && slices.Equal(kinds[:3], []Kind{Opened, Looked, Related}) && kinds[len(kinds)-1] == Salvaged
		for _, k := range kinds[min(3, len(kinds)):] {
			ok = ok && (k == Looked || k == Registered || k == Related || k == Salvaged)
		}
		if !ok {
			t.Errorf("frame %d: %v", i, kinds)
		}
	}
	if fitted > 1 {
		t.Errorf("fitted %d times", fitted)
	}
	if compared != 1 || res.Comparison == nil {
		t.Errorf("compared %d times", compared)
	}
	if res.Base != 1 || len(res.Frames) != 4 {
		t.Fatalf("base %d, %d frames", res.Base, len(res.Frames))
	}
	if f := res.Failures(); len(f) != 1 || f[0] != broken {
		t.Errorf("failures %v", f)
	}
	for i, e := range res.Frames {
		if (e.Look == nil) != (i == 2) || (e.Relation == nil) != (i == 2) {
			t.Errorf("entry %d: look %v, relation %v, err %v", i, e.Look != nil, e.Relation != nil, e.Err)
		}
	}
}

func TestMeasureCancel(t *testing.T) {
	for _, at := range []Kind{Opened, Reading, Looked, Related} {
		ctx, cancel := context.WithCancel(t.Context())
		opt := Options{Open: func(r *roll.Roll, i int) (scan.Source, error) {
			return struct{ scan.Source }{frameSource("frame", 4+i)}, nil // read by rows, as a file is
		}}
		res, err := Measure(ctx, labelledRoll(0, 1, 2), nil, opt, func(e Event) {
			if e.Kind == at {
				cancel()
			}
		})
		if !errors.Is(err, context.Canceled) || res != nil {
			t.Errorf("cancelled at %d: result %v, error %v", at, res != nil, err)
		}
		cancel()
	}
}

func TestPlan(t *testing.T) {
	dir := t.TempDir()
	touch := func(name, content string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	tif := "II*\x00" + strings.Repeat("\x00", 100)
	a, b := touch("+1.tif", tif), touch("0.tif", tif)
	touch("2under.tif", "not a picture")
	touch("notes.txt", "not a picture either")
	touch(".hidden.tif", tif)

	files := func(j *Job) (out []string) {
		for _, f := range j.Roll.Frames {
			out = append(out, filepath.Base(f.File))
		}
		return
	}
	job, err := Plan([]string{dir}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := files(job), []string{"2under.tif", "0.tif", "+1.tif"}; !slices.Equal(got, want) {
		t.Errorf("a folder gave %v, want %v: what is called a picture stays, to be reported", got, want)
	}
	if job, err = Plan([]string{a, b, dir}, Options{}); err != nil || len(job.Roll.Frames) != 3 {
		t.Errorf("a folder and two of its scans: %v, %v; want each scan once", files(job), err)
	}
	if job, err = Plan([]string{a, b}, Options{Stops: []float64{-1, 2}}); err != nil || job.Roll.Frames[0].Stop != -1 || filepath.Base(job.Roll.Frames[0].File) != "+1.tif" || job.Roll.Frames[0].Origin != roll.ByHand {
		t.Errorf("labels by list: %+v, %v", job, err)
	}

	var call *CallError
	for what, paths := range map[string][]string{
		"no path":          nil,
		"too few stops":    {a, b},
		"roll file among":  {a, filepath.Join(dir, "x.stopladder")},
		"roll file, stops": {filepath.Join(dir, "x.stopladder")},
	} {
		if _, err := Plan(paths, Options{Stops: []float64{0}}); !errors.As(err, &call) {
			t.Errorf("%s: %v, want a *CallError", what, err)
		}
	}
	if _, err := Plan([]string{filepath.Join(dir, "nowhere")}, Options{}); err == nil || errors.As(err, &call) || !strings.Contains(err.Error(), "nowhere") {
		t.Errorf("a folder that is not there: %v", err)
	}
}
