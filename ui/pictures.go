package ui

import (
	"fmt"
	"image"
	"math"
	"strconv"
	"strings"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/number"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/ui/pane"
	"stopladder/ui/session"
)

// pictures show the state in a pane.Group: which frames, how they are corrected and
// marked, and what is between them. What it keeps are things that the group knows again
// by their pointers.
type pictures struct {
	group   *pane.Group
	state   *session.State
	open    func(r *roll.Roll, i int) (scan.Source, error)
	figure  func(string)   // shows what is under the pointer
	readout func([]string) // the same in every frame, on the ladder; nil: nothing

	ids         map[string]int                // file -> id for the group; kept while the window lives
	files       []string                      // id -> file
	corrections map[string]*render.Correction // by what they correct
	lost, dust  map[string]*render.Share      // by file
	noisy       map[string]noisyMask          // by file
	flat        map[string]*render.Flat       // by file
	glideWas    glideState

	// The detail that the ladder shows of every frame (session.State.Detail).
	onCrop       func(file string, c render.Crop) // on the window's goroutine; nil: nobody asks
	cropW, cropH int                              // device pixels
	crops        *render.Crops
	do           func(func())
	apply        func(session.Change)
}

func newPictures(state *session.State, apply func(session.Change), do func(func()), open func(r *roll.Roll, i int) (scan.Source, error), trace func(string), figure func(string), readout func([]string)) *pictures {
	p := &pictures{state: state, open: open, figure: figure, readout: readout, do: do, apply: apply, ids: map[string]int{}, lost: map[string]*render.Share{}, flat: map[string]*render.Flat{}, noisy: map[string]noisyMask{}}
	p.group = pane.NewGroup(pane.Options{Do: do, Painted: trace})
	p.group.OnHover = p.hovered
	p.group.OnPick = func(id int, at image.Point) { apply(session.Click{File: p.fileOf(id), At: at}) }
	return p
}

// asScanned marks the second picture of a frame that is shown twice; no file's name
// can hold it.
const asScanned = "\x00as scanned"

// id returns the number under which the group knows a frame.
func (p *pictures) id(file string) int {
	id, ok := p.ids[file]
	if !ok {
		id = len(p.files)
		p.ids[file] = id
		p.files = append(p.files, file)
	}
	return id
}

// fileOf returns the file of the frame that the group knows by a number.
func (p *pictures) fileOf(id int) string { return strings.TrimSuffix(p.files[id], asScanned) }

func (p *pictures) baseID() int {
	if b := p.state.Base(); b >= 0 {
		return p.id(p.state.Roll().Frames[b].File)
	}
	return -1
}

// reset lets go of the pictures of the roll before: another one is shown, whose scans may
// even have the same names.
func (p *pictures) reset() {
	p.group.Reset()
	p.ids, p.corrections, p.dust = map[string]int{}, nil, nil
	p.lost, p.flat, p.noisy = map[string]*render.Share{}, map[string]*render.Flat{}, map[string]noisyMask{}
	p.glideWas = glideState{}
}

// changed brings the pictures up to date.
func (p *pictures) changed(c session.Parts) {
	if c&session.Opened != 0 {
		p.reset()
	}
	if c&(session.Frames|session.Readings|session.View) != 0 ||
		c&session.Marker != 0 && p.state.Layout() == session.Beside { // its frame is among them twice
		p.showFrames()
	}
	if c&(session.Frames|session.Marker|session.View) != 0 {
		p.showLayout()
	}
	if c&(session.Frames|session.Marks|session.View) != 0 {
		p.group.SetSurround(p.state.Surround())
		p.group.SetBlink(p.baseID())
	}
	if c&session.Holding != 0 || p.group.Holds() && c&(session.Frames|session.Marker|session.View) != 0 {
		p.showHeld()
	}
	if c&(session.Frames|session.View|session.Placed) != 0 {
		p.showDifference()
		p.showMaps()
	}
	if c&(session.Frames|session.Marks|session.View) != 0 {
		p.showSpots()
		p.tracing()
	}
	if c&(session.Frames|session.Readings|session.Marks|session.View) != 0 {
		p.showCrops(c&session.Opened != 0)
	}
}

