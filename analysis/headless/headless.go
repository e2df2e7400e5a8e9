// Package headless holds the commands that need no display: measure, sheet,
// report, stills, pocket, blind, judge, pack, unpack, opinions, shelf, compare, plan, log, cameras, demo, manual and version. Both programs run them; the one
// without a window is nothing but a call of Main.
package headless

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"stopladder/analysis/load"
	"stopladder/analysis/show/plate"
)

// Version of the program.
const Version = "0.1.0"

// Exit statuses.
const (
	Done     = 0
	CouldNot = 1 // it could not be done, or not for every scan
	BadCall  = 2 // the call makes no sense as it stands
)

type commands struct {
	Measure  measureCmd  `cmd:"" help:"Measure scans and write the readings: as a table, as JSON or as CSV."`
	Sheet    sheetCmd    `cmd:"" help:"Draw the comparison of a roll as a page to publish: PNG, JPEG or PDF."`
	Report   reportCmd   `cmd:"" help:"Write a roll as one page for a browser: pictures with a movable edge, masks, readings, finding."`
	Stills   stillsCmd   `cmd:"" help:"Draw a roll as the stills of a film: every frame at every grade, of one size and place."`
	Pocket   pocketCmd   `cmd:"" help:"Draw the pocket card of a measured roll: what becomes of which light at which exposure, to read at the camera."`
	Blind    blindCmd    `cmd:"" help:"Show what blind judging of a roll came to: verdicts over stops, contradictions, the range with its error."`
	Judge    judgeCmd    `cmd:"" help:"Judge a roll file: verdicts, notes, range, and when you are done."`
	Pack     packCmd     `cmd:"" help:"Pack a roll into one file for a friend to judge, or your marks to send back."`
	Unpack   unpackCmd   `cmd:"" help:"Unpack a roll that somebody sent, to judge it."`
	Opinions opinionsCmd `cmd:"" help:"Show the opinions of all judges of a roll side by side, and how far they agree."`
	Shelf    shelfCmd    `cmd:"" help:"List the roll files of a folder with stock, lab, scanner, development and ranges, and draw them on one axis."`
	Compare  compareCmd  `cmd:"" help:"Hold two to twelve rolls against each other by the readings that their files keep."`
	Plan     planCmd     `cmd:"" help:"Plan a bracket before the roll: time and aperture of every frame."`
	Log      logCmd      `cmd:"" help:"Log what was really exposed, and get the real stops of the frames and of their scans."`
	Cameras  camerasCmd  `cmd:"" help:"List the cameras that a plan may name, and keep your own."`
	Demo     demoCmd     `cmd:"" help:"Write the demo roll as 16-bit TIFF files."`
	Manual   manualCmd   `cmd:"" help:"Read the manual: the method, the keys, the files. Without a page it lists them."`
	Version  versionCmd  `cmd:"" help:"Say which version this is."`
}

// Commands returns the words that start a command.
func Commands() []string {
	return []string{"measure", "sheet", "report", "stills", "pocket", "blind", "judge", "pack", "unpack", "opinions", "shelf", "compare", "plan", "log", "cameras", "demo", "manual", "version", "help"}
}

// streams are where a command reads and writes.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

// Main runs one command and returns the exit status: 0 done, 1 could not, 2 bad
// call. args are those after the program's name. An interrupt ends the command
// with nothing left behind.
func Main(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return run(ctx, args, streams{stdin, stdout, stderr})
}

func run(ctx context.Context, args []string, std streams) int {
	switch {
	case len(args) == 0:
		return complain(std, badCall("say what to do: measure, sheet, report, stills, pocket, blind, judge, pack, unpack, opinions, shelf, compare, plan, log, cameras, demo, manual or version; --help tells more"))
	case args[0] == "help":
		args = append(args[1:len(args):len(args)], "--help")
	case args[0] == "--version":
		args = []string{"version"}
	}
	helped := false
	parser, err := newParser(ctx, std, func(int) { helped = true })
	if err != nil {
		return complain(std, err)
	}
	call, err := parser.Parse(scansNotFlags(args))
	if helped {
		return Done
	}
	if err != nil {
		// The parser speaks of its end of line where a person sees a missing value.
		text := strings.ReplaceAll(err.Error(), ` but got "EOL" (<EOL>)`, ` after it`)
		for _, plain := range [][2]string{
			{`expected "<path> ..."`, "name a folder with scans, scans or a roll file"}, {`expected "<dir>"`, "name the folder to write into"},
			{`expected "<plan>"`, "name the plan (.ladderplan) whose log it is, for example stopladder log courtyard.ladderplan 1-8"},
			{`expected "<roll>"`, "name a roll file (.stopladder)"}, {`expected "<pack>"`, "name a pack (.ladderpack)"},
			{`expected "<roll> ..."`, "name two to twelve roll files (.stopladder)"},
			{"missing flags:", "say these as well:"},
			{"expected a valid 64 bit int but got", "expected a whole number and got"}, {"expected string value", "expected a value"},
		} {
			text = strings.ReplaceAll(text, plain[0], plain[1])
		}
		return complain(std, badCall("%s; see stopladder %s", strings.TrimRight(text, ".?"), helpFor(args)))
	}
	return complain(std, call.Run())
}

