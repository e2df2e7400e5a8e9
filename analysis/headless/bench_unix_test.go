//go:build unix

package headless

import (
	"context"
	"io"
	"os"
	"runtime"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/load"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/show/stills"
	"stopladder/analysis/show/webreport"
)

// BenchmarkOutputs times what is written of the roll in the folder STOPLADDER_BENCH_ROLL
// once it is measured:
//
//	stills-s  sixteen stills of 3840 x 2160 pixels (of eight frames, at two grades)
//	report-s  the page for browsers
//	...-cpu-s the same in seconds of one processor, which a busy machine does not change
//	report-MB its size
//	heap-MB   the most that the collector had in use
func BenchmarkOutputs(b *testing.B) {
	folder := os.Getenv("STOPLADDER_BENCH_ROLL")
	if folder == "" {
		b.Skip("STOPLADDER_BENCH_ROLL names no folder with a roll to time")
	}
	ctx := context.Background()
	job, err := load.Plan([]string{folder}, load.Options{})
	if err != nil {
		b.Fatal(err)
	}
	memory.Bound()
	r, err := load.Measure(ctx, job, nil, load.Options{}, func(load.Event) { memory.Bound() })
	if err != nil {
		b.Fatal(err)
	}
	open := load.Opener(job.Roll, load.Options{})
	most := uint64(0)
	heap := func(int, int) {
		memory.Bound()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapInuse)
	}
	var drawn, paged, cpuDrawn, cpuPaged time.Duration
	size := int64(0)
	for b.Loop() {
		s, err := stills.New(r, stills.Options{Grades: []criteria.Grade{"", criteria.Curves}, Label: stills.Label{Says: stills.Stop}})
		if err != nil {
			b.Fatal(err)
		}
		start, used := time.Now(), cpu()
		if err := s.WriteFolder(ctx, b.TempDir(), "Stopladder", open, nil, heap); err != nil {
			b.Fatal(err)
		}
		drawn += time.Since(start)
		cpuDrawn += cpu() - used
		used = cpu()
		start = time.Now()
		c := &counter{}
		if err := webreport.Write(ctx, c, r, webreport.Options{Version: "1"}, open, heap); err != nil {
			b.Fatal(err)
		}
		paged, size = paged+time.Since(start), c.n
		cpuPaged += cpu() - used
	}
	b.ReportMetric(drawn.Seconds()/float64(b.N), "stills-s")
	b.ReportMetric(paged.Seconds()/float64(b.N), "report-s")
	b.ReportMetric(cpuDrawn.Seconds()/float64(b.N), "stills-cpu-s")
	b.ReportMetric(cpuPaged.Seconds()/float64(b.N), "report-cpu-s")
	b.ReportMetric(float64(size)/(1<<20), "report-MB")
	b.ReportMetric(float64(most)/(1<<20), "heap-MB")
	b.ReportMetric(0, "ns/op")
}

// cpu is the time that this process has had of all processors.
func cpu() time.Duration {
	var u unix.Rusage
	if unix.Getrusage(unix.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// counter counts what is written to it.
type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

var _ io.Writer = (*counter)(nil)
