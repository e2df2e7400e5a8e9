package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"stopladder/analysis/headless"
)

// In the tests the folder is the repository's, as for a release.
func TestMain(m *testing.M) {
	if err := os.Chdir("../.."); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// made builds the installed tree around programs that are none.
func made(t *testing.T) tree {
	t.Helper()
	var programs []string
	for _, n := range []string{"stopladder", "stopladder-measure"} {
		p := filepath.Join(t.TempDir(), n)
		if err := os.WriteFile(p, []byte("not a program"), 0o755); err != nil {
			t.Fatal(err)
		}
		programs = append(programs, p)
	}
	r := &release{when: time.Unix(1_790_000_000, 0).UTC()}
	all, err := r.installed(programs, []byte("notices"))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func unpacked(t *testing.T, all tree) string {
	t.Helper()
	dir := t.TempDir()
	for p, f := range all {
		at := filepath.Join(dir, p)
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(at, f.text, f.mode); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// What a desktop reads is valid to those who define it: AppStream's own checker,
// shared-mime-info, desktop-file-utils where it is installed, and man.
func TestDesktopFiles(t *testing.T) {
	dir := unpacked(t, made(t))
	check := func(name string, args ...string) {
		t.Helper()
		if _, err := exec.LookPath(name); err != nil {
			t.Logf("%s is not installed", name)
			return
		}
		if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
	check("appstreamcli", "validate", "--no-net", filepath.Join(dir, "usr/share/metainfo", id+".metainfo.xml"))
	check("desktop-file-validate", filepath.Join(dir, "usr/share/applications", id+".desktop"))
	check("update-mime-database", filepath.Join(dir, "usr/share/mime"))
	globs, err := os.ReadFile(filepath.Join(dir, "usr/share/mime/globs2"))
	if err == nil { // shared-mime-info was there, and has understood the types
		for _, want := range []string{"application/x-stopladder-roll:*.stopladder", "application/x-stopladder-plan:*.ladderplan", "application/x-stopladder-pack:*.ladderpack"} {
			if !strings.Contains(string(globs), want) {
				t.Errorf("%s is not among the types:\n%s", want, globs)
			}
		}
	} else if !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	for _, side := range []int{16, 48, 512} {
		text, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("usr/share/icons/hicolor/%[1]dx%[1]d/apps/%[2]s.png", side, id)))
		if err != nil {
			t.Fatal(err)
		}
		if img, err := png.DecodeConfig(bytes.NewReader(text)); err != nil || img.Width != side || img.Height != side {
			t.Errorf("%d: %v %v", side, img, err)
		}
	}
}

// Every link of the packed manual leads to a page, a picture or a schema that is packed, and
// to a heading that the page has; Go's own HTML reader reads them.
func TestManualIsWhole(t *testing.T) {
	all := made(t)
	const dir = "usr/share/doc/stopladder/manual/"
	ids := map[string]map[string]bool{}
	type link struct{ from, to string }
	var links []link
	for p, f := range all {
		name, ok := strings.CutPrefix(p, dir)
		if !ok || !strings.HasSuffix(name, ".html") {
			continue
		}
		ids[name] = map[string]bool{}
		for z := html.NewTokenizer(bytes.NewReader(f.text)); ; {
			if z.Next() == html.ErrorToken {
				if z.Err() != io.EOF {
					t.Fatal(name, z.Err())
				}
				break
			}
			for _, a := range z.Token().Attr {
				switch a.Key {
				case "id":
					ids[name][a.Val] = true
				case "href", "src":
					links = append(links, link{name, a.Val})
				}
			}
		}
	}
	if len(ids) < 25 || len(links) < 100 || ids["index.html"] == nil {
		t.Fatalf("%d pages with %d links", len(ids), len(links))
	}
	for _, l := range links {
		to, anchor, _ := strings.Cut(l.to, "#")
		if strings.Contains(l.to, "://") {
			continue
		}
		if to == "" {
			to = l.from
		}
		if _, ok := all[dir+to]; !ok || anchor != "" && !ids[to][anchor] {
			t.Errorf("%s links to %s, which is not there", l.from, l.to)
		}
	}
}

// The same tree is packed to the same bytes, and says nothing of who packed it.
func TestArchivesFollowFromWhatTheyHold(t *testing.T) {
	all := made(t)
	r := &release{when: time.Unix(1_790_000_000, 0).UTC()}
	a, err := r.tar(all)
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.tar(made(t))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("two archives of one tree differ")
	}
	z, err := gzip.NewReader(bytes.NewReader(a))
	if err != nil {
		t.Fatal(err)
	}
	files := 0
	for in := tar.NewReader(z); ; {
		h, err := in.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if !h.ModTime.Equal(r.when) || h.Uid != 0 || h.Uname != "" || filepath.IsAbs(h.Name) {
			t.Errorf("%s: %v, of %d %q", h.Name, h.ModTime, h.Uid, h.Uname)
		}
		if want := int64(0o644); h.Typeflag == tar.TypeReg {
			files++
			if strings.HasPrefix(h.Name, "usr/bin/") {
				want = 0o755
			}
			if h.Mode != want {
				t.Errorf("%s has mode %o", h.Name, h.Mode)
			}
		}
	}
	if files != len(all) {
		t.Errorf("%d files of %d", files, len(all))
	}
}

// A module whose licence cannot be found is an error, and so is a library of no known package.
func TestWhatCannotBeToldIsAnError(t *testing.T) {
	if _, err := notices(context.Background(), []module{{"example.org/none", "v1", t.TempDir()}}); err == nil || !strings.Contains(err.Error(), "example.org/none") {
		t.Errorf("no licence: %v", err)
	}
	if _, err := depends([]string{"Makefile"}); err == nil {
		t.Error("the Makefile is a program")
	}
}

// The version stands in one place; the toolkit's file repeats it.
func TestVersionIsOne(t *testing.T) {
	text, err := os.ReadFile("FyneApp.toml")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), `Version = "`+headless.Version+`"`) {
		t.Errorf("FyneApp.toml has another version than %s", headless.Version)
	}
}
