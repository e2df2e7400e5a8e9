package measure

import (
	"image"
	"iter"
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
	"stopladder/analysis/numeric/parallel"
)

// What stands in the scans of a roll and is no picture, by what only a roll shows: the
// same codes at the same place of every scan although the light of the frames differs by
// stops; and, in one scan, an area of exactly one colour, which film's grain and a
// camera's noise do not leave. Levels as in area.go. The figures are our own choice.
const (
	stillGap    = 6     // levels: codes that differ by less are the same (JPEG, a scanner's noise)
	stillWithin = 8     // levels: what is as dark as the darkest frame's shadows, or as light as the lightest's lights, may be picture at the film's end
	stillSide   = 0.9   // of a side's length: a strip is still along so much of it
	stillInside = 0.5   // and what lies inside it along less
	stillDeep   = 0.2   // of the picture, how deep a strip may reach
	stillMost   = 0.15  // of the picture: more is not marks but a roll that hardly differs
	flatLeast   = 0.002 // of the picture: an area of one colour that is smaller is left
	flatSteps   = 14    // levels by which a flat area in 8 bits must contradict the order of the frames
)

// stillRoll holds the looks of one size that can be held against each other pixel by pixel,
// from the darkest to the lightest.
type stillRoll struct {
	looks  []*Look
	at     []int // their places among all looks
	levels []*levelTable
	w, h   int
}

// newStillRoll returns nil where frames are too few or too much alike to tell.
func newStillRoll(looks []*Look) *stillRoll {
	size := commonSize(looks)
	s := &stillRoll{}
	for i, l := range looks {
		if l == nil || l.Preview == nil || l.Space == nil || l.Info.Width != size.X || l.Info.Height != size.Y || l.MissingRows > 0 ||
			len(l.BlownShare) != l.Preview.W*l.Preview.H || len(l.BlockedShare) != l.Preview.W*l.Preview.H {
			continue
		}
		s.at = append(s.at, i)
	}
	if len(s.at) < 3 {
		return nil
	}
	slices.SortStableFunc(s.at, func(a, b int) int {
		return int(math.Copysign(1, looks[a].Lightness()-looks[b].Lightness()))
	})
	for _, i := range s.at {
		s.looks = append(s.looks, looks[i])
	}
	if s.looks[len(s.looks)-1].Lightness()-s.looks[0].Lightness() < stripDiffers {
		return nil
	}
	s.w, s.h = s.looks[0].Preview.W, s.looks[0].Preview.H
	for k, l := range s.looks {
		if l.Preview.W != s.w || l.Preview.H != s.h {
			return nil
		}
		if k > 0 && l.Space == s.looks[0].Space {
			s.levels = append(s.levels, s.levels[0])
			continue
		}
		s.levels = append(s.levels, newLevelTable(l.Space))
	}
	return s
}

// level of pixel k in frame i.
func (s *stillRoll) level(i, k int) (v [3]float32) {
	p := s.looks[i].Preview.Pix[3*k : 3*k+3]
	for c := range v {
		v[c] = s.levels[i][c][p[c]]
	}
	return v
}

// same reports pixels that have one level in all frames and are clipped in none.
func (s *stillRoll) same() []bool {
	out := make([]bool, s.w*s.h)
	parallel.Bands(s.h, func(y0, y1 int) {
		for k := y0 * s.w; k < y1*s.w; k++ {
			lo := s.level(0, k)
			hi := lo
			ok := true
			for i := range s.looks {
				if s.looks[i].BlownShare[k] > 127 || s.looks[i].BlockedShare[k] > 127 {
					ok = false
					break
				}
				v := s.level(i, k)
				for c := range v {
					lo[c], hi[c] = min(lo[c], v[c]), max(hi[c], v[c])
				}
				if levelGap(lo, hi) > stillGap {
					ok = false
					break
				}
			}
			out[k] = ok
		}
	})
	return out
}

// strips returns where strips along the sides end, in full-resolution pixels as stripsOf
// does: still along nearly all of a side, of one level, with a straight end.
func (s *stillRoll) strips(same []bool) (ends [4]int) {
	f := s.looks[0].Preview.Factor
	for d := range side(4) {
		along, across := s.h, s.w
		if !d.upright() {
			along, across = s.w, s.h
		}
		at := func(depth, t int) int {
			switch d {
			case left:
				return t*s.w + depth
			case right:
				return t*s.w + s.w - 1 - depth
			case top:
				return depth*s.w + t
			}
			return (s.h-1-depth)*s.w + t
		}
		share := func(depth int) float64 {
			n := 0
			for t := range along {
				if same[at(depth, t)] {
					n++
				}
			}
			return float64(n) / float64(along)
		}
		deep := 0
		for deep < int(stillDeep*float64(across)) && share(deep) >= stillSide {
			deep++
		}
		if deep == 0 || deep == int(stillDeep*float64(across)) || share(deep+1) > stillInside || !s.even(deep, along, at) {
			continue
		}
		// A pixel more, for the edge's blur and the preview's own mean.
		switch in := (deep + 2) * f; d {
		case left, top:
			ends[d] = in
		case right:
			ends[d] = s.looks[0].Info.Width - in
		case bottom:
			ends[d] = s.looks[0].Info.Height - in
		}
	}
	return ends
}

