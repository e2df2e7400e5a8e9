package planner

import (
	"fmt"
	"image/color"
	"math"
	"regexp"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/stops"
	"stopladder/ui/page"
	"stopladder/ui/theme"
)

// columns are the ends of the table's columns of figures, from its left edge in toolkit
// units; the last column begins after them.
var columns = [5]float32{40, 96, 172, 248, 316}

const (
	afterColumns = 24
	rowHeight    = 22
)

// columned lays the cells of a row of the table.
type columned struct{}

func (columned) MinSize([]fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(columns[len(columns)-1]+afterColumns+160, rowHeight)
}

func (columned) Layout(o []fyne.CanvasObject, size fyne.Size) {
	for i, x := range o {
		m := x.MinSize()
		left := columns[len(columns)-1] + afterColumns
		if i < len(columns) {
			left = columns[i] - m.Width
		}
		x.Move(fyne.NewPos(left, (size.Height-m.Height)/2))
		x.Resize(m)
	}
}

// row returns a line of the table of frames.
func row(size float32, col color.Color, bold bool, cells ...string) fyne.CanvasObject {
	var objects []fyne.CanvasObject
	for _, c := range cells {
		t := canvas.NewText(c, col)
		t.TextSize, t.TextStyle.Bold = size, bold
		objects = append(objects, t)
	}
	return container.New(columned{}, objects...)
}

func (p *Planner) showPlan() {
	pl := p.file.Plan
	table := container.New(layout.NewCustomPaddedVBoxLayout(0), row(theme.Small, theme.Quiet, false, "Frame", "Stop", "Time", "Aperture", "Off by", "Exact"))
	for _, f := range pl.Frames {
		off := "0"
		if math.Abs(f.Deviation) >= 0.005 {
			off = strings.Replace(fmt.Sprintf("%+.2f", f.Deviation), "-", "−", 1)
		}
		table.Add(row(theme.Body, theme.Text, math.Abs(f.Stop) < stops.Near, fmt.Sprint(f.Number), stops.Label(f.Stop), f.Time.Seconds(), f.Aperture.Number(), off, f.Exact()))
	}
	rows := []fyne.CanvasObject{table}
	for _, w := range pl.Warnings {
		rows = append(rows, words(w.Text, widget.WarningImportance))
	}
	if len(pl.Cautions) > 0 {
		rows = append(rows, part("Cautions"))
	}
	for _, c := range pl.Cautions {
		rows = append(rows, words(c, widget.MediumImportance))
	}
	if len(pl.Assumptions) > 0 {
		rows = append(rows, part("Taken for granted"))
	}
	for _, a := range pl.Assumptions {
		rows = append(rows, words(a, widget.MediumImportance))
	}
	p.result.Objects = rows
	p.result.Refresh()
}

// heading is what a part of the window is called.
func heading(text string) fyne.CanvasObject {
	t := canvas.NewText(text, theme.Text)
	t.TextSize, t.TextStyle.Bold = theme.Body, true
	return t
}

// part is the heading of what follows in a column.
func part(text string) fyne.CanvasObject { return page.Padded(12, 2, 0, 0, heading(text)) }

func words(text string, importance widget.Importance) fyne.CanvasObject {
	l := widget.NewLabel(sentence(text))
	l.Wrapping = fyne.TextWrapWord
	l.Importance = importance
	return page.Padded(-4, -4, -6, -6, l)
}

// showReal writes, under the log, what the differences mean.
func (p *Planner) showReal() {
	if len(p.shots.Objects) == 0 {
		return
	}
	l := p.real
	real, err := p.file.Real()
	if err != nil {
		l.SetText(sentence(err.Error()))
		return
	}
	var off []string
	for _, e := range real.Exposed {
		if e.Test && math.Abs(e.Deviation()) >= 0.05 {
			off = append(off, fmt.Sprintf("%s really %s", stops.Label(e.Wanted), strings.Replace(fmt.Sprintf("%+.2f", e.Stop), "-", "−", 1)))
		}
	}
	text := "All frames stand at their planned stops."
	if len(off) > 0 {
		text = "Real stops that differ: " + strings.Join(off, ", ") + "."
	}
	if real.Drift != nil {
		text += strings.Replace(fmt.Sprintf(" The light changed by %+.2f stops until the end.", *real.Drift), "-", "−", 1)
	}
	// The notes are written for terminals as well, with a hyphen for a minus.
	l.SetText(text + " " + hyphened.ReplaceAllString(strings.Join(real.Notes, " "), " −$1"))
}

var hyphened = regexp.MustCompile(` -(\d)`)
