//go:build unix

package publish_test

import (
	"context"
	"io"
	"os"
	"runtime"
	"syscall"
	"testing"

	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/publish"
)

// BenchmarkSheet writes sheets 6000 pixels wide from a roll that is measured already:
// STOPLADDER_BENCH_ROLL is a folder of scans. It reports the peak of the heap as well.
func BenchmarkSheet(b *testing.B) {
	dir := os.Getenv("STOPLADDER_BENCH_ROLL")
	if dir == "" {
		b.Skip("set STOPLADDER_BENCH_ROLL to a folder of scans")
	}
	r, src := measured(b, dir)
	for _, a := range plate.Arrangements() {
		for _, f := range []publish.Format{publish.FormatPNG, publish.FormatPDF} {
			b.Run(string(a)+"/"+string(f), func(b *testing.B) {
				runtime.GC()
				from := cpu()
				for b.Loop() {
					s := &publish.Sheet{Roll: r, Open: src.Open, Options: plate.Options{Arrangement: a, Width: 6000}, Format: f, Software: program}
					if err := s.Write(context.Background(), io.Discard); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric((cpu()-from)/float64(b.N), "cpu-s/op") // what a busy machine does not change
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				b.ReportMetric(float64(m.HeapSys)/(1<<20), "MiB-heap")
			})
		}
	}
}

// cpu returns the processor time of this process, seconds.
func cpu() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