// showFrames hands all frames to the group.
func (p *pictures) showFrames() {
	var slots []pane.Slot
	s := p.state
	open, shown := p.open, s.Roll()
	rows := s.Rows()
	var base image.Rectangle
	if b := s.Base(); b >= 0 {
		if l := s.Frame(b).Look; l != nil {
			base = l.Area
		}
	}
	for i, f := range s.Roll().Frames {
		line := rows[i]
		slot := pane.Slot{ID: p.id(f.File), Label: stops.Label(f.Stop), Message: line.Message,
			Picture: render.Picture{Look: line.Look, Rel: line.Rel, Base: base}}
		if res := s.Film().Response; res != nil {
			if light, dark, ok := res.FlatCodes(i); ok {
				slot.Picture.Flat = p.flatOf(f.File, render.Flat{Light: light, Dark: dark})
			}
		}
		slot.Picture.Lost, slot.Picture.Dust = p.lostMask(i), p.dustMask(i)
		if s.Masked(session.Noisy) {
			slot.Picture.Noise = p.noisyMask(i)
		}
		if line.Thumb != nil {
			slot.Thumb = line.Thumb
		}
		slot.Picture.Adjust, slot.Note = p.adjust(i)
		if i == s.Base() {
			slot.Note = "base, " + slot.Note
		}
		slot.Note += p.shares(i)
		switch line.State {
		case row.Waiting:
			slot.State = pane.Waiting
		case row.Reading:
			slot.State = pane.Reading
		case row.Ready:
			slot.State = pane.Ready
		case row.Failed:
			slot.State, slot.Note = pane.Failed, "not read"
		}
		slot.Open = func() (scan.Source, error) { return open(shown, i) }
		slots = append(slots, slot)
		if s.Layout() == session.Beside && i == s.Current() {
			if slot.Picture.Adjust == nil { // the same picture twice
				slots[len(slots)-1].Note = "not corrected: press G or V" + p.shares(i)
			}
			slot.ID, slot.Note = p.id(f.File+asScanned), "as scanned"
			slot.Picture.Adjust, slot.Picture.Noise = nil, nil
			slots = append(slots, slot)
		}
	}
	p.group.SetFrames(slots)
	p.showMaps()
}

// flatOf returns where a frame's film no longer separates tones, one pointer for as long
// as it stays the same.
func (p *pictures) flatOf(file string, f render.Flat) *render.Flat {
	if had := p.flat[file]; had == nil || *had != f {
		p.flat[file] = &f
	}
	return p.flat[file]
}

// showLayout shows the frames that the layout asks for.
func (p *pictures) showLayout() {
	s := p.state
	if s.Empty() {
		return
	}
	p.group.SetMasks(render.Overlay{Blown: s.Masked(session.Blown), Blocked: s.Masked(session.Blocked), Noisy: s.Masked(session.Noisy), Lost: s.Masked(session.Lost), Dust: s.Masked(session.Dust)})
	current := p.id(s.Roll().Frames[s.Current()].File)
	// A marker that glides on keeps the picture between the frames: pictures that
	// are on their way belong to it, and ending it would throw them away, one by one.
	now := glideState{layout: s.Layout(), other: -1}
	if s.Layout() == session.Pair || s.Layout() == session.Edge {
		now.other = p.id(s.Roll().Frames[s.OtherIndex()].File)
	}
	_, now.glides = s.Gliding()
	now.glides = now.glides && s.Layout() != session.Grid && s.Layout() != session.Beside
	if was := p.glideWas; now.glides && was == now {
		if _, _, on := p.group.Between(); on {
			p.group.SetActive(current)
			p.showGlide()
			return
		}
	}
	p.glideWas = now
	p.group.EndBetween()
	switch s.Layout() {
	case session.One:
		p.group.ShowOne(current)
	case session.Pair:
		p.group.ShowPair(p.id(s.Roll().Frames[s.OtherIndex()].File), current)
	case session.Edge:
		p.group.ShowEdge(p.id(s.Roll().Frames[s.OtherIndex()].File), current)
	case session.Grid:
		ids := make([]int, len(s.Roll().Frames))
		for i, f := range s.Roll().Frames { // over above under, as on the ladder
			ids[len(ids)-1-i] = p.id(f.File)
		}
		p.group.ShowGrid(ids...)
	case session.Beside:
		ids := []int{p.id(s.Roll().Frames[s.Current()].File + asScanned), current}
		if b := s.Base(); b >= 0 && b != s.Current() {
			ids = append([]int{p.baseID()}, ids...)
		}
		p.group.ShowGrid(ids...)
	}
	p.group.SetActive(current)
	p.showGlide()
}

