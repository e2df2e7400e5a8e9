package main

import (
	"debug/pe"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
)

// systemDLLs are in every Windows that the programs run on; msvcrt.dll is the C library
// that MinGW-w64 of Debian is built for.
var systemDLLs = []string{"advapi32.dll", "gdi32.dll", "kernel32.dll", "msvcrt.dll", "ole32.dll", "oleaut32.dll", "opengl32.dll", "shell32.dll", "user32.dll", "winmm.dll", "ws2_32.dll"}

// systemLibraries returns an error where a program for Windows needs a library that Windows
// itself does not bring, and would not start from the archive.
func systemLibraries(path string) error {
	f, err := pe.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	// Not ImportedLibraries, which returns none: symbols are "function:library".
	symbols, err := f.ImportedSymbols()
	if err != nil {
		return err
	}
	for _, s := range symbols {
		_, dll, _ := strings.Cut(s, ":")
		if !slices.Contains(systemDLLs, strings.ToLower(dll)) {
			return fmt.Errorf("%s needs %s, which Windows does not bring; link it statically or add it to systemDLLs if Windows does", filepath.Base(path), dll)
		}
	}
	return nil
}
