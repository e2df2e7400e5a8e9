package shelf

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/kept"
	"stopladder/analysis/judge/roll"
	_ "stopladder/ui/early"
)

func is(v float64) *float64 { return &v }

// write saves a roll file with readings that were made up.
func write(t *testing.T, path, stock string, change func(r *roll.Roll)) {
	t.Helper()
	k := &kept.Readings{Program: "t", Limits: criteria.Default(), Response: &kept.Response{MidGrey: "metered", First: -1.8, Step: 0.04},
		Range: kept.Range{Holds: &kept.Ends{Lo: kept.End{Stop: -1, Error: 0.1, By: "noise"}, Hi: kept.End{Stop: 2, Open: true}}}}
	for c := range 3 {
		for n := range 80 {
			k.Response.Density[c] = append(k.Response.Density[c], is(3.4-0.05*float64(n)))
			k.Response.Error[c] = append(k.Response.Error[c], is(0.01))
		}
	}
	r := &roll.Roll{Stock: stock, Lab: "north", Readings: k}
	for s := -1.0; s <= 1; s++ {
		name := fmt.Sprintf("%+g.tif", s)
		r.Frames = append(r.Frames, roll.Frame{File: filepath.Join(filepath.Dir(path), "gone", name), Stop: s, Origin: roll.FromName})
		k.Frames = append(k.Frames, kept.Frame{File: name, Stop: is(s)})
	}
	if change != nil {
		change(r)
	}
	if err := r.Save(path); err != nil {
		t.Fatal(err)
	}
}

// desk runs what the window posts on the goroutine of the test.
type desk struct {
	t      *testing.T
	w      *Window
	queue  chan func()
	opened []string
	kept   string
}

func shown(t *testing.T, dir string) *desk {
	t.Helper()
	test.NewTempApp(t)
	d := &desk{t: t, queue: make(chan func(), 1000)}
	d.w = New(fyne.CurrentApp(), Host{Program: "t", Folder: dir, Do: func(f func()) { d.queue <- f },
		Open: func(p string) { d.opened = append(d.opened, p) }, Kept: func(p string) { d.kept = p }})
	d.w.Show()
	t.Cleanup(func() { d.w.leave() })
	return d
}

// until runs what is posted until something is so.
func (d *desk) until(what string, so func() bool) {
	d.t.Helper()
	end := time.After(20 * time.Second)
	for !so() {
		select {
		case f := <-d.queue:
			f()
		case <-end:
			d.t.Fatalf("not so after 20 s: %s (%q)", what, d.w.status.Text)
		}
	}
}

// alone takes away what lies over the window.
func (d *desk) alone() {
	o := d.w.win.Canvas().Overlays()
	for top := o.Top(); top != nil; top = o.Top() {
		o.Remove(top)
	}
}

func (d *desk) plain() string {
	var all []string
	for _, o := range d.w.plain.Objects {
		all = append(all, textsOf(o)...)
	}
	return strings.Join(all, " ")
}

func textsOf(o fyne.CanvasObject) (out []string) {
	for _, x := range test.LaidOutObjects(o) {
		if l, ok := x.(*widget.Label); ok {
			out = append(out, l.Text)
		}
	}
	return out
}

func TestEmptyShelvesSayWhatIsNext(t *testing.T) {
	d := shown(t, "")
	if s := d.plain(); !strings.Contains(s, "Choose the folder") {
		t.Errorf("without a folder: %q", s)
	}
	dir := t.TempDir()
	d.w.Look(dir)
	d.until("the folder is looked at", func() bool { return d.w.shelf != nil })
	if s := d.plain(); !strings.Contains(s, "save it (Ctrl+S)") {
		t.Errorf("an empty folder: %q", s)
	}
	d.w.Look(filepath.Join(dir, "gone"))
	d.until("it is told", func() bool { return d.w.failed != nil })
	if s := d.plain(); !strings.Contains(s, "There is no folder") {
		t.Errorf("no folder: %q", s)
	}
}

