package main

import (
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"stopladder/ui"
)

// BenchmarkKey takes the time from a key that steps to another frame to the picture that the
// toolkit paints, in a real window on a virtual display over the roll in the folder
// STOPLADDER_BENCH_ROLL, while the roll is compared and when it is:
//
//	busy-ms, busy-p95-ms  while it is read and compared
//	rest-ms, rest-p95-ms  when that is done
//	measure-s             from the start of the reading to its end, keys included
//
// What the program that sends the keys takes to start is in it, a few milliseconds. The
// display has no graphics card; what it does after the painting is not in it.
func BenchmarkKey(b *testing.B) {
	folder := os.Getenv("STOPLADDER_BENCH_ROLL")
	if folder == "" {
		b.Skip("STOPLADDER_BENCH_ROLL names no folder with a roll to step over")
	}
	var busy, rest []float64
	var took float64
	for b.Loop() {
		s := newScreen(b, 1280, 800)
		trace := filepath.Join(s.home, "trace")
		s.env = append(s.env, "STOPLADDER_TRACE="+trace)
		s.start(1280, 800, folder)
		lines := func() []traced { return readTrace(b, trace) }
		s.wait("a first picture", 60*time.Second, func() bool { return pictures(lines()) > 0 })
		keys := []string{"Up", "Down"}
		press := func(i int) (ms float64, measuring bool) {
			was := lines()
			from := time.Now()
			s.tool("xdotool", "key", keys[i%2])
			for time.Since(from) < 2*time.Second {
				time.Sleep(2 * time.Millisecond)
				now := lines()
				for _, x := range now[len(was):] {
					if x.label != ui.MeasuringTrace && x.label != ui.MeasuredTrace && x.label != lastPicture(was) {
						return float64(x.at-from.UnixNano()) / 1e6, during(now)
					}
				}
			}
			return 0, during(lines()) // the frame is not read yet: no picture to go to
		}
		at := 0
		for i := 0; during(lines()); i++ {
			if ms, on := press(i); ms > 0 && on && i > 3 { // the neighbours are read by then
				busy = append(busy, ms)
			}
			time.Sleep(120 * time.Millisecond)
			at = i
		}
		if at%2 == 0 {
			at++
		}
		time.Sleep(2 * time.Second)
		for i := range 30 {
			if ms, _ := press(at + 1 + i); ms > 0 {
				rest = append(rest, ms)
			}
			time.Sleep(120 * time.Millisecond)
		}
		took += measured(lines())
		s.cmd.Process.Kill()
		s.cmd.Wait()
	}
	for name, ms := range map[string][]float64{"busy": busy, "rest": rest} {
		if len(ms) == 0 {
			b.Fatalf("no key was answered (%s)", name)
		}
		slices.Sort(ms)
		b.ReportMetric(ms[len(ms)/2], name+"-ms")
		b.ReportMetric(ms[len(ms)*95/100], name+"-p95-ms")
		b.ReportMetric(float64(len(ms)), name+"-keys")
	}
	b.ReportMetric(took/float64(b.N), "measure-s")
}

// traced is a line of the trace.
type traced struct {
	at    int64 // nanoseconds
	label string
}

func readTrace(b *testing.B, path string) (out []traced) {
	text, err := os.ReadFile(path)
	if err != nil && !os.IsNotExist(err) {
		b.Fatal(err)
	}
	for _, line := range strings.Split(string(text), "\n") {
		ns, label, ok := strings.Cut(line, " ")
		if t, err := strconv.ParseInt(ns, 10, 64); ok && err == nil {
			out = append(out, traced{t, label})
		}
	}
	return out
}

func pictures(t []traced) (n int) {
	for _, x := range t {
		if x.label != ui.MeasuringTrace && x.label != ui.MeasuredTrace {
			n++
		}
	}
	return n
}

func lastPicture(t []traced) (label string) {
	for _, x := range t {
		if x.label != ui.MeasuringTrace && x.label != ui.MeasuredTrace {
			label = x.label
		}
	}
	return label
}

// during reports whether the roll is being measured.
func during(t []traced) (on bool) {
	for _, x := range t {
		switch x.label {
		case ui.MeasuringTrace:
			on = true
		case ui.MeasuredTrace:
			on = false
		}
	}
	return on
}

// measured is how long it was, in seconds.
func measured(t []traced) float64 {
	var from, to int64
	for _, x := range t {
		switch {
		case x.label == ui.MeasuringTrace && from == 0:
			from = x.at
		case x.label == ui.MeasuredTrace:
			to = x.at
		}
	}
	return float64(to-from) / 1e9
}
