package planner

import (
	"errors"
	"reflect"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/bracket/plan"
	"stopladder/ui/ask"
	"stopladder/ui/pick"
	"stopladder/ui/tick"
)

// Clicks of a ring or dial in the words of the window.
var (
	clickWords = []string{"only at the marks", "at half stops too", "at third stops too"}
	clicksOf   = map[string]plan.Clicks{clickWords[0]: plan.Marked, clickWords[1]: plan.Halves, clickWords[2]: plan.Thirds}
)

func clickWord(c plan.Clicks) string {
	for w, v := range clicksOf {
		if v == c {
			return w
		}
	}
	return clickWords[0]
}

// askCameras edits the user's own cameras. It begins with the camera that is
// chosen: a built-in one is the pattern for an own one under another name.
func (p *Planner) askCameras() {
	own, err := p.store.Own()
	if err != nil {
		p.say("Your cameras cannot be read", err)
		return
	}
	if p.store.Dir == "" {
		p.say("Cameras cannot be kept", errors.New("this session keeps no settings, so there is no place for cameras of your own"))
		return
	}
	c := p.camera()
	isOwn := false
	for _, o := range own {
		isOwn = isOwn || o.Name == c.Name
	}
	e := newCameraForm(c)
	if !isOwn {
		e.name.SetText("My " + strings.ToLower(c.Name[:1]) + c.Name[1:])
	}
	answers := []ask.Answer{{Text: "Leave as it was"}}
	var card *ask.Card
	if isOwn {
		answers = append(answers, ask.Answer{Text: "Forget " + c.Name, Left: true, Do: func() {
			if err := p.store.Remove(c.Name); err != nil {
				p.say("Not forgotten", err)
				return
			}
			p.camerasChanged("")
		}})
	}
	answers = append(answers, ask.Answer{Text: "Keep this camera", Main: true, Stay: true, Do: func() {
		if p.keepCamera(e) {
			card.Hide()
		}
	}})
	card = ask.Show(p.win.Canvas(), ask.Spec{Title: "My cameras", Content: container.NewVScroll(e.object), Width: 600, Height: 520, First: e.name, Answers: answers})
}

// camera returns the one that is chosen in the form.
func (p *Planner) camera() plan.Camera {
	for _, c := range p.cameras {
		if c.Name == p.fields[plan.FieldCamera].text() {
			return c
		}
	}
	return p.cameras[0]
}

// keepCamera keeps what the form says, or says at each field what is wrong.
func (p *Planner) keepCamera(e *cameraForm) bool {
	c := e.camera()
	err := c.Validate()
	if err == nil {
		err = p.store.Put(c)
	}
	if err != nil {
		wrong := plan.Fields(err)
		for f, l := range e.wrong {
			if t := wrong.On(f); t != "" {
				l.SetText(sentence(t))
				l.Show()
			} else {
				l.Hide()
			}
		}
		if len(wrong) == 0 {
			p.say("Not kept", err)
		}
		return false
	}
	p.camerasChanged(c.Name)
	return true
}

// camerasChanged reads the cameras anew and chooses one; "" is the first.
func (p *Planner) camerasChanged(name string) {
	all, err := p.store.All()
	if err != nil {
		p.say("Your cameras cannot be read", err)
	}
	if name == "" {
		name = all[0].Name
	}
	p.cameras = append(all, p.taken...)
	p.choose(name)
	p.changed()
}

// choose offers all cameras, with one of them chosen.
func (p *Planner) choose(name string) {
	names := make([]string, len(p.cameras))
	for i, c := range p.cameras {
		names[i] = c.Name
	}
	camera := p.fields[plan.FieldCamera].pick
	camera.SetOptions(names)
	camera.SetSelected(name)
}

// takeUp chooses the camera that a plan was made with. One that is not known here, or
// that was another under the same name, joins the list: another camera would plan
// other exposures.
func (p *Planner) takeUp(c plan.Camera) {
	if c.Name == "" {
		return
	}
	loading := p.loading
	p.loading = true
	defer func() { p.loading = loading }()
	for _, k := range p.cameras {
		if k.Name == c.Name && !reflect.DeepEqual(k, c) {
			c.Name += ", as in the plan"
			break
		}
	}
	if !slices.ContainsFunc(p.cameras, func(k plan.Camera) bool { return k.Name == c.Name }) {
		p.taken = append(p.taken, c)
		p.cameras = append(p.cameras, c)
	}
	p.choose(c.Name)
}

// cameraForm is what a camera is written in.
type cameraForm struct {
	object           fyne.CanvasObject
	name             *widget.Entry
	times, apertures *widget.Entry
	timeClicks       *pick.One
	apertureClicks   *pick.One
	bulb             *tick.Tick
	wrong            map[plan.Field]*widget.Label
}

func newCameraForm(c plan.Camera) *cameraForm {
	e := &cameraForm{name: widget.NewEntry(), times: widget.NewMultiLineEntry(), apertures: widget.NewEntry(),
		timeClicks: pick.New(clickWords, nil), apertureClicks: pick.New(clickWords, nil),
		bulb: tick.New("Longer times by watch (B or T)", nil), wrong: map[plan.Field]*widget.Label{}}
	e.name.SetText(c.Name)
	e.times.SetText(strings.Join(c.Times, ", "))
	e.times.Wrapping = fyne.TextWrapWord
	e.times.SetMinRowsVisible(3)
	e.apertures.SetText(strings.Join(c.Apertures, ", "))
	e.timeClicks.SetSelected(clickWord(c.TimeClicks))
	e.apertureClicks.SetSelected(clickWord(c.ApertureClicks))
	e.bulb.SetChecked(c.Bulb)
	box := container.NewVBox()
	line := func(name string, f plan.Field, o fyne.CanvasObject) {
		w := wrongLabel()
		e.wrong[f] = w
		box.Add(container.NewBorder(nil, w, named(name), nil, o))
	}
	line("Name", plan.FieldName, e.name)
	line("Times", plan.FieldTimes, e.times)
	box.Add(words("As engraved, with commas: 1, 1/2, 1/500. Where a test found another time, write it: 1/500=1/410.", widget.LowImportance))
	line("The dial stops", plan.FieldTimeClicks, e.timeClicks)
	box.Add(e.bulb)
	line("Apertures", plan.FieldApertures, e.apertures)
	line("The ring stops", plan.FieldApertureClicks, e.apertureClicks)
	e.object = box
	return e
}

// camera returns what the form says.
func (e *cameraForm) camera() plan.Camera {
	list := func(text string) (out []string) {
		for _, s := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
			if s = strings.TrimSpace(s); s != "" {
				out = append(out, s)
			}
		}
		return out
	}
	return plan.Camera{Name: strings.TrimSpace(e.name.Text), Times: list(e.times.Text), Apertures: list(e.apertures.Text),
		TimeClicks: clicksOf[e.timeClicks.Selected], ApertureClicks: clicksOf[e.apertureClicks.Selected], Bulb: e.bulb.Checked}
}

// sentence makes a sentence of an error's text.
func sentence(s string) string {
	if s == "" {
		return s
	}
	if !strings.HasPrefix(s, "f/") { // an aperture is written small
		s = strings.ToUpper(s[:1]) + s[1:]
	}
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
