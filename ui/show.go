package ui

import (
	"fmt"
	"image"
	"math"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"
	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
	"stopladder/analysis/show/row"
	"stopladder/ui/chip"
	"stopladder/ui/pane"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// asScanned marks the second picture of a frame that is shown twice; no file's name
// can hold it.
const asScanned = "\x00as scanned"

// fileOf is the file of the frame that the pictures know by a number.
func (w *Window) fileOf(id int) string { return strings.TrimSuffix(w.files[id], asScanned) }

// showPictures hands all frames to the picture side.
func (w *Window) showPictures() {
	var slots []pane.Slot
	open, shown := w.opener(), w.sess.Roll.Clone() // sources are opened by workers, while the roll may change
	var base image.Rectangle
	if b := w.sess.Base(); b >= 0 {
		if l := w.sess.Frame(b).Row.Look; l != nil {
			base = l.Area
		}
	}
	for i, f := range w.sess.Roll.Frames {
		line := w.sess.Frame(i).Row
		slot := pane.Slot{ID: w.id(f.File), Label: stops.Label(f.Stop), Message: line.Message,
			Picture: render.Picture{Look: line.Look, Rel: line.Rel, Base: base}}
		if light, dark, ok := w.sess.FlatCodes(f.File); ok {
			slot.Picture.Flat = &render.Flat{Light: light, Dark: dark}
		}
		slot.Picture.Lost = w.lostMask(f.File)
		if w.sess.Masks.Noisy {
			slot.Picture.Noise = w.noisyMask(f.File, line.Rel)
		}
		if line.Thumb != nil {
			slot.Thumb = line.Thumb
		}
		slot.Picture.Adjust, slot.Note = w.adjust(i)
		if i == w.sess.Base() {
			slot.Note = "base, " + slot.Note
		}
		slot.Note += w.shares(line)
		switch line.State {
		case row.Waiting:
			slot.State = pane.Waiting
		case row.Reading:
			slot.State = pane.Reading
		case row.Ready:
			slot.State = pane.Ready
		case row.Failed:
			slot.State = pane.Failed
		}
		slot.Open = func() (scan.Source, error) { return open(shown, i) }
		slots = append(slots, slot)
		if w.sess.Layout == session.Beside && i == w.sess.Current() {
			slot.ID, slot.Note = w.id(f.File+asScanned), "as scanned"
			slot.Picture.Adjust, slot.Picture.Noise = nil, nil
			slots = append(slots, slot)
		}
	}
	w.pictures.SetFrames(slots)
	w.showMaps()
}

// showLayout shows the frames that the layout asks for.
func (w *Window) showLayout() {
	s := w.sess
	w.pictures.SetMasks(render.Overlay{Blown: s.Masks.Blown, Blocked: s.Masks.Blocked, Noisy: s.Masks.Noisy, Lost: s.Masks.Lost})
	if s.Empty() {
		w.stage.Objects = []fyne.CanvasObject{w.empty}
		w.stage.Refresh()
		return
	}
	stage := fyne.CanvasObject(w.pictures)
	if w.showsCurve {
		w.curve.show()
		stage = w.curve.object
	}
	if w.stage.Objects[0] != stage {
		w.stage.Objects = []fyne.CanvasObject{stage}
		w.stage.Refresh()
	}
	current := w.id(s.Roll.Frames[s.Current()].File)
	// A playhead that glides on keeps the picture between the frames: pictures that
	// are on their way belong to it, and ending it would throw them away, one by one.
	now := glideState{layout: s.Layout, other: -1}
	if s.Layout == session.Pair {
		now.other = w.id(s.Roll.Frames[s.OtherIndex()].File)
	}
	_, now.glides = s.Gliding()
	now.glides = now.glides && s.Layout != session.Grid && s.Layout != session.Beside
	if was := w.glideWas; now.glides && was == now {
		if _, _, on := w.pictures.Between(); on {
			w.pictures.SetActive(current)
			w.showGlide()
			return
		}
	}
	w.glideWas = now
	w.pictures.EndBetween()
	switch s.Layout {
	case session.One:
		w.pictures.ShowOne(current)
	case session.Pair:
		w.pictures.ShowPair(w.id(s.Roll.Frames[s.OtherIndex()].File), current)
	case session.Grid:
		ids := make([]int, len(s.Roll.Frames))
		for i, f := range s.Roll.Frames { // over above under, as on the ladder
			ids[len(ids)-1-i] = w.id(f.File)
		}
		w.pictures.ShowGrid(ids...)
	case session.Beside:
		ids := []int{w.id(s.Roll.Frames[s.Current()].File + asScanned), current}
		if b := s.Base(); b >= 0 && b != s.Current() {
			ids = append([]int{w.baseID()}, ids...)
		}
		w.pictures.ShowGrid(ids...)
	}
	w.pictures.SetActive(current)
	w.showGlide()
}

// showChips shows the state of the switches and the percentages of the frame
// under the playhead.
func (w *Window) showChips() {
	s := w.sess
	for _, id := range []string{"one", "pair", "grid", "beside", "curve", "readings", "correction", "corrected", "salvaged", "bands", "patches", "salvage", "difference-colour"} {
		w.setChip(id, "")
	}
	blown, blocked, noisy, lost := "", "", "", ""
	if i := s.Current(); i >= 0 {
		line := s.Frame(i).Row
		if l := line.Look; l != nil {
			blown, blocked = row.Percent(l.Blown.Any), row.Percent(l.Blocked.Any)
		}
		if v := w.noisyShown(line.Rel); v != nil {
			noisy = row.Percent(*v)
		}
		if a := s.Appraised(s.Roll.Frames[i].File); a != nil && a.Salvage != nil && a.Salvage.Reason == "" {
			if v := a.Salvage.Grades[0].Cost.LostArea; v != nil {
				lost = row.Percent(*v)
			}
		}
	}
	for id, figure := range map[string]string{"blown": blown, "blocked": blocked, "noisy": noisy, "lost": lost} {
		w.setChip(id, strings.TrimSpace(w.cmds.Find(id).Title+"  "+figure))
	}
}

// setChip shows a switch's state on all its chips; text "" leaves theirs.
func (w *Window) setChip(id, text string) {
	on := w.cmds.Find(id).Checked()
	for _, c := range w.chips[id] {
		t := text
		if t == "" {
			t = c.Text
		}
		c.Set(t, on, false)
	}
}

// maskChip is the switch of a mask: a piece of its pattern, its name and its
// share of the frame under the playhead.
func (w *Window) maskChip(id string, kind paint.Kind) *chip.Chip {
	cmd := w.cmds.Find(id)
	c := w.chip(id, "")
	c.Swatch = swatch(func(k *paint.Canvas, r image.Rectangle) { k.FillMask(r, kind, true) })
	c.Wide = cmd.Title + "  88.8 %"
	return c
}

// hovered shows what stands under the pointer in the picture.
func (w *Window) hovered(id int, at image.Point, ok bool) {
	if !ok || id >= len(w.files) {
		w.status.figure("")
		return
	}
	i := w.sess.Index(w.fileOf(id))
	if i < 0 {
		w.status.figure("")
		return
	}
	line := w.sess.Frame(i).Row
	if line.Look == nil {
		w.status.figure("")
		return
	}
	if w.difference == differColour && i != w.sess.Base() {
		if e, ok := w.sess.DifferenceAt(i, at); ok {
			w.status.figure(fmt.Sprintf("%s   x %d  y %d   %.1f ΔE00 from the base frame, both as they are shown", stops.Label(w.sess.Roll.Frames[i].Stop), at.X, at.Y, e))
			return
		}
	}
	w.status.figure(spotWords(w.sess.Roll.Frames[i].Stop, line.Look, at))
}

// spotWords is the readout of a spot: the preview pixel around it.
func spotWords(stop float64, l *measure.Look, at image.Point) string {
	p, ok := measure.PixelAt(l, at.X, at.Y, 1)
	if !ok {
		return ""
	}
	return fmt.Sprintf("%s   x %d  y %d   code R %s  G %s  B %s   L* %.1f  a* %+.1f  b* %+.1f   density R %s  G %s  B %s",
		stops.Label(stop), at.X, at.Y,
		thousands(p.Codes.R), thousands(p.Codes.G), thousands(p.Codes.B),
		p.L, p.A, p.B, density(p.Density.R), density(p.Density.G), density(p.Density.B))
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
		return itoa(n)
	}
	return fmt.Sprintf("%d\u2009%03d", n/1000, n%1000)
}

