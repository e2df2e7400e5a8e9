package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sort"

	"stopladder/analysis/headless"
)

// file is one in an archive.
type file struct {
	text []byte
	mode fs.FileMode
}

// tree is what an archive holds, by path.
type tree map[string]file

func (t tree) add(path string, text []byte) { t[path] = file{text, 0o644} }

// sorted returns the paths in order, folders before what is in them.
func (t tree) sorted() (folders, files []string) {
	seen := map[string]bool{}
	for p := range t {
		files = append(files, p)
		for d := path.Dir(p); d != "." && !seen[d]; d = path.Dir(d) {
			seen[d] = true
			folders = append(folders, d)
		}
	}
	sort.Strings(folders)
	sort.Strings(files)
	return folders, files
}

// archive packs the program without a window for a system.
func (r *release) archive(t target, notices []byte) error {
	name := "stopladder-measure"
	if t.system == "windows" {
		name += ".exe"
	}
	text, err := os.ReadFile(filepath.Join(r.work, t.name(), name))
	if err != nil {
		return err
	}
	top := "stopladder-measure-" + headless.Version + "-" + t.name()
	all := tree{top + "/" + name: {text, 0o755}}
	all.add(top+"/NOTICES.txt", notices)
	for _, own := range []string{"LICENSE", "README.md"} {
		text, err := os.ReadFile(own)
		if err != nil {
			return err
		}
		all.add(top+"/"+own, text)
	}
	if t.system == "windows" {
		text, err := r.zip(all)
		if err != nil {
			return err
		}
		return r.write(top+".zip", text)
	}
	text, err = r.tar(all)
	if err != nil {
		return err
	}
	return r.write(top+".tar.gz", text)
}

// tar packs a tree as a compressed tar archive whose bytes follow from it alone.
func (r *release) tar(t tree) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	w := tar.NewWriter(z)
	folders, files := t.sorted()
	for _, d := range folders {
		if err := w.WriteHeader(&tar.Header{Typeflag: tar.TypeDir, Name: d + "/", Mode: 0o755, ModTime: r.when, Format: tar.FormatPAX}); err != nil {
			return nil, err
		}
	}
	for _, p := range files {
		f := t[p]
		if err := w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: p, Mode: int64(f.mode), Size: int64(len(f.text)), ModTime: r.when, Format: tar.FormatPAX}); err != nil {
			return nil, err
		}
		if _, err := w.Write(f.text); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	err = z.Close()
	return b.Bytes(), err
}

// lines are the endings of files that Windows shows with line ends of its own; cmd.exe
// misreads a script without them.
var lines = []string{".txt", ".md", ".html", ".json", ".cmd"}

// zip packs a tree as Windows opens it.
func (r *release) zip(t tree) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	_, files := t.sorted()
	for _, p := range files {
		text := t[p].text
		if slices.Contains(lines, path.Ext(p)) || path.Base(p) == "LICENSE" {
			text = bytes.ReplaceAll(text, []byte("\n"), []byte("\r\n"))
		}
		h := &zip.FileHeader{Name: p, Method: zip.Deflate, Modified: r.when}
		h.SetMode(t[p].mode)
		to, err := w.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := to.Write(text); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}
