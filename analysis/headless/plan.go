package headless

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/disk/userdir"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
	"stopladder/analysis/show/card"
)

type planCmd struct {
	Meter  string `required:"" placeholder:"READING" help:"What the meter says: \"f/11 1/125\", \"EV 14 at ISO 100\", \"10000 lux\", \"reflected 4000 cd/m2 K=14\", \"sunny 16\"."`
	ISO    string `name:"iso" required:"" placeholder:"SPEED" help:"Film speed: 400, 400/27° or 27°."`
	Camera string `required:"" placeholder:"NAME" help:"A camera of \"stopladder cameras\", or a part of its name."`
	From   string `required:"" placeholder:"STOP" help:"Under end of the bracket: -3."`
	To     string `required:"" placeholder:"STOP" help:"Over end of the bracket: +4."`
	Step   string `placeholder:"STOP" help:"1, 1/2 or 1/3; 1 unless said."`
	Vary   string `placeholder:"WHAT" help:"shutter, aperture or both; the shutter unless said."`
	Hold   string `placeholder:"MARK" help:"The aperture or the time to hold: f/8, 1/60; chosen unless said."`

	MeterISO    string `name:"meter-iso" placeholder:"SPEED" help:"Film speed that the meter was set to, where the reading does not say it."`
	Filter      string `placeholder:"LOSS" help:"Light lost in a filter or bellows: 3 stops, ND 0.9, ND8 or 8x."`
	Format      string `placeholder:"NAME" help:"35mm, 135-24, 6x4.5, 6x6, 6x7, 6x8, 6x9, 6x12, 6x17, 6x7-220 or sheet."`
	Frames      string `placeholder:"N" help:"Frames on the roll, instead of the format's."`
	First       string `placeholder:"N" help:"Number of the first frame that is free; 1 unless said."`
	Order       string `placeholder:"ORDER" help:"base-first, under-over or over-under; base-first unless said."`
	BaseAgain   bool   `name:"base-again" help:"The base frame once more at the end."`
	Reciprocity string `placeholder:"FIGURES" help:"From the film maker's data sheet: 1.31 (exponent), or 2=3,10=20 (seconds metered and corrected)."`
	Correct     bool   `help:"Lengthen the times by these figures."`
	Title       string `placeholder:"TEXT" help:"What the roll is called."`
	Stock       string `placeholder:"TEXT" help:"The film stock."`

	cardArgs `embed:""`
	JSON     output `name:"json" placeholder:"FILE|-" help:"Write the plan as JSON (schema: stopladder manual plan-1)."`
	Output   output `short:"o" placeholder:"FILE.ladderplan" help:"Keep the plan; beside the scans it labels them."`
}

// cardArgs are those of the field card.
type cardArgs struct {
	Card []output `placeholder:"FILE" sep:"none" help:"Write the field card: .pdf, .png or .txt; may be given more than once."`
	Page string   `default:"A6" placeholder:"SIZE" help:"Page of the card: A6, A5 or A4."`
}

// planFlags are the flags of the fields of a form.
var planFlags = map[plan.Field]string{
	plan.FieldTitle: "title", plan.FieldStock: "stock", plan.FieldMeter: "meter", plan.FieldMeterSpeed: "meter-iso", plan.FieldFilter: "filter",
	plan.FieldISO: "iso", plan.FieldCamera: "camera", plan.FieldVary: "vary", plan.FieldHold: "hold", plan.FieldFrom: "from", plan.FieldTo: "to",
	plan.FieldStep: "step", plan.FieldFormat: "format", plan.FieldFrames: "frames", plan.FieldFirst: "first", plan.FieldOrder: "order",
	plan.FieldReciprocity: "reciprocity", plan.FieldLight: "light", plan.FieldTimes: "times", plan.FieldApertures: "apertures",
	plan.FieldTimeClicks: "time-clicks", plan.FieldApertureClicks: "aperture-clicks", plan.FieldName: "add",
}

