package measure

import (
	"context"
	"image"
	"math"
	"slices"

	"stopladder/analysis/numeric/median"
	"stopladder/analysis/scan"
)

// Agree makes the looks of one roll agree on image areas and code ranges: it calls
// AgreeAreas and AgreeCodeRange and recounts the frames that change. open must give
// the scan of looks[i] again; it is called for those frames alone. The looks
// themselves are left as they are: the returned slice holds new ones where
// something changed. Entries of looks may be nil (frames that failed). base is
// an index into looks, -1 when there is none. A frame that cannot be recounted
// keeps its look with a note, and the first such error is returned with it.
func Agree(ctx context.Context, looks []*Look, base int, open func(i int) (scan.Source, error), opt Options) ([]*Look, error) {
	out := append([]*Look(nil), looks...)
	var first error
	again := func(i int, o Options, from AreaFrom, note string) {
		made := &origin{of: out[i], agreed: true, from: from, note: note, codes: o.CodeRange}
		if o.Area != nil {
			made.area = *o.Area
		}
		if l := opt.before(i, made); l != nil {
			out[i] = l
			return
		}
		src, err := open(i)
		if err == nil {
			var l *Look
			if l, err = out[i].recount(ctx, src, o, from, note); err == nil {
				l.made, out[i] = made, l
				return
			}
		}
		if first == nil {
			first = err
		}
		l := *out[i]
		l.Notes = append(append([]string(nil), l.Notes...), "The frame could not be measured again with the roll's image area and limits; its own are used.")
		l.made = &origin{of: out[i], agreed: true}
		out[i] = &l
	}
	for i, a := range AgreeAreas(out, base) {
		if out[i] == nil || !a.Changed {
			continue
		}
		area := a.Area
		again(i, Options{Area: &area, Workers: opt.Workers}, a.From, a.Note)
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
	}
	lim, changed := AgreeCodeRange(out)
	for _, i := range changed {
		again(i, Options{CodeRange: &lim, Workers: opt.Workers}, out[i].AreaFrom, out[i].AreaNote)
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
	}
	for i, l := range out {
		// Counts are the same under the agreed range: only their names change.
		if l == nil || l.Info.Bits != lim.bits() || l.rangeMatters(lim) {
			continue
		}
		n := *l
		n.Ceiling, n.CeilingFrom = agreed(l.Ceiling, lim.Ceiling, l.CeilingFrom, lim.CeilingFrom)
		n.Floor, n.FloorFrom = agreed(l.Floor, lim.Floor, l.FloorFrom, lim.FloorFrom)
		if n.Ceiling != l.Ceiling || n.Floor != l.Floor {
			made := &origin{of: l, agreed: true, from: l.AreaFrom, note: l.AreaNote, codes: &lim}
			n.made = made
			if out[i] = opt.before(i, made); out[i] == nil {
				out[i] = &n
			}
		}
	}
	return out, first
}

// before returns the look that was made in the same way the last time, nil where
// there is none.
func (opt *Options) before(i int, made *origin) *Look {
	if i >= len(opt.Before) {
		return nil
	}
	for l := opt.Before[i]; l != nil && l.made != nil; l = l.made.of {
		m := l.made
		same := m.codes == made.codes || m.codes != nil && made.codes != nil && *m.codes == *made.codes
		if m.of == made.of && m.agreed == made.agreed && m.area == made.area && m.from == made.from && m.note == made.note && same {
			return l
		}
	}
	return nil
}

// agreed takes the roll's codes; where the frame shows the same code itself, it
// keeps its own word for it.
func agreed(own, roll RGB[int], ownFrom, rollFrom RGB[EndFrom]) (RGB[int], RGB[EndFrom]) {
	from := rollFrom
	if own.R == roll.R {
		from.R = ownFrom.R
	}
	if own.G == roll.G {
		from.G = ownFrom.G
	}
	if own.B == roll.B {
		from.B = ownFrom.B
	}
	return roll, from
}