// even reports whether a strip has one level along its side: three quarters of it lie
// within areaSameLevel of its median.
func (s *stillRoll) even(deep, along int, at func(depth, t int) int) bool {
	var v [3][]float32
	for t := range along {
		l := s.level(0, at(deep/2, t))
		for c := range l {
			v[c] = append(v[c], l[c])
		}
	}
	n := 0
	var mid [3]float32
	for c := range v {
		mid[c] = median.Upper(slices.Clone(v[c]))
	}
	for t := range along {
		if levelGap([3]float32{v[0][t], v[1][t], v[2][t]}, mid) <= areaSameLevel {
			n++
		}
	}
	return 4*n >= 3*along
}

// stillStrips are the strips that a roll's frames share; see strips.
func stillStrips(looks []*Look) (ends [4]int) {
	if s := newStillRoll(looks); s != nil {
		ends = s.strips(s.same())
	}
	return ends
}

// NoPicture returns for every frame what stands within its image area and is no picture
// by what the roll alone shows, before any response is known: a logo, a hair or dirt that
// is the same in all scans while their light differs by stops, and areas without data in
// one flat colour. nil where there is nothing of it. Looks may be nil. It reads previews.
func NoPicture(looks []*Look) []*Marks {
	out := make([]*Marks, len(looks))
	s := newStillRoll(looks)
	if s == nil {
		return out
	}
	inside := s.inside(s.same())
	for k, i := range s.at {
		flat := s.flat(k)
		if inside == nil && flat == nil {
			continue
		}
		out[i] = s.marked(k, inside, flat)
	}
	return out
}

// marked returns the marks of the k-th frame that pixels of all frames and its own make, nil
// where none lies in its image area; either may be nil.
func (s *stillRoll) marked(k int, all, own []bool) *Marks {
	m := &Marks{W: s.w, H: s.h, Mask: make([]uint8, s.w*s.h)}
	a := s.looks[k].previewArea()
	n, still := 0, 0
	for y := a.Min.Y; y < a.Max.Y; y++ {
		for x := a.Min.X; x < a.Max.X; x++ {
			p := y*s.w + x
			in := all != nil && all[p]
			if !in && (own == nil || !own[p]) {
				continue
			}
			n++
			if in {
				still++
			}
			for v := max(0, y-2); v <= min(s.h-1, y+2); v++ {
				for u := max(0, x-2); u <= min(s.w-1, x+2); u++ {
					m.Mask[v*s.w+u] = 255
				}
			}
		}
	}
	if n == 0 {
		return nil
	}
	m.Share, m.Still = float64(n)/float64(a.Dx()*a.Dy()), float64(still)/float64(a.Dx()*a.Dy())
	return m
}

// inside returns what is the same in all frames and neither as dark as the shadows of the
// darkest nor as light as the lights of the lightest, where the film's own ends would look
// so; nil where there is nothing of it, or so much that it is no mark.
func (s *stillRoll) inside(same []bool) []bool {
	lo, hi := s.ends()
	out := make([]bool, len(same))
	n := 0
	for y := 1; y+1 < s.h; y++ {
		for x := 1; x+1 < s.w; x++ {
			k := y*s.w + x
			if !same[k] {
				continue
			}
			near := 0
			for v := -1; v <= 1; v++ {
				for u := -1; u <= 1; u++ {
					if same[k+v*s.w+u] {
						near++
					}
				}
			}
			l := s.level(0, k)
			if near >= 3 && (l[1] > lo+stillWithin && l[1] < hi-stillWithin) {
				out[k] = true
				n++
			}
		}
	}
	if n == 0 || float64(n) > stillMost*float64(len(same)) {
		return nil
	}
	return out
}

// ends returns the green levels between which a picture's tones lie that no film's end
// holds: the shadows of the darkest frame and the lights of the lightest, where a tenth
// of either lies beyond.
func (s *stillRoll) ends() (lo, hi float32) {
	quantile := func(i int, share float64) float32 {
		var v []float32
		a := s.looks[i].previewArea()
		for y := a.Min.Y; y < a.Max.Y; y += 3 {
			for x := a.Min.X; x < a.Max.X; x += 3 {
				v = append(v, s.level(i, y*s.w+x)[1])
			}
		}
		if len(v) == 0 {
			return 0
		}
		slices.Sort(v)
		return v[int(share*float64(len(v)-1))]
	}
	return quantile(0, 0.1), quantile(len(s.looks)-1, 0.9)
}

