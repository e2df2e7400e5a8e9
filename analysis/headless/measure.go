package headless

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/load/anew"
	"stopladder/analysis/load/memory"
	"stopladder/analysis/numeric/syserror"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/report"
)

// rollArgs are what every command that reads a roll takes.
type rollArgs struct {
	Paths []string `arg:"" name:"path" help:"A folder with scans, scans, or one roll file (.stopladder)."`
	Stops string   `placeholder:"LIST" help:"Labels in the order of the scans: -3,-2,-1,0,+1 or -3..+4 or -1..+1/0.5. Without it they are read from the file names."`

	Elsewhere bool `help:"Look for the scans of a roll file also on other machines and on devices, where it says that they are there."`

	Profile string `placeholder:"NAME" help:"What scans without a colour profile are encoded as: sRGB, \"Adobe RGB (1998)\", \"ROMM RGB\", or \"Linear sRGB\" (gamma 1). Without it the roll's own, else sRGB."`
}

// profile returns the name as the program has it, "" when none was given.
func (a rollArgs) profile() (string, error) {
	if a.Profile == "" {
		return "", nil
	}
	for _, name := range measure.AssumedProfiles() {
		if strings.EqualFold(name, a.Profile) {
			return name, nil
		}
	}
	return "", badCall("--profile %s is not known; give one of: %s", a.Profile, strings.Join(measure.AssumedProfiles(), ", "))
}

// judged plans the roll for what needs the stop of every frame, under the limits that a call
// names; what says what that is: "a report".
func (a rollArgs) judged(what, limits string) (*load.Job, load.Options, error) {
	job, how, err := a.plan()
	if err != nil {
		return nil, how, err
	}
	if err := labelled(job, what); err != nil {
		return nil, how, err
	}
	set, err := namedLimits(limits)
	if err != nil {
		return nil, how, err
	}
	if set != nil {
		job.Roll.Limits = set
	}
	return job, how, nil
}

// plan finds the scans and their labels.
func (a rollArgs) plan() (*load.Job, load.Options, error) {
	opt := load.Options{Own: pngwrite.Wrote}
	if a.Stops != "" {
		list, err := stops.ParseList(a.Stops)
		if err != nil {
			return nil, opt, &load.CallError{Text: err.Error()}
		}
		opt.Stops = list
	}
	profile, err := a.profile()
	if err != nil {
		return nil, opt, err
	}
	job, err := load.Plan(a.Paths, opt)
	if err == nil && job.Own != "" {
		job.Notes = append(job.Notes, job.Own)
	}
	if err == nil && a.Elsewhere {
		job.Roll.LookElsewhere()
	}
	if err == nil && profile != "" {
		job.Roll.AssumedProfile = profile
	}
	return job, opt, err
}

// readsRoll returns the guard of a call that reads a roll, and limits ("" or a built-in
// set's name for no file).
func readsRoll(job *load.Job, limits string) *guard.Guard {
	g := new(guard.Guard)
	g.Roll(job)
	if _, builtIn := criteria.ByName(limits); limits != "" && !builtIn {
		g.Reads(limits)
	}
	return g
}

// readRoll measures the job; it fails when not a single scan could be read.
func readRoll(ctx context.Context, job *load.Job, opt load.Options, std streams) (*film.Roll, error) {
	bar := newProgress(std.err)
	follow := bar.follow(job)
	memory.Bound()
	result, err := load.Measure(ctx, job, nil, opt, func(e load.Event) {
		if e.Kind != load.Reading {
			memory.Bound()
		}
		follow(e)
	})
	bar.clear()
	if err != nil {
		return nil, err
	}
	for _, f := range result.Frames {
		if f.Look != nil {
			return result, nil
		}
	}
	for _, err := range result.Failures() {
		say(std, err)
	}
	return nil, errReported
}

// broken writes what could not be read and ends the command with status 1 if
// there is such: the results are written, but they are not those of the whole
// roll, and a script must notice.
func broken(result *film.Roll, std streams) error {
	failures := result.Failures()
	if len(failures) == 0 {
		return nil
	}
	for _, err := range failures {
		say(std, err)
	}
	return errReported
}