// hovered shows what stands under the pointer in the picture.
func (p *pictures) hovered(id int, at image.Point, ok bool) {
	s, i := p.state, -1
	if ok && id < len(p.files) {
		i = s.Index(p.fileOf(id))
	}
	if i < 0 || s.Frame(i).Look == nil {
		p.figure("")
		p.readout(nil)
		return
	}
	p.readout(p.spots(i, at))
	stop := s.Roll().Frames[i].Stop
	if s.Difference() == session.ColourDifference && i != s.Base() {
		if e, ok := s.DifferenceAt(i, at); ok {
			p.figure(fmt.Sprintf("%s   x %d  y %d   %.1f ΔE00 from the base frame, both as they are shown", stops.Label(stop), at.X, at.Y, e))
			return
		}
	}
	p.figure(spotWords(stop, s.Frame(i).Look, at))
}

// spots returns a line for each frame of what it has where the pointer is in the i-th, ""
// for one that does not show it.
func (p *pictures) spots(i int, at image.Point) []string {
	s := p.state
	base := [2]float64{float64(at.X) + 0.5, float64(at.Y) + 0.5}
	if m := s.Frame(i).Map; m != nil {
		back, ok := affine.Inverse(*m)
		if !ok {
			return nil
		}
		base[0], base[1] = affine.At(back, base[0], base[1])
	}
	out := make([]string, len(s.Roll().Frames))
	for j := range out {
		l := s.Frame(j).Look
		if l == nil {
			continue
		}
		x, y := base[0], base[1]
		if m := s.Frame(j).Map; m != nil {
			x, y = affine.At(*m, x, y)
		}
		if q, ok := measure.PixelAt(l, int(math.Floor(x)), int(math.Floor(y)), 1); ok {
			out[j] = spotLine(q)
		} else {
			out[j] = "not in this frame"
		}
	}
	return out
}

// atEnd names the end of the scan that all of a spot lies at, "" for neither: a density
// there would be the scanner's.
func atEnd(q measure.Pixel) string {
	switch {
	case q.Blown == 1:
		return "at the scan's ceiling"
	case q.Blocked == 1:
		return "at the scan's floor"
	}
	return ""
}

// midGrey is the light of L* 50 (CIE 15: ((50+16)/116)^3), which stops are counted from.
const midGrey = 0.1842

// spotLine returns lightness, colour and light of a spot, or which end of the scan it lies
// at.
func spotLine(q measure.Pixel) string {
	if end := atEnd(q); end != "" {
		return end
	}
	y := colour.Luminance(q.Linear.R, q.Linear.G, q.Linear.B)
	line := fmt.Sprintf("L* %.0f  a* %s  b* %s", q.L, number.Signed(q.A, 0), number.Signed(q.B, 0))
	if y > 0 {
		line += "  " + number.Signed(math.Log2(y/midGrey), 1) + " from mid-grey"
	}
	return line
}

