package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	"stopladder/analysis/judge/roll"
)

// windowStart is how long the window may take to come, on a machine that does other work
// as well.
const windowStart = 3 * time.Minute

// killWindow judges a roll in the program's real window, on a virtual display with keys
// from outside, and kills it at random moments. A mark counts as acknowledged once it was
// seen in the roll file or in a recovery copy: it is in one of them after the kill, and
// the next start of the window begins with what the kill left.
func killWindow(s *siege, dir string) error {
	if s.window == "" || runtime.GOOS != "linux" {
		return fmt.Errorf("%w: --window names no program with a window", errSkip)
	}
	for _, tool := range []string{"Xvfb", "xdotool"} {
		if _, err := exec.LookPath(tool); err != nil {
			return fmt.Errorf("%w: %s is not installed", errSkip, tool)
		}
	}
	display, end, err := virtualDisplay()
	if err != nil {
		return err
	}
	defer end()
	scans, err := writeRoll(filepath.Join(dir, "roll"), 0)
	if err != nil {
		return err
	}
	r := &roll.Roll{Title: "yard"}
	for i, p := range scans {
		r.Frames = append(r.Frames, roll.Frame{File: p, Stop: stopNames[i].stop, Origin: roll.ByHand})
	}
	j := &judged{path: filepath.Join(dir, "r"+roll.Ext), home: filepath.Join(dir, "home")}
	if err := r.Save(j.path); err != nil {
		return err
	}
	env := append(os.Environ(), "DISPLAY=:"+display, "LIBGL_ALWAYS_SOFTWARE=1", "STOPLADDER_HOME="+j.home)
	for range killsATurn / 2 {
		if err := s.killOneWindow(j, env); err != nil {
			return err
		}
	}
	return nil
}

// virtualDisplay starts an X server without a screen.
func virtualDisplay() (number string, end func(), err error) {
	r, w, err := os.Pipe()
	if err != nil {
		return "", nil, err
	}
	defer r.Close()
	x := exec.Command("Xvfb", "-displayfd", "3", "-screen", "0", "1024x700x24", "-nolisten", "tcp", "-noreset")
	x.ExtraFiles = []*os.File{w}
	if err := x.Start(); err != nil {
		w.Close()
		return "", nil, err
	}
	w.Close()
	end = func() {
		_ = x.Process.Signal(syscall.SIGTERM) // a killed server leaves its socket behind
		_ = x.Wait()
	}
	line, err := bufio.NewReader(r).ReadString('\n')
	if err != nil {
		end()
		return "", nil, fmt.Errorf("the virtual display did not start: %w", err)
	}
	return strings.TrimSpace(line), end, nil
}

// judged is a roll whose notes are numbers that grow.
type judged struct {
	path, home string
	last       int // the last number that was typed
	seen       int // the largest that was on the disk
}

// look sees what is on the disk now: the numbers in the roll file and in recovery copies.
func (j *judged) look() {
	if r, _, err := roll.Load(j.path); err == nil {
		j.seen = max(j.seen, numberIn(r.Frames))
	}
	copies, _ := filepath.Glob(filepath.Join(j.home, "recovery", "*.recovery"))
	for _, c := range copies {
		b, err := os.ReadFile(c)
		var text struct {
			Roll struct{ Frames []roll.Frame }
		}
		if err == nil && json.Unmarshal(b, &text) == nil {
			j.seen = max(j.seen, numberIn(text.Roll.Frames))
		}
	}
}

// strayed are the keys for verdicts and views that drive presses: on a busy machine they come
// while a note is still open, and stand behind its number, which is there all the same.
const strayed = "hsbo"

// numberIn returns the largest number in the notes.
func numberIn(frames []roll.Frame) (most int) {
	for _, f := range frames {
		for _, n := range strings.Fields(f.Note) {
			most = max(most, counted(strings.TrimRight(n, strayed), ""))
		}
	}
	return most
}

