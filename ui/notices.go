package ui

import (
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/ui/chip"
	"stopladder/ui/theme"
)

// notice is one sentence above the pictures that a person should know of, with
// one or two things to do about it. It stays until it is closed or the cause is
// gone; notices with one id replace each other.
type notice struct {
	id       string
	text     string
	action   string
	run      func()
	other    string // what else can be done, seldom
	runOther func()
}

// noticeStrip holds the notices. More than three would push the pictures away,
// so the rest wait behind a count.
type noticeStrip struct {
	box   *fyne.Container
	list  []notice
	after func() // lays the window out again
}

const shownNotices = 3

func newNoticeStrip(after func()) *noticeStrip {
	return &noticeStrip{box: container.NewVBox(), after: after}
}

func (n *noticeStrip) add(x notice) {
	for i := range n.list {
		if n.list[i].id == x.id {
			n.list[i] = x
			n.show()
			return
		}
	}
	// What the pictures contradict goes before what was only assumed.
	at := len(n.list)
	if strings.HasPrefix(x.id, "finding ") {
		at = 0
		for at < len(n.list) && strings.HasPrefix(n.list[at].id, "finding ") {
			at++
		}
	}
	n.list = slices.Insert(n.list, at, x)
	n.show()
}

func (n *noticeStrip) remove(id string) {
	for i := range n.list {
		if n.list[i].id == id {
			n.list = append(n.list[:i], n.list[i+1:]...)
			n.show()
			return
		}
	}
}

func (n *noticeStrip) clear() {
	if len(n.list) > 0 {
		n.list = nil
		n.show()
	}
}

func (n *noticeStrip) show() {
	var rows []fyne.CanvasObject
	for i, x := range n.list {
		if i == shownNotices {
			more := widget.NewLabel(moreWords(len(n.list) - shownNotices))
			more.Importance = widget.LowImportance
			rows = append(rows, more)
			break
		}
		rows = append(rows, n.row(x))
	}
	n.box.Objects = rows
	n.box.Refresh()
	if n.after != nil {
		n.after()
	}
}

func moreWords(n int) string {
	if n == 1 {
		return "and one more message behind these"
	}
	return "and " + itoa(n) + " more messages behind these"
}

func (n *noticeStrip) row(x notice) fyne.CanvasObject {
	text := widget.NewLabel(x.text)
	text.Wrapping = fyne.TextWrapWord
	var right []fyne.CanvasObject
	if x.action != "" {
		right = append(right, chip.New(x.action, "", func() { n.remove(x.id); x.run() }))
	}
	if x.other != "" {
		right = append(right, chip.New(x.other, "", func() { n.remove(x.id); x.runOther() }))
	}
	right = append(right, chip.New("Close", "", func() { n.remove(x.id) }))
	mark := canvas.NewRectangle(theme.Text)
	mark.SetMinSize(fyne.NewSize(3, 10))
	back := canvas.NewRectangle(theme.Raised)
	return container.NewStack(back, container.NewBorder(nil, nil, mark,
		container.New(layout.NewCustomPaddedLayout(4, 4, 6, 8), container.NewHBox(right...)), text))
}

// showFindings says what the roll as a whole brought to light that a judge must
// know before judging: scans that were not scanned alike, and labels that the
// pictures contradict.
func (w *Window) showFindings() {
	for i := len(w.notices.list) - 1; i >= 0; i-- {
		if strings.HasPrefix(w.notices.list[i].id, "finding ") {
			w.notices.remove(w.notices.list[i].id)
		}
	}
	f := w.sess.Fitted
	if f == nil || f.Result == nil {
		return
	}
	if fixed := f.Result.Scan.Fixed; fixed != nil && !*fixed {
		w.notices.add(notice{id: "finding scan", text: strings.Join(f.Result.Scan.Findings, " ")})
	}
	if f.Result.Scan.Reversed {
		w.notices.add(notice{id: "finding scan", text: f.Result.Scan.Reason, action: "Label the frames…", run: w.editLabels})
	}
	for i, l := range f.Result.Labels {
		w.notices.add(notice{id: "finding label " + itoa(i), text: sentence(l.Text), action: "Label the frames…", run: w.editLabels})
	}
	w.checkMatching()
}
