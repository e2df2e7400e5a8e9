package measure

import (
	"fmt"
	"image"
	"math"
	"strings"
	"sync"

	"stopladder/analysis/scan/colour"
)

// side names an edge of the picture.
type side int

const (
	left side = iota
	right
	top
	bottom
)

func (s side) String() string { return [...]string{"left", "right", "top", "bottom"}[s] }

// upright reports whether the side's edge runs from top to bottom.
func (s side) upright() bool { return s == left || s == right }

// sidePlace is the border found at one side.
type sidePlace struct {
	found   bool
	sure    bool    // most of the edge's length was seen
	blind   bool    // not found, but the strip at the edge looks like border
	pos     int     // first (or last+1) full-resolution column or row of the image
	lone    bool    // a strip that may be border but no other side bears it out
	strip   int     // where it ends: first (or last+1) full-resolution column or row of what lies inside
	seen    float64 // share of the edge's length that was seen
	uniform bool    // the outermost strip is of one level
	level   [3]float32
}

// places is what the search for the image area saw.
type places struct {
	area  image.Rectangle
	from  AreaFrom
	note  string
	sides [4]sidePlace
}

// Rules of the search. Levels are lightness-like units: 255 x the cube root of
// a channel's light, so that steps between near-blacks count as the eye sees
// them. Lengths are preview pixels. The figures are our own choice, tested on
// simulated frames.
const (
	areaMinSide   = 48    // a smaller preview is not searched
	areaDepth     = 0.25  // of the picture, how deep one layer may reach
	areaDepthAll  = 0.30  // all layers together
	areaMaxSlope  = 0.013 // 0.75 degrees
	areaSameTurn  = 0.006 // sides of one frame turn alike
	areaSameLevel = 12    // levels of one border on several sides
	areaUniform   = 8     // spread of a border's level along a side
	areaStep      = 3     // smallest step of level that is an edge
	areaNear      = 1.3   // distance from a line that still counts as on it
	areaLayers    = 3     // holder, rebate, one more
)

// searcher holds the preview as lightness profiles.
type searcher struct {
	p      *Preview
	w, h   int // what is there: h may be less than p.H
	lut    *levelTable
	kept   [4][][][3]float32 // by side and segment: its profile, from the edge on
	lines  [4]edgeLine       // where the picture starts so far
	placed [4]bool
	blur   [4]float64
	layers [4][][3]float32 // levels taken off so far
}

// edgeLine is depth = at + slope x (position along the side), depth counted
// inwards from the side's own edge of the preview.
type edgeLine struct{ at, slope float64 }

func (e edgeLine) depth(t float64) float64 { return e.at + e.slope*t }

// turn returns the rotation that the slope means, alike for all sides of one frame.
func (e edgeLine) turn(s side) float64 {
	if s == left || s == bottom {
		return -e.slope
	}
	return e.slope
}

// findPlaces finds film border and scanner holder and leaves them out. whole is
// the part of the picture that is there. A strip is border only when it is of
// one level along its full side, ends at a straight edge that turns no more
// than 0.75 degrees, and at least one other side bears it out (same level, same
// turn): a plain sky at the edge of a borderless picture is left alone.
// Layers (holder outside, rebate inside) are taken off one after another.
func findPlaces(p *Preview, levels *levelTable, whole image.Rectangle) places {
	out := places{area: whole, from: AreaWhole}
	if whole.Min != (image.Point{}) || (whole.Dx()+p.Factor-1)/p.Factor < p.W {
		return findPlacesInPart(p, levels, whole)
	}
	h := (whole.Dy() + p.Factor - 1) / p.Factor
	if h < p.H {
		h = whole.Dy() / p.Factor // a truncated file: its last preview row may be part dark
	}
	s := &searcher{p: p, w: p.W, h: h, lut: levels}
	if min(s.w, s.h) < areaMinSide {
		out.note = "The picture is too small to look for a border; all of it is measured."
		return out
	}
	var first [4]candidate
	var seen [4]float64
	for layer := range areaLayers {
		var cand [4]candidate
		var wg sync.WaitGroup // the sides are searched apart from each other
		for d := range side(4) {
			if layer == 0 || s.placed[d] {
				wg.Go(func() { cand[d] = s.search(d) })
			}
		}
		wg.Wait()
		if layer == 0 {
			first = cand
		}
		taken := s.accept(cand, layer)
		for d := range side(4) {
			if taken[d] {
				s.layers[d] = append(s.layers[d], cand[d].level)
				s.lines[d], s.placed[d], s.blur[d] = cand[d].line, true, cand[d].blur
				seen[d] = cand[d].seen
			}
		}
		if taken == [4]bool{} {
			break
		}
	}
	s.settle(&out, whole, first, seen)
	return out
}

