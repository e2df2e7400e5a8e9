package ui

import (
	"errors"
	"fmt"

	"fyne.io/fyne/v2"
	"golang.org/x/image/math/f64"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
	"stopladder/analysis/show/render"
	"stopladder/ui/session"
)

// placing is the work of laying one frame on the base frame by hand, under a
// difference view: where both agree the picture is plain grey.
type placing struct {
	file        string
	base, frame *measure.Look
	put         roll.Placement
	before      session.Layout
}

// Steps of the keys while placing, full-resolution pixels and degrees.
const (
	placeStep     = 0.25
	placeStepBig  = 4.0
	placeTurn     = 0.01
	placeTurnBig  = 0.1
	placingPlease = "Placing by hand: arrow keys move by ¼ px (with Shift 4 px), comma and full stop turn by 0.01° (with Shift 0.1°), Return keeps, Escape leaves, Delete goes back to what was found."
)

// startPlacing begins to place the frame under the playhead.
func (w *Window) startPlacing() {
	i, b := w.sess.Current(), w.sess.Base()
	if i < 0 || b < 0 {
		return
	}
	base, frame := w.sess.Frame(b).Row.Look, w.sess.Frame(i).Row.Look
	switch {
	case i == b:
		w.say("Nothing to place", errors.New("the base frame is what the others are placed on; move the playhead to another frame"))
		return
	case base == nil || frame == nil || w.loading:
		w.say("Nothing to place yet", errors.New("the frame and the base frame must have been read; wait until the reading is done"))
		return
	}
	g := w.sess.Frame(i).Reg
	p := placing{file: w.sess.Roll.Frames[i].File, base: base, frame: frame, before: w.sess.Layout,
		put: roll.Placement{DX: g.DX, DY: g.DY, Rotation: g.Rotation, Scale: g.Scale}}
	if p.put.Scale == 0 {
		p.put.Scale = 1
	}
	w.placing = &p
	w.sess.SetLayout(session.One)
	w.pictures.SetDifferenceLook(render.DifferenceOptions{})
	w.pictures.SetDifference(true, w.id(w.sess.Roll.Frames[b].File))
	w.showPlacing()
}

// placeKey handles a key while placing and says whether it was one of its own.
func (w *Window) placeKey(name fyne.KeyName, shift bool) bool {
	p := w.placing
	if p == nil {
		return false
	}
	step, turn := placeStep, placeTurn
	if shift {
		step, turn = placeStepBig, placeTurnBig
	}
	switch name {
	case fyne.KeyLeft:
		p.put.DX -= step
	case fyne.KeyRight:
		p.put.DX += step
	case fyne.KeyUp:
		p.put.DY -= step
	case fyne.KeyDown:
		p.put.DY += step
	case fyne.KeyComma:
		p.put.Rotation += turn
	case fyne.KeyPeriod:
		p.put.Rotation -= turn
	case fyne.KeyReturn, fyne.KeyEnter:
		w.endPlacing(&p.put)
		return true
	case fyne.KeyDelete, fyne.KeyBackspace:
		w.unplace()
		return true
	case fyne.KeyEscape:
		w.endPlacing(nil)
		return true
	default:
		return false
	}
	w.showPlacing()
	return true
}

// showPlacing moves the picture and says where it stands.
func (w *Window) showPlacing() {
	p := w.placing
	if m := film.MapOf(film.ByHand(p.put), p.base, p.frame); m != nil {
		w.pictures.SetMaps(map[int]f64.Aff3{w.id(p.file): *m})
	}
	i := w.sess.Index(p.file)
	if i < 0 {
		w.endPlacing(nil)
		return
	}
	w.notices.add(notice{id: "placing", text: fmt.Sprintf("%s against the base frame:  right %+.2f px   down %+.2f px   turned %+.3f°.  %s",
		stops.Label(w.sess.Roll.Frames[i].Stop), p.put.DX, p.put.DY, p.put.Rotation, placingPlease),
		action: "Keep", run: func() { w.endPlacing(&p.put) }, other: "Leave", runOther: func() { w.endPlacing(nil) }})
}

// endPlacing keeps a placement, or with nil goes back to what was before.
func (w *Window) endPlacing(keep *roll.Placement) {
	p := w.placing
	if p == nil {
		return
	}
	w.placing = nil
	w.notices.remove("placing")
	w.showDifference()
	w.sess.SetLayout(p.before)
	if keep == nil {
		w.showMaps()
		return
	}
	put := *keep
	w.sess.Edit("placing a frame", func(r *roll.Roll) {
		if i := w.sess.Index(p.file); i >= 0 {
			r.Frames[i].Placed = &put
		}
	})
	w.relate()
}

// unplace gives a frame back to the program's own registration.
func (w *Window) unplace() {
	p := w.placing
	if p == nil {
		return
	}
	w.endPlacing(nil)
	w.sess.Edit("placing a frame", func(r *roll.Roll) {
		if i := w.sess.Index(p.file); i >= 0 {
			r.Frames[i].Placed = nil
		}
	})
	w.relate()
}

// differing is how frames are held against the base frame.
type differing int

const (
	differNot    differing = iota
	differLight            // log light, matched by the histograms: do the frames lie on each other?
	differColour           // dE00 of the pictures as they are shown: what is left of the difference?
)

// differenceWhite is the dE00 that is shown white: more than twice what strains.
const differenceWhite = 10

// toggleDifference shows every frame as its difference against the base frame, or
// as it is again.
func (w *Window) toggleDifference(kind differing) {
	if w.difference == kind {
		kind = differNot
	}
	w.difference = kind
	w.showDifference()
	w.showChips()
	w.showMenu()
	w.status.figure("")
}

func (w *Window) showDifference() {
	look := render.DifferenceOptions{}
	if w.difference == differColour {
		look = render.DifferenceOptions{Kind: render.DifferenceColour, AsIs: true, Amplify: render.FullColour / differenceWhite}
	}
	w.pictures.SetDifferenceLook(look)
	w.pictures.SetDifference(w.difference != differNot, w.baseID())
}

func (w *Window) baseID() int {
	if b := w.sess.Base(); b >= 0 {
		return w.id(w.sess.Roll.Frames[b].File)
	}
	return -1
}
