// Package pdfmarks writes drawings (package drawing) into PDFs: lines and areas as
// vectors, words as text of the embedded typeface, which can be searched and copied.
package pdfmarks

import (
	"image/color"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"stopladder/analysis/numeric/legible"
	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
	"stopladder/assets"
)

// Meta goes into the file.
type Meta struct {
	Title, Subject, Creator string
	Made                    time.Time // zero: 1970, so that the same page gives the same file
}

// New starts a PDF without pages, with the typeface.
func New(unit string, w, h float64, m Meta) *fpdf.Fpdf {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: unit, Size: fpdf.SizeType{Wd: w, Ht: h}})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	made := m.Made
	if made.IsZero() {
		made = time.Unix(0, 0).UTC()
	}
	pdf.SetCreationDate(made)
	pdf.SetModificationDate(made)
	pdf.SetCatalogSort(true) // the same page gives the same file
	pdf.SetTitle(legible.Line(m.Title), true)
	if m.Subject != "" {
		pdf.SetSubject(legible.Line(m.Subject), true)
	}
	pdf.SetCreator(m.Creator, true)
	pdf.SetLang("en")
	pdf.AddUTF8FontFromBytes("Roboto", "", assets.FontRegular)
	pdf.AddUTF8FontFromBytes("Roboto", "B", assets.FontMedium)
	return pdf
}

// Add writes marks at the page's units, of which a point of type has points.
func Add(pdf *fpdf.Fpdf, points float64, marks ...drawing.Mark) {
	for _, m := range marks {
		add(pdf, points, m)
	}
}

func rgb(c color.NRGBA) (r, g, b int) { return int(c.R), int(c.G), int(c.B) }

func add(pdf *fpdf.Fpdf, points float64, m drawing.Mark) {
	switch m := m.(type) {
	case drawing.Area:
		if len(m.Pts) < 3 || m.Col.A == 0 {
			return
		}
		pdf.SetFillColor(rgb(m.Col))
		see(pdf, m.Col, func() {
			var pts []fpdf.PointType
			for _, p := range m.Pts {
				pts = append(pts, fpdf.PointType{X: p.X, Y: p.Y})
			}
			pdf.Polygon(pts, "F")
		})
	case drawing.Frame:
		pdf.SetDrawColor(rgb(m.Col))
		pdf.SetLineWidth(m.Width)
		see(pdf, m.Col, func() {
			pdf.Rect(m.Min.X+m.Width/2, m.Min.Y+m.Width/2, m.Max.X-m.Min.X-m.Width, m.Max.Y-m.Min.Y-m.Width, "D")
		})
	case drawing.Line:
		line(pdf, m)
	case drawing.Dot:
		see(pdf, m.Col, func() {
			if m.Width > 0 { // the ring lies inside its radius
				pdf.SetDrawColor(rgb(m.Col))
				pdf.SetLineWidth(m.Width)
				pdf.Circle(m.At.X, m.At.Y, max(m.R-m.Width/2, m.Width/2), "D")
				return
			}
			pdf.SetFillColor(rgb(m.Col))
			pdf.Circle(m.At.X, m.At.Y, m.R, "F")
		})
	case drawing.Text:
		text(pdf, points, m)
	}
}

// see draws with the opacity of a colour.
func see(pdf *fpdf.Fpdf, c color.NRGBA, draw func()) {
	if c.A < 255 {
		pdf.SetAlpha(float64(c.A)/255, "Normal")
		defer pdf.SetAlpha(1, "Normal")
	}
	draw()
}

func line(pdf *fpdf.Fpdf, m drawing.Line) {
	if m.Col.A == 0 {
		return
	}
	pdf.SetDrawColor(rgb(m.Col))
	pdf.SetLineWidth(m.Width)
	if m.On > 0 && m.Off > 0 {
		pdf.SetDashPattern([]float64{m.On, m.Off}, 0)
		defer pdf.SetDashPattern(nil, 0)
	}
	see(pdf, m.Col, func() {
		begun := false
		for i, p := range m.Pts {
			if p.X != p.X || p.Y != p.Y { // what is no number breaks the line
				if begun {
					pdf.DrawPath("D")
				}
				begun = false
				continue
			}
			if !begun {
				if i+1 < len(m.Pts) && m.Pts[i+1].X == m.Pts[i+1].X {
					pdf.MoveTo(p.X, p.Y)
					begun = true
				}
				continue
			}
			pdf.LineTo(p.X, p.Y)
		}
		if begun {
			pdf.DrawPath("D")
		}
	})
}

func text(pdf *fpdf.Fpdf, points float64, m drawing.Text) {
	m.S = legible.Line(m.S)
	if m.S == "" {
		return
	}
	if !paint.Simple(m.S) {
		outlines(pdf, m)
		return
	}
	weight := ""
	if m.Style.Weight == paint.Medium {
		weight = "B"
	}
	pdf.SetFont("Roboto", weight, m.Style.Size*points)
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

// outlines draws a text that the built-in type does not have, as outlines of the
// system's fonts.
func outlines(pdf *fpdf.Fpdf, m drawing.Text) {
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
	pdf.SetFillColor(rgb(m.Style.Col))
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