// spotWords returns the readout of a spot: the preview pixel around it.
func spotWords(stop float64, l *measure.Look, at image.Point) string {
	p, ok := measure.PixelAt(l, at.X, at.Y, 1)
	if !ok {
		return ""
	}
	film := fmt.Sprintf("density R %s  G %s  B %s", density(p.Density.R), density(p.Density.G), density(p.Density.B))
	if end := atEnd(p); end != "" {
		film = end
	}
	return fmt.Sprintf("%s   x %d  y %d   code R %s  G %s  B %s   L* %.1f  a* %s  b* %s   %s",
		stops.Label(stop), at.X, at.Y,
		thousands(p.Codes.R), thousands(p.Codes.G), thousands(p.Codes.B),
		p.L, number.Signed(p.A, 1), number.Signed(p.B, 1), film)
}

func density(d float64) string {
	if math.IsInf(d, 0) || math.IsNaN(d) {
		return "–"
	}
	return fmt.Sprintf("%.2f", d)
}

// thousands writes a code value with a thin space, as on the sheet.
func thousands(v float64) string {
	n := int(math.Round(v))
	if n < 1000 {
		return strconv.Itoa(n)
	}
	return fmt.Sprintf("%d\u2009%03d", n/1000, n%1000)
}

// showMaps hands the pictures how the frames lie on each other. They are not part of the
// slots, so that a frame can be nudged without being handed over again.
func (p *pictures) showMaps() {
	s := p.state
	maps := map[int]f64.Aff3{}
	for i, f := range s.Roll().Frames {
		m := s.Frame(i).Map
		if q := s.Placing(); q != nil && q.File == f.File {
			m = q.Map
		}
		if m == nil {
			continue
		}
		maps[p.id(f.File)] = *m
		if s.Layout() == session.Beside && i == s.Current() {
			maps[p.id(f.File+asScanned)] = *m
		}
	}
	p.group.SetMaps(maps)
}

// differenceWhite is the dE00 that is shown white: more than twice what strains.
const differenceWhite = 10

// showDifference shows frames as their difference against the base frame, or as they are.
func (p *pictures) showDifference() {
	kind, look := p.state.Difference(), render.DifferenceOptions{}
	if kind == session.ColourDifference {
		look = render.DifferenceOptions{Kind: render.DifferenceColour, AsIs: true, Amplify: render.FullColour / differenceWhite}
	}
	p.group.SetDifferenceLook(look)
	p.group.SetDifference(kind != session.NoDifference, p.baseID())
}

// showSpots marks the patches on the pictures while their page is open.
func (p *pictures) showSpots() {
	var spots []pane.Spot
	if p.state.Panel() == session.PatchesPanel {
		for i, q := range p.state.Roll().Patches {
			spots = append(spots, pane.Spot{X: q.X, Y: q.Y, R: q.R, Name: q.Name, Active: i == p.state.Patch()})
		}
	}
	if at, ok := p.state.Detail(); ok {
		if k, _ := p.state.Picking(); k == session.PickDetail {
			w, h := p.cropW, p.cropH
			if w == 0 || h == 0 {
				w, h = usualCrop.X, usualCrop.Y
			}
			spots = append(spots, pane.Spot{X: float64(at.X), Y: float64(at.Y), R: float64(w) / 2, Tall: float64(h) / 2, Name: "on the ladder", Active: true})
		}
	}
	p.group.SetSpots(spots)
}

// shares returns the figures of the masks that are on, for the chip of a picture.
func (p *pictures) shares(i int) (words string) {
	s := p.state
	if l := s.Frame(i).Look; l != nil && s.Masked(session.Blown) {
		words += "   Blown " + row.Percent(l.Blown.Any)
	}
	if l := s.Frame(i).Look; l != nil && s.Masked(session.Blocked) {
		words += "   Blocked " + row.Percent(l.Blocked.Any)
	}
	if s.Masked(session.Noisy) {
		if v := s.NoisyShown(i); v != nil {
			words += "   Noisy " + row.Percent(*v)
		}
	}
	if c := s.Film().Cost(i, criteria.Exposure); s.Masked(session.Lost) && i != s.Base() && c != nil && c.LostArea != nil {
		words += "   Lost " + row.Percent(*c.LostArea)
	}
	if m := s.Frame(i).Marks; m != nil && s.Masked(session.Dust) {
		words += "   Dust " + row.Percent(m.Share)
	}
	return words
}