// emptyPage is the window without a roll: what can be done next.
func (w *Window) emptyPage() fyne.CanvasObject {
	head := canvas.NewText("Drop a roll's scans here", theme.Text)
	head.TextSize = 19
	head.TextStyle.Bold = true
	head.Alignment = fyne.TextAlignCenter
	text := widget.NewLabel("One scene, one frame a stop: the files of one bracket, or the folder that they are in.\n" +
		"16-bit TIFF, PNG or JPEG, or a roll file that was saved before. Scans are only read, never written.")
	text.Alignment = fyne.TextAlignCenter
	buttons := container.NewHBox(layout.NewSpacer(), w.chip("open", "Open scans"), w.chip("open-roll", "Open a roll file"),
		w.chip("demo-reversal", "Show the demo roll"), layout.NewSpacer())
	return container.NewCenter(container.NewVBox(head, text, newGap(1), buttons))
}

// showMaps tells the pictures how the frames lie on each other. They are not
// part of the slots, so that a frame can be nudged without being handed over
// again.
func (w *Window) showMaps() {
	maps := map[int]f64.Aff3{}
	for i, f := range w.sess.Roll.Frames {
		if m := w.sess.Frame(i).Map; m != nil {
			maps[w.id(f.File)] = *m
			if w.sess.Layout == session.Beside && i == w.sess.Current() {
				maps[w.id(f.File+asScanned)] = *m
			}
		}
	}
	w.pictures.SetMaps(maps)
}

