package anew

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
)

// A roll is measured anew into its file, with its marks; one whose scans were only copied
// is not measured, and one with a scan that cannot be read is not saved.
func TestMeasure(t *testing.T) {
	dir := t.TempDir()
	scans, err := simulate.WriteDemo(context.Background(), filepath.Join(dir, "s"), simulate.WriteOptions{Kind: "negative", Size: 320})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "a.stopladder")
	job, err := load.Plan(scans[2:6], load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	job.Roll.Frames[0].Verdict, job.Roll.Frames[0].Note = roll.Strains, "thin"
	job.Roll.SetRange(-1, 1)
	if err := job.Roll.Save(path); err != nil {
		t.Fatal(err)
	}
	events := 0
	measure := func() *roll.Roll {
		t.Helper()
		events = 0
		if err := Measure(context.Background(), path, "1", load.Options{}, func(load.Event) { events++ }); err != nil {
			t.Fatal(err)
		}
		r, problems, err := roll.Load(path)
		if err != nil || len(problems) > 0 {
			t.Fatal(err, problems)
		}
		return r
	}
	r := measure()
	if why := r.Stale("1"); why != "" || events == 0 || r.Frames[0].Note != "thin" || r.Marks[0].Range == nil || r.Frames[0].SHA256 == "" {
		t.Fatalf("stale %q, %d events, %+v", why, events, r)
	}
	later := time.Now().Add(time.Hour).Truncate(time.Second)
	os.Chtimes(scans[2], later, later)
	if r := measure(); events != 0 || r.Readings.Frames[0].Time != later.UTC().Format(time.RFC3339Nano) {
		t.Errorf("a copy was measured (%d events), or its time was not noted: %s", events, r.Readings.Frames[0].Time)
	}
	b, _ := os.ReadFile(scans[2])
	b[len(b)-1] ^= 1
	os.WriteFile(scans[2], b, 0o666)
	was := r.Frames[0].SHA256
	if r := measure(); events == 0 || r.Frames[0].SHA256 == was || r.Stale("1") != "" {
		t.Errorf("another scan was not measured: %d events", events)
	}
	saved, _ := os.ReadFile(path)
	os.WriteFile(scans[3], []byte("no picture"), 0o666)
	if err := Measure(context.Background(), path, "1", load.Options{}, nil); err == nil || !strings.Contains(err.Error(), filepath.Base(scans[3])) {
		t.Errorf("a scan that cannot be read: %v", err)
	}
	if now, _ := os.ReadFile(path); string(now) != string(saved) {
		t.Error("readings of a part took the place of those of the whole")
	}
}
