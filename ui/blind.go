package ui

import (
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"
	"golang.org/x/image/math/f64"

	"stopladder/analysis/judge/blind"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan"
	"stopladder/analysis/show/blindly"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
	"stopladder/ui/ask"
	"stopladder/ui/chip"
	"stopladder/ui/page"
	"stopladder/ui/pane"
	"stopladder/ui/paper"
	"stopladder/ui/pick"
	"stopladder/ui/session"
	"stopladder/ui/theme"
	"stopladder/ui/veil"
)

// blindTimes are how often each frame may be asked to be shown.
var blindTimes = []int{2, 3, 4, 6}

// askBlind asks how to judge blind, or whether to go on with what was broken off.
func (w *Window) askBlind() {
	s := w.state
	if done, all := s.Read(); done < all {
		w.say("Not yet", errors.New("wait until all scans are read: frames come in random order"))
		return
	}
	if _, on := s.Reading(); on && s.Film().Comparison == nil {
		w.say("Not yet", errors.New("wait until the frames are compared: they are shown brought to the base frame"))
		return
	}
	if b, next := s.Blind(); b != nil && next >= 0 {
		said := 0
		for _, v := range b.Views {
			if v.Verdict != roll.Unjudged {
				said++
			}
		}
		w.ask(ask.Spec{Title: "Judge blind", Width: 520, Content: ask.Text(fmt.Sprintf("A blind judging was broken off after %d of %d views. What you said is kept either way.", said, len(b.Views))),
			Answers: []ask.Answer{{Text: "Begin anew", Left: true, Do: w.askNewBlind}, {Text: "Cancel"}, {Text: "Go on", Main: true, Do: w.runBlind}}})
		return
	}
	w.askNewBlind()
}

// askNewBlind asks how frames are shown, and how often.
func (w *Window) askNewBlind() {
	grade := w.state.Roll().LimitSet().Grade
	shown := pick.New([]string{"brought to the base frame by " + grade.InWords(), "as scanned"}, nil)
	shown.SetSelectedIndex(0)
	if w.state.Film().Comparison == nil {
		shown.SetSelectedIndex(1)
		shown.Disable() // nothing was compared yet
	}
	var words []string
	for _, n := range blindTimes {
		words = append(words, fmt.Sprintf("%d times, %d views", n, n*len(w.state.Roll().Frames)))
	}
	times := pick.New(words, nil)
	times.SetSelectedIndex(1)
	w.ask(ask.Spec{Title: "Judge blind", Width: 640, Content: container.NewVBox(
		ask.Text("The frames come in random order, without labels, one at a time. Say of each with a key whether it Holds, Strains or Breaks. What comes of it, with its error and where you contradict yourself, stands beside your ordinary marks, which are not touched. You can break off at any time and go on later."),
		container.New(layout.NewFormLayout(), widget.NewLabel("Frames are shown"), shown, widget.NewLabel("Each"), times)),
		Answers: []ask.Answer{{Text: "Cancel"}, {Text: "Begin", Main: true, Do: func() {
			c := session.BeginBlind{Day: today(), Times: blindTimes[max(0, times.SelectedIndex())], Seed: rand.Uint64()}
			if shown.SelectedIndex() == 0 {
				c.Shown = grade
			}
			w.apply(c)
			w.runBlind()
		}}}})
}

func today() string { return time.Now().Format("2006-01-02") }

// blindView is the view of a blind judging: the picture alone, over the whole window.
type blindView struct {
	w     *Window
	veil  *veil.Veil
	group *pane.Group
	count *canvas.Text
	base  *chip.Chip
	asked bool // the base frame is shown
	since time.Time
}

// runBlind shows the next view, and goes on until all have a verdict or it is broken off.
func (w *Window) runBlind() {
	w.apply(session.PruneBlind{})
	b, next := w.state.Blind()
	if b == nil || next < 0 {
		w.showBlind()
		return
	}
	v := &blindView{w: w, group: pane.NewGroup(pane.Options{Do: w.do, Unmarked: true}), count: canvas.NewText("", theme.Quiet)}
	v.count.TextSize = theme.Small
	v.frames(criteria.Grade(b.Shown))
	give := func(verdict roll.Verdict) func() { return func() { v.give(verdict) } }
	v.base = chip.New("Base frame", "Space", v.turn)
	keys := container.NewHBox(chip.New("Holds", "H", give(roll.Holds)), chip.New("Strains", "S", give(roll.Strains)), chip.New("Breaks", "B", give(roll.Breaks)),
		newGap(18), v.base, chip.New("1:1", "A", func() { v.group.OneToOne() }), chip.New("Fit", "F", func() { v.group.Fit() }),
		newGap(18), chip.New("Back", "Backspace", v.back))
	foot := page.Padded(6, 6, 12, 12, container.NewBorder(nil, nil, keys, container.NewHBox(container.NewCenter(v.count), newGap(12), chip.New("Break off", "Esc", func() { v.veil.Hide() }))))
	v.veil = veil.New(w.win.Canvas(), container.NewBorder(nil, foot, nil, nil, v.group), func(size fyne.Size) (fyne.Position, fyne.Size) { return fyne.Position{}, size })
	v.veil.OnKey, v.veil.OnHide = v.typed, v.ended
	w.blind = v
	w.show(v.veil)
	v.show()
}

