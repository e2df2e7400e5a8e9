package plate

import (
	"image/color"
	"math"
	"strings"
	"sync"

	"stopladder/analysis/show/drawing"
	"stopladder/analysis/show/paint"
)

// rulerEm is the size in which type is measured: unhinted, its width grows evenly with
// its size.
const rulerEm = 64.0

// slack is how much wider a line may be in a PDF, whose type is not kerned.
const slack = 0.97

// leading is the distance of lines over the size of their type.
const leading = 1.32

// width returns a text's width in points, as wide as any medium sets it.
func width(s string, st paint.Style) float64 {
	return ems.of(s, st.Weight) * st.Size / slack
}

// widths keeps the widths of texts in ems: a layout tries many sizes of the same few words.
type widths struct {
	sync.Mutex
	m map[widthKey]float64
}

type widthKey struct {
	s string
	w paint.Weight
}

var ems widths

// mostWidths bounds what is kept.
const mostWidths = 4096

func (k *widths) of(s string, w paint.Weight) float64 {
	k.Lock()
	defer k.Unlock()
	key := widthKey{s, w}
	v, ok := k.m[key]
	if !ok {
		v = drawing.Gauge.Width(s, paint.Style{Size: rulerEm, Weight: w}) / rulerEm
		if k.m == nil || len(k.m) >= mostWidths {
			k.m = map[widthKey]float64{}
		}
		k.m[key] = v
	}
	return v
}

// wrap breaks a text into lines of at most w points; nothing is cut.
func wrap(s string, st paint.Style, w float64) []string {
	if !strings.ContainsAny(s, "\n\r") && width(s, st) <= w && strings.TrimSpace(s) == s && s != "" {
		return []string{strings.ReplaceAll(s, " %", "\u00a0%")}
	}
	s = strings.NewReplacer(" %", "\u00a0%").Replace(s) // a figure stays with its unit
	return drawing.Gauge.Wrap(s, st.Sized(rulerEm), slack*math.Max(w, st.Size)*rulerEm/st.Size, 0)
}

func (p *Page) style(size float64) paint.Style {
	return paint.Style{Size: math.Max(size, LeastType), Col: p.pal.text}
}
func (p *Page) bold(size float64) paint.Style { return p.style(size).Bold() }
func (p *Page) dim(size float64) paint.Style  { return p.style(size).Tinted(p.pal.dim) }

// capOver is the height of capitals over the em.
const capOver = 0.711

// line sets one line whose capitals begin at y, and returns its width.
func (p *Page) line(x, y float64, s string, st paint.Style) float64 {
	if s == "" {
		return 0
	}
	base := y + capOver*st.Size
	p.Add(drawing.Text{At: drawing.Pt{X: x, Y: base}, S: s, Style: st})
	return width(s, st)
}

// block is something of a known height that is drawn at a place.
type block struct {
	h       float64
	draw    func(p *Page, x, y float64)
	stretch func(h float64) block // a block that can be as high as there is room; nil: it cannot
}

// text makes a block of wrapped lines, capitals at its upper edge, the last line's
// descenders inside.
func (p *Page) text(s string, st paint.Style, w float64) block {
	rows := wrap(s, st, w)
	if len(rows) == 0 {
		return block{}
	}
	lead := leading * st.Size
	return block{h: lead*float64(len(rows)-1) + 0.95*st.Size, draw: func(p *Page, x, y float64) {
		for i, r := range rows {
			p.line(x, y+lead*float64(i), r, st)
		}
	}}
}

// over stacks blocks with gaps between those that have a height.
func over(gap float64, all ...block) block {
	var out block
	type part struct {
		b block
		y float64
	}
	var parts []part
	for _, b := range all {
		if b.h <= 0 {
			continue
		}
		if len(parts) > 0 {
			out.h += gap
		}
		parts = append(parts, part{b, out.h})
		out.h += b.h
	}
	out.draw = func(p *Page, x, y float64) {
		for _, q := range parts {
			q.b.draw(p, x, y+q.y)
		}
	}
	return out
}

func (p *Page) rect(x, y, w, h float64, col color.NRGBA) {
	p.Add(drawing.Rect(x, y, x+w, y+h, col))
}

func (p *Page) segment(x0, y0, x1, y1, width float64, col color.NRGBA) {
	p.Add(drawing.Segment(x0, y0, x1, y1, width, col))
}
