package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
)

// program builds a program, without symbols and without an identifier of its own making.
// One with a window is built with cgo; for Windows it has no console, and what a C compiler
// brings of its own libraries is in it.
func (r *release) program(ctx context.Context, name string, t target, cgo bool) (string, error) {
	path := filepath.Join(r.work, t.name(), name)
	flags := "-s -w -buildid="
	env := append(os.Environ(), "GOOS="+t.system, "GOARCH="+t.processor, "CGO_ENABLED=0")
	if t.system == "windows" {
		path += ".exe"
	}
	switch {
	case cgo && t.system == "windows":
		flags += " -H windowsgui '-extldflags=-static -Wl,--no-insert-timestamp'"
		env = append(env, "CGO_ENABLED=1", "CC="+mingw)
	case cgo:
		flags += " -extldflags=-Wl,--build-id=none"
		env = append(env, "CGO_ENABLED=1")
	}
	c := exec.CommandContext(ctx, "go", "build", "-trimpath", "-buildvcs=false", "-ldflags", flags, "-o", path, "./cmd/"+name)
	c.Env = env
	c.Stderr = os.Stderr
	fmt.Printf("building %s for %s\n", name, t.name())
	if err := c.Run(); err != nil {
		return "", fmt.Errorf("%s for %s: %w", name, t.name(), err)
	}
	if t.system == "windows" {
		if err := resources(path, r.when); err != nil {
			return "", err
		}
	}
	return path, nil
}