// killOneWindow starts the window, marks and saves until the kill, and looks at what is
// left.
func (s *siege) killOneWindow(j *judged, env []string) error {
	c := exec.Command(s.window, j.path)
	var words bytes.Buffer
	c.Env, c.Stdout, c.Stderr = env, &words, &words
	if err := c.Start(); err != nil {
		return err
	}
	gone := make(chan error, 1)
	go func() { gone <- c.Wait() }()
	killed := func() { _ = c.Process.Kill(); <-gone }
	tool := func(args ...string) (string, error) {
		t := exec.Command("xdotool", args...)
		t.Env = env
		out, err := t.Output()
		return strings.TrimSpace(string(out)), err
	}
	var id string
	for end := time.Now().Add(windowStart); id == ""; time.Sleep(100 * time.Millisecond) {
		select {
		case err := <-gone:
			s.broke("the window ended by itself: %v %s", err, words.String())
			return nil
		default:
		}
		if time.Now().After(end) {
			killed()
			return errors.New("no window came")
		}
		out, _ := tool("search", "--onlyvisible", "--name", "Stopladder")
		if ids := strings.Fields(out); len(ids) > 0 {
			id = ids[len(ids)-1]
		}
	}
	_, _ = tool("windowfocus", id)
	before := j.seen
	moment := time.Now().Add(time.Duration(s.rng.Float64() * 6 * float64(time.Second)))
	for time.Now().Before(moment) {
		if len(gone) > 0 {
			s.broke("the window ended by itself: %v %s", <-gone, words.String())
			return nil
		}
		s.drive(j, tool)
		j.look()
	}
	time.Sleep(time.Duration(s.rng.Float64() * 500 * float64(time.Millisecond)))
	killed()
	s.tried("kills of the window")
	if j.seen > before {
		s.tried("kills of the window with marks on the disk that were new")
	}
	s.counts["marks made in the window and seen on the disk before a kill"] += j.seen - before
	s.afterWindow(j, words.String())
	return nil
}

// drive makes one mark in the window by keys: a verdict, or a number at the end of a note,
// which counts up; now and then it saves or moves on. Numbers are not typed over: notes are
// kept at every letter, and the first of the next number would be in the place of the last.
func (s *siege) drive(j *judged, tool func(args ...string) (string, error)) {
	switch s.rng.IntN(8) {
	case 0:
		_, _ = tool("key", []string{"h", "s", "b"}[s.rng.IntN(3)])
	case 1:
		_, _ = tool("key", []string{"Up", "Down", "o", "2", "1"}[s.rng.IntN(5)])
	case 2, 3:
		_, _ = tool("key", "ctrl+s")
	default:
		j.last++
		_, _ = tool("key", "Return", "key", "End", "type", "--args", "1", " "+strconv.Itoa(j.last), "key", "Return")
	}
}

// afterWindow checks what a kill of the window left, as the next start will find it.
func (s *siege) afterWindow(j *judged, words string) {
	if strings.Contains(words, "panic:") || strings.Contains(words, "fatal error:") || strings.Contains(words, "DATA RACE") {
		s.broke("the window said %q", words)
	}
	r, problems, err := roll.Load(j.path)
	if err != nil || len(problems) > 0 || len(r.Frames) != len(stopNames) {
		s.broke("after a kill of the window the roll file: %v %v", err, problems)
		return
	}
	found, notes := numberIn(r.Frames), ends(r.Frames)
	journal, err := roll.OpenJournal(filepath.Join(j.home, "recovery"))
	if err != nil {
		s.broke("after a kill of the window the journal: %v", err)
		return
	}
	defer journal.Close()
	copies, err := journal.Orphans()
	if err != nil {
		s.broke("after a kill of the window the recovery copies: %v", err)
	}
	for _, c := range copies {
		notes += " | " + ends(c.Roll.Frames)
		if n := numberIn(c.Roll.Frames); n > found {
			found = n
			s.tried("kills of the window whose marks are offered as recovery")
		}
		_ = c.Discard()
	}
	if found < j.seen {
		s.broke("mark %d was on the disk before the window was killed, the most that is found after it is %d, in notes that end with %s", j.seen, found, notes)
	}
	j.last = max(j.last, found)
	j.seen = numberIn(r.Frames) // the copies were thrown away here
}

// ends returns how notes end: what a report is judged by.
func ends(frames []roll.Frame) string {
	const most = 40
	var out []string
	for _, f := range frames {
		out = append(out, strconv.Quote(f.Note[max(0, len(f.Note)-most):]))
	}
	return strings.Join(out, " ")
}
