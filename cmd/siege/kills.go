package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/roll"
)

// killsATurn is how many kills a campaign makes before the next one has its turn.
const killsATurn = 12

const planned = "--meter\tEV 12 at ISO 100\t--iso\t100\t--camera\tleaf\t--from\t-3\t--to\t4"

// killCommands kills commands that write results. Every result is afterwards what it was,
// or whole; inputs are as they were; what lies about is swept by the next write.
func killCommands(s *siege, dir string) error {
	rolls := filepath.Join(dir, "roll")
	scans, err := writeRoll(rolls, s.rng.IntN(2))
	if err != nil {
		return err
	}
	out := filepath.Join(dir, "out")
	if err := os.Mkdir(out, 0o777); err != nil {
		return err
	}
	at := func(name string) string { return filepath.Join(out, name) }
	calls := map[string][]string{
		"measure": {"measure", rolls, "--json", at("r.json"), "--csv", at("r.csv"), "--limits-out", at("l.json")},
		"sheet":   {"sheet", rolls, "-o", at("s.png"), "--width", "1600"},
		"plan":    append(append([]string{"plan"}, strings.Split(planned, "\t")...), "-o", at("p.ladderplan"), "--card", at("c.pdf"), "--card", at("c.png")),
		"demo":    {"demo", at("demo"), "--size", "200", "--force"},
	}
	inputs := remember(scans...)
	long := map[string]time.Duration{}
	for name, call := range calls { // once whole: how long it takes, and an old result to lose
		begin := time.Now()
		if code, words := s.command(nil, call...); code != 0 {
			return fmt.Errorf("%s ended with %d: %s", name, code, words)
		}
		long[name] = time.Since(begin)
	}
	for name, call := range calls {
		for range killsATurn / 4 {
			after := time.Duration(float64(long[name]) * 1.1 * s.rng.Float64())
			if _, _, _, err := killed(s.start("command", nil, call...), after); err != nil {
				return err
			}
			s.tried("kills of " + name)
			s.checkWhole("a kill of "+name, out)
			if c := inputs.changed(); c != "" {
				s.broke("a kill of %s changed the scan %s", name, c)
			}
		}
		if len(leftovers(out)) > 0 {
			if code, words := s.command(nil, call...); code != 0 {
				s.broke("after kills %s ended with %d: %s", name, code, words)
			}
			if left := leftovers(out); len(left) > 0 {
				s.broke("after kills of %s and a whole run %v lie about", name, left)
			}
		}
	}
	return nil
}

// checkWhole checks every result in a folder and below it.
func (s *siege) checkWhole(what, dir string) {
	_ = filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.HasPrefix(d.Name(), ".stopladder-") {
			if err := whole(path); err != nil {
				s.broke("%s left %s torn: %v", what, d.Name(), err)
			}
		}
		return nil
	})
}

