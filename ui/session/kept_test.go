package session

import (
	"path/filepath"
	"testing"

	"stopladder/analysis/judge/roll"
)

// A roll that is saved once it is measured keeps its readings; one whose labels were
// changed since keeps none that fit, until it is measured again; marks leave them alone.
func TestSavedRollsKeepTheirReadings(t *testing.T) {
	d := demo(t, "negative")
	d.opt.Program = "9.9.9"
	path := filepath.Join(t.TempDir(), "a.stopladder")
	save := func() *roll.Roll {
		t.Helper()
		r := d.Keeping()
		if err := r.Save(path); err != nil {
			t.Fatal(err)
		}
		d.do(Saved{Roll: r})
		got, problems, err := roll.Load(path)
		if err != nil || len(problems) > 0 {
			t.Fatal(err, problems)
		}
		return got
	}
	r := save()
	if why := r.Stale("9.9.9"); why != "" {
		t.Fatalf("after saving %s", why)
	}
	if d.Unsaved() {
		t.Error("the readings that were saved count as unsaved work")
	}
	if k := r.Readings; k.Response == nil || k.Noise == nil || k.Range.Holds == nil || len(k.Frames) != len(r.Frames) || k.Frames[0].Time == "" || k.Frames[0].Curves == nil {
		t.Errorf("readings are not whole: %+v", k)
	}
	d.do(SetVerdict{0, roll.Breaks})
	d.do(Undo{})
	if d.Unsaved() {
		t.Error("a mark that was taken back is unsaved work")
	}
	d.do(SetLabels{Name: "labels", Stops: map[string]float64{r.Frames[0].File: -2.5}, Origin: roll.ByHand})
	if !d.reading.on {
		t.Fatal("it is not measured anew")
	}
	if save().Stale("9.9.9") == "" {
		t.Error("readings of another label count as fresh")
	}
	d.settle() // the readings follow when they are known
	got, _, err := roll.Load(path)
	if err != nil || got.Stale("9.9.9") != "" {
		t.Errorf("after the measuring: %v, %s", err, got.Stale("9.9.9"))
	}
}