// bits returns the container that the range belongs to: a 16-bit ceiling is never
// found below 94 % of its scale.
func (l CodeRange) bits() int {
	if max(l.Ceiling.R, l.Ceiling.G, l.Ceiling.B) > 255 {
		return 16
	}
	return 8
}

// AgreedArea is what AgreeAreas proposes for one frame.
type AgreedArea struct {
	Area    image.Rectangle
	From    AreaFrom
	Note    string
	Changed bool // the frame must be recounted
}

// agreeSlack is how far the size of a frame's area may be off the roll's before
// the roll's is taken instead, as a fraction of the longer side: film moves in
// the gate, but the gate does not change its size.
const agreeSlack = 0.02

// AgreeAreas proposes an image area for every frame of a roll. Frames whose own
// area is certain, and set by hand, keep it. A frame of low confidence takes
// the base frame's size, where that is certain, else the median of the certain
// ones, at the place that its own visible edges give, else at the roll's usual
// place; the note says so. So does a frame whose area is far off the roll's
// size, or the only few to show a border (or none) in a roll of three or more.
// Scans of other pixel sizes than the most common one are left alone.
func AgreeAreas(looks []*Look, base int) []AgreedArea {
	out := make([]AgreedArea, len(looks))
	var sure []*Look // frames that show with confidence that there is a border
	nays := 0        // and that there is none
	size := commonSize(looks)
	var common []int // frames of the common size
	for i, l := range looks {
		if l == nil {
			continue
		}
		out[i] = AgreedArea{Area: l.Area, From: l.AreaFrom, Note: l.AreaNote}
		if l.Info.Width != size.X || l.Info.Height != size.Y {
			continue
		}
		common = append(common, i)
		switch l.AreaFrom {
		case AreaFound, AreaByHand:
			sure = append(sure, l)
		case AreaWhole:
			nays++
		}
	}
	votes := len(sure)
	rect, strips := stripless(looks, size)
	if strips && votes < 2 {
		for _, i := range common {
			if r := rect.Intersect(looks[i].whole()); r != looks[i].Area && looks[i].AreaFrom != AreaByHand {
				out[i] = AgreedArea{Area: r, From: AreaAgreed, Changed: true, Note: stripNote}
			}
		}
		return out
	}
	if votes == 0 || votes < 2 && nays > votes {
		// No border to agree on; a single find among borderless frames is taken
		// for a strip of picture.
		for _, i := range common {
			if nays >= 2 && looks[i].AreaFrom == AreaFound {
				out[i] = AgreedArea{Area: looks[i].whole(), From: AreaAgreed, Changed: true,
					Note: "A border was found on this frame alone; like the others it is measured whole."}
			}
		}
		return out
	}
	if strips { // and a border that some frames see: what it leaves of the strips goes as well
		defer func() {
			blur := 4 * looks[common[0]].Preview.Factor
			for _, i := range common {
				if r := rect.Intersect(out[i].Area); looks[i].AreaFrom != AreaByHand && !near(r, out[i].Area, blur) {
					out[i] = AgreedArea{Area: r, From: AreaAgreed, Changed: true, Note: stripNote}
				}
			}
		}()
	}
	want := agreedRect(looks, sure, base)
	slack := agreeSlack * float64(max(size.X, size.Y))
	for _, i := range common {
		l := looks[i]
		if l.keepsArea(want, slack, nays >= votes) {
			continue
		}
		if r := l.place(want, slack); r != l.Area {
			out[i] = AgreedArea{Area: r, From: AreaAgreed, Changed: true,
				Note: "The image area's size was taken from the other frames of the roll, because this frame's own edges are hard to tell from the border."}
		}
	}
	return out
}

// stripless returns a scan without the strips that all frames share, and whether there
// are any.
func stripless(looks []*Look, size image.Point) (r image.Rectangle, any bool) {
	strips := stillStrips(looks)
	for d, end := range stripsOf(looks, size) {
		if strips[d] == 0 {
			strips[d] = end
		}
	}
	return within(image.Rectangle{Max: size}, strips), strips != [4]int{}
}

