package measure

import (
	"image"
	"math"
	"slices"

	"stopladder/analysis/numeric/parallel"
)

// A half transparent sign laid over all scans (a logo, a stamp, dirt on the scanner's
// glass that lets light through) is neither the same in all of them nor picture: it
// changes from frame to frame, and less than what has its level elsewhere. A response that
// is measured there is another one, and where a dark frame has no other light tones it
// would be the response of the roll. The figures are our own choice.
const (
	veilSide   = 8     // preview pixels of a block
	veilEvery  = 2     // rows and columns of a block that are read
	veilBin    = 8     // levels that are taken for one
	veilEnough = 24    // blocks of one level that tell how it changes
	veilSpread = 0.35  // of that change, between its quartiles: of more it is not one
	veilTold   = 24    // levels that the rest must have changed in all, or nothing is said
	veilShare  = 0.5   // of the change of the rest: what changes less is veiled
	veilWeak   = 10    // levels, and
	veilNearly = 0.85  // share by which what hangs together with a veiled block is veiled as well
	veilFull   = 0.5   // of the box about a sign: letters stand in one, which is left out
	veilLeast  = 0.001 // of the picture: less, hanging together, is a tone of its own and no sign
	veilMost   = 0.03  // of the picture: more is a scene of several lights
	veilRounds = 16    // at most: the rest is what was not found veiled before, and tells more each time
	veilAsked  = 16384 // blocks, evenly laid, are enough to tell how levels change
)

// veilBlocks are the levels of a roll's blocks, frames from the darkest to the lightest.
type veilBlocks struct {
	area  image.Rectangle // preview pixels, whole blocks
	w, h  int             // blocks
	level [][][3]float32  // by frame and block; negative red where it is clipped or missing
}

func (s *stillRoll) newVeilBlocks() *veilBlocks {
	area := s.looks[0].previewArea()
	for _, l := range s.looks {
		area = area.Intersect(l.previewArea())
	}
	b := &veilBlocks{w: area.Dx() / veilSide, h: area.Dy() / veilSide}
	if b.w < 1 || b.h < 1 {
		return b
	}
	b.area = image.Rect(area.Min.X, area.Min.Y, area.Min.X+b.w*veilSide, area.Min.Y+b.h*veilSide)
	for i := range s.looks {
		level := make([][3]float32, b.w*b.h)
		parallel.Bands(b.h, func(y0, y1 int) {
			for k := y0 * b.w; k < y1*b.w; k++ {
				level[k] = s.blockLevel(i, b.area.Min.X+k%b.w*veilSide, b.area.Min.Y+k/b.w*veilSide)
			}
		})
		b.level = append(b.level, level)
	}
	return b
}

// blockLevel returns the mean level of the block of frame i that begins at x, y.
func (s *stillRoll) blockLevel(i, x, y int) (mean [3]float32) {
	const n = (veilSide / veilEvery) * (veilSide / veilEvery)
	clipped := 0
	for v := y; v < y+veilSide; v += veilEvery {
		for u := x; u < x+veilSide; u += veilEvery {
			k := v*s.w + u
			if s.looks[i].BlownShare[k] > 0 || s.looks[i].BlockedShare[k] > 0 {
				clipped++
			}
			l := s.level(i, k)
			for c := range mean {
				mean[c] += l[c] / n
			}
		}
	}
	if 8*clipped > n {
		return [3]float32{-1, -1, -1}
	}
	return mean
}

// change is how a channel's blocks of one level change to the next frame; ok is false where
// they are few or do not agree.
type change struct {
	by float32
	ok bool
}

// changes returns what the blocks that are not veiled tell of every level.
func (b *veilBlocks) changes(i, c int, veiled []bool) (out [256/veilBin + 1]change) {
	var by [256/veilBin + 1][]float32
	for k := 0; k < len(veiled); k += max(1, len(veiled)/veilAsked) {
		from, to := b.level[i][k], b.level[i+1][k]
		if veiled[k] || from[0] < 0 || to[0] < 0 {
			continue
		}
		at := int(from[c]) / veilBin
		by[at] = append(by[at], to[c]-from[c])
	}
	for at, v := range by {
		if len(v) < veilEnough {
			continue
		}
		slices.Sort(v)
		q1, mid, q3 := v[len(v)/4], v[len(v)/2], v[len(v)*3/4]
		out[at] = change{mid, mid > 0 && q3-q1 <= veilSpread*mid}
	}
	return out
}