// killSavers kills what keeps a person's work: log, cameras, and a roll that is judged as
// in the window. What was acknowledged before the kill is there after it.
func killSavers(s *siege, dir string) error {
	home := filepath.Join(dir, "home")
	env := []string{"STOPLADDER_HOME=" + home}
	p := filepath.Join(dir, "p.ladderplan")
	if code, words := s.command(env, append(append([]string{"plan"}, strings.Split(planned, "\t")...), "-o", p)...); code != 0 {
		return fmt.Errorf("plan ended with %d: %s", code, words)
	}
	r := &roll.Roll{Frames: []roll.Frame{{File: filepath.Join(dir, "0.tif"), Origin: roll.ByHand}}}
	path := filepath.Join(dir, "r"+roll.Ext)
	if err := r.Save(path); err != nil {
		return err
	}
	for i := range killsATurn {
		after := time.Duration(150 * s.rng.Float64() * float64(time.Millisecond))
		var err error
		switch i % 3 {
		case 0:
			err = s.killLog(p, env, after)
		case 1:
			err = s.killCameras(home, env, after)
		case 2:
			err = s.killSaver("kills of the window's saves", path, home, env, after)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *siege) killLog(p string, env []string, after time.Duration) error {
	told, words, _, err := killedAtWork(s.start("log", env, p, "a"), after)
	if err != nil {
		return err
	}
	s.tried("kills of log")
	s.counts["entries acknowledged by log before a kill"] += len(told)
	f, err := plan.Load(p)
	if err != nil {
		s.broke("after a kill of log: %v", err)
		return nil
	}
	if words != "" {
		s.broke("log said %q", words)
	}
	if len(told) == 0 {
		return nil
	}
	shot := f.Shot(noteFrame("a"))
	if shot == nil || counted(shot.Note, "a") < counted(told[len(told)-1], "a") {
		s.broke("log acknowledged %s, and after the kill there is %+v", told[len(told)-1], shot)
	}
	return nil
}

// counted returns the number behind a mark, 0 where there is none.
func counted(text, mark string) int {
	n, _ := strconv.Atoi(strings.TrimPrefix(text, mark))
	return n
}

func (s *siege) killCameras(home string, env []string, after time.Duration) error {
	mark := fmt.Sprintf("mine %d", s.rng.IntN(1e9))
	told, words, _, err := killedAtWork(s.start("cameras", env, mark), after)
	if err != nil {
		return err
	}
	s.tried("kills of cameras")
	if words != "" {
		s.broke("cameras said %q", words)
	}
	store := plan.Store{Dir: home}
	own, err := store.Own()
	if err != nil {
		s.broke("after a kill of cameras: %v", err)
		return nil
	}
	there := map[string]bool{}
	for _, c := range own {
		there[c.Name] = true
	}
	want := map[string]bool{}
	for _, t := range told {
		if gone, ok := strings.CutPrefix(t, "-"); ok {
			delete(want, gone) // it may be there or not: the kill came around its removal
		} else {
			want[t] = true
		}
	}
	for name := range want {
		s.counts["cameras acknowledged before a kill"]++
		if !there[name] {
			s.broke("cameras acknowledged %s, and it is not there", name)
		}
	}
	for _, c := range own { // room for the next
		_ = store.Remove(c.Name)
	}
	return nil
}

// killSaver judges a roll as the window does until it is killed. On a full disk (what says
// so) it may end by itself, aloud.
func (s *siege) killSaver(what, path, home string, env []string, after time.Duration) error {
	told, words, _, err := killedAtWork(s.start("saver", env, path, home), after)
	if err != nil {
		return err
	}
	s.tried(what)
	if full := strings.Contains(what, "full"); full && words != "" {
		s.tried("full disk, told")
	} else if words != "" {
		s.broke("the saver said %q", words)
	}
	kept, saved, cleared := 0, 0, false
	for _, t := range told {
		what, n, _ := strings.Cut(t, " ")
		switch what {
		case "damaged":
			s.broke("a recovery copy was damaged: %s", n)
		case "kept":
			kept, cleared = counted(n, ""), false
		case "saved":
			saved = counted(n, "")
		case "cleared":
			cleared = true
		}
	}
	s.counts["marks acknowledged by the window's state before a kill"] += kept
	r, problems, err := roll.Load(path)
	if err != nil || len(problems) > 0 || len(r.Frames) != 1 {
		s.broke("after a kill the roll file: %v %v", err, problems)
		return nil
	}
	if saved > 0 && counted(r.Frames[0].Note, "") < saved {
		s.broke("%d was saved, the roll file has %s", saved, r.Frames[0].Note)
	}
	if kept <= saved || cleared {
		return nil
	}
	j, err := roll.OpenJournal(filepath.Join(home, "recovery"))
	if err != nil {
		return err
	}
	defer j.Close()
	found, err := j.Orphans()
	if err != nil {
		s.broke("recovery copies: %v", err)
	}
	best := counted(r.Frames[0].Note, "")
	for _, f := range found {
		best = max(best, counted(f.Roll.Frames[0].Note, ""))
		_ = f.Discard()
	}
	if best < kept {
		s.broke("%d was kept, the most that is found is %d", kept, best)
	}
	return nil
}
