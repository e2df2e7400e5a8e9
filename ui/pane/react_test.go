package pane

import (
	"fmt"
	"image"
	"slices"
	"testing"
	"time"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
	"stopladder/analysis/show/render"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
)

// BenchmarkReaction takes the time from a command to the picture that it asks for, without
// the toolkit's painter: eight frames of 7000 x 7000 as previews of 1750 pixels, of which a
// third bears a mask. It reports the 95th percentile in milliseconds.
func BenchmarkReaction(b *testing.B) {
	for _, size := range []fyne.Size{{Width: 1280, Height: 800}, {Width: 1920, Height: 1080}, {Width: 2560, Height: 1440}} {
		calls := make(chan func(), 1<<16)
		g := NewGroup(Options{Rest: time.Millisecond, DetailBudget: -1, Do: func(f func()) { calls <- f }})
		win := test.NewWindow(g)
		win.SetPadded(false)
		win.Resize(size)
		var slots []Slot
		for i := range 8 {
			slots = append(slots, Slot{ID: i, Label: fmt.Sprint(i), Note: "as scanned", State: Ready, Picture: render.Picture{Look: large(i)}})
		}
		g.SetFrames(slots)
		g.SetBlink(3)
		g.ShowOne(4)
		settle := func() {
			for {
				select {
				case f := <-calls:
					f()
					continue
				default:
				}
				if g.Settled() && len(calls) == 0 {
					return
				}
				time.Sleep(50 * time.Microsecond)
			}
		}
		settle()
		masks := [2]render.Overlay{{}, {Blown: true, Blocked: true, Lost: true}}
		one := []render.Overlay{{Blown: true}, {}, {Blocked: true}, {}, {Lost: true}, {}}
		view := func(i int) { g.ZoomTo(0.3 + 0.002*float64(i%7)) } // no picture of before serves
		for _, c := range []struct {
			name   string
			before func(i int) // at rest, and not timed; nil: nothing
			do     func(i int)
		}{
			{"step", nil, func(i int) { g.ShowOne(3 + i%3) }},
			{"blink", nil, func(i int) {
				if i%2 == 0 {
					g.Hold(Held{ID: 3})
				} else {
					g.Release()
				}
			}},
			{"mask on a new view", view, func(i int) { g.SetMasks(one[i%len(one)]) }},
			{"masks at once", func(i int) { forget(g); g.SetMasks(masks[0]); view(i) }, func(int) { g.SetMasks(masks[1]) }},
			{"mask again", nil, func(i int) { g.SetMasks(masks[1-i%2]) }},
			{"zoom", nil, func(i int) { g.ZoomTo(0.3 + 0.02*float64(i%5)) }},
			{"layout", nil, func(i int) {
				if i%2 == 0 {
					g.ShowPair(3, 4)
				} else {
					g.ShowOne(4)
				}
			}},
			{"edge shown", nil, func(i int) {
				if i%2 == 0 {
					g.ShowEdge(3, 4)
				} else {
					g.ShowOne(4)
				}
			}},
			{"edge moved", nil, func(i int) {
				if i == 0 {
					g.ShowEdge(3, 4)
				}
				g.SetEdge(Edge{U: 0.1 + 0.03*float64(i%27), V: 0.5})
			}},
		} {
			g.Release()
			g.SetMasks(masks[0])
			g.Fit()
			g.ShowOne(4)
			settle()
			b.Run(fmt.Sprintf("%s %gx%g", c.name, size.Width, size.Height), func(b *testing.B) {
				var took []float64
				for i := 0; b.Loop(); i++ {
					b.StopTimer()
					if c.before != nil {
						c.before(i)
					}
					settle()
					b.StartTimer()
					from := time.Now()
					c.do(i)
					for !shownAll(g) { // the work of others that is in line before it counts as well
						(<-calls)()
					}
					took = append(took, time.Since(from).Seconds()*1000)
				}
				slices.Sort(took)
				b.ReportMetric(took[len(took)*95/100], "p95-ms")
				b.ReportMetric(took[len(took)/2], "median-ms")
			})
		}
		g.Close()
		win.Close()
	}
}

// forget drops what a switch would swap back to.
func forget(g *Group) {
	for _, f := range g.frames {
		f.forget(g)
	}
}

// shownAll reports whether every pane shows a picture of what is wanted, be it a draft.
func shownAll(g *Group) bool {
	for _, p := range g.panes {
		f := p.target()
		if !f.shot.usable(g.key(f, p.w, p.h, p.density())) || p.main != f.shot.img {
			return false
		}
		if p.parted() && p.img != p.join.img {
			return false
		}
	}
	return true
}

// large is the look of a scan of 7000 x 7000.
func large(seed int) *measure.Look {
	const side, factor = 1750, 4
	pv := &measure.Preview{Factor: factor, W: side, H: side, Pix: make([]uint16, 3*side*side)}
	l := &measure.Look{Info: scan.Info{Path: "test.tif", Width: side * factor, Height: side * factor, Bits: 16, Channels: 3},
		Space: colour.AssumedSRGB(65535), Preview: pv, Area: image.Rect(100, 100, 6900, 6900), Ceiling: measure.RGB[int]{R: 65535, G: 65535, B: 65535},
		BlownShare: make([]uint8, side*side), BlockedShare: make([]uint8, side*side)}
	for i := range side * side {
		x, y := i%side, i/side
		for k := range 3 {
			pv.Pix[3*i+k] = uint16(8000 + 6000*seed + (x*7+y*(13+k))%9000)
		}
		if x/90%6 == 0 {
			l.BlownShare[i] = 255
		}
		if y/90%6 == 0 {
			l.BlockedShare[i] = 255
		}
	}
	return l
}