// fieldErrors writes each field error on its own line, with the flag it belongs to;
// the call was bad. Other errors pass.
func fieldErrors(std streams, err error) error {
	fields := plan.Fields(err)
	if len(fields) == 0 {
		return err
	}
	for _, e := range fields {
		text := e.Text
		if flag, ok := planFlags[e.Field]; ok {
			text = "--" + flag + ": " + text
		}
		say(std, errors.New(text))
	}
	return errors.Join(errReported, &load.CallError{Text: err.Error()})
}

func store() plan.Store {
	dir, err := userdir.Dir()
	if err != nil {
		dir = "" // the built-in cameras serve
	}
	return plan.Store{Dir: dir}
}

func (c *planCmd) Run(std streams) error {
	if err := c.checkOutputs(); err != nil {
		return err
	}
	g := new(guard.Guard)
	if err := writes(g, append(c.Card, c.JSON, c.Output)...); err != nil {
		return err
	}
	cameras, err := store().All()
	if err != nil {
		// The own cameras are spoiled; a plan with a built-in one goes on.
		if _, e := plan.Choose(cameras, c.Camera); e != nil {
			return err
		}
		say(std, err)
	}
	f, err := plan.New(plan.Form{
		Title: c.Title, Stock: c.Stock, Meter: c.Meter, MeterSpeed: c.MeterISO, Filter: c.Filter, ISO: c.ISO, Camera: c.Camera,
		Vary: c.Vary, Hold: c.Hold, From: c.From, To: c.To, Step: c.Step, Format: c.Format, Frames: c.Frames, First: c.First,
		Order: c.Order, BaseAgain: c.BaseAgain, Reciprocity: c.Reciprocity, Correct: c.Correct,
	}, cameras)
	if err != nil {
		return fieldErrors(std, err)
	}
	if c.JSON != "" {
		if err := writeFile(std.out, g, c.JSON, f.Encode); err != nil {
			return err
		}
	}
	if err := c.cardArgs.write(std, f, g); err != nil {
		return err
	}
	if c.Output != "" {
		if err := f.Save(string(c.Output)); err != nil {
			return err
		}
	}
	if c.JSON == standard || slices.Contains(c.Card, output(standard)) {
		return nil
	}
	return writePlan(std.out, f)
}

// checkOutputs refuses what cannot be written, or would write over a log.
func (c *planCmd) checkOutputs() error {
	if err := c.cardArgs.check(); err != nil {
		return err
	}
	if c.Output == "" {
		return nil
	}
	if c.Output == standard {
		return badCall("a plan to keep needs a file; --json - writes it to standard output")
	}
	if !strings.EqualFold(filepath.Ext(string(c.Output)), plan.Ext) {
		return badCall("%s: a plan is kept as NAME%s, so that it is found beside the scans", filepath.Base(string(c.Output)), plan.Ext)
	}
	return keepsLog(string(c.Output))
}

// keepsLog refuses to write over a plan that has a log, or over what is no plan.
func keepsLog(path string) error {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	old, err := plan.Load(path)
	if err != nil {
		return badCall("%s is there already and cannot be read as a plan; choose another name", filepath.Base(path))
	}
	if old.Log != nil {
		return badCall("%s has a log, which would be lost; choose another name for the new plan", filepath.Base(path))
	}
	return nil
}

func (a cardArgs) check() error {
	if _, err := card.ParseSize(a.Page); err != nil {
		return badCall("--page: %v", err)
	}
	for _, path := range a.Card {
		switch strings.ToLower(filepath.Ext(string(path))) {
		case ".pdf", ".png", ".txt":
		default:
			if path != standard {
				return badCall("%s: a card is a .pdf, a .png or a .txt; name it so", filepath.Base(string(path)))
			}
		}
	}
	return nil
}

