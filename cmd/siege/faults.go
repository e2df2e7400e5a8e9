package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/roll"
)

// fullDisk runs commands on a disk that has room for a part of what they write, or for
// files of a length that is cut off. What was there before is as it was; a result is old
// or whole; the status says so; nothing lies about.
func fullDisk(s *siege, dir string) error {
	rolls := filepath.Join(dir, "roll")
	if _, err := writeRoll(rolls, 0); err != nil {
		return err
	}
	at := filepath.Join(dir, "disk")
	if err := os.Mkdir(at, 0o777); err != nil {
		return err
	}
	undo, err := small(at, 1<<20)
	mounted := err == nil
	if mounted {
		defer undo()
	}
	if mounted {
		if err := fullSaves(s, at); err != nil {
			return err
		}
	}
	out := func(name string) string { return filepath.Join(at, name) }
	calls := [][]string{
		{"measure", rolls, "--json", out("r.json"), "--csv", out("r.csv")},
		{"sheet", rolls, "-o", out("s.png"), "--width", "1600"},
		append(append([]string{"plan"}, strings.Split(planned, "\t")...), "-o", out("p.ladderplan"), "--card", out("c.pdf")),
		{"log", out("p.ladderplan"), "--note", "3=wind"},
	}
	for _, c := range calls {
		if code, words := s.command(nil, c...); code != 0 {
			return fmt.Errorf("%s ended with %d: %s", c[0], code, words)
		}
	}
	for range killsATurn {
		c := calls[s.rng.IntN(len(calls))]
		if c[0] == "log" {
			c[3] = fmt.Sprintf("3=%d", s.rng.IntN(1e9))
		}
		if c[0] == "plan" {
			os.Remove(out("p.ladderplan")) // with a log it is not written over
		}
		var env []string
		filler := out("filler")
		if mounted {
			_ = os.WriteFile(filler, make([]byte, 1<<20), 0o666) // as much as goes
			_ = os.Truncate(filler, max(0, size(filler)-int64(s.rng.IntN(64<<10))))
		} else {
			env = append(env, fmt.Sprintf("SIEGE_FILE=%d", s.rng.IntN(20<<10)))
		}
		before := remember(out("r.json"), out("r.csv"), out("s.png"), out("p.ladderplan"), out("c.pdf"))
		code, words := s.command(env, c...)
		os.Remove(filler)
		s.tried("full disk: " + c[0])
		if code != 0 {
			s.tried("full disk, told")
		}
		if bad := sentences(words); bad != "" {
			s.broke("on a full disk %s said %q", c[0], bad)
		}
		s.checkWhole("a full disk under "+c[0], at)
		if code != 0 && (c[0] == "log" || c[0] == "sheet") {
			if name := before.changed(); name != "" {
				s.broke("on a full disk %s ended with %d and changed %s", c[0], code, name)
			}
		}
		if left := leftovers(at); len(left) > 0 {
			s.broke("on a full disk %s left %v", c[0], left)
		}
		if _, err := plan.Load(out("p.ladderplan")); err != nil {
			if code, words := s.command(nil, calls[2]...); code != 0 {
				s.broke("after a full disk plan ended with %d: %s", code, words)
			}
		}
	}
	return nil
}

// fullSaves judges a roll as the window does on a disk that is full, or nearly: what was
// said to be saved or kept is there.
func fullSaves(s *siege, at string) error {
	home := filepath.Join(at, "home")
	r := &roll.Roll{Frames: []roll.Frame{{File: filepath.Join(at, "0.tif"), Origin: roll.ByHand}}}
	path := filepath.Join(at, "r"+roll.Ext)
	if err := r.Save(path); err != nil {
		return err
	}
	filler := filepath.Join(at, "filler")
	for range killsATurn / 4 {
		_ = os.WriteFile(filler, make([]byte, 1<<20), 0o666) // as much as goes
		_ = os.Truncate(filler, max(0, size(filler)-int64(s.rng.IntN(40<<10))))
		go func() { // room comes and goes while it saves
			for range 20 {
				time.Sleep(10 * time.Millisecond)
				_ = os.Truncate(filler, max(0, size(filler)-4096))
			}
		}()
		after := time.Duration((50 + 150*s.rng.Float64()) * float64(time.Millisecond))
		err := s.killSaver("full disk: the window's saves", path, home, []string{"STOPLADDER_HOME=" + home}, after)
		time.Sleep(50 * time.Millisecond)
		os.Remove(filler)
		if err != nil {
			return err
		}
	}
	for _, left := range leftovers(at) { // of the kills: the commands here must leave none of their own
		os.Remove(left)
	}
	os.RemoveAll(home)
	os.Remove(roll.PreviousPath(path))
	return os.Remove(path)
}

