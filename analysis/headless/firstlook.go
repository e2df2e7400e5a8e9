package headless

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"path/filepath"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/headless/guard"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/scan"
)

// firstLook is what the first look at one scan finds: what needs neither labels
// nor a base frame.
type firstLook struct {
	File          string                     `json:"file"`
	Format        string                     `json:"format"`
	Width         int                        `json:"width"`
	Height        int                        `json:"height"`
	Bits          int                        `json:"bits"`
	EffectiveBits int                        `json:"effectiveBits"`
	Profile       string                     `json:"profile"`
	ProfileWay    string                     `json:"profileWay,omitempty"`
	Description   string                     `json:"description,omitempty"`
	Date          string                     `json:"date,omitempty"`
	Software      string                     `json:"software,omitempty"`
	PixelsPerInch []float64                  `json:"pixelsPerInch,omitempty"` // across, down
	Preview       [2]int                     `json:"preview"`                 // width, height
	Area          [4]int                     `json:"area"`                    // x, y, width, height
	AreaFrom      string                     `json:"areaFrom"`
	Pixels        uint64                     `json:"pixels"` // of the area: all that follows is exact over them
	Mean          measure.RGB[float64]       `json:"mean"`
	Histogram     measure.RGB[histogramText] `json:"histogram"`
	Ceiling       measure.RGB[int]           `json:"ceiling"`
	Floor         measure.RGB[int]           `json:"floor"`
	Blown         measure.Clip               `json:"blown"`
	Blocked       measure.Clip               `json:"blocked"`
	MissingRows   int                        `json:"missingRows,omitempty"`
	Notes         []string                   `json:"notes,omitempty"`
}

// histogramText sums up the exact histogram of one channel: codes below or at
// which so much of the area lies.
type histogramText struct {
	Lowest   int    `json:"lowest"`
	P1       int    `json:"p1"`
	Median   int    `json:"median"`
	P99      int    `json:"p99"`
	Highest  int    `json:"highest"`
	Distinct int    `json:"distinct"` // codes in use
	AtTop    uint64 `json:"atTop"`    // pixels at the container's largest code
	AtZero   uint64 `json:"atZero"`
}

func sumUp(counts []uint64, pixels uint64) (t histogramText) {
	if len(counts) == 0 || pixels == 0 {
		return t
	}
	t.AtZero, t.AtTop = counts[0], counts[len(counts)-1]
	t.Lowest = -1
	var below uint64
	reach := func(at *int, v int, before, share uint64) {
		// The first code that share hundredths of the pixels lie at or below.
		if 100*before < share*pixels && 100*below >= share*pixels {
			*at = v
		}
	}
	for v, n := range counts {
		if n == 0 {
			continue
		}
		if t.Lowest < 0 {
			t.Lowest = v
		}
		t.Highest = v
		t.Distinct++
		before := below
		below += n
		reach(&t.P1, v, before, 1)
		reach(&t.Median, v, before, 50)
		reach(&t.P99, v, before, 99)
	}
	return t
}

func firstLookOf(l *measure.Look) firstLook {
	in := l.Info
	f := firstLook{
		File: filepath.Base(in.Path), Format: in.Format, Width: in.Width, Height: in.Height, Bits: in.Bits, EffectiveBits: l.EffectiveBits,
		Profile: l.Space.ProfileName(), ProfileWay: l.Space.Way(), Description: in.Description, Date: in.Date, Software: in.Software,
		Preview: [2]int{l.Preview.W, l.Preview.H}, Area: corners(l.Area), AreaFrom: l.AreaFrom.String(), Pixels: l.Hist.Pixels, Mean: l.Mean,
		Ceiling: l.Ceiling, Floor: l.Floor, Blown: l.Blown, Blocked: l.Blocked, MissingRows: l.MissingRows, Notes: l.Notes,
	}
	f.Histogram.R = sumUp(l.Hist.Channel(0), l.Hist.Pixels)
	f.Histogram.G = sumUp(l.Hist.Channel(1), l.Hist.Pixels)
	f.Histogram.B = sumUp(l.Hist.Channel(2), l.Hist.Pixels)
	if in.XPPI > 0 {
		f.PixelsPerInch = []float64{in.XPPI, in.YPPI}
	}
	if l.AreaNote != "" {
		f.Notes = append(f.Notes[:len(f.Notes):len(f.Notes)], l.AreaNote)
	}
	return f
}

func corners(r image.Rectangle) [4]int { return [4]int{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }

// runFirstLook looks at every scan by itself. Scans that cannot be read are named
// and the others still written.
func (c *measureCmd) runFirstLook(ctx context.Context, std streams) error {
	if c.Stops != "" || c.CSV != "" || c.Limits != "" || c.LimitsOut != "" {
		return badCall("--first-look takes scans as they are: leave --stops, --csv, --limits and --limits-out out")
	}
	profile, err := c.profile()
	if err != nil {
		return err
	}
	files, _, err := scan.Expand(c.Paths)
	if err != nil {
		return err
	}
	g := new(guard.Guard)
	g.Reads(files...)
	if err := writes(g, c.JSON); err != nil {
		return err
	}
	var looks []firstLook
	var failed error
	for _, file := range files {
		src, err := scan.Open(file, scan.DefaultBounds)
		var l *measure.Look
		if err == nil {
			l, err = measure.NewLook(ctx, src, measure.Options{AssumedProfile: profile})
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			say(std, err)
			failed = errReported
			continue
		}
		if l.Short != nil {
			say(std, l.Short)
			failed = errReported
		}
		looks = append(looks, firstLookOf(l))
	}
	if len(looks) == 0 {
		if failed == nil {
			return badCall("there is no scan to look at; name a folder with scans, or the scans themselves")
		}
		return failed
	}
	if c.JSON == "" {
		return errors.Join(writeLooks(std.out, looks), failed)
	}
	err = writeFile(std.out, g, c.JSON, func(w io.Writer) error {
		text, err := json.MarshalIndent(struct {
			Version string      `json:"version"`
			Scans   []firstLook `json:"scans"`
		}{Version, looks}, "", "  ")
		if err != nil {
			return err
		}
		_, err = w.Write(append(legible.JSON(text), '\n'))
		return err
	})
	return errors.Join(err, failed)
}

// writeLooks writes a few lines a scan for people.
func writeLooks(w io.Writer, looks []firstLook) error {
	for _, f := range looks {
		_, err := fmt.Fprintf(w, "%s: %d x %d, %d bits (%d used), %s\n  area %d x %d at %d, %d (%s); mean %.1f %.1f %.1f\n  blown %.4f %%, blocked %.4f %% of the area in any channel\n",
			printable(f.File), f.Width, f.Height, f.Bits, f.EffectiveBits, printable(f.Profile), f.Area[2], f.Area[3], f.Area[0], f.Area[1], f.AreaFrom,
			f.Mean.R, f.Mean.G, f.Mean.B, 100*f.Blown.Any, 100*f.Blocked.Any)
		if err != nil {
			return err
		}
	}
	return nil
}