// write writes the cards that were asked for; on standard output goes the text.
func (a cardArgs) write(std streams, f *plan.File, g *guard.Guard) error {
	size, err := card.ParseSize(a.Page)
	if err != nil {
		return badCall("--page: %v", err)
	}
	for _, path := range a.Card {
		if ext := strings.ToLower(filepath.Ext(string(path))); ext == ".pdf" || ext == ".png" {
			tellLacking(std, card.Texts(f)...)
			break
		}
	}
	for _, path := range a.Card {
		switch strings.ToLower(filepath.Ext(string(path))) {
		case ".pdf":
			err = writeFile(std.out, g, path, func(w io.Writer) error {
				return card.PDF(w, f, size, card.Meta{Software: "Stopladder " + Version, Made: time.Now()})
			})
		case ".png":
			err = writeCardPictures(path, f, size, g)
		default:
			err = writeFile(std.out, g, path, func(w io.Writer) error { return card.Text(w, f) })
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// writeCardPictures writes FILE.png and, for further pages, FILE-2.png and on.
func writeCardPictures(path output, f *plan.File, size card.Size, g *guard.Guard) error {
	pictures, err := card.Images(f, size)
	if err != nil {
		return err
	}
	ext := output(filepath.Ext(string(path)))
	names := []output{path}
	for i := 1; i < len(pictures); i++ {
		name := output(fmt.Sprintf("%s-%d%s", strings.TrimSuffix(string(path), string(ext)), i+1, ext))
		if err := writes(g, name); err != nil {
			return err
		}
		names = append(names, name)
	}
	for i, img := range pictures {
		if err := writeFile(nil, g, names[i], func(w io.Writer) error { return card.WritePNG(w, img) }); err != nil {
			return err
		}
	}
	return nil
}

// writePlan writes a plan for people.
func writePlan(w io.Writer, f *plan.File) error {
	p := &f.Plan
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s\n", printable(strings.TrimSpace(f.Form.Title+" "+f.Form.Stock)), plan.Speed(p.ISO))
	text := strings.TrimPrefix(b.String(), ", ")
	b.Reset()
	b.WriteString(text)
	fmt.Fprintf(&b, "Metered %s: EV %.2f for this film. %s, holding %s (%s).\n\n", printable(p.Meter), p.EV, printable(f.Camera.Name), p.Held, p.HeldBy)
	rows := [][]string{{"frame", "stop", "time", "aperture", "exactly", "real stop", "off", "as engraved", ""}}
	for _, fr := range p.Frames {
		remark := ""
		if fr.Aperture.Between != "" {
			remark = "aperture between " + fr.Aperture.Between
		}
		if fr.Time.Between != "" {
			remark = strings.TrimPrefix(remark+", time between "+fr.Time.Between, ", ")
		}
		if fr.Time.Watch {
			remark = strings.TrimPrefix(remark+", B by watch", ", ")
		}
		if fr.Short {
			remark = "out of the camera's reach"
		}
		rows = append(rows, []string{fmt.Sprint(fr.Number), stops.ASCII(fr.Stop), fr.Time.Seconds(), fr.Aperture.Number(), fr.Exact(),
			plan.Hundredths(fr.Real()), plan.Hundredths(fr.Deviation), plan.Hundredths(fr.Literal), remark})
	}
	align(&b, rows, []bool{0: true, 1: true, 2: true, 5: true, 6: true, 7: true, 8: false})
	if p.Left != nil {
		fmt.Fprintf(&b, "\nOn the roll after it: %d left.", *p.Left)
	} else if f.Form.Format == "" {
		b.WriteString("\nFrames on the roll are not counted; --format says which roll it is.")
	} else {
		b.WriteString("\nSheets are not counted.")
	}
	fmt.Fprintf(&b, " The bracket takes about %s.\n", p.Duration())
	var warnings []string
	for _, w := range p.Warnings {
		warnings = append(warnings, w.Text)
	}
	list(&b, "Warnings", warnings)
	list(&b, "Cautions", p.Cautions)
	list(&b, "Assumptions", p.Assumptions)
	_, err := io.WriteString(w, b.String())
	return err
}
