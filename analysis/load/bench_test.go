package load

import (
	"context"
	"os"
	"testing"
	"time"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// BenchmarkRoll times the opening of the roll in the folder STOPLADDER_BENCH_ROLL
// against a first look at each of its scans, turn and turn about:
//
//	first-s    until the first picture
//	all-s      until every frame has its picture and its readings beside the base
//	looks-s    a first look at every scan, one after the other
//	all/looks  the ratio, whose limit is 1.3
//	whole-s    the whole analysis: registration, response, noise, salvage and range
//	rest-s     what of it is not reading scans
func BenchmarkRoll(b *testing.B) {
	folder := os.Getenv("STOPLADDER_BENCH_ROLL")
	if folder == "" {
		b.Skip("STOPLADDER_BENCH_ROLL names no folder with a roll to time")
	}
	var first, all, looks, whole, rest time.Duration
	for b.Loop() {
		job, err := Plan([]string{folder}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		start := time.Now()
		for _, f := range job.Roll.Frames {
			src, err := scan.Open(f.File, scan.DefaultBounds)
			if err != nil {
				b.Fatal(err)
			}
			if _, err := measure.NewLook(context.Background(), src, measure.Options{}); err != nil {
				b.Fatal(err)
			}
		}
		looks += time.Since(start)
		start = time.Now()
		looked, related := map[int]bool{}, map[int]bool{}
		var read time.Time
		_, err = Measure(context.Background(), job, nil, Options{}, func(e Event) {
			switch e.Kind {
			case Looked:
				if len(looked) == 0 {
					first += time.Since(start)
				}
				looked[e.Frame] = true
			case Related:
				if related[e.Frame] = true; len(related) == len(job.Roll.Frames) && read.IsZero() {
					read = time.Now()
					all += read.Sub(start)
				}
			}
		})
		if err != nil {
			b.Fatal(err)
		}
		whole += time.Since(start)
		rest += time.Since(read)
	}
	n := float64(b.N)
	b.ReportMetric(first.Seconds()/n, "first-s")
	b.ReportMetric(all.Seconds()/n, "all-s")
	b.ReportMetric(looks.Seconds()/n, "looks-s")
	b.ReportMetric(all.Seconds()/looks.Seconds(), "all/looks")
	b.ReportMetric(whole.Seconds()/n, "whole-s")
	b.ReportMetric(rest.Seconds()/n, "rest-s")
}

// BenchmarkSteps times the steps of the analysis of the roll in the folder
// STOPLADDER_BENCH_ROLL one by one, in seconds. What the truth of a roll takes
// (registration, measured stops and response) and what salvage takes have a limit of
// 3 s each for eight frames.
func BenchmarkSteps(b *testing.B) {
	folder := os.Getenv("STOPLADDER_BENCH_ROLL")
	if folder == "" {
		b.Skip("STOPLADDER_BENCH_ROLL names no folder with a roll to time")
	}
	took := map[string]time.Duration{}
	for b.Loop() {
		job, err := Plan([]string{folder}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		ctx := context.Background()
		for _, step := range newRunner(job, nil, Options{}, nil).steps() {
			start := time.Now()
			if err := step.do(ctx); err != nil {
				b.Fatal(err)
			}
			took[step.name] += time.Since(start)
		}
	}
	for name, d := range took {
		b.ReportMetric(d.Seconds()/float64(b.N), name+"-s")
	}
}
