// Command stopladder is the whole program: without a command it opens the
// window on the paths given, or on its start page; with one (measure, sheet,
// demo, version, help) it works without a display.
package main

import (
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"

	_ "stopladder/ui/early" // before the toolkit

	"fyne.io/fyne/v2/app"

	"stopladder/analysis/disk/userdir"
	"stopladder/analysis/headless"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/numeric/parallel"
	"stopladder/ui"
)

func main() {
	args := os.Args[1:]
	attach()
	if len(args) > 0 && headlessCall(args[0]) {
		os.Exit(headless.Main(args, os.Stdin, os.Stdout, os.Stderr))
	}
	for _, a := range args {
		if _, err := os.Stat(a); err != nil {
			tell(fmt.Sprintf("stopladder: %s is neither a command nor a scan, folder or roll file that is there; see stopladder help.", a))
			os.Exit(headless.BadCall)
		}
	}
	if runtime.GOOS == "linux" && os.Getenv("DISPLAY") == "" {
		tell("stopladder: there is no display to open a window on; set DISPLAY (a desktop on Wayland sets it when XWayland is installed), or use the commands, which need none: see stopladder help.")
		os.Exit(headless.CouldNot)
	}
	folder, err := userdir.Dir()
	if err != nil {
		folder = "" // the window works without; recovery copies are not kept
	}
	memory.Bound()
	parallel.Spare(2) // one for the window, one for the picture that it draws
	a := app.NewWithID("org.stopladder.Stopladder")
	w := ui.New(a, ui.Options{Paths: args, Home: folder})
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
