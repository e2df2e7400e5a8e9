//go:build !windows

package main

import (
	"fmt"
	"os"
)

// attach does nothing: a program has the terminal that it is started from.
func attach() {}

// tell says why the window does not open.
func tell(text string) { fmt.Fprintln(os.Stderr, text) }