// near reports whether two rectangles' sides lie within a distance of each other.
func near(a, b image.Rectangle, most int) bool {
	return max(abs(a.Min.X-b.Min.X), abs(a.Min.Y-b.Min.Y), abs(a.Max.X-b.Max.X), abs(a.Max.Y-b.Max.Y)) <= most
}

// keepsArea reports whether a frame's own area stands beside the roll's: it was set by
// hand, is of the roll's size, or shows no border where borderless frames are as many
// as others.
func (l *Look) keepsArea(want image.Rectangle, slack float64, borderless bool) bool {
	switch l.AreaFrom {
	case AreaByHand:
		return true
	case AreaFound:
		return float64(max(abs(l.Area.Dx()-want.Dx()), abs(l.Area.Dy()-want.Dy()))) <= slack
	case AreaWhole:
		return borderless
	}
	return false
}

// whole returns the part of the picture that is there.
func (l *Look) whole() image.Rectangle {
	if l.There.Empty() { // a look that was made, not read
		return image.Rect(0, 0, l.Info.Width, l.Info.Height-l.MissingRows)
	}
	return l.There
}

// place puts a rectangle of want's size where l's own visible edges say, as far
// as they are believed: within three slacks of the roll's usual place.
func (l *Look) place(want image.Rectangle, slack float64) image.Rectangle {
	near := func(a, b int) bool { return math.Abs(float64(a-b)) <= 3*slack }
	one := func(lo, hi side, wantLo, wantHi int) int { // shift from want
		var shifts []int
		if s := l.places.sides[lo]; s.found && near(s.pos, wantLo) {
			shifts = append(shifts, s.pos-wantLo)
		}
		if s := l.places.sides[hi]; s.found && near(s.pos, wantHi) {
			shifts = append(shifts, s.pos-wantHi)
		}
		switch len(shifts) {
		case 0:
			return 0
		case 1:
			return shifts[0]
		}
		return (shifts[0] + shifts[1]) / 2
	}
	dx := one(left, right, want.Min.X, want.Max.X)
	dy := one(top, bottom, want.Min.Y, want.Max.Y)
	return want.Add(image.Pt(dx, dy)).Intersect(l.whole())
}

// agreedRect has the base frame's size, or the median size, at the median place.
func agreedRect(looks, sure []*Look, base int) image.Rectangle {
	med := func(f func(r image.Rectangle) int) int {
		v := make([]int, len(sure))
		for i, l := range sure {
			v[i] = f(l.Area)
		}
		return median.Upper(v)
	}
	w := med(func(r image.Rectangle) int { return r.Dx() })
	h := med(func(r image.Rectangle) int { return r.Dy() })
	if base >= 0 && base < len(looks) && slices.Contains(sure, looks[base]) {
		// A base frame that disagrees with all others is not followed.
		b := looks[base].Area
		slack := agreeSlack * float64(max(looks[base].Info.Width, looks[base].Info.Height))
		if math.Abs(float64(b.Dx()-w)) <= slack && math.Abs(float64(b.Dy()-h)) <= slack {
			w, h = b.Dx(), b.Dy()
		}
	}
	cx := med(func(r image.Rectangle) int { return r.Min.X + r.Max.X })
	cy := med(func(r image.Rectangle) int { return r.Min.Y + r.Max.Y })
	x, y := (cx-w)/2, (cy-h)/2
	return image.Rect(x, y, x+w, y+h)
}

// commonSize returns the pixel size that most scans have; the first of equals.
func commonSize(looks []*Look) (best image.Point) {
	n := map[image.Point]int{}
	for _, l := range looks {
		if l == nil {
			continue
		}
		p := image.Pt(l.Info.Width, l.Info.Height)
		if n[p]++; n[p] > n[best] {
			best = p
		}
	}
	return best
}

func abs(a int) int { return max(a, -a) }
