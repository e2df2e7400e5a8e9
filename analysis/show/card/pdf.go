package card

import (
	"image/color"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/drawing"
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
	pdf.SetTitle(legible.Line(title), true)
	pdf.SetCreator(m.Software, true)
	pdf.AddUTF8FontFromBytes("Roboto", "", assets.FontRegular)
	pdf.AddUTF8FontFromBytes("Roboto", "B", assets.FontMedium)
	for _, p := range ps {
		pdf.AddPage()
		for _, m := range p.Marks {
			pdfMark(pdf, m)
		}
	}
	return pdf.Output(w)
}

// pdfMark writes a mark of a card: its areas are upright rectangles, and its lines have
// two points.
func pdfMark(pdf *fpdf.Fpdf, m drawing.Mark) {
	rgb := func(c color.NRGBA) (r, g, b int) { return int(c.R), int(c.G), int(c.B) }
	switch m := m.(type) {
	case drawing.Area:
		pdf.SetFillColor(rgb(m.Col))
		a, b := m.Pts[0], m.Pts[2]
		pdf.Rect(a.X, a.Y, b.X-a.X, b.Y-a.Y, "F")
	case drawing.Frame:
		pdf.SetDrawColor(rgb(m.Col))
		pdf.SetLineWidth(m.Width)
		pdf.Rect(m.Min.X+m.Width/2, m.Min.Y+m.Width/2, m.Max.X-m.Min.X-m.Width, m.Max.Y-m.Min.Y-m.Width, "D")
	case drawing.Line:
		pdf.SetDrawColor(rgb(m.Col))
		pdf.SetLineWidth(m.Width)
		pdf.Line(m.Pts[0].X, m.Pts[0].Y, m.Pts[1].X, m.Pts[1].Y)
	case drawing.Text:
		m.S = legible.Line(m.S)
		if !paint.Simple(m.S) {
			pdfOutlines(pdf, m)
			return
		}
		weight := ""
		if m.Style.Weight == paint.Medium {
			weight = "B"
		}
		pdf.SetFont("Roboto", weight, m.Style.Size*pointsPerMM)
		pdf.SetTextColor(rgb(m.Style.Col))
		x := m.At.X
		switch m.Style.Align {
		case paint.Right:
			x -= pdf.GetStringWidth(m.S)
		case paint.Centre:
			x -= pdf.GetStringWidth(m.S) / 2
		}
		pdf.Text(x, m.At.Y, m.S)
	}
}

// pdfOutlines draws a text that the built-in type does not have, as outlines of the
// system's fonts.
func pdfOutlines(pdf *fpdf.Fpdf, m drawing.Text) {
	paths, width := paint.Outlines(m.S, m.Style)
	if len(paths) == 0 {
		return
	}
	x := m.At.X
	switch m.Style.Align {
	case paint.Right:
		x -= width
	case paint.Centre:
		x -= width / 2
	}
	pdf.SetFillColor(int(m.Style.Col.R), int(m.Style.Col.G), int(m.Style.Col.B))
	at := func(p [2]float64) (float64, float64) { return x + p[0], m.At.Y + p[1] }
	for _, p := range paths {
		ax, ay := at(p.Pts[0])
		switch p.Op {
		case 'M':
			pdf.MoveTo(ax, ay)
		case 'L':
			pdf.LineTo(ax, ay)
		case 'C':
			bx, by := at(p.Pts[1])
			cx, cy := at(p.Pts[2])
			pdf.CurveBezierCubicTo(ax, ay, bx, by, cx, cy)
		case 'Z':
			pdf.ClosePath()
		}
	}
	pdf.DrawPath("f")
}
