package headless

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
)

type judgeCmd struct {
	Roll     string   `arg:"" name:"roll" help:"The roll file (.stopladder) to judge; it is written."`
	Judge    string   `placeholder:"NAME" help:"Who judges."`
	Verdicts []string `placeholder:"LIST" help:"Verdicts by stop or by the scan's name: -3=breaks,-2..-1=strains,0=holds; none takes one back."`
	Note     []string `sep:"none" placeholder:"STOP=TEXT" help:"A note on a frame, for example --note \"+3=sky gone\"."`
	Range    string   `placeholder:"LO..HI" help:"The stops that you accept, in quarter stops: -2..+1 3/4."`
	Finding  string   `placeholder:"TEXT" help:"What the roll comes to in your words."`
	Done     bool     `help:"You are done: your marks are kept as an opinion of today, and those of others are shown from now on."`
	Again    bool     `help:"Judge the roll once more: your marks so far are kept as an opinion, and verdicts, notes, range and finding begin anew."`
}

func (c *judgeCmd) Run(ctx context.Context, std streams) error {
	r, err := rollFile(c.Roll, std)
	if err != nil {
		return err
	}
	if c.Again {
		if err := opinion.Begin(r, lastSaved(c.Roll), today()); err != nil {
			return err
		}
	}
	if err := c.mark(r); err != nil {
		return err
	}
	if c.Done {
		changed := hashes(ctx, r)
		if err := ctx.Err(); err != nil {
			return err
		}
		for _, p := range changed {
			say(std, errors.New(p))
		}
		if err := opinion.Done(r, today()); err != nil {
			return err
		}
	}
	if err := r.Save(r.Path()); err != nil {
		return err
	}
	_, err = fmt.Fprintf(std.out, "%s: %d of %d frames judged%s\n", printable(filepath.Base(c.Roll)), r.Judged(), len(r.Frames), c.after(r))
	return err
}

// after says what comes next.
func (c *judgeCmd) after(r *roll.Roll) string {
	switch {
	case c.Done && len(opinion.Given(r)) > 1:
		return "; done, stopladder opinions shows all side by side"
	case c.Done:
		return "; done"
	case opinion.Hidden(r):
		return "; the others' marks are hidden until --done"
	}
	return ""
}

// mark enters what the call says.
func (c *judgeCmd) mark(r *roll.Roll) error {
	if c.Judge != "" {
		r.Judge().Judge = c.Judge
	}
	if c.Finding != "" {
		r.Judge().Finding = c.Finding
	}
	for _, v := range c.Verdicts {
		which, word, ok := strings.Cut(v, "=")
		verdict := roll.Verdict(strings.ToLower(strings.TrimSpace(word)))
		switch verdict {
		case roll.Holds, roll.Strains, roll.Breaks:
		case "none":
			verdict = roll.Unjudged
		default:
			ok = false
		}
		if !ok {
			return badCall("--verdicts %s is no verdict; write for example -3=breaks,-2..-1=strains,0=holds", v)
		}
		frames, err := named(r, which)
		if err != nil {
			return err
		}
		for _, i := range frames {
			r.Frames[i].Verdict = verdict
		}
	}
	for _, n := range c.Note {
		which, text, ok := strings.Cut(n, "=")
		if !ok {
			return badCall("--note %s is no note; write for example \"+3=sky gone\"", n)
		}
		frames, err := named(r, which)
		if err != nil {
			return err
		}
		for _, i := range frames {
			r.Frames[i].Note = text
		}
	}
	if c.Range == "" {
		return nil
	}
	lo, hi, ok := strings.Cut(c.Range, "..")
	a, errA := stops.Parse(lo)
	b, errB := stops.Parse(hi)
	if !ok || errA != nil || errB != nil {
		return badCall("--range %s is no range; write for example -2..+1 3/4", c.Range)
	}
	r.SetRange(a, b)
	return nil
}

// named returns the frames of a roll that a scan's name, a stop or a list of stops names.
func named(r *roll.Roll, which string) (frames []int, err error) {
	which = strings.TrimSpace(which)
	for i, f := range r.Frames {
		if f.Name() == which || f.ScanName() == which {
			return []int{i}, nil
		}
	}
	list, err := stops.ParseList(which)
	if err != nil {
		return nil, badCall("%s is neither a scan of the roll nor a stop: %v", which, err)
	}
	for _, stop := range list {
		var at []int
		for i, f := range r.Frames {
			if d := f.Stop - stop; d < stops.Near && d > -stops.Near {
				at = append(at, i)
			}
		}
		switch len(at) {
		case 0:
			return nil, badCall("no frame stands at %s; name one of the roll's stops or scans", stops.ASCII(stop))
		case 1:
			frames = append(frames, at[0])
		default:
			return nil, badCall("%d frames stand at %s; name the scan, such as %s", len(at), stops.ASCII(stop), r.Frames[at[0]].ScanName())
		}
	}
	return frames, nil
}

// rollFile reads a roll file and says what of it could not be used.
func rollFile(path string, std streams) (*roll.Roll, error) {
	if !strings.EqualFold(filepath.Ext(path), roll.Ext) {
		return nil, badCall("%s is no roll file; name one that ends in %s", filepath.Base(path), roll.Ext)
	}
	r, problems, err := roll.Load(path)
	if err != nil {
		return nil, err
	}
	for _, p := range problems {
		say(std, errors.New(p.Text))
	}
	if len(r.Frames) == 0 {
		return nil, &load.CallError{Text: fmt.Sprintf("%s has no frames; open its scans first", filepath.Base(path))}
	}
	return r, nil
}

// hashes fills in the hashes of scans that the roll file has none of, and says of the others
// which have changed. Scans that are not there keep what the roll file says.
func hashes(ctx context.Context, r *roll.Roll) (changed []string) {
	if r.Demo != "" {
		return nil
	}
	for _, p := range r.Check(ctx, true) {
		if p.Code == roll.Changed {
			changed = append(changed, p.Text)
		}
	}
	for i := range r.Frames {
		f := &r.Frames[i]
		if f.SHA256 != "" || f.Preview != nil || f.Aside() {
			continue
		}
		if sum, n, err := roll.Hash(ctx, f.File); err == nil {
			f.SHA256, f.Bytes = sum, n
		}
	}
	return changed
}

// today is the day, ISO 8601.
func today() string { return time.Now().Format(time.DateOnly) }

// lastSaved is the day on which a file was written, today where that is not known.
func lastSaved(path string) string {
	if st, err := os.Stat(path); err == nil {
		return st.ModTime().Format(time.DateOnly)
	}
	return today()
}
