package publish

import (
	"context"
	"fmt"
	"image"
	"io"
	"path/filepath"
	"strings"

	"stopladder/analysis/film"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/render"
)

// Format is a kind of file.
type Format string

// The formats.
const (
	FormatPNG  Format = "png"
	FormatJPEG Format = "jpeg"
	FormatPDF  Format = "pdf"
)

// Endings are the endings of names that stand for a format.
func Endings() []string { return []string{".png", ".jpg", ".jpeg", ".pdf"} }

// FormatOf returns the format that a name's ending stands for; ok is false for another.
func FormatOf(name string) (f Format, ok bool) {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".png":
		return FormatPNG, true
	case ".jpg", ".jpeg":
		return FormatJPEG, true
	case ".pdf":
		return FormatPDF, true
	}
	return "", false
}

// Sheet is a sheet of a measured roll, in any arrangement, as it is asked for.
type Sheet struct {
	Roll    *film.Roll
	Shown   render.Shown
	Open    func(frame int) (scan.Source, error) // full resolution; nil: the previews are all there is
	Options plate.Options
	Details []plate.Detail // nil: chosen from the base frame
	Lift    *float64       // stops by which all details are shown lighter; nil: as they are chosen

	Format   Format
	Depth    int // of PNGs, 8 or 16 bits; 0 is 8
	Space    colour.Display
	Software string                // name and version
	Progress func(done, total int) // nil: nobody looks
}

// Check returns why a sheet cannot be written as it is asked for.
func (s *Sheet) Check() error {
	switch {
	case s.Depth != 0 && s.Depth != 8 && s.Depth != 16:
		return fmt.Errorf("a PNG has 8 or 16 bits, and %d were asked for", s.Depth)
	case s.Depth == 16 && s.Format != FormatPNG:
		return fmt.Errorf("only a PNG has 16 bits; give a name that ends in .png, or ask for 8")
	case s.Space == colour.DisplayP3 && s.Format == FormatPDF:
		return fmt.Errorf("PDFs are written in sRGB; Display P3 is for PNG and JPEG")
	}
	_, err := plate.Lay(plate.Input{}, s.Options)
	return err
}

// Input returns what the sheet shows.
func (s *Sheet) Input() plate.Input {
	in := plate.FromRoll(s.Roll, s.Shown, s.Software)
	if s.Details != nil {
		in.Details = s.Details
	}
	if s.Lift != nil {
		for i := range in.Details {
			in.Details[i].Lift = *s.Lift
		}
	}
	return in
}

// page lays the sheet out.
func (s *Sheet) page() (Job, error) {
	p, err := plate.Lay(s.Input(), s.Options)
	return Job{Page: p, Source: Source{Roll: s.Roll, Shown: s.Shown, Open: s.Open}, Space: s.Space, Progress: s.Progress}, err
}

// Write writes the sheet in its format.
func (s *Sheet) Write(ctx context.Context, w io.Writer) error {
	if err := s.Check(); err != nil {
		return err
	}
	j, err := s.page()
	if err != nil {
		return err
	}
	switch s.Format {
	case FormatJPEG:
		return JPEG(ctx, w, j, s.Software)
	case FormatPDF:
		return PDF(ctx, w, j, s.Software)
	}
	return PNG(ctx, w, j, max(8, s.Depth), s.Software)
}

// Image paints the sheet as it will be written, in sRGB.
func (s *Sheet) Image(ctx context.Context) (*image.RGBA, error) {
	j, err := s.page()
	if err != nil {
		return nil, err
	}
	return Image(ctx, j)
}
