package ui

import (
	"image"

	"stopladder/analysis/scan"
	"stopladder/analysis/show/render"
	"stopladder/ui/session"

	"golang.org/x/image/math/f64"
)

// usualCrop is the size in device pixels of the detail's frame on the pictures while
// nobody has said how large it is on the ladder.
var usualCrop = image.Pt(112, 82)

// showDetails asks for the chosen detail of every frame: w x h device pixels, at 1:1 and as
// the frames are shown. on is called on the window's goroutine with what there is of each
// frame, whenever there is something better; a size of 0 ends it.
func (p *pictures) showDetails(w, h int, on func(file string, c render.Crop)) {
	if p.cropW == w && p.cropH == h && (p.onCrop == nil) == (on == nil) {
		return
	}
	p.cropW, p.cropH, p.onCrop = w, h, on
	p.showSpots()
	p.showCrops(false)
}

// showCrops asks for the details as the state has them now.
func (p *pictures) showCrops(anew bool) {
	at, on := p.state.Detail()
	if anew && p.crops != nil {
		p.crops.Forget()
	}
	if !on || p.onCrop == nil || p.cropW <= 0 || p.cropH <= 0 {
		if p.crops != nil {
			p.crops.Request(render.CropRequest{})
		}
		return
	}
	if p.crops == nil {
		p.crops = render.NewCrops(0, func(c render.Crop) {
			p.do(func() {
				if f, ok := c.Key.(string); ok && p.onCrop != nil && p.state.Index(f) >= 0 {
					p.onCrop(f, c)
				}
			})
		})
	}
	p.crops.Request(render.CropRequest{Centre: at, W: p.cropW, H: p.cropH, Frames: p.cropFrames()})
}

// cropFrames lists the frames, the one under the marker first and then outward.
func (p *pictures) cropFrames() (out []render.CropFrame) {
	s, open, shown := p.state, p.open, p.state.Roll()
	var base image.Rectangle
	if b := s.Base(); b >= 0 && s.Frame(b).Look != nil {
		base = s.Frame(b).Look.Area
	}
	add := func(i int) {
		if i < 0 || i >= len(shown.Frames) || s.Frame(i).Look == nil {
			return
		}
		f := render.CropFrame{Key: shown.Frames[i].File, Picture: render.Picture{Look: s.Frame(i).Look, Base: base}}
		f.Open = func() (scan.Source, error) { return open(shown, i) }
		f.Picture.Adjust, _ = p.adjust(i)
		if m := s.Frame(i).Map; m != nil {
			own := f64.Aff3(*m)
			f.Picture.ToThis = &own
		}
		out = append(out, f)
	}
	at := s.Current()
	add(at)
	for d := 1; d < len(shown.Frames); d++ {
		add(at + d)
		add(at - d)
	}
	return out
}

// tracing lets a drag on a picture choose the detail while that is what the next click is
// for.
func (p *pictures) tracing() {
	p.group.OnTrace = nil
	if k, _ := p.state.Picking(); k == session.PickDetail {
		p.group.OnTrace = func(id int, at image.Point, done bool) {
			p.apply(session.SetDetail{File: p.fileOf(id), At: at, Done: done})
		}
	}
}

// close ends what runs for the pictures.
func (p *pictures) close() {
	p.group.Close()
	if p.crops != nil {
		p.crops.Close()
	}
}
