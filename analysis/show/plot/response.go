package plot

import (
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"strings"

	"stopladder/analysis/film/response"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/show/paint"
)

// Options of Draw.
type Options struct {
	Hover  bool // a pointer is over the plot
	HoverX int  // its device pixel, in the coordinates of the rectangle
}

// Draw draws the response plot into r with c's palette. It is made for 220 x 160
// units and more; small plots leave words out and keep the marks.
func Draw(c *paint.Canvas, r image.Rectangle, d Data, o Options) {
	if r.Empty() {
		return
	}
	g := layOut(&d, float64(r.Dx())/c.Scale, float64(r.Dy())/c.Scale, c.Pal)
	l := g.list()
	if o.Hover {
		if stop, ok := g.stopAt((float64(o.HoverX-r.Min.X) + 0.5) / c.Scale); ok {
			g.hover(l, stop)
		}
	}
	l.Paint(c, r)
}

// Response returns the plot as a list of w x h units; pal nil is paint.Sheet.
func Response(d Data, w, h float64, pal *paint.Palette) *List {
	if pal == nil {
		pal = &paint.Sheet
	}
	return layOut(&d, w, h, pal).list()
}

// Picture draws the plot as a picture of w x h device pixels for export; scale
// is device pixels per unit, pal nil is paint.Sheet.
func Picture(d Data, w, h int, scale float64, pal *paint.Palette) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, max(w, 1), max(h, 1)))
	if pal == nil {
		pal = &paint.Sheet
	}
	Draw(paint.New(img, scale).With(pal), img.Rect, d, Options{})
	return img
}

// SVG writes the plot of w x h units as SVG; pal nil is paint.Sheet.
func SVG(w io.Writer, d Data, width, height float64, pal *paint.Palette) error {
	return Response(d, width, height, pal).SVG(w)
}

// geometry is where everything stands, in units.
type geometry struct {
	d     *Data
	chans []int
	pal   *paint.Palette
	w, h  float64
	k     float64 // type grows with the plot
	plot  box
	x0    float64 // stops
	x1    float64
	y0    float64 // density at the bottom
	y1    float64
	rows  float64 // height of one bracket; 0: no room

	logAxis, words, title bool
	table                 box     // the gammas
	busy                  []box   // texts that stand already
	walls                 [][2]Pt // lines that no text may cross
}

func layOut(d *Data, w, h float64, pal *paint.Palette) *geometry {
	g := &geometry{d: d, chans: d.channels(), pal: pal, w: w, h: h}
	g.k = math.Max(0.9, math.Min(1.7, math.Sqrt(math.Min(w/560, h/400))))
	if len(g.chans) == 0 {
		return g
	}
	g.logAxis, g.words, g.title = h >= 230 && w >= 300, h >= 210 && w >= 300, h >= 150
	g.rows = 4 * g.k
	if h >= 230 && w >= 260 {
		g.rows = 13 * g.k
	}
	g.plot = box{x0: 8 + 24*g.k, y0: 8 + 13*g.k, x1: w - 10*g.k, y1: h - 8 - 17*g.k - g.rows*float64(len(g.chans)) - 4}
	if g.logAxis {
		g.plot.y0 += 16 * g.k
	}
	if g.title {
		g.plot.y1 -= 15 * g.k
	}
	if g.plot.w() < 30 || g.plot.h() < 24 { // no more than the curves
		g.plot = box{x0: 2, y0: 2, x1: w - 2, y1: h - 2}
		g.rows = 0
	}
	g.spans()
	return g
}

// spans chooses the ends of both axes.
func (g *geometry) spans() {
	d := g.d
	lo, hi := math.Inf(1), math.Inf(-1)
	dlo, dhi := 0.0, 0.5
	for _, c := range g.chans {
		a, b := d.covered(c)
		lo, hi = math.Min(lo, d.Curve.LogE[a]), math.Max(hi, d.Curve.LogE[b])
		for _, v := range d.Curve.Density[c][a : b+1] {
			if finite(v) {
				dlo, dhi = math.Min(dlo, v), math.Max(dhi, v)
			}
		}
	}
	lo, hi = lo/stopLog, hi/stopLog
	for _, f := range d.Frames {
		for _, s := range f.places() {
			lo, hi = math.Min(lo, s), math.Max(hi, s)
		}
	}
	for _, c := range g.chans { // the scan's floor, where it is near
		if f := d.Floor[c]; finite(f) && f > dhi && f < dhi+0.7 {
			dhi = f
		}
	}
	// Room for the letters at the ends of the lines.
	span, room := math.Max(hi-lo, 1), math.Min(26*g.k, 0.16*g.plot.w())
	pad := span * room / (g.plot.w() - 2*room)
	g.x0, g.x1 = lo-pad, hi+pad
	g.y0 = dlo - 0.05*(dhi-dlo)
	g.y1 = math.Max(dhi+0.06*(dhi-dlo), math.Ceil(dhi*2-1e-9)/2)
}

