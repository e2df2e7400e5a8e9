package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"encoding/xml"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stopladder/analysis/headless"
)

// The recipe holds together as far as it can be told without a Mac: the property list is
// read by Python's own reader, the icon by file(1), the script by a shell that only parses.
func TestMacRecipe(t *testing.T) {
	r := &release{out: t.TempDir(), when: time.Unix(1_790_000_000, 0).UTC()}
	if err := r.macos(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(r.out, r.made[0]))
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	dir, found := t.TempDir(), map[string]string{}
	for in := tar.NewReader(z); ; {
		h, err := in.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if h.Typeflag != tar.TypeReg {
			continue
		}
		b, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Base(h.Name)
		found[name] = string(b)
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	plist := found["Info.plist"]
	for _, want := range []string{"<string>" + headless.Version + "</string>", "org.stopladder.roll", "org.stopladder.plan", "org.stopladder.pack", "<string>stopladder</string>", "<string>ladderplan</string>", "public.zip-archive"} {
		if !strings.Contains(plist, want) {
			t.Errorf("Info.plist has no %s", want)
		}
	}
	if err := xml.Unmarshal([]byte(plist), new(struct{})); err != nil || strings.Contains(plist, "@") {
		t.Errorf("%v in %s", err, plist)
	}
	if !strings.Contains(found["README.txt"], "NOT YET RUN") {
		t.Error("the recipe does not say that it has not been run")
	}
	for _, c := range [][]string{
		{"/usr/bin/python3", "-c", "import plistlib,sys; d=plistlib.load(open(sys.argv[1],'rb')); assert len(d['CFBundleDocumentTypes'])==4 and len(d['UTExportedTypeDeclarations'])==3, d", filepath.Join(dir, "Info.plist")},
		{"sh", "-n", filepath.Join(dir, "make-app.sh")},
	} {
		if _, err := exec.LookPath(c[0]); err != nil {
			t.Logf("%s is not installed", c[0])
			continue
		}
		if out, err := exec.Command(c[0], c[1:]...).CombinedOutput(); err != nil {
			t.Errorf("%v: %v\n%s", c[0], err, out)
		}
	}
	if out, err := exec.Command("file", filepath.Join(dir, "Stopladder.icns")).Output(); err == nil && !strings.Contains(string(out), "Mac OS X icon") {
		t.Errorf("%s", out)
	}
}
