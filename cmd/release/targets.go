package main

import (
	"runtime"
	"slices"
)

// target is a system to build for.
type target struct{ system, processor string }

func (t target) name() string { return t.system + "-" + t.processor }

// targets are where the program without a window runs.
var targets = []target{{"linux", "amd64"}, {"linux", "arm64"}, {"windows", "amd64"}, {"windows", "arm64"}, {"darwin", "amd64"}, {"darwin", "arm64"}}

// choice is what is built.
type choice struct {
	bare    []target // the program without a window
	windows []target // both programs
	macos   bool     // the recipe for the bundle
}

// chosen returns what can be built here for some systems: the program with a window for the
// machine's own processor, and for Windows where its compiler is.
func chosen(systems []string, window bool) (c choice) {
	for _, t := range targets {
		if slices.Contains(systems, t.system) {
			c.bare = append(c.bare, t)
		}
	}
	if window && runtime.GOOS == "linux" && slices.Contains(systems, "linux") {
		c.windows = append(c.windows, target{"linux", runtime.GOARCH})
	}
	if window && slices.Contains(systems, "windows") && hasMinGW() {
		c.windows = append(c.windows, windowsWindow)
	}
	c.macos = slices.Contains(systems, "darwin")
	return c
}
