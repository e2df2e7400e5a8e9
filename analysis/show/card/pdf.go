package card

import (
	"io"
	"time"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/show/pdfmarks"
)

// Meta goes into the file.
type Meta struct {
	Software string    // "Stopladder 1.2"
	Made     time.Time // zero: left out of what is drawn, and 1970 in the PDF
}

const pointsPerMM = 72 / 25.4

// PDF writes the card as a PDF with embedded type; text stays text.
func PDF(w io.Writer, f *plan.File, size Size, m Meta) error {
	ps, err := pages(f, size)
	if err != nil {
		return err
	}
	title := "Field card"
	if f.Form.Title != "" {
		title += ": " + f.Form.Title
	}
	pdf := pdfmarks.New("mm", size.Width, size.Height, pdfmarks.Meta{Title: title, Creator: m.Software, Made: m.Made})
	for _, p := range ps {
		pdf.AddPage()
		pdfmarks.Add(pdf, pointsPerMM, p.Marks...)
	}
	return pdf.Output(w)
}
