package main

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
)

// rollsATurn is how many damaged rolls are measured before the next campaign has its turn.
const rollsATurn = 60

// slowest is how long a tiny roll may take before it counts as a hang. It is meant for a
// machine that does other work as well.
const slowest = 60 * time.Second

// mutate damages a file at random.
func mutate(rng *rand.Rand, b []byte) []byte {
	b = bytes.Clone(b)
	for range 1 + rng.IntN(4) {
		if len(b) < 16 {
			return b
		}
		at := rng.IntN(len(b))
		if rng.IntN(2) == 0 {
			at = rng.IntN(min(len(b), 512)) // headers are where decisions are made
		}
		switch rng.IntN(8) {
		case 0:
			b[at] ^= 1 << rng.IntN(8)
		case 1:
			b[at] = byte(rng.UintN(256))
		case 2:
			b = b[:at]
		case 3: // a length or an offset that is too large
			if at+4 <= len(b) {
				v := []uint32{0, 1, 0xff, 0xffff, 0x7fffffff, 0x80000000, 0xffffffff, uint32(len(b)), rng.Uint32()}[rng.IntN(9)]
				binary.LittleEndian.PutUint32(b[at:], v)
				if rng.IntN(2) == 0 {
					binary.BigEndian.PutUint32(b[at:], v)
				}
			}
		case 4: // a part twice
			n := min(rng.IntN(64)+1, len(b)-at)
			b = append(b[:at:at], append(bytes.Clone(b[at:at+n]), b[at:]...)...)
		case 5: // a part is missing
			n := min(rng.IntN(64)+1, len(b)-at)
			b = append(b[:at:at], b[at+n:]...)
		case 6: // zeros, as of an unfinished copy
			clear(b[at:])
		case 7:
			for i := range min(rng.IntN(16)+1, len(b)-at) {
				b[at+i] = byte(rng.UintN(256))
			}
		}
	}
	return b
}

// mutations measures rolls of three frames, one to three of them damaged, whole: no
// crash, no hang, no more memory than is stated; one damaged frame costs the others
// nothing; what is said is a sentence.
func mutations(s *siege, dir string) error {
	w := &worker{s: s}
	defer w.end()
	for i := range rollsATurn {
		kind := s.rng.IntN(len(encoders))
		at, broken := filepath.Join(dir, strconv.Itoa(i)), len(s.broken)
		paths, err := writeRoll(at, kind)
		if err != nil {
			return err
		}
		order := s.rng.Perm(3)
		damaged := 1 + s.rng.IntN(3)
		for _, k := range order[:damaged] {
			b, err := os.ReadFile(paths[k])
			if err == nil {
				err = os.WriteFile(paths[k], mutate(s.rng, b), 0o666)
			}
			if err != nil {
				return err
			}
		}
		out := filepath.Join(at, "out.json")
		code, words, ok := w.call("measure", at, "--json", out)
		s.tried("damaged rolls: " + encoders[kind].name)
		s.judge("a damaged roll of "+encoders[kind].name, code, words, ok)
		if err := whole(out); err != nil {
			s.broke("the readings of a damaged roll are no JSON: %v", err)
		}
		if ok {
			for _, k := range order[:damaged] {
				s.compare(w, paths[k], out)
			}
			for _, k := range order[damaged:] {
				s.sound(out, filepath.Base(paths[k]))
			}
		}
		if len(s.broken) > broken { // the files stay, to be looked at, where no later turn clears them
			_ = os.Rename(at, filepath.Join(s.dir, fmt.Sprintf("broken-%d", len(s.broken))))
			continue
		}
		os.RemoveAll(at)
	}
	return nil
}

// compare holds what the program read of a damaged scan against another decoder. Where
// that refuses the file, libvips too, and the program has nothing to say of it, a promise
// is broken.
func (s *siege) compare(w *worker, path, out string) {
	_, text, ok := w.call("compare", path)
	if !ok {
		s.broke("the comparison with another decoder ended: %s", text)
		return
	}
	verdict, words, _ := strings.Cut(text, "\n")
	switch verdict {
	case refDiffers:
		s.broke("%s is read otherwise than by another decoder: %s", filepath.Base(path), words)
	case refRefuses:
		if told(out, filepath.Base(path)) {
			verdict = refBoth
			break
		}
		if refused, asked := refusedBySecond(path); !asked || !refused {
			verdict = "the other decoder alone refuses, libvips does not"
			break
		}
		s.broke("%s is measured without a word; another decoder says %q, and libvips refuses it too", filepath.Base(path), words)
	}
	s.tried("damaged scans beside another decoder: " + verdict)
}

// told reports whether the readings say anything of a frame's file, or have none.
func told(out, name string) bool {
	var doc struct {
		Frames []struct {
			File        string
			Error       *string
			MissingRows *int
			Notes       []string
		}
	}
	b, err := os.ReadFile(out)
	if err != nil || json.Unmarshal(b, &doc) != nil {
		return true // nothing was measured at all, which the status says
	}
	for _, f := range doc.Frames {
		if f.File != name {
			continue
		}
		if f.Error != nil || f.MissingRows != nil && *f.MissingRows > 0 {
			return true
		}
		for _, n := range f.Notes {
			for _, word := range []string{"damage", "checksum", "missing", "cut", "ends", "unfinished", "zero", "strip", "not read", "broken"} {
				if strings.Contains(n, word) {
					return true
				}
			}
		}
	}
	return false
}