// veiled returns the blocks that change less than the rest in every channel that tells, and
// those of which as much may be said where they hang together with such.
func (b *veilBlocks) veiled(before []bool) (surely, perhaps []bool) {
	n := b.w * b.h
	own, rest := make([][3]float32, n), make([][3]float32, n)
	for i := range len(b.level) - 1 {
		for c := range 3 {
			told := b.changes(i, c, before)
			for k, from := range b.level[i] {
				to := b.level[i+1][k]
				if from[0] < 0 || to[0] < 0 {
					continue
				}
				if d := told[int(from[c])/veilBin]; d.ok {
					own[k][c] += to[c] - from[c]
					rest[k][c] += d.by
				}
			}
		}
	}
	less := func(k int, told, share float32) (channels int) {
		for c := range 3 {
			if rest[k][c] < told {
				continue
			}
			if own[k][c] >= share*rest[k][c] {
				return 0
			}
			channels++
		}
		return channels
	}
	surely, perhaps = make([]bool, n), make([]bool, n)
	low := [3]float32{256, 256, 256} // the darkest of the sign in the darkest frame
	for k, dark := range b.level[0] {
		surely[k] = max(rest[k][0], rest[k][1], rest[k][2]) >= veilTold && less(k, veilWeak, veilShare) >= 2
		for c := range low {
			if surely[k] && dark[0] >= 0 {
				low[c] = min(low[c], dark[c])
			}
		}
	}
	for k, dark := range b.level[0] {
		// Of levels that only the sign has nothing is told; what is as light as it in the
		// darkest frame, and hangs together with it, is of it.
		silent := max(rest[k][0], rest[k][1], rest[k][2]) < veilWeak && dark[0] >= low[0] && dark[1] >= low[1] && dark[2] >= low[2]
		perhaps[k] = surely[k] || silent || less(k, veilWeak, veilNearly) >= 1
	}
	return surely, perhaps
}

// Veiled returns for every frame what a half transparent sign may cover that all scans have
// in one place; nil where there is none. Edges between light and dark, and dyes that mix, can
// look so: it is to be believed only where one response explains the frames without what it
// covers, and with it does not. Looks may be nil. It reads previews.
func Veiled(looks []*Look) []*Marks {
	s := newStillRoll(looks)
	if s == nil {
		return nil
	}
	veils := s.veils()
	if veils == nil {
		return nil
	}
	out := make([]*Marks, len(looks))
	for k, i := range s.at {
		out[i] = s.marked(k, veils, nil)
	}
	return out
}

// veils returns the pixels of the preview under a half transparent sign that all frames
// share; nil where there is none, or so much that it is no sign.
func (s *stillRoll) veils() []bool {
	b := s.newVeilBlocks()
	n := b.w * b.h
	if n == 0 {
		return nil
	}
	found := make([]bool, n)
	for range veilRounds {
		next := b.together(b.veiled(found))
		if slices.Equal(next, found) {
			break
		}
		found = next
	}
	count := 0
	out := make([]bool, s.w*s.h)
	for k, in := range found {
		if !in {
			continue
		}
		count++
		// A block further all round: at its edge a sign covers a part of one.
		x, y := b.area.Min.X+k%b.w*veilSide, b.area.Min.Y+k/b.w*veilSide
		for v := max(0, y-veilSide); v < min(s.h, y+2*veilSide); v++ {
			for u := max(0, x-veilSide); u < min(s.w, x+2*veilSide); u++ {
				out[v*s.w+u] = true
			}
		}
	}
	if count == 0 || float64(count) > veilMost*float64(n) {
		return nil
	}
	return out
}

// thick reports whether a block stands in a square of two by two: a sign is no line.
func (b *veilBlocks) thick(of []bool, k int) bool {
	x, y := k%b.w, k/b.w
	in := func(x, y int) bool { return x >= 0 && y >= 0 && x < b.w && y < b.h && of[y*b.w+x] }
	for _, d := range [4][2]int{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
		if in(x+d[0], y) && in(x, y+d[1]) && in(x+d[0], y+d[1]) {
			return true
		}
	}
	return false
}

// together keeps what hangs together and is surely veiled in at least veilLeast of the
// picture, with the box about it where most of that is veiled.
func (b *veilBlocks) together(surely, perhaps []bool) []bool {
	least := max(4, int(math.Ceil(veilLeast*float64(b.w*b.h))))
	grid := &stillRoll{w: b.w, h: b.h}
	out := make([]bool, len(perhaps))
	for area := range grid.areas(perhaps) {
		sure := 0
		box := image.Rectangle{}
		for _, k := range area {
			if surely[k] && b.thick(perhaps, k) {
				sure++
			}
			box = box.Union(image.Rect(k%b.w, k/b.w, k%b.w+1, k/b.w+1))
		}
		if sure < least {
			continue
		}
		for _, k := range area {
			out[k] = true
		}
		if float64(len(area)) < veilFull*float64(box.Dx()*box.Dy()) {
			continue
		}
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				out[y*b.w+x] = true
			}
		}
	}
	return out
}
