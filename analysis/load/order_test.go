package load

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
)

// The offered order of scans without labels goes by how light they are, whatever their
// names say; of negatives that were not turned positive, which are orange all over, the
// other way, and they are called that.
func TestOrderByLight(t *testing.T) {
	for _, negative := range []bool{false, true} {
		job := &Job{Roll: &roll.Roll{Demo: "invented"}}
		gains := []int{8, 2, 4, 1} // a.tif is the lightest
		for i := range gains {
			job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: fmt.Sprintf("%c.tif", 'a'+i)})
			job.Unknown = append(job.Unknown, true)
		}
		opt := Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) {
			p := frameSource("frame", gains[i])
			for k := range p.Pix {
				if negative {
					p.Pix[k] = uint16(int(p.Pix[k]) * []int{100, 62, 38}[k%3] / 100)
				}
			}
			return p, nil
		}}
		looks, err := job.OrderByLight(t.Context(), opt, nil)
		if err != nil || len(looks) != 4 || looks[0] == nil {
			t.Fatal(err)
		}
		want := []float64{2, 0, 1, -1}
		if negative {
			want = []float64{-1, 1, 0, 2}
		}
		p := job.Proposal
		if p == nil || !slices.Equal(p.Stops, want) {
			t.Errorf("negative %v: %+v, want %v", negative, p, want)
			continue
		}
		for i := range want {
			if p.Reverse[i] != 1-p.Stops[i] { // of -1..+2
				t.Errorf("turned round, %d: %v", i, p.Reverse)
			}
		}
		if strings.Contains(p.Question, "not turned positive") != negative {
			t.Error(p.Question)
		}
		// The commands say the order and how to take it, and take none by themselves.
		m, err := Measure(t.Context(), job, nil, opt, nil)
		if err != nil {
			t.Fatal(err)
		}
		list := "--stops=+2,+0,+1,-1"
		if negative {
			list = "--stops=-1,+1,+0,+2"
		}
		if !strings.Contains(strings.Join(m.Notes, " "), list) || m.Base != -1 {
			t.Errorf("base %d, %q", m.Base, m.Notes)
		}
	}
}

// Grey scans do not show whether they are positives: the offer says so, and what to do
// if they are not.
func TestOrderOfGreyScans(t *testing.T) {
	for _, channels := range []int{1, 3} {
		job := &Job{Roll: &roll.Roll{Demo: "invented"}}
		for i := range 3 {
			job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: fmt.Sprintf("%c.tif", 'a'+i)})
			job.Unknown = append(job.Unknown, true)
		}
		opt := Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) {
			p := frameSource("frame", 1<<i)
			for k := range p.Pix {
				p.Pix[k] = p.Pix[k/3*3]
			}
			p.Header.Channels = channels
			return p, nil
		}}
		if _, err := job.OrderByLight(t.Context(), opt, nil); err != nil {
			t.Fatal(err)
		}
		if p := job.Proposal; p == nil || !strings.Contains(p.Question, "turn the order round") || !strings.Contains(p.Question, "inverted") {
			t.Errorf("%d channels: %+v", channels, p)
		}
	}
}

// One file under two labels is told by its content.
func TestSameFile(t *testing.T) {
	dir := t.TempDir()
	data, err := os.ReadFile("../../testdata/rolls/tripod/garden 0.png")
	if err != nil {
		t.Fatal(err)
	}
	other, err := os.ReadFile("../../testdata/rolls/tripod/garden +1.png")
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"0.png": data, "+1.png": other, "+2.png": other} {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	job, err := Plan([]string{dir}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := Measure(t.Context(), job, nil, Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(m.Notes, " "); !strings.Contains(all, "+1.png, +2.png are one and the same file (by its content) under the labels +1, +2") {
		t.Errorf("%q", m.Notes)
	}
}