// shares are the figures of the masks that are on, for the chip of a picture.
func (w *Window) shares(line row.Data) (s string) {
	m := w.sess.Masks
	if m.Blown && line.Look != nil {
		s += "   Blown " + row.Percent(line.Look.Blown.Any)
	}
	if m.Blocked && line.Look != nil {
		s += "   Blocked " + row.Percent(line.Look.Blocked.Any)
	}
	if m.Noisy {
		if v := w.noisyShown(line.Rel); v != nil {
			s += "   Noisy " + row.Percent(*v)
		}
	}
	return s
}

// glideState is what pictures between frames stand beside.
type glideState struct {
	glides bool
	layout session.Layout
	other  int // of a pair
}

// showGlide shows the picture between two rungs when the playhead rests or moves
// there; always marked as interpolated. All frames at once have no place for it.
func (w *Window) showGlide() {
	g, ok := w.sess.Gliding()
	if !ok || w.sess.Layout == session.Grid || w.sess.Layout == session.Beside {
		return
	}
	lo, hi := w.sess.Index(g.Lower), w.sess.Index(g.Upper)
	w.pictures.ShowBetween(w.id(g.Lower), w.id(g.Upper), pane.BetweenSpec{
		Label:  signed(w.sess.Playhead()),
		Note:   "interpolated from " + stops.Label(w.sess.Roll.Frames[lo].Stop) + " and " + stops.Label(w.sess.Roll.Frames[hi].Stop),
		Tables: g.Mix.Tables, Upper: g.Mix.Fraction,
	})
}

// signed writes a stop between the rungs in hundredths.
func signed(stop float64) string {
	return strings.Replace(fmt.Sprintf("%+.2f", stop), "-", "−", 1)
}

// adjust is the correction that a frame is shown with, and what its chip says of
// it. Equal corrections are one pointer, so that nothing is developed twice.
func (w *Window) adjust(i int) (*render.Correction, string) {
	salvage, all, words := w.sess.Shown(i)
	if salvage.IsZero() && all.IsZero() {
		return nil, words
	}
	key := session.CorrectionKey(salvage, all)
	if c := w.corrections[key]; c != nil && key != "" {
		return c, words
	}
	if len(w.corrections) > 200 { // of drags that are over
		w.corrections = nil
	}
	if w.corrections == nil {
		w.corrections = map[string]*render.Correction{}
	}
	c := render.Corrected(salvage, all)
	w.corrections[key] = c
	return c, words
}

// lostMask is what a frame has lost; nil while that is not known. A mask is kept by
// pointer, so one frame's is one pointer for as long as it stays the same.
func (w *Window) lostMask(file string) *render.Share {
	a := w.sess.Appraised(file)
	if a == nil || a.Salvage == nil || len(a.Salvage.Lost) == 0 {
		return nil
	}
	if m := w.lost[file]; m != nil && &m.Pix[0] == &a.Salvage.Lost[0] {
		return m
	}
	if w.lost == nil {
		w.lost = map[string]*render.Share{}
	}
	w.lost[file] = &render.Share{Pix: a.Salvage.Lost}
	return w.lost[file]
}

// noisyMask is the mask of Noisy at the roll's limit and through the correction that
// is shown; nil where the reading's own is the same. Equal masks are one pointer.
func (w *Window) noisyMask(file string, rel *measure.Relation) *render.Share {
	limit, key := w.sess.NoisyLimit(), w.toneKey()
	if rel == nil || len(rel.NoiseL) == 0 || key == "" && rel.NoiseLimit == limit {
		return nil
	}
	if m := w.noisy[file]; m.share != nil && m.of == &rel.NoiseL[0] && m.limit == limit && m.key == key {
		return m.share
	}
	if w.noisy == nil {
		w.noisy = map[string]noisyMask{}
	}
	tone := w.shownTone()
	share := render.ShareBy(func() []uint8 { pix, _ := rel.NoisyAt(limit, tone); return pix })
	w.noisy[file] = noisyMask{share, &rel.NoiseL[0], limit, key}
	return share
}

type noisyMask struct {
	share *render.Share
	of    *float32 // the readings that it was made from
	limit float64
	key   string
}

// noisyShown is the fraction that is Noisy at the roll's limit, seen through the
// correction that is shown on all frames.
func (w *Window) noisyShown(rel *measure.Relation) *float64 {
	if rel == nil {
		return nil
	}
	return rel.NoisyNear(w.sess.NoisyLimit(), w.shownTone())
}

// toneKey tells the corrections of all frames apart, "" for none.
func (w *Window) toneKey() string {
	if !w.sess.Toned() {
		return ""
	}
	return session.CorrectionKey(*w.sess.Roll.View, correction.Settings{})
}

// shownTone is the session's, made once for each correction.
func (w *Window) shownTone() func(float64) float64 {
	if key := w.toneKey(); key == "" || key != w.tone.key {
		w.tone.key, w.tone.f = key, w.sess.ShownTone()
	}
	return w.tone.f
}
