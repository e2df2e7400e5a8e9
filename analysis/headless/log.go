package headless

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
)

type logCmd struct {
	Plan    string   `arg:"" name:"plan" help:"The plan (.ladderplan); what is entered is kept in it."`
	Entries []string `arg:"" optional:"" name:"entry" help:"What became of frames: 3 or 1-8 or all (as planned), 3=1/60 or \"3=f/8 1/60\", 3=missed, 3=spoiled, 3=nothing (takes the entry out), other=3 (another picture after frame 3), other=3=nothing (takes it out); @14:35 behind it is the time of day."`

	Light    string   `placeholder:"READING" help:"The light metered again at the end, written like the plan's --meter; none takes it out."`
	LightISO string   `name:"light-iso" placeholder:"SPEED" help:"Film speed that the meter was set to then."`
	LightAt  string   `name:"light-at" placeholder:"15:04" help:"When that was."`
	Note     []string `placeholder:"[N=]TEXT" sep:"none" help:"A note on frame N, or on the roll; may be given more than once."`

	Match []string `placeholder:"PATH" sep:"none" help:"Scans, or a folder of them: say which is which frame; may be given more than once."`
	Offer int      `placeholder:"N" help:"Take the N-th of the offers that --match made."`

	cardArgs `embed:""`
	JSON     output `name:"json" placeholder:"FILE|-" help:"Write plan and log as JSON (schema: stopladder manual plan-1)."`
}

func (c *logCmd) Run(ctx context.Context, std streams) error {
	if err := c.cardArgs.check(); err != nil {
		return err
	}
	if c.Offer != 0 && len(c.Match) == 0 {
		return badCall("--offer chooses among what --match offers; give --match with the scans as well")
	}
	f, err := plan.Load(c.Plan)
	if err != nil {
		return err
	}
	changed, err := c.enter(f)
	if err != nil {
		return fieldErrors(std, err)
	}
	var scans []string
	var matched *plan.Assignment
	if len(c.Match) > 0 {
		if scans, err = c.scans(); err != nil {
			return err
		}
	}
	g := new(guard.Guard)
	g.Reads(c.Plan)
	g.Reads(scans...)
	if err := writes(g, append(c.Card, c.JSON)...); err != nil {
		return err
	}
	if len(scans) > 0 {
		if matched, err = c.match(ctx, f, scans); err != nil {
			return fieldErrors(std, err)
		}
	}
	if changed {
		// Once more, in what stands there now: others may log at the same time.
		f, err = plan.Change(c.Plan, func(f *plan.File) error {
			_, err := c.enter(f)
			return err
		})
		if err != nil {
			return fieldErrors(std, err)
		}
	}
	if c.JSON != "" {
		if err := writeFile(std.out, g, c.JSON, f.Encode); err != nil {
			return err
		}
	}
	if err := c.cardArgs.write(std, f, g); err != nil {
		return err
	}
	switch {
	case matched != nil:
		return c.writeMatch(std, matched)
	case c.JSON == standard || slices.Contains(c.Card, output(standard)):
		return nil
	}
	return writeLog(std.out, f)
}

var entryText = regexp.MustCompile(`^(all|other|[0-9]{1,4}(?:-[0-9]{1,4})?)\s*(?:=([^@]*))?(?:@\s*([0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?))?$`)

// enter puts what was typed into the log; false when there was nothing to enter.
func (c *logCmd) enter(f *plan.File) (changed bool, err error) {
	for _, e := range c.Entries {
		m := entryText.FindStringSubmatch(strings.ToLower(strings.TrimSpace(e)))
		if m == nil {
			return false, badCall("%q is no entry of a log; write for example 3, 1-8, all, 3=1/60, 3=missed or other=3, and @14:35 behind it for the time of day", e)
		}
		if err := enterOne(f, m[1], strings.TrimSpace(m[2]), m[3]); err != nil {
			return false, err
		}
		changed = true
	}
	for _, n := range c.Note {
		number, text, named := strings.Cut(n, "=")
		i, err := strconv.Atoi(strings.TrimSpace(number))
		if !named || err != nil {
			if err := f.SetNote(n); err != nil {
				return false, err
			}
			changed = true
			continue
		}
		s := f.Shot(i)
		if s == nil {
			s = &plan.Shot{Number: i, State: plan.Done}
		}
		shot := *s
		shot.Note = text
		if err := f.Put(shot, 0); err != nil {
			return false, err
		}
		changed = true
	}
	if c.Light == "none" {
		changed = f.Log != nil && f.Log.Light != nil || changed
		if err := f.SetLight(plan.Light{}); err != nil {
			return false, err
		}
	} else if c.Light != "" {
		if err := f.SetLight(plan.Light{Meter: c.Light, MeterSpeed: c.LightISO, Clock: c.LightAt}); err != nil {
			return false, err
		}
		changed = true
	} else if c.LightAt != "" || c.LightISO != "" {
		return false, badCall("--light-at and --light-iso belong to a reading; give --light as well")
	}
	return changed, nil
}