// namedLimits returns those that a call names; nil when it names none.
func namedLimits(name string) (*criteria.Set, error) {
	if name == "" {
		return nil, nil
	}
	if s, ok := criteria.ByName(name); ok {
		return &s, nil
	}
	info, err := os.Stat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, badCall("--limits names %q, which is neither screen, print nor archive nor a file", name)
	}
	if err == nil && !info.Mode().IsRegular() { // a pipe could be waited for without end
		return nil, badCall("the limits %s are no ordinary file; write them into one and name that", filepath.Base(name))
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, badCall("the limits file %s cannot be opened: %v", filepath.Base(name), syserror.Cause(err))
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, criteria.MaxFileBytes+1))
	if err != nil {
		return nil, badCall("the limits file %s cannot be read: %v", filepath.Base(name), err)
	}
	s, err := criteria.Parse(text)
	if err != nil {
		return nil, badCall("%s: %v", filepath.Base(name), err)
	}
	return &s, nil
}

// document returns the readings of a roll under limits; nil are the roll's own.
func document(job *load.Job, result *film.Roll, set *criteria.Set) *report.Report {
	opt := report.Options{Version: Version, Limits: set}
	if job.Proposal != nil {
		opt.Notes = append(opt.Notes, "Labels are missing: give them with --stops, in the order of the scans.")
	}
	return report.Build(result, opt)
}

type measureCmd struct {
	rollArgs `embed:""`
	JSON     output `name:"json" placeholder:"FILE|-" help:"Write the readings as JSON (schema: stopladder manual measure-1)."`
	CSV      output `name:"csv" placeholder:"FILE|-" help:"Write the readings as CSV, a row for each frame."`

	Limits    string `placeholder:"NAME|FILE" help:"${limitshelp}"`
	LimitsOut output `name:"limits-out" placeholder:"FILE|-" help:"Write the limits in use as a JSON file, to be changed and given to --limits."`

	Roll      output `name:"roll" placeholder:"FILE" help:"Save the roll with its readings as a roll file (.stopladder), for shelf and compare; the roll file that is read keeps its marks, and the version before stays beside it."`
	blockArgs `embed:""`

	FirstLook bool `name:"first-look" help:"Only what each scan says by itself: no labels, no comparison."`
}

func (c *measureCmd) Run(ctx context.Context, std streams) error {
	if c.FirstLook {
		return c.runFirstLook(ctx, std)
	}
	job, opt, err := c.plan()
	if err != nil {
		return err
	}
	set, err := namedLimits(c.Limits)
	if err != nil {
		return err
	}
	if set == nil {
		own := job.Roll.LimitSet()
		set = &own
	}
	c.fill(job.Roll)
	g := readsRoll(job, c.Limits)
	if err := writes(g, c.JSON, c.CSV, c.LimitsOut); err != nil {
		return err
	}
	if c.Roll != "" {
		if err := savesRoll(job, c.Roll); err != nil {
			return err
		}
	}
	result, err := readRoll(ctx, job, opt, std)
	if err != nil {
		return err
	}
	doc := document(job, result, set)
	if c.LimitsOut != "" {
		if err := writeFile(std.out, g, c.LimitsOut, set.Encode); err != nil {
			return err
		}
	}
	if c.JSON != "" {
		err = writeFile(std.out, g, c.JSON, doc.EncodeJSON)
	}
	if c.CSV != "" {
		err = errors.Join(err, writeFile(std.out, g, c.CSV, doc.EncodeCSV))
	}
	if c.Roll != "" {
		err = errors.Join(err, anew.Keep(job.Roll, result, string(c.Roll), Version))
	}
	if c.JSON == "" && c.CSV == "" && c.Roll == "" {
		err = writeTable(std.out, doc)
	}
	if err != nil {
		return err
	}
	return broken(result, std)
}

// savesRoll finds early what would keep a roll file from being saved.
func savesRoll(job *load.Job, to output) error {
	path := string(to)
	if !strings.EqualFold(filepath.Ext(path), roll.Ext) {
		return badCall("a roll file's name ends in %s; give it such a name instead of %s", roll.Ext, filepath.Base(path))
	}
	if job.Proposal != nil {
		return badCall("a roll file needs the stop of every scan; give them with --stops, in the order of the scans")
	}
	var g guard.Guard
	for _, f := range job.Roll.Frames {
		g.Reads(filepath.FromSlash(f.File))
	}
	if err := g.Reading(path); err != nil {
		return err
	}
	own := job.Roll.Path()
	if st, err := os.Stat(path); err == nil {
		if in, err := os.Stat(own); own == "" || err != nil || !os.SameFile(st, in) {
			return badCall("%s is there already and its marks would be lost; open it in place of the scans, or choose another name", filepath.Base(st.Name()))
		}
	}
	return wholefile.Room(path)
}
