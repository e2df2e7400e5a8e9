package card

import (
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/show/paint"
	"stopladder/assets"
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
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: size.Width, Ht: size.Height}})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	made := m.Made
	if made.IsZero() {
		made = time.Unix(0, 0).UTC()
	}
	pdf.SetCreationDate(made)
	pdf.SetModificationDate(made)
	pdf.SetCatalogSort(true) // the same plan gives the same file
	title := "Field card"
	if f.Form.Title != "" {
		title += ": " + f.Form.Title
	}
	pdf.SetTitle(title, true)
	pdf.SetCreator(m.Software, true)
	pdf.AddUTF8FontFromBytes("Roboto", "", assets.FontRegular)
	pdf.AddUTF8FontFromBytes("Roboto", "B", assets.FontMedium)
	for _, p := range ps {
		pdf.AddPage()
		for _, b := range p.boxes {
			g := int(b.fill)
			pdf.SetFillColor(g, g, g)
			how := "F"
			if b.width > 0 {
				g = int(b.grey)
				pdf.SetDrawColor(g, g, g)
				pdf.SetLineWidth(b.width)
				how = "FD"
			}
			pdf.Rect(b.x, b.y, b.w, b.h, how)
		}
		for _, l := range p.lines {
			g := int(l.grey)
			pdf.SetDrawColor(g, g, g)
			pdf.SetLineWidth(l.width)
			pdf.Line(l.x0, l.y0, l.x1, l.y1)
		}
		for _, t := range p.texts {
			weight := ""
			if t.bold {
				weight = "B"
			}
			pdf.SetFont("Roboto", weight, t.em*pointsPerMM)
			pdf.SetTextColor(int(t.grey), int(t.grey), int(t.grey))
			x := t.x
			switch t.align {
			case paint.Right:
				x -= pdf.GetStringWidth(t.s)
			case paint.Centre:
				x -= pdf.GetStringWidth(t.s) / 2
			}
			pdf.Text(x, t.y, t.s)
		}
	}
	return pdf.Output(w)
}
