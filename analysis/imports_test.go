package analysis

import (
	"errors"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const root = ".." // of the repository, from this package

// source is one Go file of the tree.
type source struct {
	file    string // relative to the tree, forward slashes
	pkg     string // package clause
	imports []string
}

// sources parses package clause and imports of every Go file below dir.
func sources(t *testing.T, dir string) []source {
	t.Helper()
	return sourcesIn(t, root, dir)
}

func sourcesIn(t *testing.T, tree, dir string) []source {
	t.Helper()
	var found []source
	err := filepath.WalkDir(filepath.Join(tree, dir), func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		file, err := filepath.Rel(tree, name)
		if err != nil {
			return err
		}
		s := source{file: filepath.ToSlash(file), pkg: f.Name.Name}
		for _, imp := range f.Imports {
			p, err := strconv.Unquote(imp.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, p)
		}
		found = append(found, s)
		return nil
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	if len(found) == 0 {
		t.Fatalf("no Go file was found in %s, so nothing was checked", dir)
	}
	return found
}

// toolkit says whether an import drags the window toolkit or cgo in.
func toolkit(imp string) bool {
	return imp == "C" || imp == "fyne.io" || strings.HasPrefix(imp, "fyne.io/") ||
		strings.HasPrefix(imp, "github.com/fyne-io/") || strings.HasPrefix(imp, "github.com/go-gl/")
}

// What runs on a server must not need a display: the analysis never knows the
// window.
func TestGuardToolkit(t *testing.T) {
	for _, dir := range []string{"analysis", "assets", "cmd/stopladder-measure", "ui/session"} {
		t.Run(strings.ReplaceAll(dir, "/", "-"), func(t *testing.T) {
			for _, s := range sources(t, dir) {
				for _, imp := range s.imports {
					if toolkit(imp) || imp == "stopladder/ui" || strings.HasPrefix(imp, "stopladder/ui/") && dir != "ui/session" {
						t.Errorf("%s imports %s, which needs the window toolkit", s.file, imp)
					}
				}
			}
		})
	}
}

// Only the program's own main may start the toolkit's driver, which needs cgo;
// the rest of the window is tested without it.
func TestGuardDriver(t *testing.T) {
	for _, s := range append(sources(t, "ui"), sources(t, "analysis")...) {
		for _, imp := range s.imports {
			if imp == "fyne.io/fyne/v2/app" || strings.HasPrefix(imp, "fyne.io/fyne/v2/driver/") && imp != "fyne.io/fyne/v2/driver/desktop" && imp != "fyne.io/fyne/v2/driver/software" {
				t.Errorf("%s imports %s, which only a main with a window may", s.file, imp)
			}
		}
	}
}

// The assets are data and nothing else.
func TestGuardAssets(t *testing.T) {
	for _, s := range sources(t, "assets") {
		if strings.HasSuffix(s.file, "_test.go") {
			continue
		}
		for _, imp := range s.imports {
			if imp != "embed" {
				t.Errorf("%s imports %s; assets may import embed only", s.file, imp)
			}
		}
	}
}

// A package is named for its one idea.
func TestGuardNames(t *testing.T) {
	bad := []string{"util", "utils", "common", "misc", "helper", "helpers"}
	for _, dir := range []string{"analysis", "assets", "cmd", "ui"} {
		for _, s := range sources(t, dir) {
			if slices.Contains(bad, strings.TrimSuffix(s.pkg, "_test")) || slices.Contains(bad, path.Base(path.Dir(s.file))) {
				t.Errorf("%s: a package named %s says nothing of what it holds", s.file, s.pkg)
			}
		}
	}
}

// The top level stays readable at a glance.
func TestGuardTopLevel(t *testing.T) {
	allowed := []string{
		"cmd", "ui", "analysis", "assets", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md",
		"FyneApp.toml", ".ci", "Makefile", "LICENSE", ".gitignore",
	}
	var names []string
	cmd := exec.Command("git", "ls-files", "-z")
	cmd.Dir = root
	if out, err := cmd.Output(); err == nil {
		for _, f := range strings.Split(string(out), "\x00") {
			first, _, _ := strings.Cut(f, "/")
			if first != "" && !slices.Contains(names, first) {
				names = append(names, first)
			}
		}
	} else { // no git, or a copy without history: what lies there counts
		t.Logf("git ls-files: %v; looking at the folder instead", err)
		entries, err := os.ReadDir(root)
		if err != nil {
			t.Fatal(err)
		}
		allowed = append(allowed, ".git", "bin") // neither is ever committed
		for _, e := range entries {
			names = append(names, e.Name())
		}
	}
	if len(names) == 0 {
		t.Fatal("no file was listed, so nothing was checked")
	}
	for _, n := range names {
		if !slices.Contains(allowed, n) {
			t.Errorf("%s does not belong at the top level", n)
		}
	}
}

// The guards above must be able to fail.
func TestGuardBites(t *testing.T) {
	for imp, want := range map[string]bool{
		"fyne.io/fyne/v2": true, "fyne.io/fyne/v2/canvas": true, "C": true, "github.com/go-gl/gl/v2.1/gl": true,
		"image": false, "stopladder/analysis/scan": false, "fyne.iota": false,
	} {
		if toolkit(imp) != want {
			t.Errorf("toolkit(%q) = %v, want %v", imp, !want, want)
		}
	}
	if got := sources(t, "analysis"); !slices.ContainsFunc(got, func(s source) bool {
		return s.file == "analysis/imports_test.go" && slices.Contains(s.imports, "go/parser")
	}) {
		t.Error("the imports of this very file were not read")
	}
}
