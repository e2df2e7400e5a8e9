package ui

import (
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/numeric/legible"
	"stopladder/ui/chip"
	"stopladder/ui/session"
	"stopladder/ui/theme"
)

// noticeStrip shows the notices. More than three would push the pictures away, so the
// rest wait behind a count.
type noticeStrip struct {
	box   *fyne.Container
	act   func(session.Action)
	apply func(session.Change)
}

const shownNotices = 3

func newNoticeStrip(act func(session.Action), apply func(session.Change)) *noticeStrip {
	return &noticeStrip{box: container.NewVBox(), act: act, apply: apply}
}

func (n *noticeStrip) show(list []session.Notice) {
	var rows []fyne.CanvasObject
	for i, x := range list {
		if i == shownNotices {
			more := widget.NewLabel(moreWords(len(list) - shownNotices))
			more.Importance = widget.LowImportance
			rows = append(rows, more)
			break
		}
		rows = append(rows, n.row(x))
	}
	n.box.Objects = rows
	n.box.Refresh()
}

func moreWords(n int) string {
	if n == 1 {
		return "and one more message behind these"
	}
	return "and " + strconv.Itoa(n) + " more messages behind these"
}

func (n *noticeStrip) row(x session.Notice) fyne.CanvasObject {
	text := widget.NewLabel(legible.Line(x.Text))
	text.Wrapping = fyne.TextWrapWord
	lined := container.New(layout.NewCustomPaddedLayout(3, 1, 0, 0), text) // on one line with the buttons
	right := container.NewHBox()
	closeIt := func() { n.apply(session.CloseNotice{ID: x.ID}) }
	for _, a := range x.Actions {
		right.Add(chip.New(a.Words, "", func() {
			if !a.Stay {
				closeIt()
			}
			n.act(a)
		}))
	}
	right.Add(chip.New("Close", "", closeIt))
	mark := canvas.NewRectangle(theme.Text)
	mark.SetMinSize(fyne.NewSize(3, 10))
	back := canvas.NewRectangle(theme.Raised)
	return container.NewStack(back, container.NewBorder(nil, nil, mark,
		container.New(layout.NewCustomPaddedLayout(4, 4, 6, 8), right), lined))
}

// act does what a notice offers.
func (w *Window) act(a session.Action) {
	switch {
	case a.Change != nil:
		w.apply(a.Change)
	case a.Command != "":
		w.cmds.Find(a.Command).Do()
	case a.Run != nil:
		a.Run()
	}
}