// glideState is what pictures between frames stand beside.
type glideState struct {
	glides bool
	layout session.Layout
	other  int // of a pair
}

// showGlide shows the picture between two frames when the marker rests or moves
// there; always marked as interpolated. All frames at once have no place for it.
func (p *pictures) showGlide() {
	s := p.state
	m, ok := s.Gliding()
	if !ok || s.Layout() == session.Grid || s.Layout() == session.Beside {
		return
	}
	lower, upper := s.Roll().Frames[m.Lower], s.Roll().Frames[m.Upper]
	p.group.ShowBetween(p.id(lower.File), p.id(upper.File), pane.BetweenSpec{
		Label:  stops.Label(s.Marker()),
		Note:   "interpolated from " + stops.Label(lower.Stop) + " and " + stops.Label(upper.Stop),
		Tables: m.Tables, Upper: m.Fraction,
	})
}

// adjust returns the correction that a frame is shown with, and what its chip says of
// it. Equal corrections are one pointer, so that nothing is developed twice.
func (p *pictures) adjust(i int) (*render.Correction, string) {
	own, all, words := p.state.Look().Of(p.state.Film(), i)
	if own.IsZero() && all.IsZero() {
		return nil, words
	}
	key := session.CorrectionKey(own, all)
	if c := p.corrections[key]; c != nil && key != "" {
		return c, words
	}
	if len(p.corrections) > 200 { // of drags that are over
		p.corrections = nil
	}
	if p.corrections == nil {
		p.corrections = map[string]*render.Correction{}
	}
	c := render.Corrected(own, all)
	p.corrections[key] = c
	return c, words
}

// lostMask returns what a frame has lost; nil while that is not known. A mask is kept by
// pointer, so one frame's is one pointer for as long as it stays the same.
func (p *pictures) lostMask(i int) *render.Share {
	file, a := p.state.Frame(i).File, p.state.Film().Compared(i)
	if a == nil || a.Salvage == nil || len(a.Salvage.Lost) == 0 {
		return nil
	}
	if m := p.lost[file]; m != nil && &m.Pix[0] == &a.Salvage.Lost[0] {
		return m
	}
	p.lost[file] = &render.Share{Pix: a.Salvage.Lost}
	return p.lost[file]
}

// dustMask returns where a frame shows dust, scratches or what moved; nil where that could not
// be looked for. It is kept as lostMask is.
func (p *pictures) dustMask(i int) *render.Share {
	f := p.state.Frame(i)
	if f.Marks == nil || len(f.Marks.Mask) == 0 {
		return nil
	}
	if m := p.dust[f.File]; m != nil && &m.Pix[0] == &f.Marks.Mask[0] {
		return m
	}
	if p.dust == nil {
		p.dust = map[string]*render.Share{}
	}
	p.dust[f.File] = &render.Share{Pix: f.Marks.Mask}
	return p.dust[f.File]
}

// noisyMask returns the mask of Noisy at the roll's limit and through the correction that
// is shown; nil where the reading's own is the same. Equal masks are one pointer.
func (p *pictures) noisyMask(i int) *render.Share {
	file, rel := p.state.Frame(i).File, p.state.Frame(i).Relation
	limit := p.state.Film().NoisyLimit()
	key, tone := p.state.Tone()
	if rel == nil || len(rel.NoiseL) == 0 || key == "" && rel.NoiseLimit == limit {
		return nil
	}
	if m := p.noisy[file]; m.share != nil && m.of == &rel.NoiseL[0] && m.limit == limit && m.key == key {
		return m.share
	}
	share := render.ShareBy(func() []uint8 { pix, _ := rel.NoisyAt(limit, tone); return pix })
	p.noisy[file] = noisyMask{share, &rel.NoiseL[0], limit, key}
	return share
}

type noisyMask struct {
	share *render.Share
	of    *float32 // the readings that it was made from
	limit float64
	key   string
}