func TestRollsAreListedMarkedAndCompared(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "b.stopladder"), "slide", nil)
	write(t, filepath.Join(dir, "a.stopladder"), "negative", nil)
	write(t, filepath.Join(dir, "c.stopladder"), "negative", func(r *roll.Roll) { r.Readings = nil })
	os.WriteFile(filepath.Join(dir, "torn.stopladder"), []byte("{"), 0o666)
	d := shown(t, dir)
	w := d.w
	d.until("the rolls are there", func() bool { return len(w.rows) == 4 })
	if d.kept != dir || w.rows[0].Name != "a" || w.plain.Objects != nil {
		t.Errorf("kept %q, first %s", d.kept, w.rows[0].Name)
	}
	w.order.SetSelectedIndex(1)
	if w.rows[0].Name != "a" || w.rows[2].Name != "b" {
		t.Errorf("by stock: %s, %s, %s", w.rows[0].Name, w.rows[1].Name, w.rows[2].Name)
	}
	w.stock.SetSelected("slide")
	if len(w.rows) != 1 || w.rows[0].Name != "b" {
		t.Errorf("filtered: %d rolls", len(w.rows))
	}
	w.find.SetText("nothing has this")
	if len(w.rows) != 0 || !strings.Contains(d.plain(), "Take the filter away") {
		t.Errorf("%d rolls, %q", len(w.rows), d.plain())
	}
	w.noFilter()
	if len(w.rows) != 4 {
		t.Fatalf("%d rolls", len(w.rows))
	}
	list := filepath.Join(t.TempDir(), "list.csv")
	w.exportRows(list)
	d.until("the list is written", func() bool {
		b, _ := os.ReadFile(list)
		return strings.Contains(string(b), "torn.stopladder") && w.win.Canvas().Overlays().Top() != nil
	})
	d.alone()
	if !w.compare.Off {
		t.Error("nothing is marked, and can be compared")
	}
	for _, e := range w.rows {
		if e.Roll != nil && e.Readings() != nil {
			w.mark(e, true)
		}
	}
	if w.count() != 2 || w.compare.Off {
		t.Fatalf("%d marked", w.count())
	}
	w.typed(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if w.versus == nil || len(w.versus.result.Rolls) != 2 {
		t.Fatal("the marked rolls are not compared")
	}
	d.until("the page is drawn", func() bool {
		return len(w.versus.sheet.box.Objects) > 0 && w.versus.sheet.scroll.Content.MinSize().Height > 400
	})
	w.typed(&fyne.KeyEvent{Name: fyne.KeyP})
	p := w.versus.abreast
	if p == nil || p.at != 0 {
		t.Fatalf("no pictures, or of another stop: %+v", p)
	}
	d.until("the scans are told to be gone", func() bool { return len(p.errs) == 1 }) // the made-up rolls name one file
	w.typed(&fyne.KeyEvent{Name: fyne.KeyUp})
	if p.at != 1 {
		t.Errorf("up goes to %g", p.at)
	}
	out := filepath.Join(t.TempDir(), "page.svg")
	w.versus.write(out)
	d.until("the page is written", func() bool { _, err := os.Stat(out); return err == nil })
	before, _ := os.ReadFile(filepath.Join(dir, "a.stopladder"))
	w.versus.write(filepath.Join(dir, "a.stopladder"))
	if after, _ := os.ReadFile(filepath.Join(dir, "a.stopladder")); string(after) != string(before) {
		t.Error("the page was written over a roll")
	}
	d.alone()
	w.typed(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if w.versus != nil || w.body.Objects[0] != w.main {
		t.Error("Escape does not go back to the shelf")
	}
}

// A roll without readings is not marked, and it is said why.
func TestUnmeasuredRollsAreNotMarked(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "c.stopladder"), "negative", func(r *roll.Roll) { r.Readings = nil })
	d := shown(t, dir)
	d.until("the roll is there", func() bool { return len(d.w.rows) == 1 })
	d.w.mark(d.w.rows[0], true)
	if d.w.count() != 0 || d.w.win.Canvas().Overlays().Top() == nil {
		t.Error("a roll without readings is marked, or nothing is said")
	}
}
