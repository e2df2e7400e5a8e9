// Command siege tries to make the program lose or spoil something: it kills writers at
// random moments, fills disks, takes files away and puts others in their place, lets two
// write at once, and measures thousands of rolls whose files are damaged at random. It
// counts what was tried and ends with status 1 where a promise was broken
// (assets/manual/promises.md says what is promised, and has the counts).
//
//	siege --time 2m             everything, in turns, for so long
//	siege --only mutations      one campaign
//	siege --seed 7              the same random choices again
//
// Every child is a process of its own with a limit of memory that the system holds it to.
package main

import (
	"errors"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// siege is one run: what was tried, and what broke.
type siege struct {
	dir    string // for the files of the campaigns
	rng    *rand.Rand
	memory int    // MiB that a child may have
	window string // the program with the window, "" for none
	counts map[string]int
	broken []string
}

// tried counts one attempt of a campaign.
func (s *siege) tried(what string) { s.counts[what]++ }

// broke notes a broken promise.
func (s *siege) broke(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	text = text[:min(len(text), 1500)]
	s.broken = append(s.broken, text)
	fmt.Println("BROKEN:", text)
}

// errSkip says that a campaign cannot be run on this machine.
var errSkip = errors.New("not possible here")

func main() {
	if os.Getenv(childEnv) != "" {
		os.Exit(child())
	}
	length := flag.Duration("time", 2*time.Minute, "how long")
	only := flag.String("only", "", "the campaigns whose name has this `word`")
	seed := flag.Uint64("seed", uint64(time.Now().UnixNano()), "of the random choices")
	memory := flag.Int("memory", 1536, "`MiB` that a child may have")
	window := flag.String("window", "", "kill the window of this `program` as well (needs Xvfb and xdotool)")
	tally := flag.String("tally", "", "add the counts to this `file`, a line each: date, what, times")
	keep := flag.String("keep", "", "keep what broke a promise in this `folder`")
	flag.Parse()
	dir, err := os.MkdirTemp("", "siege")
	if err != nil {
		fmt.Fprintln(os.Stderr, "siege:", err)
		os.Exit(1)
	}
	s := &siege{dir: dir, rng: rand.New(rand.NewPCG(*seed, 17)), memory: *memory, window: *window, counts: map[string]int{}}
	fmt.Printf("seed %d, %d MiB a child, %v\n", *seed, *memory, *length)
	stopped := make(chan os.Signal, 1)
	signal.Notify(stopped, os.Interrupt, syscall.SIGTERM)
	s.run(*only, time.Now().Add(*length), stopped)
	fmt.Printf("\nseed %d\n", *seed)
	s.table()
	if *tally != "" {
		if err := s.keepTally(*tally); err != nil {
			fmt.Fprintln(os.Stderr, "siege:", err)
			s.broken = append(s.broken, err.Error())
		}
	}
	if len(s.broken) > 0 {
		if *keep != "" {
			_ = os.CopyFS(*keep, os.DirFS(dir))
		}
		os.RemoveAll(dir)
		os.Exit(1)
	}
	os.RemoveAll(dir)
}

// run takes the campaigns in turns until the time is over.
func (s *siege) run(only string, end time.Time, stopped chan os.Signal) {
	skipped := map[string]bool{}
	for turn := 0; ; turn++ {
		ran := false
		for _, c := range campaigns {
			if !strings.Contains(c.name, only) || skipped[c.name] {
				continue
			}
			if time.Now().After(end) || len(stopped) > 0 || len(s.broken) > 20 {
				return
			}
			dir := filepath.Join(s.dir, strings.ReplaceAll(c.name, " ", "-"))
			os.RemoveAll(dir)
			if err := os.MkdirAll(dir, 0o777); err != nil {
				s.broke("the folder of the campaign: %v", err)
				return
			}
			switch err := c.run(s, dir); {
			case errors.Is(err, errSkip):
				skipped[c.name] = true
				fmt.Printf("skipped: %s: %v\n", c.name, err)
			case err != nil:
				s.broke("%s could not be run: %v", c.name, err)
			default:
				ran = true
			}
		}
		if !ran {
			return
		}
	}
}

// campaigns in the order of the turns.
var campaigns = []struct {
	name string
	run  func(s *siege, dir string) error
}{
	{"kills of commands", killCommands},
	{"kills of savers", killSavers},
	{"kills of the window", killWindow},
	{"full disk", fullDisk},
	{"read-only folder", readOnly},
	{"vanished and replaced scans", replaced},
	{"two writers", twoWriters},
	{"mutations", mutations},
	{"mutations of texts", mutatedTexts},
	{"packs", damagedPacks},
	{"bombs", bombs},
}

// keepTally adds what was tried to a file that many runs share.
func (s *siege) keepTally(path string) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o666)
	if err != nil {
		return err
	}
	day := time.Now().UTC().Format(time.DateOnly)
	for _, what := range slices.Sorted(maps.Keys(s.counts)) {
		if _, err := fmt.Fprintf(f, "%s\t%s\t%d\n", day, what, s.counts[what]); err != nil {
			f.Close()
			return err
		}
	}
	_, err = fmt.Fprintf(f, "%s\tpromises broken\t%d\n", day, len(s.broken))
	return errors.Join(err, f.Close())
}

func (s *siege) table() {
	fmt.Printf("%-56s %8s\n", "tried", "times")
	for _, name := range slices.Sorted(maps.Keys(s.counts)) {
		fmt.Printf("%-56s %8d\n", name, s.counts[name])
	}
	fmt.Printf("%-56s %8d\n", "promises broken", len(s.broken))
	for _, b := range s.broken { // once more: who keeps the end of the output has them
		fmt.Printf("BROKEN: %s\n", b)
	}
}