// findPlacesInPart is findPlaces for a truncated file that is turned, so that
// what is missing lies at another side than the bottom: what is there is searched by
// itself.
func findPlacesInPart(p *Preview, levels *levelTable, whole image.Rectangle) places {
	f := p.Factor
	// Preview pixels that are there in full, but for those that the picture itself ends in.
	r := image.Rect((whole.Min.X+f-1)/f, (whole.Min.Y+f-1)/f, whole.Max.X/f, whole.Max.Y/f)
	if (whole.Max.X+f-1)/f == p.W {
		r.Max.X = p.W
	}
	if (whole.Max.Y+f-1)/f == p.H {
		r.Max.Y = p.H
	}
	if r.Empty() {
		return places{area: whole, from: AreaWhole}
	}
	part := &Preview{Factor: f, W: r.Dx(), H: r.Dy()}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		part.Pix = append(part.Pix, p.Pix[3*(y*p.W+r.Min.X):3*(y*p.W+r.Max.X)]...)
	}
	at := r.Min.Mul(f)
	there := whole.Sub(at)
	there.Min = image.Point{}
	out := findPlaces(part, levels, there)
	if out.area == there {
		out.area = whole
	} else {
		out.area = out.area.Add(at)
	}
	for d := range side(4) {
		if d.upright() {
			out.sides[d].pos += at.X
		} else {
			out.sides[d].pos += at.Y
		}
	}
	return out
}

// levelTable gives the level of each code of each channel.
type levelTable [3][]float32

func newLevelTable(space *colour.Space) *levelTable {
	tone := space.Tone()
	t := new(levelTable)
	for c := range t {
		if c > 0 && &tone[c][0] == &tone[0][0] {
			t[c] = t[0]
			continue
		}
		t[c] = make([]float32, len(tone[c]))
		for i, v := range tone[c] {
			t[c][i] = float32(255 * math.Cbrt(math.Max(0, float64(v))))
		}
	}
	return t
}

// accept returns which candidates are border: those that another side bears out.
func (s *searcher) accept(cand [4]candidate, layer int) (taken [4]bool) {
	for a := range side(4) {
		for b := range side(4) {
			if a != b && cand[a].ok && cand[b].ok &&
				levelGap(cand[a].level, cand[b].level) <= areaSameLevel &&
				math.Abs(cand[a].line.turn(a)-cand[b].line.turn(b)) <= areaSameTurn {
				taken[a] = true
			}
		}
	}
	if layer > 0 {
		for d := range side(4) {
			taken[d] = taken[d] || cand[d].ok && s.deeper(d, cand[d])
		}
		return taken
	}
	// A side of another level (holder at one side, rebate at the others) is
	// taken when the frame's turn is known from two others and its edge is
	// seen nearly all along.
	n, turn := 0, 0.0
	for d := range side(4) {
		if taken[d] {
			n++
			turn += cand[d].line.turn(d)
		}
	}
	if n < 2 {
		return taken
	}
	for d := range side(4) {
		c := cand[d]
		if !taken[d] && c.ok && c.seen >= 0.75 && c.clean >= 0.9 && math.Abs(c.line.turn(d)-turn/float64(n)) <= areaSameTurn {
			taken[d] = true
		}
	}
	return taken
}

// deeper reports whether side d shows, for the first time, a layer that another side
// showed at its edge: it lies deeper here.
func (s *searcher) deeper(d side, c candidate) bool {
	if s.removed(d, c.level) {
		return false
	}
	for o := range side(4) {
		if o != d && s.removed(o, c.level) && math.Abs(c.line.turn(d)-s.lines[o].turn(o)) <= areaSameTurn {
			return true
		}
	}
	return false
}

