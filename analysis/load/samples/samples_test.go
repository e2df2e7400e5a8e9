package samples

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"stopladder/analysis/judge/roll"
)

// The sample shelf is four rolls that are measured, and not written over unless it is
// asked for, nor then where a judge has been at it.
func TestWrite(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long; make test-all runs it")
	}
	dir := filepath.Join(t.TempDir(), "shelf")
	done := 0.0
	o := Options{Size: 260, Program: "t", Progress: func(d float64, words string) {
		if d < done-1e-9 || d > 1 || words == "" {
			t.Errorf("from %g to %g: %q", done, d, words)
		}
		done = d
	}}
	files, err := Write(context.Background(), dir, o)
	if err != nil || len(files) != 4 {
		t.Fatal(files, err)
	}
	stocks, labs, developments := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, f := range files {
		r, problems, err := roll.Load(f)
		if err != nil || len(problems) > 0 {
			t.Fatal(f, err, problems)
		}
		if why := r.Stale("t"); why != "" || r.Readings.Range.Holds == nil && len(r.Readings.Range.Reasons) == 0 || r.Marks[0].Range == nil {
			t.Errorf("%s: stale %q, %+v", f, why, r.Readings.Range)
		}
		stocks[r.Stock], labs[r.Lab], developments[r.Development] = true, true, true
	}
	if len(stocks) != 2 || len(labs) != 2 || len(developments) != 2 {
		t.Errorf("stocks %v, labs %v, developments %v", stocks, labs, developments)
	}
	if _, err := Write(context.Background(), dir, Options{Size: 260, Program: "t"}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("written over without being asked: %v", err)
	}
	r, _, _ := roll.Load(files[0])
	r.Judge().Judge = "A. Judge"
	if err := r.Save(files[0]); err != nil {
		t.Fatal(err)
	}
	before, _ := os.ReadFile(files[0])
	if _, err := Write(context.Background(), dir, Options{Size: 260, Program: "t", Force: true}); err == nil {
		t.Error("a judge's marks were written over")
	}
	if after, _ := os.ReadFile(files[0]); string(after) != string(before) {
		t.Error("a judge's roll file was written over")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Write(ctx, filepath.Join(dir, "other"), Options{Size: 260}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}
