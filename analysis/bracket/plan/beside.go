package plan

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// AmbiguousError says that several plans lie beside the scans.
type AmbiguousError struct{ Plans []string } // paths, by name

func (e *AmbiguousError) Error() string {
	names := make([]string, len(e.Plans))
	for i, p := range e.Plans {
		names[i] = quote(filepath.Base(p))
	}
	return fmt.Sprintf("there are several plans beside the scans (%s): name one, or leave only the one of this roll there", list(names))
}

// Beside finds the plan file that belongs to scans or to a folder of them: the
// only one in their folders, else the one that is named like the folder, else the
// one whose name all scans begin with; "" when there is none. The error is an
// *AmbiguousError. Folders that cannot be read have no plan: reading the scans
// will say so.
func Beside(paths []string) (string, error) {
	var folders, scans, found []string
	for _, p := range paths {
		dir := p
		if info, err := os.Stat(p); err != nil || !info.IsDir() {
			dir = filepath.Dir(p)
			scans = append(scans, filepath.Base(p))
		}
		if abs, err := filepath.Abs(dir); err == nil && !slices.Contains(folders, abs) {
			folders = append(folders, abs)
		}
	}
	for _, dir := range folders {
		entries, err := os.ReadDir(dir)
		if err != nil {
			continue
		}
		for _, e := range entries {
			if strings.EqualFold(filepath.Ext(e.Name()), Ext) && !strings.HasPrefix(e.Name(), ".") && !e.IsDir() {
				found = append(found, filepath.Join(dir, e.Name()))
			}
		}
	}
	if len(found) < 2 {
		return strings.Join(found, ""), nil
	}
	for _, fits := range []func(path, stem string) bool{
		func(path, stem string) bool { return strings.EqualFold(stem, filepath.Base(filepath.Dir(path))) },
		func(path, stem string) bool {
			return len(scans) > 0 && !slices.ContainsFunc(scans, func(s string) bool { return !strings.HasPrefix(strings.ToLower(s), strings.ToLower(stem)) })
		},
	} {
		var fitting []string
		for _, p := range found {
			name := filepath.Base(p)
			if fits(p, strings.TrimSuffix(name, filepath.Ext(name))) {
				fitting = append(fitting, p)
			}
		}
		if len(fitting) == 1 {
			return fitting[0], nil
		}
	}
	slices.Sort(found)
	return "", &AmbiguousError{found}
}