func size(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// readOnly runs commands into a folder that takes nothing.
func readOnly(s *siege, dir string) error {
	who := nobody()
	if who == nil && os.Geteuid() == 0 {
		return fmt.Errorf("%w: root may write everywhere", errSkip)
	}
	rolls := filepath.Join(dir, "roll")
	if _, err := writeRoll(rolls, 0); err != nil {
		return err
	}
	p := filepath.Join(dir, "p.ladderplan")
	if code, words := s.command(nil, append(append([]string{"plan"}, strings.Split(planned, "\t")...), "-o", p)...); code != 0 {
		return fmt.Errorf("plan ended with %d: %s", code, words)
	}
	before := remember(p)
	for _, d := range []string{dir, s.dir, rolls} {
		if err := os.Chmod(d, 0o555); err != nil {
			return err
		}
	}
	defer func() {
		for _, d := range []string{s.dir, dir, rolls} {
			_ = os.Chmod(d, 0o777)
		}
	}()
	program := filepath.Join(s.dir, "siege-copy") // nobody may not read a build's own folder
	_ = os.Chmod(s.dir, 0o777)
	if _, err := os.Stat(program); err != nil {
		b, err := os.ReadFile(os.Args[0])
		if err != nil {
			return err
		}
		if err := os.WriteFile(program, b, 0o755); err != nil {
			return err
		}
	}
	_ = os.Chmod(s.dir, 0o555)
	for range 3 {
		for _, c := range [][]string{
			{"measure", rolls, "--json", filepath.Join(dir, "r.json")}, {"sheet", rolls, "-o", filepath.Join(dir, "s.png")}, {"log", p, "3"}, {"cameras", "--add", "x", "--times", "1/60,1/30", "--apertures", "8"},
		} {
			cmd := s.start("command", nil, c...)
			cmd.Path, cmd.SysProcAttr = program, who
			var words strings.Builder
			cmd.Stderr = &words
			_ = cmd.Run()
			s.tried("read-only folder: " + c[0])
			if code := cmd.ProcessState.ExitCode(); code != 1 || sentences(words.String()) != "" || words.Len() == 0 {
				s.broke("into a read-only folder %s ended with %d: %s", c[0], code, words.String())
			}
			if before.changed() != "" || len(leftovers(dir)) > 0 {
				s.broke("%s changed a read-only folder", c[0])
			}
		}
	}
	return nil
}

// replaced measures a roll while scans vanish, are replaced by other versions, or are
// written over in place. The readings beside a hash are those of the file of that hash.
func replaced(s *siege, dir string) error {
	rolls := filepath.Join(dir, "roll")
	if _, err := writeRoll(rolls, 0); err != nil {
		return err
	}
	victim := filepath.Join(rolls, "+1.tif")
	versions := map[string]float64{} // mean code by hash
	var texts [][]byte
	for _, shade := range []float64{1, 0.5} {
		b, err := encoded(0, 1, shade)
		if err != nil {
			return err
		}
		if err := os.WriteFile(victim, b, 0o666); err != nil {
			return err
		}
		hash, mean, failed := s.reading(rolls)
		if failed != "" || hash == "" {
			return fmt.Errorf("a sound roll was not measured: %s", failed)
		}
		versions[hash], texts = mean, append(texts, b)
	}
	for range killsATurn {
		stop, gone := make(chan bool), make(chan bool)
		seed, calm := s.rng.Uint64(), 1000<<s.rng.IntN(12) // from a change a millisecond to one in seconds
		go func() {
			defer close(gone)
			disturb(victim, texts, seed, calm, stop)
		}()
		hash, mean, failed := s.reading(rolls)
		close(stop)
		<-gone
		switch {
		case failed == "" && hash == "":
			s.broke("no hash, and no error either")
		case hash == "":
			s.tried("scans changed meanwhile: told")
		default:
			s.tried("scans changed meanwhile: one version measured")
			want, ok := versions[hash]
			if !ok {
				sum := sha256.Sum256(texts[0])
				s.broke("the hash %s is of no version (one is %s)", hash, hex.EncodeToString(sum[:4]))
			} else if math.Abs(mean-want) > 1 {
				s.broke("readings of another version than the hash's: mean %.1f, that version has %.1f", mean, want)
			}
		}
	}
	return nil
}

// disturb replaces, removes and writes over a file until it is stopped, in between it
// waits up to calm microseconds.
func disturb(path string, texts [][]byte, seed uint64, calm int, stop chan bool) {
	for i := seed; ; i = i*6364136223846793005 + 1442695040888963407 {
		select {
		case <-stop:
			_ = os.WriteFile(path, texts[0], 0o666)
			return
		case <-time.After(time.Duration(i>>40%uint64(calm)) * time.Microsecond):
		}
		text := texts[i>>33%2]
		switch i >> 35 % 4 {
		case 0:
			os.Remove(path)
		case 1:
			_ = os.WriteFile(path, text, 0o666) // in place: empty for a moment
		default:
			_ = os.WriteFile(path+".new", text, 0o666)
			_ = os.Rename(path+".new", path)
		}
	}
}

// reading measures a roll and returns hash and mean red code of its last frame.
func (s *siege) reading(rolls string) (hash string, mean float64, failed string) {
	out := filepath.Join(filepath.Dir(rolls), "reading.json")
	os.Remove(out)
	code, words := s.command(nil, "measure", rolls, "--stops", "-1,0,1", "--json", out)
	if bad := sentences(words); bad != "" || code != 0 && code != 1 && code != 2 {
		s.broke("measure ended with %d: %s", code, words)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		return "", 0, "nothing measured: " + words
	}
	var doc struct {
		Frames []struct {
			File   string
			SHA256 *string
			Error  *string
			Mean   *struct{ R float64 }
		}
	}
	if err := json.Unmarshal(b, &doc); err != nil {
		s.broke("the readings are no JSON: %v", err)
		return "", 0, "none"
	}
	for _, f := range doc.Frames {
		if f.File != "+1.tif" {
			continue
		}
		if f.Error != nil {
			failed = *f.Error
		}
		if f.SHA256 != nil && f.Mean != nil {
			return *f.SHA256, f.Mean.R, failed
		}
		if failed == "" {
			failed = "no reading"
		}
	}
	if failed == "" {
		failed = "it was not in the folder when that was listed"
	}
	return "", 0, failed
}

// twoWriters lets two loggers and two windows write at once. What each acknowledged is
// there, or was refused aloud.
func twoWriters(s *siege, dir string) error {
	p := filepath.Join(dir, "p.ladderplan")
	env := []string{"STOPLADDER_HOME=" + filepath.Join(dir, "home")}
	if code, words := s.command(env, append(append([]string{"plan"}, strings.Split(planned, "\t")...), "-o", p)...); code != 0 {
		return fmt.Errorf("plan ended with %d: %s", code, words)
	}
	for range killsATurn / 4 {
		type told struct {
			mark  string
			lines []string
			words string
		}
		all := make(chan told, 4)
		for _, mark := range []string{"a", "b", "c", "d"} {
			c := s.start("log", env, p, mark)
			after := time.Duration(300 * s.rng.Float64() * float64(time.Millisecond))
			go func() {
				lines, words, _, err := killedAtWork(c, after)
				if err != nil {
					words = err.Error()
				}
				all <- told{mark, lines, words}
			}()
		}
		for range 4 {
			t := <-all
			f, err := plan.Load(p)
			if err != nil {
				s.broke("with four loggers: %v", err)
				continue
			}
			s.tried("loggers at the same time, killed")
			s.counts["entries acknowledged by loggers at the same time"] += len(t.lines)
			if t.words != "" {
				s.broke("a logger said %q", t.words)
			}
			if len(t.lines) == 0 {
				continue
			}
			last := t.lines[len(t.lines)-1]
			if shot := f.Shot(noteFrame(t.mark)); shot == nil || counted(shot.Note, t.mark) < counted(last, t.mark) {
				s.broke("a logger among four acknowledged %s, and there is %+v", last, shot)
			}
		}
	}
	return nil
}