// places returns the stops at which a frame is marked.
func (f Frame) places() (out []float64) {
	const far = 30 // stops; a label beyond that is a slip, and would press the plot flat
	if f.Labelled && finite(f.Stop) && math.Abs(f.Stop) < far {
		out = append(out, f.Stop)
	}
	if f.Measured != nil && finite(*f.Measured) && math.Abs(*f.Measured) < far {
		out = append(out, *f.Measured)
	}
	return out
}

func (g *geometry) x(stop float64) float64 {
	return g.plot.x0 + (stop-g.x0)/(g.x1-g.x0)*g.plot.w()
}

func (g *geometry) y(density float64) float64 {
	return g.plot.y1 - (density-g.y0)/(g.y1-g.y0)*g.plot.h()
}

// stopAt returns the stop at unit x.
func (g *geometry) stopAt(x float64) (float64, bool) {
	if len(g.chans) == 0 || !(x >= g.plot.x0 && x < g.plot.x1) {
		return 0, false
	}
	return g.x0 + (x-g.plot.x0)/g.plot.w()*(g.x1-g.x0), true
}

// styles
func (g *geometry) text(size float64) paint.Style {
	return paint.Style{Size: math.Round(size*g.k*4) / 4, Col: g.pal.Text}
}
func (g *geometry) dim(size float64) paint.Style { return g.text(size).Tinted(g.pal.Dim) }

// col returns the colour of a channel; a grey scan's curve is neutral.
func (g *geometry) col(c int) color.NRGBA {
	if g.d.Grey {
		return g.pal.Text
	}
	return g.pal.Channel[c]
}

func (d *Data) name(c int) string {
	if d.Grey {
		return "grey"
	}
	return [3]string{"R", "G", "B"}[c]
}

// UsefulWords returns the useful exposure range in words, "6.4 stops" or, where the
// roll does not reach its ends, "≥ 6.4 stops".
func UsefulWords(ch response.Channel) string {
	if !finite(ch.UsefulStops) {
		return ""
	}
	s := fmt.Sprintf("%.1f stops", ch.UsefulStops)
	if ch.UsefulOpen[0] || ch.UsefulOpen[1] {
		s = "≥ " + s
	}
	return s
}

// names describes the plot to those who do not see it.
func (g *geometry) names() (title, desc string) {
	title = "Measured response"
	if g.d.Roll != "" {
		title += ", " + g.d.Roll
	}
	if len(g.chans) == 0 {
		return title, g.d.reason()
	}
	var b strings.Builder
	fmt.Fprintf(&b, "Density of the scan against log exposure, darker upwards, from %s to %s stops from mid-grey of the base exposure.",
		number.Signed(g.x0, 1), number.Signed(g.x1, 1))
	for _, c := range g.chans {
		ch := g.d.Curve.Channels[c]
		fmt.Fprintf(&b, " %s: gamma %.2f, straight line from %s to %s stops, useful exposure range %s.", g.d.name(c), ch.Gamma,
			number.Signed(ch.Straight[0]/stopLog, 1), number.Signed(ch.Straight[1]/stopLog, 1), UsefulWords(ch))
	}
	if g.banded() {
		b.WriteString(" The bands are two standard errors wide to either side.")
	}
	return title, b.String()
}

func (d *Data) reason() string {
	if d.Reason != "" {
		return d.Reason
	}
	return "The roll says nothing about the response."
}

// banded reports whether an uncertainty is known.
func (g *geometry) banded() bool {
	for _, c := range g.chans {
		for _, s := range g.d.Curve.Sigma[c] {
			if finite(s) && s > 0 {
				return true
			}
		}
	}
	return false
}
