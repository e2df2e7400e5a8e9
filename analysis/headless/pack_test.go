package headless

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/packing"
)

// A pack of scans that are larger than a preview: what the friend measures comes to the
// sender's costs, and the scans' hashes are those of the files.
func TestPreviewsOfARoll(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	dir := t.TempDir()
	paths, err := simulate.WriteDemo(context.Background(), dir, simulate.WriteOptions{Kind: "negative", Size: 2400})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range paths { // three frames do
		if n := filepath.Base(p); !strings.Contains(n, " 0.") && !strings.Contains(n, "1.") {
			os.Remove(p)
		}
	}
	job, err := load.Plan([]string{dir}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	full, err := load.Measure(ctx, job, nil, load.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	made, err := packing.New(full, []byte("{}"), packing.Options{Program: "1", Today: "2026-11-30"})
	if err != nil || len(made.LeftOut) != 0 || made.Frames() != len(full.Frames) {
		t.Fatal(err, made)
	}
	path := filepath.Join(t.TempDir(), "roll"+pack.Ext)
	var b bytes.Buffer
	if err := made.Write(ctx, &b, nil); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	p, err := pack.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	file, err := p.Unpack(ctx, pack.Folder(path), "2026-11-30", nil)
	if err != nil {
		t.Fatal(err)
	}
	job, err = load.Plan([]string{file}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	friend, err := load.Measure(ctx, job, nil, load.Options{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range friend.Frames {
		g := full.Frames[i]
		sum, _, err := roll.Hash(ctx, g.File)
		if err != nil || job.Roll.Frames[i].ScanHash() != sum {
			t.Errorf("%s: hash %s, want %s", g.File, job.Roll.Frames[i].ScanHash(), sum)
		}
		if q := g.Look.Preview; f.Info.Width != q.W || f.Info.Height != q.H || q.Factor < 2 {
			t.Errorf("%s: %d x %d from a preview of %d x %d by %d", g.File, f.Info.Width, f.Info.Height, q.W, q.H, q.Factor)
		}
		worst := 0
		for k, v := range g.Look.Preview.Pix {
			worst = max(worst, int(math.Abs(float64(v)-float64(f.Look.Preview.Pix[k]))))
		}
		if worst > 15 {
			t.Errorf("%s: a code is off by %d", g.File, worst)
		}
	}
	if opinion.Hidden(job.Roll) {
		t.Error("nobody judged, and something is hidden")
	}
}
