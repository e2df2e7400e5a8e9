package main

import (
	"context"
	"embed"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"stopladder/analysis/headless"
)

//go:embed windows
var windowsFiles embed.FS

// mingw is the C compiler that builds the window for Windows.
const mingw = "x86_64-w64-mingw32-gcc"

// windowsWindow is where the window runs on Windows: Debian has no MinGW-w64 for ARM, whose
// Windows runs programs of this kind as well.
var windowsWindow = target{"windows", "amd64"}

// hasMinGW reports whether the window can be built for Windows here, and says so where not.
func hasMinGW() bool {
	if _, err := exec.LookPath(mingw); err != nil {
		fmt.Printf("no window for Windows: %s is not here; on Debian install gcc-mingw-w64-x86-64, then build again\n", mingw)
		return false
	}
	return true
}

// windows packs both programs for Windows.
func (r *release) windows(_ context.Context, t target, notices []byte) error {
	top := "stopladder-" + headless.Version + "-" + t.name()
	all := tree{}
	for _, name := range []string{"stopladder.exe", "stopladder-measure.exe"} {
		path := filepath.Join(r.work, t.name(), name)
		if err := systemLibraries(path); err != nil {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		all[top+"/"+name] = file{text, 0o755}
	}
	for _, name := range []string{"README.txt", "add-file-types.cmd", "remove-file-types.cmd"} {
		text, err := windowsFile(name)
		if err != nil {
			return err
		}
		all.add(top+"/"+name, text)
	}
	own, err := os.ReadFile("LICENSE")
	if err != nil {
		return err
	}
	all.add(top+"/LICENSE.txt", own)
	all.add(top+"/NOTICES.txt", notices)
	if err := manualPages(all, top+"/manual/"); err != nil {
		return err
	}
	text, err := r.zip(all)
	if err != nil {
		return err
	}
	return r.write(top+".zip", text)
}

// windowsFile returns a file of the folder windows with what is filled in: pairs as
// strings.NewReplacer takes them, and the version.
func windowsFile(name string, pairs ...string) ([]byte, error) {
	text, err := windowsFiles.ReadFile("windows/" + name)
	if err != nil {
		return nil, err
	}
	return []byte(strings.NewReplacer(append(pairs, "@VERSION@", headless.Version)...).Replace(string(text))), nil
}
