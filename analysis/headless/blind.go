package headless

import (
	"fmt"
	"image"
	"io"
	"path/filepath"
	"strings"

	"stopladder/analysis/headless/guard"
	"stopladder/analysis/judge/blind"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/show/blindly"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/pngwrite"
)

type blindCmd struct {
	Roll   string `arg:"" name:"roll" help:"The roll file (.stopladder) that was judged blind in the window. Its scans are not read."`
	JSON   output `name:"json" placeholder:"FILE" help:"Write all blind judgings of the roll as JSON, - for standard output (assets/schema/blind-1.json)."`
	Output output `short:"o" placeholder:"FILE.png" help:"Write the plot of the latest one."`
}

// Of the plot of a blind judging, pixels.
const blindWidth, blindHeight, blindScale = 1000, 560, 2

func (c *blindCmd) Run(std streams) error {
	if ext := strings.ToLower(filepath.Ext(string(c.Output))); c.Output != "" && ext != ".png" {
		return badCall("the plot is a .png, and %s is none; change its ending", filepath.Base(string(c.Output)))
	}
	r, err := rollFile(c.Roll, std)
	if err != nil {
		return err
	}
	if len(r.Blind) == 0 {
		return fmt.Errorf("%s was never judged blind; open it in the window and choose \"Judge blind…\" from the menu Judge", printable(filepath.Base(c.Roll)))
	}
	g := new(guard.Guard)
	g.Judged(r)
	g.Reads(c.Roll)
	if err := writes(g, c.JSON, c.Output); err != nil {
		return err
	}
	if c.Output != "" {
		if err := writeFile(std.out, g, c.Output, func(w io.Writer) error { return blindPlot(w, r) }); err != nil {
			return err
		}
	}
	if c.JSON != "" {
		if err := writeFile(std.out, g, c.JSON, func(w io.Writer) error { return blindly.JSON(w, r, "Stopladder "+Version) }); err != nil {
			return err
		}
	}
	if c.JSON == standard {
		return nil
	}
	return blindly.Text(std.out, r)
}

// blindPlot writes the plot of a roll's latest blind judging.
func blindPlot(w io.Writer, r *roll.Roll) error {
	res := blind.Of(r, &r.Blind[len(r.Blind)-1])
	var marked *roll.Range
	if len(r.Marks) > 0 {
		marked = r.Marks[0].Range
	}
	img := image.NewRGBA(image.Rect(0, 0, blindWidth*blindScale, blindHeight*blindScale))
	c := paint.New(img, blindScale)
	blindly.Draw(res, marked, blindly.DarkLook(), blindWidth, blindHeight).Paint(c, img.Rect)
	return pngwrite.Encode(w, img, pngwrite.Meta{Software: pngwrite.Program})
}
