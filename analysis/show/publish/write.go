package publish

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"path/filepath"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"stopladder/analysis/film"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/pdfmarks"
	"stopladder/analysis/show/plate"
	"stopladder/analysis/show/pngwrite"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/sheet"
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
	case s.Options.Arrangement == plate.Record && s.Depth == 16:
		return fmt.Errorf("the record has 8 bits; 16 are for the other arrangements")
	case s.Options.Arrangement == plate.Record && s.Space == colour.DisplayP3:
		return fmt.Errorf("the record is sRGB; Display P3 is for the other arrangements")
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
	if s.Options.Arrangement == plate.Record {
		return s.record(ctx, w)
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
	if s.Options.Arrangement == plate.Record {
		return s.recordImage(ctx)
	}
	j, err := s.page()
	if err != nil {
		return nil, err
	}
	return Image(ctx, j)
}

func (s *Sheet) recordWidth() int {
	if s.Options.Width == 0 {
		return plate.DefaultWidth
	}
	return s.Options.Width
}

func (s *Sheet) recordImage(ctx context.Context) (*image.RGBA, error) {
	return sheet.Draw(ctx, sheet.FromRoll(s.Roll, s.Shown, s.Software), sheet.Options{Width: s.recordWidth(), Progress: s.Progress})
}

// record writes the record, which is painted as a whole.
func (s *Sheet) record(ctx context.Context, w io.Writer) error {
	img, err := s.recordImage(ctx)
	if err != nil {
		return err
	}
	meta := sheet.FromRoll(s.Roll, s.Shown, s.Software).Meta(s.recordWidth())
	switch s.Format {
	case FormatPNG, "":
		return pngwrite.Encode(w, img, meta)
	case FormatJPEG:
		if img.Rect.Dy() > JPEGSide {
			return fmt.Errorf("the record would be %d pixels high, and a JPEG is at most %d high: make it narrower, or write a PNG", img.Rect.Dy(), JPEGSide)
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: webQuality}); err != nil {
			return err
		}
		_, err = w.Write(tagged(b.Bytes(), colour.SRGB, 300, s.Software))
		return err
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: pdfQuality}); err != nil {
		return err
	}
	const wide = 297 / 25.4 * 72 // A3 upright
	tall := wide * float64(img.Rect.Dy()) / float64(img.Rect.Dx())
	pdf := pdfmarks.New("pt", wide, tall, pdfmarks.Meta{Title: meta.Title, Subject: "record", Creator: s.Software})
	pdf.AddPage()
	pdf.RegisterImageOptionsReader("record", fpdf.ImageOptions{ImageType: "JPG"}, &b)
	pdf.ImageOptions("record", 0, 0, wide, tall, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
	return pdf.Output(w)
}