// sound checks that a frame beside damaged ones has its readings.
func (s *siege) sound(out, name string) {
	var doc struct {
		Frames []struct {
			File  string
			Error *string
			Mean  *struct{ R float64 }
		}
	}
	b, err := os.ReadFile(out)
	if err == nil {
		err = json.Unmarshal(b, &doc)
	}
	for _, f := range doc.Frames {
		if f.File == name && f.Error == nil && f.Mean != nil {
			s.tried("sound frames beside damaged ones, measured")
			return
		}
	}
	s.broke("the sound frame %s beside damaged ones has no readings: %v", name, err)
}

// judge checks how a call ended.
func (s *siege) judge(what string, code int, words string, ok bool) {
	if !ok {
		s.broke("%s ended the program: %s", what, words)
		return
	}
	s.tried(fmt.Sprintf("ended with status %d", code))
	if code < 0 || code > 2 {
		s.broke("%s: status %d", what, code)
	}
	if bad := sentences(words); bad != "" || code != 0 && words == "" {
		s.broke("%s: %q is no sentence of the program", what, bad)
	}
}

// mutatedTexts reads damaged roll files, plans, limits and cameras.
func mutatedTexts(s *siege, dir string) error {
	scans, err := writeRoll(filepath.Join(dir, "roll"), 0)
	if err != nil {
		return err
	}
	r := &roll.Roll{Title: "yard", Frames: []roll.Frame{}}
	for i, p := range scans {
		r.Frames = append(r.Frames, roll.Frame{File: p, Stop: stopNames[i].stop, Origin: roll.ByHand, Verdict: roll.Holds, Note: "a note", Area: &roll.Area{X: 1, Y: 1, W: 40, H: 30}})
	}
	r.SetRange(-1, 1)
	rollFile, planFile, limits := filepath.Join(dir, "r"+roll.Ext), filepath.Join(dir, "p"+plan.Ext), filepath.Join(dir, "limits.json")
	if err := r.Save(rollFile); err != nil {
		return err
	}
	if code, words := s.command(nil, append(append([]string{"plan"}, strings.Split(planned, "\t")...), "-o", planFile)...); code != 0 {
		return fmt.Errorf("plan ended with %d: %s", code, words)
	}
	var b bytes.Buffer
	if err := criteria.Default().Encode(&b); err != nil {
		return err
	}
	if err := os.WriteFile(limits, b.Bytes(), 0o666); err != nil {
		return err
	}
	w := &worker{s: s}
	defer w.end()
	for range rollsATurn {
		what := []string{rollFile, planFile, limits}[s.rng.IntN(3)]
		text, err := os.ReadFile(what)
		if err != nil {
			return err
		}
		bad := filepath.Join(dir, "bad"+filepath.Ext(what))
		if err := os.WriteFile(bad, mutate(s.rng, text), 0o666); err != nil {
			return err
		}
		call := []string{"measure", bad}
		switch what {
		case planFile:
			call = []string{"log", bad, "--json", "-"}
		case limits:
			call = []string{"measure", rollFile, "--limits", bad}
		}
		code, words, ok := w.call(call...)
		s.tried("damaged texts: " + strings.TrimPrefix(filepath.Ext(what), "."))
		s.judge("a damaged "+filepath.Base(what), code, words, ok)
		os.Remove(bad)
	}
	return nil
}

// worker is a child that runs many calls, started anew where one ends it.
type worker struct {
	s    *siege
	cmd  *exec.Cmd
	in   *os.File
	out  *bufio.Reader
	errs *bytes.Buffer
}

// call runs one command; ok is false where it ended the child or hung, and words then says
// what is known.
func (w *worker) call(args ...string) (code int, words string, ok bool) {
	if w.cmd == nil {
		if err := w.begin(); err != nil {
			return 0, err.Error(), false
		}
	}
	if _, err := w.in.WriteString(strings.Join(args, "\t") + "\n"); err != nil {
		return 0, w.died(), false
	}
	answer := make(chan string, 1)
	out := w.out
	go func() {
		line, _ := out.ReadString('\n')
		answer <- line
	}()
	var line string
	select {
	case line = <-answer:
	case <-time.After(slowest):
		_ = w.cmd.Process.Kill()
		w.died()
		return 0, fmt.Sprintf("nothing for %v", slowest), false
	}
	parts := strings.SplitN(strings.TrimSuffix(line, "\n"), "\t", 3)
	if len(parts) < 3 {
		return 0, w.died(), false
	}
	code, _ = strconv.Atoi(parts[0])
	if ms, err := strconv.Atoi(parts[1]); err == nil {
		w.s.counts["longest call, ms"] = max(w.s.counts["longest call, ms"], ms)
	}
	words, _ = strconv.Unquote(parts[2])
	return code, words, true
}

func (w *worker) begin() error {
	c := w.s.start("batch", nil)
	r, in, err := os.Pipe()
	if err != nil {
		return err
	}
	out, err := c.StdoutPipe()
	if err != nil {
		return err
	}
	w.errs = &bytes.Buffer{}
	c.Stdin, c.Stderr = r, w.errs
	if err := c.Start(); err != nil {
		return err
	}
	r.Close()
	w.cmd, w.in, w.out = c, in, bufio.NewReader(out)
	return nil
}

// died returns the last words of a child that ended by itself.
func (w *worker) died() string {
	w.in.Close()
	_ = w.cmd.Wait()
	text := w.errs.String()
	w.cmd = nil
	return text[:min(len(text), 3000)]
}

func (w *worker) end() {
	if w.cmd != nil {
		w.in.Close()
		_ = w.cmd.Wait()
		w.cmd = nil
	}
}
