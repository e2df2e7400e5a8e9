package main

import (
	"bytes"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/tc-hib/winres"
	"github.com/tc-hib/winres/version"

	"stopladder/analysis/headless"
)

// What Windows shows of each program.
var windowsWhat = map[string]string{
	"stopladder":         "Stopladder: judge a film's exposure latitude from scans",
	"stopladder-measure": "Stopladder without its window: the commands",
}

// resources writes icon, version and manifest into a program for Windows. They go into the
// finished file: nothing has to be put into the source tree while it is built, the linker
// of no processor has to know of them, and "go build" stays what it is.
func resources(path string, when time.Time) error {
	name := strings.TrimSuffix(filepath.Base(path), ".exe")
	rs, err := resourceSet(name, when)
	if err != nil {
		return fmt.Errorf("resources of %s: %w", name, err)
	}
	plain, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := rs.WriteToEXE(&b, bytes.NewReader(plain), winres.ForceCheckSum()); err != nil {
		return fmt.Errorf("resources of %s: %w", name, err)
	}
	return os.WriteFile(path, b.Bytes(), 0o755)
}

func resourceSet(name string, when time.Time) (*winres.ResourceSet, error) {
	rs := &winres.ResourceSet{}
	var sizes []image.Image
	for _, side := range []int{16, 20, 24, 32, 40, 48, 64, 256} { // those that Windows asks for at 100 to 200 %
		img, err := icon(side)
		if err != nil {
			return nil, err
		}
		sizes = append(sizes, img)
	}
	ico, err := winres.NewIconFromImages(sizes)
	if err != nil {
		return nil, err
	}
	if err := rs.SetIcon(winres.ID(1), ico); err != nil { // the first is the file's
		return nil, err
	}
	const english = 0x409
	var v version.Info
	v.SetFileVersion(headless.Version)
	v.SetProductVersion(headless.Version)
	v.Timestamp = when
	v.Type = version.App
	for key, value := range map[string]string{
		version.ProductName: "Stopladder", version.FileDescription: windowsWhat[name],
		version.InternalName: name, version.OriginalFilename: name + ".exe",
		version.CompanyName: "The Stopladder authors", version.LegalCopyright: "MIT licence; see LICENSE.txt",
	} {
		if err := v.Set(english, key, value); err != nil {
			return nil, err
		}
	}
	rs.SetVersionInfo(v)
	manifest, err := windowsFile("manifest.xml", "@NAME@", name, "@WHAT@", windowsWhat[name])
	if err != nil {
		return nil, err
	}
	return rs, rs.Set(winres.RT_MANIFEST, winres.ID(1), english, manifest)
}