// removed reports whether a layer of that level was taken off at side d.
func (s *searcher) removed(d side, level [3]float32) bool {
	for _, l := range s.layers[d] {
		if levelGap(l, level) <= areaSameLevel {
			return true
		}
	}
	return false
}

func levelGap(a, b [3]float32) float32 {
	g := float32(0)
	for c := range a {
		g = max(g, max(a[c]-b[c], b[c]-a[c]))
	}
	return g
}

// settle turns the lines into the largest upright rectangle inside all of them,
// in full-resolution pixels, and says how far it is to be trusted.
func (s *searcher) settle(out *places, whole image.Rectangle, first [4]candidate, seen [4]float64) {
	for d := range side(4) {
		pl := &out.sides[d]
		pl.found, pl.seen = s.placed[d], seen[d]
		pl.uniform, pl.level = first[d].uniform, first[d].level
		pl.lone = !pl.found && first[d].ok
		if pl.lone {
			pl.strip = s.end(d, first[d].line, first[d].blur)
		}
	}
	r := whole
	for d := range side(4) {
		if !s.placed[d] {
			continue
		}
		switch end := s.end(d, s.lines[d], s.blur[d]); d {
		case left:
			r.Min.X = end
		case right:
			r.Max.X = min(whole.Max.X, end)
		case top:
			r.Min.Y = end
		case bottom:
			r.Max.Y = min(whole.Max.Y, end)
		}
	}
	n := 0
	var weak, blind, lone []string
	for d := range side(4) {
		pl := &out.sides[d]
		pl.pos = map[side]int{left: r.Min.X, right: r.Max.X, top: r.Min.Y, bottom: r.Max.Y}[d]
		switch {
		case pl.found:
			n++
			pl.sure = pl.seen >= 0.55
			if !pl.sure {
				weak = append(weak, d.String())
			}
		case pl.uniform && s.likeBorder(out, d):
			pl.blind = true
			blind = append(blind, d.String())
		case pl.lone:
			lone = append(lone, d.String())
		}
	}
	if r.Dx() < whole.Dx()/3 || r.Dy() < whole.Dy()/3 {
		out.note = "What looks like a border would leave too little picture; all of it is measured. Set the image area by hand if there is a border."
		return
	}
	out.area = r
	switch {
	case n > 0 && len(weak)+len(blind) == 0:
		out.from = AreaFound
	case n > 0:
		out.from = AreaUnsure
		out.note = fmt.Sprintf("The picture's edge is hard to tell from the border (%s); check the image area.", strings.Join(append(weak, blind...), ", "))
	case len(blind) >= 3:
		out.from = AreaUnsure
		out.note = "The picture is as even at its edges as a border would be, and no edge between them was found; all of it is measured. Check the image area."
	case len(lone) > 0:
		out.note = fmt.Sprintf("A strip at the %s may be border, but no other side bears it out; it is measured as picture. Check the image area.", strings.Join(lone, " and "))
	}
}

// end returns where a border of side d ends, in full-resolution pixels: a pixel and the
// edge's blur inside the deepest point of its line.
func (s *searcher) end(d side, l edgeLine, blur float64) int {
	along, across := float64(s.h), s.p.W
	if !d.upright() {
		along, across = float64(s.w), s.h
	}
	f := s.p.Factor
	in := int(math.Ceil((math.Max(l.depth(0), l.depth(along)) + blur + 1) * float64(f)))
	if d == right || d == bottom {
		return across*f - in
	}
	return in
}

// likeBorder reports whether the strip at side d, where no edge was found, has the level of a
// border that was found, or of the strips at two other sides.
func (s *searcher) likeBorder(out *places, d side) bool {
	like, found := 0, false
	for o := range side(4) {
		if o == d || levelGap(out.sides[o].level, out.sides[d].level) > areaSameLevel {
			continue
		}
		if out.sides[o].found {
			found = true
		}
		if out.sides[o].uniform {
			like++
		}
	}
	return found || like >= 2
}
