package render

import (
	"image"
	"sync"

	"stopladder/analysis/film"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/show/paint"
)

// OfRoll returns the picture of the i-th frame of a roll as it lies on the base frame, with
// all that its masks need, as scanned.
func OfRoll(r *film.Roll, i int) Picture {
	f := &r.Frames[i]
	p := Picture{Look: f.Look, Rel: f.Relation, ToThis: f.Map}
	if b := r.Base; b >= 0 && r.Frames[b].Look != nil {
		p.Base = r.Frames[b].Look.Area
	}
	if res := r.Response; res != nil {
		if light, dark, ok := res.FlatCodes(i); ok {
			p.Flat = &Flat{Light: light, Dark: dark}
		}
	}
	if a := r.Compared(i); a != nil && a.Salvage != nil && len(a.Salvage.Lost) > 0 {
		p.Lost = &Share{Pix: a.Salvage.Lost}
	}
	if f.Marks != nil && len(f.Marks.Mask) > 0 {
		p.Dust = &Share{Pix: f.Marks.Mask}
	}
	return p
}

// Weak is the opacity of what the film has pressed flat and the scan did not clip, in the
// masks of Masks; all else is 255.
const Weak = 110

// masked says which flags make a mask, strong and weak.
var masked = []struct {
	kind         paint.Kind
	strong, weak uint8
}{
	{paint.Blown, flagBlown, flagBlownFlat},
	{paint.Blocked, flagBlocked, flagBlockedFlat},
	{paint.Noisy, flagNoisy, 0},
	{paint.Lost, flagLost, 0},
	{paint.Dust, flagDust, 0},
}

// Masks returns where a view of p is marked, without patterns, by kind; a mask that marks
// nothing is left out.
func Masks(p Picture, v View, w, h int) map[paint.Kind]*image.Alpha {
	out := map[paint.Kind]*image.Alpha{}
	if p.Look == nil || p.Look.Preview == nil || p.Look.Area.Empty() || w <= 0 || h <= 0 {
		return out
	}
	p.Adjust = PerChannel(func() func(c int, x float32) float32 { return func(_ int, x float32) float32 { return x } }) // nothing is developed
	p.Prepare(nil)
	toFrame, port := p.deviceMap(v, w, h)
	ls := layers(&p, toFrame, port, true)
	even := straight(toFrame)
	for i := range ls {
		if even {
			ls[i].tabulate(w, h)
		}
	}
	var mu sync.Mutex
	all := make([]uint8, w*h)
	any := uint8(0)
	parallel.Bands(h, func(y0, y1 int) {
		row := make([]uint8, 4*w)
		var buf rowBuf
		seen := uint8(0)
		for y := y0; y < y1; y++ {
			flags := all[w*y : w*(y+1)]
			for i := range ls {
				if even {
					ls[i].straightRow(row, flags, &buf, y, true)
				} else {
					ls[i].turnedRow(row, flags, &buf, y, true)
				}
			}
			for _, f := range flags {
				seen |= f
			}
		}
		mu.Lock()
		any |= seen
		mu.Unlock()
	})
	for _, m := range masked {
		if any&(m.strong|m.weak) == 0 {
			continue
		}
		img := image.NewAlpha(image.Rect(0, 0, w, h))
		for i, f := range all {
			switch {
			case f&m.strong != 0:
				img.Pix[i] = 255
			case f&m.weak != 0:
				img.Pix[i] = Weak
			}
		}
		out[m.kind] = img
	}
	return out
}
