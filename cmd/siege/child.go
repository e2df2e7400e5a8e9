package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"stopladder/analysis/headless"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/ui/session"
)

// childEnv says what a child does: "command", "batch", "log", "cameras" or "saver".
const childEnv = "SIEGE_CHILD"

// child is this program started by itself.
func child() int {
	if mib, err := strconv.Atoi(os.Getenv("SIEGE_MEMORY")); err == nil {
		limitMemory(uint64(mib) << 20)
	}
	if n, err := strconv.Atoi(os.Getenv("SIEGE_FILE")); err == nil {
		limitFile(uint64(n))
	}
	args := os.Args[1:]
	switch os.Getenv(childEnv) {
	case "command":
		return headless.Main(args, strings.NewReader(""), os.Stdout, os.Stderr)
	case "batch":
		return batch()
	case "log":
		return enter(args[0], args[1])
	case "cameras":
		return add(args[0])
	case "saver":
		return saver(args[0], args[1])
	}
	return 3
}

// acknowledged tells the parent that something was said to be done.
func acknowledged(what string) { os.Stdout.WriteString(what + "\n") }

// enter logs notes one after the other, with a mark of its own, and tells each.
func enter(plan, mark string) int {
	for i := 1; ; i++ {
		note := fmt.Sprintf("%s%d", mark, i)
		if code := headless.Main([]string{"log", plan, "--note", fmt.Sprintf("%d=%s", noteFrame(mark), note)}, strings.NewReader(""), io.Discard, os.Stderr); code != 0 {
			return code
		}
		acknowledged(note)
	}
}

// noteFrame is the frame that the logger of a mark writes notes on.
func noteFrame(mark string) int { return int(mark[0]-'a') + 1 }

// add keeps cameras one after the other.
func add(mark string) int {
	for i := 1; ; i++ {
		name := fmt.Sprintf("%s %d", mark, i)
		if code := headless.Main([]string{"cameras", "--add", name, "--times", "1/60,1/30", "--apertures", "8"}, strings.NewReader(""), io.Discard, os.Stderr); code != 0 {
			return code
		}
		acknowledged(name)
		if i%8 == 0 { // not more than there may be
			for k := i - 7; k <= i; k++ {
				gone := fmt.Sprintf("%s %d", mark, k)
				acknowledged("-" + gone)
				if code := headless.Main([]string{"cameras", "--remove", gone}, strings.NewReader(""), io.Discard, os.Stderr); code != 0 {
					return code
				}
			}
		}
	}
}

// saver judges a roll as the window does, through its state and its journal, and tells
// what was kept and what was saved.
func saver(path, home string) int {
	job, err := load.Plan([]string{path}, load.Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	j, err := roll.OpenJournal(filepath.Join(home, "recovery"))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	found, err := j.Orphans() // the window says it and goes on
	if err != nil {
		acknowledged("damaged " + err.Error())
	}
	for _, f := range found {
		_ = f.Discard()
	}
	s := session.New(load.Options{})
	s.Apply(session.Open{Job: job})
	file := s.Roll().Frames[0].File
	for i := 1; ; i++ {
		s.Apply(session.SetNote{File: file, Text: strconv.Itoa(i)})
		if err := j.Keep(s.Roll(), s.Roll().Path()); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		acknowledged(fmt.Sprintf("kept %d", i))
		if i%3 != 0 {
			continue
		}
		r := s.Roll().Clone()
		if err := r.Save(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		s.Apply(session.Saved{Roll: r})
		acknowledged(fmt.Sprintf("saved %d", i))
		if err := j.Clear(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		acknowledged("cleared")
	}
}

// batch measures the rolls that it is given one a line, and tells how each ended.
func batch() int {
	in := bufio.NewScanner(os.Stdin)
	for in.Scan() {
		args := strings.Split(in.Text(), "\t")
		if args[0] == "compare" {
			verdict, words := compareDecoders(args[1])
			fmt.Printf("0\t0\t%s\n", strconv.Quote(verdict+"\n"+words))
			continue
		}
		var out, words bytes.Buffer
		begin := time.Now()
		code := headless.Main(args, strings.NewReader(""), &out, &words)
		fmt.Printf("%d\t%d\t%s\n", code, time.Since(begin).Milliseconds(), strconv.Quote(words.String()))
	}
	return 0
}

// start prepares a child.
func (s *siege) start(kind string, env []string, args ...string) *exec.Cmd {
	c := exec.Command(os.Args[0], args...)
	c.Env = append(os.Environ(), childEnv+"="+kind, fmt.Sprintf("SIEGE_MEMORY=%d", s.memory), "STOPLADDER_HOME="+filepath.Join(s.dir, "home"))
	c.Env = append(c.Env, env...)
	return c
}

// command runs one command of the program and returns its status and its words.
func (s *siege) command(env []string, args ...string) (code int, words string) {
	c := s.start("command", env, args...)
	var b bytes.Buffer
	c.Stderr = &b
	_ = c.Run()
	return c.ProcessState.ExitCode(), b.String()
}

// firstWord is how long killedAtWork waits for the first thing that a child tells.
const firstWord = time.Minute

// killedAtWork is killed, but the time counts from the first thing that the child tells:
// on a busy machine it would else be dead before it had begun.
func killedAtWork(c *exec.Cmd, after time.Duration) (told []string, words string, alive bool, err error) {
	return killedFrom(c, true, after)
}

// killed runs a child and kills it after a while; it returns what it had told, and
// whether it was still alive.
func killed(c *exec.Cmd, after time.Duration) (told []string, words string, alive bool, err error) {
	return killedFrom(c, false, after)
}

// heard keeps what is written and says so the first time. The buffer is not embedded: its
// ReadFrom would be taken in place of Write, and nothing would ever be heard.
type heard struct {
	kept  bytes.Buffer
	first chan bool
}

func (h *heard) Write(p []byte) (int, error) {
	if h.kept.Len() == 0 && len(p) > 0 {
		close(h.first)
	}
	return h.kept.Write(p)
}

func killedFrom(c *exec.Cmd, atWork bool, after time.Duration) (told []string, words string, alive bool, err error) {
	out := heard{first: make(chan bool)}
	var errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Start(); err != nil {
		return nil, "", false, err
	}
	done := make(chan error, 1)
	go func() { done <- c.Wait() }()
	if atWork {
		select {
		case <-out.first:
		case <-time.After(firstWord):
		case err := <-done:
			done <- err
		}
	}
	select {
	case <-time.After(after):
		_ = c.Process.Kill()
		<-done
		alive = true
	case <-done:
	}
	text := out.kept.String()
	if i := strings.LastIndexByte(text, '\n'); i >= 0 {
		told = strings.Split(text[:i], "\n")
	}
	return told, errs.String(), alive, nil
}