// flat returns the areas of frame i that have exactly one colour; nil where there are
// none.
func (s *stillRoll) flat(i int) []bool {
	one := s.plain(i)
	var out []bool
	for area := range s.areas(one) {
		if float64(len(area)) < flatLeast*float64(len(one)) || !s.noData(i, area) {
			continue
		}
		if out == nil {
			out = make([]bool, len(one))
		}
		for _, p := range area {
			out[p] = true
			for _, q := range s.beside(p) { // its own edge was not of one colour all round
				out[q] = true
			}
		}
	}
	return out
}

// beside returns the pixels above, below and at either side of one; where the picture ends
// that one itself.
func (s *stillRoll) beside(p int) [4]int {
	q := [4]int{p, p, p, p}
	x := p % s.w
	if x > 0 {
		q[0] = p - 1
	}
	if x+1 < s.w {
		q[1] = p + 1
	}
	if p >= s.w {
		q[2] = p - s.w
	}
	if p+s.w < s.w*s.h {
		q[3] = p + s.w
	}
	return q
}

// plain returns the pixels of frame i whose neighbours all have exactly their colour, but for
// what is at an end of the scan.
func (s *stillRoll) plain(i int) []bool {
	l := s.looks[i]
	pix := l.Preview.Pix
	one := make([]bool, s.w*s.h)
	parallel.Bands(s.h, func(y0, y1 int) {
		for k := y0 * s.w; k < y1*s.w; k++ {
			if l.BlownShare[k] > 0 || l.BlockedShare[k] > 0 {
				continue
			}
			ok := true
			for _, q := range s.beside(k) {
				ok = ok && pix[3*q] == pix[3*k] && pix[3*q+1] == pix[3*k+1] && pix[3*q+2] == pix[3*k+2]
			}
			one[k] = ok
		}
	})
	return one
}

// areas yields what hangs together; an area is good until the next.
func (s *stillRoll) areas(of []bool) iter.Seq[[]int] {
	return func(yield func([]int) bool) {
		seen := make([]bool, len(of))
		var stack, area []int
		for k := range of {
			if !of[k] || seen[k] {
				continue
			}
			stack, area = append(stack[:0], k), area[:0]
			seen[k] = true
			for len(stack) > 0 {
				p := stack[len(stack)-1]
				stack = stack[:len(stack)-1]
				area = append(area, p)
				for _, q := range s.beside(p) {
					if of[q] && !seen[q] {
						seen[q] = true
						stack = append(stack, q)
					}
				}
			}
			if !yield(area) {
				return
			}
		}
	}
}

// noData reports whether an area of one colour of frame i is no picture: always in 16
// bits, where nothing is so even; in 8, where dark and light tones are, if a darker frame
// is lighter there or a lighter one darker.
func (s *stillRoll) noData(i int, area []int) bool {
	if s.looks[i].Info.Bits == 16 && s.looks[i].EffectiveBits > 8 {
		return true
	}
	own := s.level(i, area[0])[1]
	for j := range s.looks {
		if j == i {
			continue
		}
		var v []float32
		for k := 0; k < len(area); k += max(1, len(area)/500) {
			v = append(v, s.level(j, area[k])[1])
		}
		d := median.Upper(v) - own
		if j < i && d > flatSteps || j > i && d < -flatSteps {
			return true
		}
	}
	return false
}

// Or returns marks of both; either may be nil.
func (m *Marks) Or(o *Marks, area image.Rectangle) *Marks {
	if m == nil || o == nil || m.W != o.W || m.H != o.H {
		if m == nil {
			return o
		}
		return m
	}
	out := &Marks{W: m.W, H: m.H, Mask: slices.Clone(m.Mask)}
	fresh, of := 0, 0
	for y := max(0, area.Min.Y); y < min(m.H, area.Max.Y); y++ {
		for x := max(0, area.Min.X); x < min(m.W, area.Max.X); x++ {
			if k := y*m.W + x; o.Mask[k] != 0 {
				of++
				if m.Mask[k] == 0 {
					fresh++
				}
			}
		}
	}
	for k, v := range o.Mask {
		out.Mask[k] |= v
	}
	part := 0.0
	if of > 0 {
		part = float64(fresh) / float64(of)
	}
	out.Share, out.Still = m.Share+part*o.Share, m.Still+part*o.Still
	return out
}

const stripNote = "A strip at the edge has one density in all frames, while their light differs: it is left out."

// Stripped reports whether a strip that all frames share was left out of the image area.
func (l *Look) Stripped() bool { return l.AreaFrom == AreaAgreed && l.AreaNote == stripNote }
