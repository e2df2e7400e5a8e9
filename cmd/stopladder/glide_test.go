package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// BenchmarkGlide drags the marker along the axis of a real window on a virtual
// display, over the roll in the folder STOPLADDER_BENCH_ROLL, and counts the pictures
// between the frames that the toolkit takes to paint:
//
//	pictures/s  over the whole drag
//	worst-ms    the longest time between two of them, of a hundred the second longest
//
// The display has no graphics card: the toolkit draws the window on the same
// processors that make the pictures.
func BenchmarkGlide(b *testing.B) {
	folder := os.Getenv("STOPLADDER_BENCH_ROLL")
	if folder == "" {
		b.Skip("STOPLADDER_BENCH_ROLL names no folder with a roll to glide over")
	}
	for _, size := range [][2]int{{1280, 800}, {2560, 1440}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			s := newScreen(b, size[0], size[1])
			trace := filepath.Join(s.home, "trace")
			s.env = append(s.env, "STOPLADDER_TRACE="+trace)
			s.start(size[0], size[1], folder)
			// Up and down the ladder, three seconds, a move every ten milliseconds.
			const moves, each = 300, 0.01
			x, top, bottom := 45, size[1]*26/100, size[1]*85/100
			glide := func() []string {
				args := []string{"mousemove", fmt.Sprint(x), fmt.Sprint((top + bottom) / 2), "mousedown", "1"}
				for i := range moves {
					way := (i + moves/4) % moves * 2 // up, down
					if way > moves {
						way = 2*moves - way
					}
					args = append(args, "mousemove", fmt.Sprint(x), fmt.Sprint(bottom-way*(bottom-top)/moves), "sleep", fmt.Sprint(each))
				}
				return append(args, "mouseup", "1")
			}()
			between := func() (at []int64) {
				text, _ := os.ReadFile(trace)
				for _, line := range strings.Split(string(text), "\n") {
					ns, label, ok := strings.Cut(line, " ")
					if t, err := strconv.ParseInt(ns, 10, 64); ok && err == nil && strings.Contains(label, ".") {
						at = append(at, t)
					}
				}
				return at
			}
			// The response must be there before anything can be shown between frames.
			s.wait("a picture between two frames", 120*time.Second, func() bool {
				s.tool("xdotool", glide...)
				return len(between()) > 20
			})
			time.Sleep(8 * time.Second) // what is still being measured would take the processors
			var pictures int
			var seconds, worst float64
			for b.Loop() {
				had := len(between())
				s.tool("xdotool", glide...)
				time.Sleep(300 * time.Millisecond)
				at := between()[had:]
				if len(at) < 3 {
					b.Fatalf("only %d pictures between frames were painted", len(at))
				}
				pictures += len(at) - 1
				seconds += float64(at[len(at)-1]-at[0]) / 1e9
				var gaps []int64
				for i := 1; i < len(at); i++ {
					gaps = append(gaps, at[i]-at[i-1])
				}
				slices.Sort(gaps)
				worst = max(worst, float64(gaps[len(gaps)*98/100])/1e6)
			}
			b.ReportMetric(float64(pictures)/seconds, "pictures/s")
			b.ReportMetric(worst, "worst-ms")
		})
	}
}
