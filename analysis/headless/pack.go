package headless

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/show/packing"
)

type packCmd struct {
	rollArgs `embed:""`
	Output   output `short:"o" required:"" placeholder:"FILE.ladderpack" help:"The pack to write."`
	Scans    bool   `help:"Put the scans themselves in, in place of light previews."`
	Judge    string `placeholder:"NAME" help:"Who sends it, where the roll does not say."`
}

func (c *packCmd) Run(ctx context.Context, std streams) error {
	if c.Output != standard && !strings.EqualFold(filepath.Ext(string(c.Output)), pack.Ext) {
		return badCall("give the pack a name that ends in %s instead of %s", pack.Ext, filepath.Base(string(c.Output)))
	}
	job, how, err := c.plan()
	if err != nil {
		return err
	}
	if c.Judge != "" {
		job.Roll.Judge().Judge = c.Judge
	}
	g := readsRoll(job, "")
	if err := writes(g, c.Output); err != nil {
		return err
	}
	if job.Roll.Sitting != nil && job.Roll.Sitting.Pack != "" {
		return c.answer(ctx, g, job.Roll, std)
	}
	if err := labelled(job, "a pack"); err != nil {
		return err
	}
	result, err := readRoll(ctx, job, how, std)
	if err != nil {
		return err
	}
	var readings bytes.Buffer
	if err := document(job, result, nil).EncodeJSON(&readings); err != nil {
		return err
	}
	saved := today()
	if p := job.Roll.Path(); p != "" {
		saved = lastSaved(p)
	}
	made, err := packing.New(result, readings.Bytes(), packing.Options{Scans: c.Scans, Program: Version, Today: today(), Saved: saved})
	if err != nil {
		return err
	}
	bar := newProgress(std.err)
	err = writeFile(std.out, g, c.Output, func(w io.Writer) error {
		return made.Write(ctx, w, func(done, total int) { bar.show(fmt.Sprintf("%d of %d frames packed", done, total)) })
	})
	bar.clear()
	if err != nil {
		return err
	}
	for _, why := range made.LeftOut {
		say(std, errors.New(why))
	}
	if c.Output != standard {
		kind := "previews"
		if c.Scans {
			kind = "scans"
		}
		if _, err := fmt.Fprintf(std.out, "%s of %d frames packed into %s\n", kind, made.Frames(), printable(string(c.Output))); err != nil {
			return err
		}
	}
	if len(made.LeftOut) > 0 {
		return errReported
	}
	return nil
}

// answer writes what goes back to the sender of a pack.
func (c *packCmd) answer(ctx context.Context, g *guard.Guard, r *roll.Roll, std streams) error {
	m, members, err := pack.Reply(r, Version, today())
	if err != nil {
		return err
	}
	if err := writeFile(std.out, g, c.Output, func(w io.Writer) error { return pack.Write(ctx, w, m, members) }); err != nil {
		return err
	}
	if c.Output == standard {
		return nil
	}
	_, err = fmt.Fprintf(std.out, "your marks are packed into %s: send it back to %s\n", printable(string(c.Output)), printable(senderOf(r)))
	return err
}

func senderOf(r *roll.Roll) string {
	if r.Sitting == nil || r.Sitting.From == "" {
		return "the sender"
	}
	return r.Sitting.From
}

type unpackCmd struct {
	Pack   string `arg:"" name:"pack" help:"A pack (.ladderpack) that somebody sent."`
	Output string `short:"o" placeholder:"DIR" help:"The folder to make; without it one beside the pack, under its name."`
}

func (c *unpackCmd) Run(ctx context.Context, std streams) error {
	p, err := pack.Open(c.Pack)
	if err != nil {
		return err
	}
	defer p.Close()
	dir := c.Output
	if dir == "" {
		dir = pack.Folder(c.Pack)
	}
	bar := newProgress(std.err)
	file, err := p.Unpack(ctx, dir, today(), func(done float64) { bar.show(fmt.Sprintf("%3.0f %% unpacked", 100*done)) })
	bar.clear()
	var there *pack.ThereError
	if errors.As(err, &there) {
		return &load.CallError{Text: err.Error()}
	}
	if err != nil {
		return err
	}
	for _, problem := range p.Problems {
		say(std, errors.New(problem.Text))
	}
	_, err = fmt.Fprintf(std.out, "%s\n", printable(unpackedWords(p, file)))
	return err
}

// unpackedWords says what came in a pack, and what the friend sees of it.
func unpackedWords(p *pack.Pack, file string) string {
	what := "the scans"
	if n := p.Roll.Previews(); n > 0 {
		what = "light previews, to be judged at preview size without the scans"
	}
	words := fmt.Sprintf("%s: %d frames as %s", file, len(p.Roll.Frames), what)
	if p.Readings != nil {
		words += "; readings.json beside it has the readings of the full scans, measured by the sender"
	}
	if n := len(opinion.Given(p.Roll)); n > 0 {
		words += fmt.Sprintf("; %d other judging%s hidden until you are done", n, map[bool]string{true: " is", false: "s are"}[n == 1])
	}
	return words
}

// mergePacks takes the opinions of packs into a roll, all or none of them, and returns what
// is to be said once the roll is saved.
func mergePacks(r *roll.Roll, paths []string, std streams) (said []string, err error) {
	for _, path := range paths {
		p, err := pack.Open(path)
		if err != nil {
			return nil, err
		}
		p.Close()
		for _, problem := range p.Problems {
			say(std, errors.New(problem.Text))
		}
		out, err := opinion.Merge(r, opinion.Given(p.Roll))
		if err != nil {
			return nil, fmt.Errorf("%s was not taken in: %w", filepath.Base(path), err)
		}
		for _, s := range out.Problems {
			say(std, errors.New(s))
		}
		said = append(said, mergedWords(filepath.Base(path), out))
	}
	return said, nil
}

func mergedWords(name string, out opinion.Merged) string {
	var who []string
	for _, m := range out.Added {
		one := m.Judge
		if one == "" {
			one = "a judge without a name"
		}
		who = append(who, one)
	}
	switch {
	case len(who) == 0:
		return name + ": the roll has these marks already"
	default:
		return fmt.Sprintf("%s: the marks of %s are in the roll", name, strings.Join(who, ", "))
	}
}
