package main

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"stopladder/analysis/demo/charts"
	"stopladder/analysis/demo/scene"
)

// TestRun renders a small courtyard to a file, as go generate does a large one.
func TestRun(t *testing.T) {
	out := filepath.Join(t.TempDir(), "small.slsc")
	if err := run(context.Background(), out, 140, 120, 2); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	r, err := scene.Unpack(b)
	if err != nil {
		t.Fatal(err)
	}
	// Two paths a pixel are noisy: the paving is hit by hundreds of them.
	for _, p := range scene.Places {
		if p.Name != "paving" {
			continue
		}
		full, err := scene.Embedded()
		if err != nil {
			t.Fatal(err)
		}
		if got, want := r.Mean(p)[1], full.Mean(p)[1]; r.W != 140 || r.H != 120 || math.Abs(got/want-1) > 0.1 {
			t.Errorf("%d x %d, the light of the paving is %.3f, want %.3f", r.W, r.H, got, want)
		}
	}
}

func TestPack(t *testing.T) {
	c, err := charts.Leaves(211, 97, 9, 4)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := pack(&b, c.Radiance); err != nil {
		t.Fatal(err)
	}
	got, err := scene.Unpack(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got.Pix {
		if e := math.Abs(math.Log2(float64(v) / float64(c.Pix[i]))); e > 1.0/(2*scene.StepsPerStop)+1e-6 {
			t.Fatalf("value %d is %v, was %v", i, v, c.Pix[i])
		}
	}
}

func FuzzUnpack(f *testing.F) {
	c, _ := charts.Ramp(40, 20, 3)
	var b bytes.Buffer
	_ = pack(&b, c.Radiance)
	f.Add(b.Bytes())
	f.Add([]byte(scene.Magic))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 13 && (b[7]|b[8]|b[11]|b[12] != 0 || b[6] > 3 || b[10] > 3) {
			t.Skip("large pictures only take time")
		}
		r, err := scene.Unpack(b)
		if err == nil && len(r.Pix) != 3*r.W*r.H {
			t.Fatal("wrong size")
		}
	})
}
