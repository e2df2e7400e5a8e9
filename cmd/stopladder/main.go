// Command stopladder is the whole program: without a command it opens the
// window on the paths given, or on the demo roll; with one (measure, sheet,
// demo, version, help) it works without a display.
package main

import (
	"os"
	"slices"
	"strings"

	_ "stopladder/ui/early" // before the toolkit

	"fyne.io/fyne/v2/app"

	"stopladder/analysis/headless"
	"stopladder/ui"
	"stopladder/ui/settings"
)

func main() {
	args := os.Args[1:]
	if len(args) > 0 && headlessCall(args[0]) {
		os.Exit(headless.Main(args, os.Stdin, os.Stdout, os.Stderr))
	}
	home, err := settings.Dir()
	if err != nil {
		home = "" // the window works without; recovery copies are not kept
	}
	a := app.NewWithID("org.stopladder.Stopladder")
	w := ui.New(a, ui.Options{Paths: args, Home: home})
	w.Show()
	a.Run()
}

// headlessCall tells a command or a flag from a scan to open. A scan may be
// called "-3.tif", and then it is there.
func headlessCall(arg string) bool {
	if slices.Contains(headless.Commands(), arg) {
		return true
	}
	if !strings.HasPrefix(arg, "-") {
		return false
	}
	_, err := os.Stat(arg)
	return err != nil
}
