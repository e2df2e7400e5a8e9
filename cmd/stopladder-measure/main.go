// Command stopladder-measure is Stopladder without its window: the commands
// measure, sheet and demo, for servers and tests. It needs neither cgo nor a
// display.
package main

import (
	"os"

	"stopladder/analysis/headless"
)

func main() {
	os.Exit(headless.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
