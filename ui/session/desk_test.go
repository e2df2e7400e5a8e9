package session

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/scan"
)

// desk is a state as a window uses it: changes go in, work is run, what comes of it goes
// in again on the one goroutine of the test.
type desk struct {
	*State
	t       *testing.T
	run     *Runner
	queue   chan func()
	drawn   Parts
	hint    string
	refused []*Refusal
}

func newDesk(t *testing.T) *desk {
	d := &desk{t: t, queue: make(chan func(), 1<<16)}
	d.State = New(load.Options{Open: func(r *roll.Roll, i int) (scan.Source, error) {
		return scan.Open(filepath.FromSlash(r.Frames[i].File), scan.DefaultBounds)
	}})
	d.run = NewRunner(func(f func()) { d.queue <- f }, d.do)
	t.Cleanup(d.run.StopAll)
	return d
}

// do makes a change and begins what it asks for.
func (d *desk) do(c Change) {
	e := d.Apply(c)
	d.run.Follow(e)
	d.drawn |= e.Redraw
	d.hint = e.Hint
	if e.Refused != nil {
		d.refused = append(d.refused, e.Refused)
	}
}

// settle waits until no work runs.
func (d *desk) settle() {
	d.t.Helper()
	end := time.After(3 * time.Minute)
	for d.run.Busy() {
		select {
		case f := <-d.queue:
			f()
		case <-end:
			d.t.Fatal("the work did not end within three minutes")
		}
	}
}

// undo takes a step back and returns its name.
func (d *desk) undo() string {
	name := d.Undoes()
	d.do(Undo{})
	return name
}

// bracket is a roll whose scans are not there: what is judged without readings.
func bracket(t *testing.T) *desk {
	r := &roll.Roll{Title: "Yard"}
	for _, f := range []struct {
		name string
		stop float64
	}{{"p2.tif", 2}, {"m1.tif", -1}, {"base.tif", 0}, {"p1.tif", 1}, {"m2.tif", -2}} {
		r.Frames = append(r.Frames, roll.Frame{File: "/scans/" + f.name, Stop: f.stop, Origin: roll.FromName})
	}
	d := newDesk(t)
	d.Apply(Open{Job: load.Of(r)}) // and nothing of it is read
	return d
}

// demoSize is the longer side of the scans in the tests, pixels: small, and large enough
// that frames are registered and salvaged.
const demoSize = 600

var demos struct {
	sync.Mutex
	dir map[string]string
}

// demoFiles are the scans of a demo roll in a folder; they are written once.
func demoFiles(t *testing.T, kind string) string {
	t.Helper()
	demos.Lock()
	defer demos.Unlock()
	if d := demos.dir[kind]; d != "" {
		return d
	}
	dir, err := os.MkdirTemp("", "ladder")
	if err != nil {
		t.Fatal(err)
	}
	if demos.dir == nil {
		demos.dir = map[string]string{}
	}
	demos.dir[kind] = dir
	if _, err := simulate.WriteDemo(context.Background(), dir, simulate.WriteOptions{Kind: kind, Size: demoSize}); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestMain(m *testing.M) {
	code := m.Run()
	for _, d := range demos.dir {
		os.RemoveAll(d)
	}
	os.Exit(code)
}

// demo is a demo roll, read from its files and measured.
func demo(t *testing.T, kind string) *desk {
	t.Helper()
	job, err := load.Plan([]string{demoFiles(t, kind)}, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := newDesk(t)
	d.do(Open{Job: job})
	d.settle()
	if d.Film().Comparison == nil {
		t.Fatalf("the demo roll was not measured: %v", d.refused)
	}
	return d
}
