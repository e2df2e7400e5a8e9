package main

import (
	"bytes"
	"context"
	"debug/buildinfo"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"time"

	"stopladder/analysis/headless"
)

// module is one that is linked into a program.
type module struct{ Path, Version, Dir string }

// linked returns the modules that the programs themselves say they hold, with where their
// source lies.
func linked(ctx context.Context, binaries []string) ([]module, error) {
	seen := map[string]module{}
	for _, path := range binaries {
		info, err := buildinfo.ReadFile(path)
		if err != nil {
			return nil, err
		}
		for _, d := range info.Deps {
			if d.Replace != nil {
				d = d.Replace
			}
			seen[d.Path] = module{Path: d.Path, Version: d.Version}
		}
	}
	var out []module
	for _, m := range seen {
		text, err := exec.CommandContext(ctx, "go", "mod", "download", "-json", m.Path+"@"+m.Version).Output()
		if err != nil {
			return nil, fmt.Errorf("the source of %s: %w", m.Path, err)
		}
		if err := json.Unmarshal(text, &m); err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	sort.Slice(out, func(i, k int) bool { return out[i].Path < out[k].Path })
	return out, nil
}

// licence finds the files in which modules keep their licences and notices.
var licence = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|copyright|patents)([.-].*)?$`)

// notices returns the licences and notices of every linked module, of Go itself and of the
// typeface: what MIT, BSD, ISC and Apache require to go with a program. A module without
// any is an error.
func notices(ctx context.Context, modules []module) ([]byte, error) {
	root, err := exec.CommandContext(ctx, "go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "Stopladder %s holds the work of others, under these licences.\n", headless.Version)
	add := func(title, dir string) error {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		n := 0
		for _, e := range entries {
			if e.IsDir() || !licence.MatchString(e.Name()) {
				continue
			}
			text, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				return err
			}
			fmt.Fprintf(&b, "\n%s\n%s, %s\n%s\n\n%s\n", strings.Repeat("=", 78), title, e.Name(), strings.Repeat("=", 78), strings.TrimSpace(strings.ReplaceAll(string(text), "\r\n", "\n")))
			n++
		}
		if n == 0 {
			return fmt.Errorf("%s has no file with its licence", title)
		}
		return nil
	}
	if err := add("Stopladder", "."); err != nil {
		return nil, err
	}
	if err := add("The Go programming language", strings.TrimSpace(string(root))); err != nil {
		return nil, err
	}
	for _, m := range modules {
		if err := add(m.Path+" "+m.Version, m.Dir); err != nil {
			return nil, err
		}
	}
	for _, name := range []string{"LICENSE.txt", "ROBOTO-COPYRIGHT.txt"} {
		text, err := os.ReadFile(filepath.Join("assets", "fonts", name))
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "\n%s\nThe typeface Roboto, %s\n%s\n\n%s\n", strings.Repeat("=", 78), name, strings.Repeat("=", 78), strings.TrimSpace(string(text)))
	}
	return b.Bytes(), nil
}

// bill returns the bill of materials: CycloneDX 1.5 (ECMA-424), package URLs of modules.
func bill(modules []module, when time.Time) ([]byte, error) {
	type component struct {
		Type    string `json:"type"`
		Name    string `json:"name"`
		Version string `json:"version"`
		PURL    string `json:"purl"`
		BomRef  string `json:"bom-ref"`
	}
	of := func(kind, name, version string) component {
		purl := "pkg:golang/" + strings.ReplaceAll(name, "~", "%7E") + "@" + strings.ReplaceAll(version, "+", "%2B")
		return component{kind, name, version, purl, purl}
	}
	type metadata struct {
		Timestamp string    `json:"timestamp"`
		Component component `json:"component"`
	}
	doc := struct {
		Format     string      `json:"bomFormat"`
		Spec       string      `json:"specVersion"`
		Version    int         `json:"version"`
		Metadata   metadata    `json:"metadata"`
		Components []component `json:"components"`
	}{"CycloneDX", "1.5", 1, metadata{when.Format(time.RFC3339), of("application", "stopladder", headless.Version)}, nil}
	for _, m := range modules {
		doc.Components = append(doc.Components, of("library", m.Path, m.Version))
	}
	text, err := json.MarshalIndent(doc, "", "  ")
	return append(text, '\n'), err
}