func enterOne(f *plan.File, which, what, clock string) error {
	if which == "other" {
		after := 0
		number, out := strings.CutSuffix(what, "=nothing")
		if number != "" {
			n, err := strconv.Atoi(number)
			if err != nil || n < 0 {
				return badCall("other=%s: write the number of the frame before the other picture, for example other=3", what)
			}
			after = n
		}
		if out {
			return f.RemoveOther(after)
		}
		return f.Put(plan.Shot{State: plan.Other, Clock: clock}, after)
	}
	first, last, err := f.Plan.Frames[0].Number, f.Plan.Frames[len(f.Plan.Frames)-1].Number, error(nil)
	if which != "all" {
		a, b, isRange := strings.Cut(which, "-")
		first, err = strconv.Atoi(a)
		last = first
		if isRange && err == nil {
			last, err = strconv.Atoi(b)
		}
		if err != nil || last < first {
			return badCall("%s are no frames; write the smaller number first, for example 1-8", which)
		}
	}
	for n := first; n <= last; n++ {
		s := plan.Shot{Number: n, State: plan.Done, Clock: clock}
		switch what {
		case "":
		case "nothing":
			f.Remove(n)
			continue
		case string(plan.Missed), string(plan.Spoiled):
			s.State = plan.State(what)
		default:
			s.Setting = what
		}
		if old := f.Shot(n); old != nil {
			s.Note = old.Note
			if clock == "" {
				s.Clock = old.Clock
			}
		}
		if err := f.Put(s, 0); err != nil {
			return err
		}
	}
	return nil
}

// writeLog writes what is on the film, and what is missing from it, for people.
func writeLog(w io.Writer, f *plan.File) error {
	real, err := f.Real()
	if err != nil {
		return err
	}
	var b strings.Builder
	rows := [][]string{{"frame", "planned", "real stop", "off", "time", "aperture", "light", "at", "", ""}}
	gaps := real.Gaps
	missed := func(until int) { // the frames that were missed before the until-th on the film
		for ; len(gaps) > 0 && gaps[0].Before <= until; gaps = gaps[1:] {
			p := f.Plan.Frames[gaps[0].Frame]
			rows = append(rows, []string{fmt.Sprint(p.Number), stops.ASCII(p.Stop), dash, dash, dash, dash, dash, gaps[0].Clock, "missed", printable(gaps[0].Note)})
		}
	}
	for i, e := range real.Exposed {
		missed(i)
		row := []string{dash, dash, dash, dash, dash, dash, dash, e.Clock, "another picture", printable(e.Note)}
		if e.Frame >= 0 {
			row[0], row[1], row[8] = fmt.Sprint(e.Number), stops.ASCII(e.Wanted), "spoiled"
		}
		if e.Test {
			row = []string{row[0], row[1], plan.Hundredths(e.Stop), plan.Hundredths(e.Deviation()), e.Time.Seconds(), e.Aperture.Number(), plan.Hundredths(e.Light), e.Clock, "", row[9]}
			if !e.Ticked {
				row[8] = "not logged"
			}
		}
		rows = append(rows, row)
	}
	missed(len(real.Exposed))
	align(&b, rows, []bool{0: true, 1: true, 2: true, 3: true, 4: true, 6: true, 9: false})
	if f.Log != nil && f.Log.Note != "" {
		list(&b, "Note", []string{f.Log.Note})
	}
	list(&b, "Notes", real.Notes)
	_, err = io.WriteString(w, b.String())
	return err
}

// scans returns the files that --match names.
func (c *logCmd) scans() ([]string, error) {
	paths, _, err := scan.Expand(c.Match)
	if err == nil && len(paths) == 0 {
		err = fmt.Errorf("%s holds no scans; name the folder that they are in", filepath.Base(c.Match[0]))
	}
	return paths, err
}

func (c *logCmd) match(ctx context.Context, f *plan.File, paths []string) (*plan.Assignment, error) {
	a, err := plan.Match(f, paths, nil)
	if err != nil {
		return nil, err
	}
	if len(a.Offers) > 1 || a.Sure {
		if a, err = load.ByLight(ctx, f, paths, load.Options{}, nil); err != nil {
			return nil, err
		}
		if !a.Sure {
			a.Findings = append(a.Findings, "The offers stand in the order in which they fit how light the scans are.")
		}
	}
	if c.Offer > 0 {
		if c.Offer > len(a.Offers) {
			return nil, badCall("--offer %d: there are %d offers", c.Offer, len(a.Offers))
		}
		a.Scans, a.Sure = a.Offers[c.Offer-1].Scans, true
	}
	return a, nil
}

// writeMatch writes which scan is which frame, or what could be.
func (c *logCmd) writeMatch(std streams, a *plan.Assignment) error {
	var b strings.Builder
	if !a.Sure {
		b.WriteString(a.Question + "\n\n")
		for i, o := range a.Offers {
			fmt.Fprintf(&b, "  %d  %s\n", i+1, printable(o.Text))
		}
		list(&b, "Notes", a.Findings)
		if _, err := io.WriteString(std.out, b.String()); err != nil {
			return err
		}
		return errors.New("which scans are the bracket is not certain; choose with --offer N")
	}
	rows := [][]string{{"scan", "frame", "planned", "real stop"}}
	var labels []string
	all := true
	for _, s := range a.Scans {
		row := []string{printable(filepath.Base(s.Scan)), dash, dash, "another picture"}
		if s.Known {
			row = []string{row[0], fmt.Sprint(a.Real.Exposed[s.Exposed].Number), stops.ASCII(s.Wanted), plan.Hundredths(s.Stop)}
			labels = append(labels, typed(s.Stop))
		}
		all = all && s.Known
		rows = append(rows, row)
	}
	align(&b, rows, []bool{1: true, 2: true, 3: true})
	if all {
		fmt.Fprintf(&b, "\n--stops %s\n", strings.Join(labels, ","))
	}
	list(&b, "Notes", a.Findings)
	_, err := io.WriteString(std.out, b.String())
	return err
}

// typed writes a stop for --stops, to a thousandth.
func typed(v float64) string {
	if math.Abs(v) < stops.Near {
		return "0"
	}
	return fmt.Sprintf("%+.3f", v)
}
