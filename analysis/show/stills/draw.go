package stills

import (
	"context"
	"fmt"
	"image"
	"math"
	"sync"

	"stopladder/analysis/scan"
	"stopladder/analysis/show/paint"
	"stopladder/analysis/show/render"
)

// encoders is how many stills are taken at a time, each by one processor.
const encoders = 2

// Draw draws every still and hands it to take, from several goroutines, in no order; the
// picture is take's until it returns. open gives the scan of a frame; nil draws from the
// previews. Scans are opened one at a time. progress counts stills; it may be nil. It ends
// early with ctx's error, or the first of take.
func (s *Set) Draw(ctx context.Context, open func(i int) (scan.Source, error), take func(Still, *image.RGBA) error, progress func(done, total int)) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	free := make(chan *image.RGBA, encoders+1)
	for range encoders + 1 {
		free <- nil
	}
	var wg sync.WaitGroup
	var mu sync.Mutex
	done, total := 0, len(s.places)*len(s.opt.Grades)
	held := map[int]*render.Still{}
	for k, p := range s.places {
		if ctx.Err() != nil {
			break
		}
		lower, upper, err := s.both(ctx, open, held, p)
		if err != nil {
			stop(err)
			break
		}
		for g := range s.opt.Grades {
			var img *image.RGBA
			select {
			case img = <-free:
			case <-ctx.Done():
			}
			if ctx.Err() != nil {
				break
			}
			if img == nil {
				img = image.NewRGBA(image.Rect(0, 0, s.opt.W, s.opt.H))
			}
			still := s.stills[g][k]
			s.draw(img, still, p, lower, upper)
			wg.Go(func() {
				err := take(still, img)
				free <- img
				if err != nil {
					stop(err)
					return
				}
				mu.Lock()
				defer mu.Unlock()
				if done++; progress != nil {
					progress(done, total)
				}
			})
		}
	}
	wg.Wait()
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	return nil
}

// both returns what a place is drawn from. What no later place needs is dropped from held.
func (s *Set) both(ctx context.Context, open func(i int) (scan.Source, error), held map[int]*render.Still, p place) (lower, upper *render.Still, err error) {
	for i := range held {
		if i != p.lower && i != p.upper {
			delete(held, i)
		}
	}
	for _, i := range []int{p.lower, p.upper} {
		if held[i] != nil {
			continue
		}
		if held[i], err = s.take(ctx, open, i); err != nil {
			return nil, nil, err
		}
	}
	return held[p.lower], held[p.upper], nil
}

// take reads what the stills show of a frame.
func (s *Set) take(ctx context.Context, open func(i int) (scan.Source, error), i int) (*render.Still, error) {
	f := &s.roll.Frames[i]
	pic := render.Picture{Look: f.Look, Base: s.base(), ToThis: f.Map}
	if open != nil {
		d, err := render.ReadDetail(ctx, func() (scan.Source, error) { return open(i) }, pic, s.view, s.opt.W, s.opt.H)
		if err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			return nil, fmt.Errorf("%s cannot be read again at full resolution: %w", s.roll.Judged.Frames[i].Name(), err)
		}
		pic.Detail = d
	}
	return render.NewStill(pic, s.view, s.opt.W, s.opt.H), nil
}

// draw draws one still.
func (s *Set) draw(img *image.RGBA, still Still, p place, lower, upper *render.Still) {
	look := render.Shown{Grade: still.Grade, Corrected: s.opt.Corrected}
	own, all, _ := look.Of(s.roll, p.lower)
	adjust := render.Corrected(own, all)
	if p.mix == nil {
		lower.Draw(img, adjust)
	} else {
		own, all, _ := look.Of(s.roll, p.upper)
		a, b := p.mix.Tables()
		render.DrawBetween(img, lower, upper, a, b, render.Blend(adjust, render.Corrected(own, all), p.mix.Fraction))
	}
	s.label(img, still)
}

// label writes the small label: the stop, how the frame is shown, and what it comes to. All
// labels of a set are of one size.
func (set *Set) label(img *image.RGBA, s Still) {
	l := set.opt.Label
	if l.Says == Nothing {
		return
	}
	b := img.Bounds()
	c := paint.New(img, math.Max(0.8, float64(min(b.Dx(), b.Dy()))/1080))
	big := paint.Style{Size: 26, Weight: paint.Medium, Col: c.Pal.Text}
	small := paint.Style{Size: 15, Col: c.Pal.Dim}
	words := s.words(l.Says)
	width, side := 0.0, 0.0
	for _, of := range set.stills {
		for _, one := range of {
			width = max(width, c.Width(one.Label, big))
			for _, w := range one.words(l.Says) {
				side = max(side, c.Width(w, small))
			}
		}
	}
	pad, gap, line := c.U(13), c.U(14), c.U(20)
	box := image.Rect(0, 0, int(2*pad+width+gap+side+1), c.Px(52))
	margin := c.Px(28)
	at := image.Pt(margin, b.Dy()-margin-box.Dy())
	if l.Corner == TopLeft || l.Corner == TopRight {
		at.Y = margin
	}
	if l.Corner == TopRight || l.Corner == BottomRight {
		at.X = b.Dx() - margin - box.Dx()
	}
	box = box.Add(at).Add(b.Min)
	c.Fill(box, paint.Alpha(c.Pal.Well, 0.82))
	x := float64(box.Min.X) + pad
	c.TextIn(image.Rect(int(x), box.Min.Y, box.Max.X, box.Max.Y), s.Label, big)
	x += width + gap
	y := float64(box.Min.Y+box.Max.Y)/2 - line*float64(len(words))/2
	for _, w := range words {
		c.TextIn(image.Rect(int(x), int(y), box.Max.X, int(y+line)), w, small)
		y += line
	}
}