// frames hands all frames to the group, without labels.
func (v *blindView) frames(grade criteria.Grade) {
	s := v.w.state
	open, shown := v.w.sources.open, s.Roll()
	var area image.Rectangle
	if b := s.Base(); b >= 0 && s.Frame(b).Look != nil {
		area = s.Frame(b).Look.Area
	}
	var slots []pane.Slot
	maps := map[int]f64.Aff3{}
	for i, line := range s.Rows() {
		slot := pane.Slot{ID: i, State: pane.Ready, Picture: render.Picture{Look: line.Look, Rel: line.Rel, Base: area}, Open: func() (scan.Source, error) { return open(shown, i) }}
		if line.Look == nil {
			slot.State, slot.Message = pane.Failed, "This scan could not be read; give the verdict breaks, or break off and leave it out of the roll."
		}
		if own, ok := s.SalvageOf(i, grade); ok && grade != "" {
			slot.Picture.Adjust = render.Corrected(own, correction.Settings{})
		}
		if m := s.Frame(i).Map; m != nil {
			maps[i] = *m
		}
		slots = append(slots, slot)
	}
	v.group.SetSurround(s.Surround())
	v.group.SetFrames(slots)
	v.group.SetMaps(maps)
}

// show shows the next view; when there is none it is done.
func (v *blindView) show() {
	b, next := v.w.state.Blind()
	if next < 0 {
		v.veil.Hide()
		v.w.showBlind()
		return
	}
	if v.asked {
		v.turn()
	}
	v.count.Text = fmt.Sprintf("%d of %d", blind.Next(b)+1, len(b.Views))
	v.count.Refresh()
	v.group.ShowOne(next)
	v.since = time.Now()
}

// turn shows the base frame, and again the picture.
func (v *blindView) turn() {
	base := v.w.state.Base()
	if base < 0 {
		return
	}
	if v.asked = !v.asked; v.asked {
		v.group.Hold(pane.Held{ID: base, Note: "base frame"})
	} else {
		v.group.Release()
	}
	v.base.Set(v.base.Text, v.asked, false)
}

// give gives the picture a verdict.
func (v *blindView) give(verdict roll.Verdict) {
	v.w.apply(session.MarkBlind{Verdict: verdict, Seconds: time.Since(v.since).Seconds(), Day: today()})
	v.show()
}

// back takes the last verdict away and shows its picture again.
func (v *blindView) back() {
	v.w.apply(session.MarkBlind{Back: true})
	v.show()
}

func (v *blindView) typed(k *fyne.KeyEvent) {
	switch k.Name {
	case fyne.KeyH:
		v.give(roll.Holds)
	case fyne.KeyS:
		v.give(roll.Strains)
	case fyne.KeyB:
		v.give(roll.Breaks)
	case fyne.KeySpace:
		v.turn()
	case fyne.KeyA:
		v.group.OneToOne()
	case fyne.KeyF:
		v.group.Fit()
	case fyne.KeyBackspace:
		v.back()
	case fyne.KeyEscape:
		v.veil.Hide()
	}
}

// ended lets go of the pictures.
func (v *blindView) ended() {
	v.group.Close()
	v.w.blind = nil
	if b, next := v.w.state.Blind(); b != nil && next >= 0 {
		v.w.status.hint(fmt.Sprintf("Blind judging broken off after %d of %d views; the menu Judge goes on with it", blind.Next(b), len(b.Views)))
	}
}

// showBlind shows what the latest blind judging came to.
func (w *Window) showBlind() {
	b, _ := w.state.Blind()
	if b == nil {
		w.say("Not judged blind yet", errors.New("choose \"Judge blind…\" first"))
		return
	}
	res := blind.Of(w.state.Roll(), b)
	marked := w.state.Range()
	size := w.win.Canvas().Size()
	width, height := min(1100, size.Width-60), min(900, size.Height-60)
	p := paper.New(fyne.NewSize(width-60, max(300, height*0.5)), func(c *paint.Canvas, r image.Rectangle) {
		blindly.Draw(res, marked, blindly.DarkLook(), float64(r.Dx())/c.Scale, float64(r.Dy())/c.Scale).Paint(c, r)
	})
	words := widget.NewLabel(blindly.Title(res) + ".\n" + strings.Join(blindly.Lines(res), "\n"))
	words.Wrapping = fyne.TextWrapWord
	w.ask(ask.Spec{Title: "What blind judging came to", Width: width, Height: height,
		Content: container.NewBorder(p, nil, nil, nil, container.NewVScroll(words)),
		Answers: []ask.Answer{{Text: "Judge blind once more", Left: true, Do: w.askBlind}, {Text: "Close", Main: true}}})
}
