package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"os"
	"path/filepath"
	"strings"
	"time"

	"stopladder/analysis/headless"
	"stopladder/analysis/headless/shellpages"
	"stopladder/assets"
)

const id = "org.stopladder.Stopladder"

// linux makes the archive and the Debian package with both programs.
func (r *release) linux(ctx context.Context, t target, notices []byte) error {
	programs := []string{filepath.Join(r.work, t.name(), "stopladder"), filepath.Join(r.work, t.name(), "stopladder-measure")}
	all, err := r.installed(programs, notices)
	if err != nil {
		return err
	}
	top := "stopladder-" + headless.Version + "-" + t.name()
	packed := tree{}
	for p, f := range all {
		packed[top+"/"+strings.TrimPrefix(p, "usr/")] = f
	}
	text, err := r.tar(packed)
	if err != nil {
		return err
	}
	if err := r.write(top+".tar.gz", text); err != nil {
		return err
	}
	if err := r.debianFiles(all); err != nil {
		return err
	}
	return r.debian(ctx, t, all, programs)
}

// installed is the tree of both programs as it is installed, by the standards of
// freedesktop.org and of Debian.
func (r *release) installed(programs []string, notices []byte) (tree, error) {
	all := tree{}
	for _, p := range programs {
		text, err := os.ReadFile(p)
		if err != nil {
			return nil, err
		}
		all["usr/bin/"+filepath.Base(p)] = file{text, 0o755}
	}
	for name, to := range map[string]string{
		id + ".desktop":      "usr/share/applications/" + id + ".desktop",
		id + ".metainfo.xml": "usr/share/metainfo/" + id + ".metainfo.xml",
		id + ".xml":          "usr/share/mime/packages/" + id + ".xml",
	} {
		text, err := assets.Package.ReadFile("package/" + name)
		if err != nil {
			return nil, err
		}
		all.add(to, []byte(strings.NewReplacer("@VERSION@", headless.Version, "@DATE@", r.when.Format(time.DateOnly)).Replace(string(text))))
	}
	if err := icons(all); err != nil {
		return nil, err
	}
	app, err := headless.Definitions()
	if err != nil {
		return nil, err
	}
	man := shellpages.Man(app, shellpages.About{Version: headless.Version, Date: r.when.Format(time.DateOnly),
		More: "The whole manual, with the method, every reading and its source, is in the program: stopladder manual."})
	for name, text := range map[string]string{"stopladder": man, "stopladder-measure": ".so man1/stopladder.1\n"} {
		z, err := zipped([]byte(text))
		if err != nil {
			return nil, err
		}
		all.add("usr/share/man/man1/"+name+".1.gz", z)
	}
	names := []string{"stopladder", "stopladder-measure"}
	for _, n := range names { // bash looks each up by its name
		all.add("usr/share/bash-completion/completions/"+n, []byte(shellpages.Bash(app, n)))
		all.add("usr/share/fish/vendor_completions.d/"+n+".fish", []byte(shellpages.Fish(app, n)))
	}
	all.add("usr/share/zsh/vendor-completions/_stopladder", []byte(shellpages.Zsh(app, names...)))
	own, err := os.ReadFile("LICENSE")
	if err != nil {
		return nil, err
	}
	all.add("usr/share/doc/stopladder/copyright", append(append([]byte("Stopladder\n\n"), own...), "\nWhat it holds of others, and under which licences: NOTICES.txt.gz beside this file.\n"...))
	if notices, err = zipped(notices); err != nil {
		return nil, err
	}
	all.add("usr/share/doc/stopladder/NOTICES.txt.gz", notices)
	if err := manualPages(all, "usr/share/doc/stopladder/manual/"); err != nil {
		return nil, err
	}
	changes, err := os.ReadFile(filepath.Join("assets", "manual", "changes.md"))
	if err != nil {
		return nil, err
	}
	if changes, err = zipped(changes); err != nil {
		return nil, err
	}
	all.add("usr/share/doc/stopladder/changelog.gz", changes)
	return all, nil
}

// zipped compresses without a name or a time in it.
func zipped(text []byte) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(text); err != nil {
		return nil, err
	}
	err = z.Close()
	return b.Bytes(), err
}
