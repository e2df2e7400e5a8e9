package plate

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/row"
)

// details lays out rows of details through all frames by stop, a pixel of the page for a
// pixel of the scan, and a small picture of the base frame that shows where they lie.
func details(in *Input, o Options) *Page {
	p := newPage(in, o)
	p.W = a3
	if o.Shape.Upright() {
		p.W = a3 / math.Sqrt2
	}
	inner := p.W - 2*edge
	in.Shown = strings.TrimSuffix("details at 1:1, "+in.Shown, ", ")
	idx := in.order()
	n := len(idx)
	y := edge * 0.85
	head := p.header(in, inner)
	head.draw(p, edge, y)
	y += head.h + 13
	t := p.told(in)
	foot := p.foot(in, p.longNotes(in), inner)
	if n == 0 || len(in.Details) == 0 {
		words := "No details were chosen, and none could be found."
		if n == 0 {
			words = "This roll has no frames yet."
		}
		p.text(words, p.style(12), inner).draw(p, edge, y)
		y += 40
		foot.draw(p, edge, y)
		p.H = y + foot.h + edge*0.8
		return p
	}
	most := 9.0 // beside each other
	if o.Shape.Upright() {
		most = 6
	}
	tiers := max(1, int(math.Ceil(float64(n)/most)))
	for _, part := range part(n, tiers) {
		m := part[1] - part[0]
		w := (inner - picGap*float64(longest(partsOf(n, tiers))-1)) / float64(longest(partsOf(n, tiers)))
		w = math.Min(w, 340)
		h := w
		in.Details = in.inside(w * p.Scale() / 2)
		tall := 0.0
		for k := range m {
			x := edge + float64(k)*(w+picGap)
			c := p.caption(in, idx[part[0]+k], w, 1, "", false)
			c.draw(p, x, y)
			tall = math.Max(tall, c.h)
		}
		y += tall + 7
		for i := range in.Details {
			d := &in.Details[i]
			label := p.text(detailWords(d), p.dim(8), inner)
			label.draw(p, edge, y)
			y += label.h + 4
			for k := range m {
				f := idx[part[0]+k]
				was := len(p.Pictures)
				p.picture(in, f, Box{edge + float64(k)*(w+picGap), y, w, h}, false)
				if len(p.Pictures) > was {
					p.Pictures[was].Detail = d
				}
			}
			y += h + 10
		}
		y += 10
	}
	y = p.where(in, t, y, inner, idx)
	foot.draw(p, edge, y)
	p.H = y + foot.h + edge*0.8
	return p
}

func partsOf(n, k int) [][2]int { return part(n, k) }

// detailWords say what a row shows: "Shadows, lifted by 2 stops".
func detailWords(d *Detail) string {
	s := d.Name
	switch {
	case d.Lift == 1:
		s += ", lifted by 1 stop"
	case d.Lift > 0:
		s += fmt.Sprintf(", lifted by %s stops", stops.Label(d.Lift)[1:])
	case d.Lift < 0:
		s += ", darkened by " + stops.Label(-d.Lift)[1:] + " stops"
	default:
		s += ", not lifted"
	}
	return s
}

// inside returns the details moved so far that a square of half a side's pixels about them
// shows nothing beside the base frame's picture, where that is larger.
func (in *Input) inside(half float64) []Detail {
	out := slices.Clone(in.Details)
	move := func(v, lo, hi int) int {
		h := int(math.Ceil(half))
		if hi-lo < 2*h {
			return v
		}
		return min(max(v, lo+h), hi-h)
	}
	a := in.BaseArea
	for i, d := range out {
		out[i].At = image.Pt(move(d.At.X, a.Min.X, a.Max.X), move(d.At.Y, a.Min.Y, a.Max.Y))
	}
	return out
}

// where shows where the details lie in the base frame, and beside it ranges and finding;
// it returns where the page goes on.
func (p *Page) where(in *Input, t *told, y, inner float64, idx []int) float64 {
	x := edge
	tall := 0.0
	if b := in.Base; b >= 0 && b < len(in.Frames) && in.Frames[b].Data != nil && in.Frames[b].Data.State == row.Ready && !in.BaseArea.Empty() {
		h := 118.0
		w := h * in.aspect(b)
		if w > inner*0.4 {
			w = inner * 0.4
			h = w / in.aspect(b)
		}
		was := len(p.Pictures)
		p.picture(in, b, Box{x, y, w, h}, false)
		if len(p.Pictures) > was {
			for _, d := range in.Details {
				p.Pictures[was].Outlines = append(p.Pictures[was].Outlines, in.outline(&d, p))
			}
			x += w + gutter
			tall = h
		}
	}
	b := p.firstBand(t, edge+inner-x)
	if b.h > 0 {
		b.draw(p, x, y)
		tall = math.Max(tall, b.h)
	}
	return y + tall + 16
}

// outline returns where a detail lies in the base frame's picture, in shares of it.
func (in *Input) outline(d *Detail, p *Page) [4]float64 {
	half := 0.0
	for _, q := range p.Pictures {
		if q.Detail != nil {
			half = q.W * p.Scale() / 2 // at 1:1
			break
		}
	}
	r := in.BaseArea
	u := func(x float64, lo, n int) float64 { return (x - float64(lo)) / float64(max(1, n)) }
	return [4]float64{u(float64(d.At.X)-half, r.Min.X, r.Dx()), u(float64(d.At.Y)-half, r.Min.Y, r.Dy()), u(float64(d.At.X)+half, r.Min.X, r.Dx()), u(float64(d.At.Y)+half, r.Min.Y, r.Dy())}
}
