package main

import (
	"archive/zip"
	"bytes"
	"debug/pe"
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/tc-hib/winres"

	"stopladder/analysis/headless"
)

// tiny builds a program for Windows that does nothing, which takes seconds.
func tiny(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("compiles Go's runtime for Windows")
	}
	dir := t.TempDir()
	for name, text := range map[string]string{"main.go": "package main\n\nfunc main() {}\n", "go.mod": "module tiny\n\ngo 1.26\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dir, "stopladder.exe")
	c := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w -buildid=", "-o", path, ".")
	c.Dir = dir
	c.Env = append(os.Environ(), "GOOS=windows", "GOARCH=amd64", "CGO_ENABLED=0", "GOFLAGS=", "GOWORK=off")
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

// What Windows reads of a program is in it: read back, and as the sections of a PE file by
// Go's own reader, which still finds what it is linked with.
func TestResources(t *testing.T) {
	path := tiny(t)
	if err := resources(path, time.Unix(1_790_000_000, 0).UTC()); err != nil {
		t.Fatal(err)
	}
	first, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := systemLibraries(path); err != nil {
		t.Error(err)
	}
	f, err := pe.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if f.Section(".rsrc") == nil || f.Section(".text") == nil {
		t.Error("a section is missing")
	}
	rs, err := winres.LoadFromEXE(bytes.NewReader(first))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(rs.Get(winres.RT_GROUP_ICON, winres.ID(1), 0)); n != 6+8*14 { // ICONDIR, eight entries
		t.Errorf("the icon's group has %d bytes", n)
	}
	var wide []byte
	for _, r := range headless.Version {
		wide = append(wide, byte(r), 0)
	}
	if v := rs.Get(winres.RT_VERSION, winres.ID(1), 0x409); !bytes.Contains(v, wide) {
		t.Errorf("the version %s is not in it", headless.Version)
	}
	manifest := rs.Get(winres.RT_MANIFEST, winres.ID(1), 0x409)
	for _, want := range []string{"PerMonitorV2", `<longPathAware xmlns="http://schemas.microsoft.com/SMI/2016/WindowsSettings">true`, ">UTF-8<", `level="asInvoker"`, `version="` + headless.Version + `.0"`} {
		if !strings.Contains(string(manifest), want) {
			t.Errorf("the manifest does not say %s", want)
		}
	}
	if err := xml.Unmarshal(manifest, new(struct{})); err != nil || strings.Contains(string(manifest), "@NAME@") {
		t.Errorf("%v in %s", err, manifest)
	}
	again := tiny(t)
	if err := resources(again, time.Unix(1_790_000_000, 0).UTC()); err != nil {
		t.Fatal(err)
	}
	if second, err := os.ReadFile(again); err != nil || !bytes.Equal(first, second) {
		t.Errorf("built twice, the programs differ: %v", err)
	}
}

// A library that Windows does not bring is an error, since the archive installs none.
func TestSystemLibraries(t *testing.T) {
	kept := systemDLLs
	defer func() { systemDLLs = kept }()
	path := tiny(t)
	systemDLLs = []string{"user32.dll"}
	if err := systemLibraries(path); err == nil || !strings.Contains(err.Error(), "kernel32.dll") {
		t.Errorf("%v", err)
	}
}

// In the archive text has the line ends of Windows, without which cmd.exe misreads a
// script; pictures and programs are as they were.
func TestZip(t *testing.T) {
	picture := []byte("\x89PNG\r\n\x1a\n and\nmore")
	all := tree{"top/stopladder.exe": {[]byte("MZ\n"), 0o755}}
	all.add("top/manual/pictures/a.jpg", picture)
	all.add("top/LICENSE", []byte("a\nb\n"))
	script, err := windowsFile("add-file-types.cmd")
	if err != nil {
		t.Fatal(err)
	}
	all.add("top/add-file-types.cmd", script)
	r := &release{when: time.Unix(1_790_000_000, 0).UTC()}
	text, err := r.zip(all)
	if err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"top/stopladder.exe": "MZ\n", "top/manual/pictures/a.jpg": string(picture), "top/LICENSE": "a\r\nb\r\n",
		"top/add-file-types.cmd": strings.ReplaceAll(string(script), "\n", "\r\n")}
	for _, f := range z.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if _, err := b.ReadFrom(in); err != nil {
			t.Fatal(err)
		}
		if b.String() != want[f.Name] || !f.Modified.Equal(r.when) {
			t.Errorf("%s, %v: %.40q", f.Name, f.Modified, b.String())
		}
		delete(want, f.Name)
	}
	if len(want) > 0 {
		t.Errorf("not in the archive: %v", want)
	}
}

// Both scripts speak of the same types, which are those of Linux, and write nowhere but
// under the user's own key.
func TestFileTypesOfWindows(t *testing.T) {
	types, err := os.ReadFile("assets/package/" + id + ".xml")
	if err != nil {
		t.Fatal(err)
	}
	for name, verb := range map[string]string{"add-file-types.cmd": "call :add ", "remove-file-types.cmd": "call :remove "} {
		text, err := windowsFile(name)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, line := range strings.Split(string(text), "\n") {
			if rest, ok := strings.CutPrefix(line, verb); ok {
				n++
				if !strings.Contains(string(types), `<glob pattern="*`+strings.Fields(rest)[0]+`"/>`) {
					t.Errorf("%s: %s is no type of Linux", name, rest)
				}
			}
			if strings.HasPrefix(line, "reg ") && !strings.Contains(line, `"HKCU\Software\Classes\%`) {
				t.Errorf("%s writes elsewhere: %s", name, line)
			}
		}
		if n != strings.Count(string(types), "<glob ") {
			t.Errorf("%s has %d types", name, n)
		}
	}
}
