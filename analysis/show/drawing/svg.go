package drawing

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"math"
	"strconv"
	"strings"

	"stopladder/analysis/show/paint"
)

// fontFamily: the program's own face first, then what looks most like it.
const fontFamily = "Roboto, 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif"

// SVG writes the list as SVG 1.1 (W3C, second edition), a unit to a CSS pixel,
// text as text, of the same length in whatever face it is set. Title and description are set as its accessible name and
// description (SVG Accessibility API Mappings, 5.1).
func (l *List) SVG(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<?xml version="1.0" encoding="UTF-8"?>`+"\n")
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%[1]s" height="%[2]s" viewBox="0 0 %[1]s %[2]s" role="img" aria-labelledby="plot-title plot-desc">`+"\n", num(l.W), num(l.H))
	fmt.Fprintf(&b, "<title id=\"plot-title\">%s</title>\n<desc id=\"plot-desc\">%s</desc>\n", escape(l.Title), escape(l.Desc))
	fmt.Fprintf(&b, `<g font-family="%s" stroke-linejoin="round" xml:space="preserve">`+"\n", fontFamily)
	for _, m := range l.Marks {
		switch m := m.(type) {
		case Line:
			svgLine(&b, m)
		case Area:
			if len(m.Pts) < 3 || !allFinite(m.Pts) || m.Col.A == 0 {
				continue
			}
			sharp := ""
			if _, ok := upright(m.Pts); ok {
				sharp = ` shape-rendering="crispEdges"`
			}
			fmt.Fprintf(&b, `<path d="%sZ"%s%s/>`+"\n", path(m.Pts), fill("fill", m.Col), sharp)
		case Frame: // lies inside its edges
			if !finite(m.Min) || !finite(m.Max) || !(m.Max.X-m.Min.X > m.Width) || !(m.Max.Y-m.Min.Y > m.Width) {
				continue
			}
			fmt.Fprintf(&b, `<rect x="%s" y="%s" width="%s" height="%s" fill="none"%s stroke-width="%s" shape-rendering="crispEdges"/>`+"\n",
				num(m.Min.X+m.Width/2), num(m.Min.Y+m.Width/2), num(m.Max.X-m.Min.X-m.Width), num(m.Max.Y-m.Min.Y-m.Width), fill("stroke", m.Col), num(m.Width))
		case Text:
			if m.S == "" || !finite(m.At) {
				continue
			}
			anchor := map[paint.Align]string{paint.Right: ` text-anchor="end"`, paint.Centre: ` text-anchor="middle"`}[m.Style.Align]
			weight := ""
			if m.Style.Weight == paint.Medium {
				weight = ` font-weight="500"`
			}
			fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%spx" textLength="%s" lengthAdjust="spacingAndGlyphs"%s%s%s>%s</text>`+"\n",
				num(m.At.X), num(m.At.Y), num(m.Style.Size), num(Gauge.Width(m.S, m.Style)), anchor, weight, fill("fill", m.Style.Col), escape(m.S))
		case Dot:
			if !finite(m.At) || !(m.R > 0) {
				continue
			}
			if m.Width > 0 { // the ring lies inside its radius
				fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="%s" fill="none"%s stroke-width="%s"/>`+"\n",
					num(m.At.X), num(m.At.Y), num(math.Max(m.R-m.Width/2, m.Width/2)), fill("stroke", m.Col), num(m.Width))
				continue
			}
			fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="%s"%s/>`+"\n", num(m.At.X), num(m.At.Y), num(m.R), fill("fill", m.Col))
		}
	}
	b.WriteString("</g>\n</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// svgLine writes a line; points that are not finite break it.
func svgLine(b *bytes.Buffer, m Line) {
	d := ""
	for pts := m.Pts; len(pts) > 0; {
		n := 0
		for n < len(pts) && finite(pts[n]) {
			n++
		}
		if n >= 2 {
			d += path(pts[:n])
		}
		pts = pts[min(n+1, len(pts)):]
	}
	if d == "" || m.Col.A == 0 {
		return
	}
	more := ""
	if m.On > 0 && m.Off > 0 {
		more = fmt.Sprintf(` stroke-dasharray="%s %s"`, num(m.On), num(m.Off))
	}
	if len(m.Pts) == 2 && (m.Pts[0].X == m.Pts[1].X || m.Pts[0].Y == m.Pts[1].Y) {
		more += ` shape-rendering="crispEdges"`
	}
	fmt.Fprintf(b, `<path d="%s" fill="none"%s stroke-width="%s"%s/>`+"\n", d, fill("stroke", m.Col), num(m.Width), more)
}

func allFinite(pts []Pt) bool {
	for _, p := range pts {
		if !finite(p) {
			return false
		}
	}
	return true
}

func path(pts []Pt) string {
	var b strings.Builder
	for i, p := range pts {
		if i == 0 {
			b.WriteByte('M')
		} else {
			b.WriteByte('L')
		}
		b.WriteString(num(p.X))
		b.WriteByte(' ')
		b.WriteString(num(p.Y))
	}
	return b.String()
}

func fill(what string, c color.NRGBA) string {
	s := fmt.Sprintf(` %s="#%02x%02x%02x"`, what, c.R, c.G, c.B)
	if c.A < 255 {
		s += fmt.Sprintf(` %s-opacity="%s"`, what, num(float64(c.A)/255))
	}
	return s
}

// num writes a number to a thousandth, without needless digits.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

func escape(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(Plain(s))) // a bytes.Buffer does not fail
	return b.String()
}
