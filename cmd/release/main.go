// Command release builds what is published, into a folder:
//
//	release DIR              everything that this machine can build
//	release --no-window DIR  without the programs with a window, whose building takes minutes
//	release --for linux DIR  for some systems of linux, windows and darwin
//
// For Linux an archive and a Debian package with both programs, their desktop entry, icons,
// file types, manual page and completions. For Windows, where MinGW-w64 is installed, both
// programs in an archive that nothing has to be installed from. For macOS the bundle without
// its program, and how a Mac makes the rest. For all three the program without a window,
// which needs no C compiler. Besides the notices of every module that is linked, a bill of
// materials, and the checksums of all of it. The same commit gives the same bytes: times are
// those of the commit, and nothing else of the machine is in the files.
package main

import (
	"context"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"time"

	"stopladder/analysis/headless"
)

// release is one building of everything.
type release struct {
	out  string    // the folder that is published
	work string    // what is built on the way
	when time.Time // of the commit
	made []string  // files in out
}

func main() {
	bare := flag.Bool("no-window", false, "leave out the programs with a window")
	only := flag.String("for", "linux,windows,darwin", "the systems to build for")
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "release: say which folder to build into")
		os.Exit(2)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := build(ctx, flag.Arg(0), chosen(strings.Split(*only, ","), !*bare)); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func build(ctx context.Context, out string, c choice) error {
	when, err := commitTime(ctx)
	if err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "release")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	r := &release{out: out, work: work, when: when}
	var binaries []string
	for _, t := range c.bare {
		path, err := r.program(ctx, "stopladder-measure", t, false)
		if err != nil {
			return err
		}
		binaries = append(binaries, path)
	}
	for _, t := range c.windows {
		path, err := r.program(ctx, "stopladder", t, true)
		if err != nil {
			return err
		}
		binaries = append(binaries, path)
	}
	modules, err := linked(ctx, binaries)
	if err != nil {
		return err
	}
	notices, err := notices(ctx, modules)
	if err != nil {
		return err
	}
	if err := r.write("stopladder-"+headless.Version+"-notices.txt", notices); err != nil {
		return err
	}
	bom, err := bill(modules, when)
	if err != nil {
		return err
	}
	if err := r.write("stopladder-"+headless.Version+".cdx.json", bom); err != nil {
		return err
	}
	for _, t := range c.bare {
		if err := r.archive(t, notices); err != nil {
			return err
		}
	}
	for _, t := range c.windows {
		pack := r.linux
		if t.system == "windows" {
			pack = r.windows
		}
		if err := pack(ctx, t, notices); err != nil {
			return err
		}
	}
	if c.macos {
		if err := r.macos(); err != nil {
			return err
		}
	}
	return r.sums()
}

// commitTime is when the commit that is built was made.
func commitTime(ctx context.Context) (time.Time, error) {
	text, err := exec.CommandContext(ctx, "git", "log", "-1", "--format=%ct").Output()
	if err != nil {
		return time.Time{}, fmt.Errorf("the commit's time: %w; a release is built in a clone", err)
	}
	n, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
	return time.Unix(n, 0).UTC(), err
}

// write writes a file that is published.
func (r *release) write(name string, text []byte) error {
	r.made = append(r.made, name)
	return os.WriteFile(filepath.Join(r.out, name), text, 0o644)
}

// sums writes the checksums of what is published, as sha256sum --check reads them.
func (r *release) sums() error {
	sort.Strings(r.made)
	var b strings.Builder
	for _, name := range r.made {
		text, err := os.ReadFile(filepath.Join(r.out, name))
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(text), name)
		fmt.Printf("%9.2f MB  %s\n", float64(len(text))/1e6, name)
	}
	return os.WriteFile(filepath.Join(r.out, "SHA256SUMS"), []byte(b.String()), 0o644)
}
