package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
)

// damagedPacks unpacks packs that were damaged at random: each is refused with nothing
// left, or what comes out is what was put in. Between them it kills some that are sound
// while they are unpacked: the whole folder is there or nothing.
func damagedPacks(s *siege, dir string) error {
	scans := filepath.Join(dir, "scans")
	if _, err := writeRoll(scans, 0); err != nil {
		return err
	}
	file, sound := filepath.Join(dir, "r"+roll.Ext), filepath.Join(dir, "sound"+pack.Ext)
	packing := []string{"pack", file, "-o", sound}
	if s.rng.IntN(2) == 0 {
		packing = append(packing, "--scans")
	}
	want := filepath.Join(dir, "want")
	begin := time.Now()
	for _, call := range [][]string{
		{"measure", scans, "--roll", file},
		{"judge", file, "--judge", "Ada", "--verdicts", "-1=breaks,0=holds,+1=strains", "--range", "-1/2..+1/2"},
		packing,
		{"unpack", sound, "-o", want},
	} {
		begin = time.Now()
		if code, words := s.command(nil, call...); code != 0 {
			return fmt.Errorf("%s ended with %d: %s", call[0], code, words)
		}
	}
	long := time.Since(begin)
	text, err := os.ReadFile(sound)
	if err != nil {
		return err
	}
	w := &worker{s: s}
	defer w.end()
	bad, out := filepath.Join(dir, "bad"+pack.Ext), filepath.Join(dir, "out")
	for range rollsATurn {
		if err := os.WriteFile(bad, mutate(s.rng, text), 0o666); err != nil {
			return err
		}
		code, words, ok := w.call("unpack", bad, "-o", out)
		s.judge("a damaged pack", code, words, ok)
		s.unpacked("a damaged pack", want, out, ok && code == 0)
	}
	for range killsATurn / 3 {
		_, _, alive, err := killed(s.start("command", nil, "unpack", sound, "-o", out), time.Duration(float64(long)*1.1*s.rng.Float64()))
		if err != nil {
			return err
		}
		_, err = os.Stat(out)
		s.unpacked("a kill of unpack", want, out, err == nil || !alive)
	}
	return nil
}

var sessionMember = regexp.MustCompile(`"session": *"[0-9a-f]+"`)

// unpacked checks what a pack left: all of want where it should be there, else nothing;
// and clears it away.
func (s *siege) unpacked(what, want, out string, whole bool) {
	defer os.RemoveAll(out)
	if !whole {
		s.tried(what + ": nothing left")
		if _, err := os.Lstat(out); err == nil {
			s.broke("%s left %s", what, strings.Join(names(out), ", "))
		}
		return
	}
	s.tried(what + ": whole")
	if a, b := names(want), names(out); strings.Join(a, "\n") != strings.Join(b, "\n") {
		s.broke("%s: %v came out in place of %v", what, b, a)
	}
	for _, name := range names(want) {
		a, err := os.ReadFile(filepath.Join(want, name))
		b, other := os.ReadFile(filepath.Join(out, name))
		if filepath.Ext(name) == roll.Ext { // every unpacking is a session of its own
			a, b = sessionMember.ReplaceAll(a, nil), sessionMember.ReplaceAll(b, nil)
		}
		if err != nil || other != nil || !bytes.Equal(a, b) {
			s.broke("%s: %s is not what was packed", what, name)
		}
	}
}

// names are the files in a folder and below, by their paths from it.
func names(dir string) (all []string) {
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(dir, path)
			all = append(all, rel)
		}
		return nil
	})
	return all
}
