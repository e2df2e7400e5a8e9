package main

import (
	"fmt"
	"os"

	"golang.org/x/sys/windows"
)

// attach gives the program the terminal that it was started from. Windows gives none to a
// program with a window, which would else open one of its own at every start; what is
// typed into a terminal is answered there all the same, as far as it waits for the answer:
// stopladder-measure.exe is the program for terminals. What is sent to a file or another
// program goes there already.
func attach() {
	const parent = ^uintptr(0) // ATTACH_PARENT_PROCESS
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		if _, err := windows.GetFileType(windows.Handle(f.Fd())); err == nil {
			shown = true
			return
		}
	}
	if ok, _, _ := windows.NewLazySystemDLL("kernel32.dll").NewProc("AttachConsole").Call(parent); ok == 0 {
		return // started by a double click
	}
	if out, err := os.OpenFile("CONOUT$", os.O_RDWR, 0); err == nil {
		os.Stdout, os.Stderr = out, out
		shown = true
	}
	if in, err := os.OpenFile("CONIN$", os.O_RDWR, 0); err == nil {
		os.Stdin = in
	}
}

// shown reports that there is a terminal, or a file, to answer in.
var shown bool

// tell says why the window does not open: in the terminal, or where there is none in a box,
// since nobody would see it otherwise.
func tell(text string) {
	if _, err := fmt.Fprintln(os.Stderr, text); err == nil && shown {
		return
	}
	words, err := windows.UTF16PtrFromString(text)
	if err != nil {
		return
	}
	title, _ := windows.UTF16PtrFromString("Stopladder")
	_, _ = windows.MessageBox(0, words, title, windows.MB_OK|windows.MB_ICONERROR)
}