// Definitions returns the commands with their arguments and flags, as help, manual page and
// completions tell them.
func Definitions() (*kong.Application, error) {
	p, err := newParser(context.Background(), streams{strings.NewReader(""), io.Discard, io.Discard}, func(int) {})
	if err != nil {
		return nil, err
	}
	return p.Model, nil
}

// newParser reads calls; exit is called once help was written.
func newParser(ctx context.Context, std streams, exit func(int)) (*kong.Kong, error) {
	return kong.New(new(commands),
		kong.Name("stopladder"),
		kong.Description("Judge a film's exposure latitude from the scans of one bracketed scene. "+
			"PATH is a folder with scans, scans, or one roll file (.stopladder). "+
			"The manual tells the method and every reading: stopladder manual."),
		kong.Writers(std.out, std.err),
		kong.Exit(exit),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(std),
		kong.Vars{"minwidth": strconv.Itoa(plate.MinWidth), "maxwidth": strconv.Itoa(plate.MaxWidth),
			"arrangements": oneOf(plate.Arrangements()), "shapes": oneOf(plate.Shapes()), "grounds": oneOf(plate.Grounds()),
			"limitshelp": "What a frame may cost to hold and to strain: screen, print, archive, or a JSON file like the one that measure --limits-out writes. Without it the roll's own, else screen."},
	)
}

// oneOf lists names for a help text: "a, b or c".
func oneOf[T ~string](all []T) string {
	s := string(all[0])
	for i, a := range all[1:] {
		if i == len(all)-2 {
			s += " or " + string(a)
		} else {
			s += ", " + string(a)
		}
	}
	return s
}

func badCall(format string, args ...any) error {
	return &load.CallError{Text: fmt.Sprintf(format, args...)}
}

// errReported ends a command with status 1 when everything has been said.
var errReported = errors.New("reported")

// complain writes err in one line and turns it into an exit status.
func complain(std streams, err error) int {
	if err == nil {
		return Done
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(std.err, "stopladder: stopped before it was done; nothing was written.")
		return CouldNot
	}
	if !errors.Is(err, errReported) {
		say(std, err)
	}
	var call *load.CallError
	if errors.As(err, &call) {
		return BadCall
	}
	return CouldNot
}

// say writes one sentence. What it quotes comes from file names and from files:
// control characters would let them write over the terminal.
func say(std streams, err error) {
	fmt.Fprintf(std.err, "stopladder: %s.\n", strings.TrimRight(printable(err.Error()), ". "))
}

// scansNotFlags lets stops and files named for their stop begin with a minus,
// which would else read as flags: "--stops -3..+4", "--from -3", and -3.tif from a shell
// pattern, which is a scan when such a file is there.
func scansNotFlags(args []string) []string {
	var out []string
	for i, a := range args {
		if i > 0 && slices.Contains([]string{"--stops", "--from", "--to", "--frames", "--lift", "--verdicts", "--note", "--range"}, args[i-1]) {
			out[len(out)-1] += "=" + a
			continue
		}
		if len(a) > 1 && a[0] == '-' && a[1] != '-' {
			if st, err := os.Stat(a); err == nil && st.Mode().IsRegular() {
				a = "./" + a
			}
		}
		out = append(out, a)
	}
	return out
}

func helpFor(args []string) string {
	if slices.Contains(Commands(), args[0]) {
		return args[0] + " --help"
	}
	return "--help"
}

type versionCmd struct{}

func (versionCmd) Run(std streams) error {
	_, err := fmt.Fprintf(std.out, "stopladder %s\n", Version)
	return err
}

// base returns the last element of a path in either notation.
func base(path string) string { return filepath.Base(filepath.FromSlash(path)) }
