package measure

import (
	"context"
	"fmt"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
)

// Relate measures frame beside base: the colour of the base frame's tonal bands
// in this frame, and the noise that it has once it is brought to the base
// frame's brightness. Looks are not changed and may be shared between
// goroutines. The base frame beside itself gives differences of exactly 0. The
// only error is ctx's.
func Relate(ctx context.Context, base, frame *Look, opt Options) (*Relation, error) {
	r := &Relation{NoiseLimit: opt.NoiseLimit, NoiseLater: opt.Noise == nil && opt.NoiseLater}
	if r.NoiseLimit <= 0 {
		r.NoiseLimit = NoisyLimit
	}
	workers := opt.workers()
	g, err := base.makeGround(ctx, workers)
	if err != nil {
		return nil, err
	}
	if opt.Map != nil {
		r.Map, r.Registered = affine.Reduced(*opt.Map, float64(base.Preview.Factor), float64(frame.Preview.Factor)), true
	} else {
		var note string
		if r.Map, note = MapAreas(base, frame); note != "" {
			r.Notes = append(r.Notes, note)
		}
	}
	if err := r.readBands(ctx, g, base, frame, opt, workers); err != nil {
		return nil, err
	}
	if err := r.readNoise(ctx, g, frame, opt, workers); err != nil {
		return nil, err
	}
	return r, nil
}

// bandSum is a sum of colours; rows are summed apart and then in order, so that
// rounding does not depend on the number of workers.
type bandSum struct {
	lab     [3]float64
	light   [3]float64 // of the whole band, not of its core alone
	wide    int        // pixels of that
	n       int
	clipped int
}

var bandNames = [Bands]string{"shadows", "midtones", "highlights"}

func (b Band) String() string { return bandNames[b] }

func (r *Relation) readBands(ctx context.Context, g *ground, base, frame *Look, opt Options, workers int) (err error) {
	own, sums := g.own, g.own
	marked := opt.Marks != nil || opt.BaseMarks != nil
	if marked { // the base frame's colour is that of the places that are compared
		if own, err = sumBands(ctx, g, base, affine.Identity, opt.skip(r.Map, base), workers); err != nil {
			return err
		}
		sums = own
	}
	if frame != base {
		if sums, err = sumBands(ctx, g, frame, r.Map, opt.skip(r.Map, base), workers); err != nil {
			return err
		}
	}
	for b := range Band(Bands) {
		s, o := sums[b], own[b]
		switch {
		case g.share[b] < bandLeast:
			r.note("The %s cannot be measured: they take up %.2f %% of the base frame's image area, less than 0.5 %%.", b, 100*g.share[b])
			continue
		case g.cores[b] < max(1, int(coreLeast*float64(len(g.core)))):
			r.note("The %s cannot be measured: on the base frame they are too finely scattered to be told from what lies beside them.", b)
			continue
		case 2*s.n < g.cores[b]:
			r.note("The %s cannot be measured: more than half of their places lie outside this frame's image area.", b)
			continue
		}
		m, z := s.mean(), o.mean()
		r.Bands[b] = &BandReading{Area: g.share[b], Light: over(s.light, s.wide), L: m[0], A: m[1], B: m[2], DL: m[0] - z[0], Da: m[1] - z[1], Db: m[2] - z[2]}
		if 2*s.clipped > s.n {
			r.note("The %s are clipped over %.0f %% of their places: their colour here is that of the scan's limit, not of the film.", b, 100*float64(s.clipped)/float64(s.n))
		}
	}
	return nil
}

func (r *Relation) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

func (s bandSum) mean() [3]float64 { return over(s.lab, s.n) }

func over(sum [3]float64, n int) (m [3]float64) {
	for c := range m {
		m[c] = sum[c] / float64(max(1, n))
	}
	return m
}

// sumBands reads the light of every pixel of the bands in l, and the CIELAB of their
// cores, but for those of the base frame's preview that skip, where not nil, leaves out.
func sumBands(ctx context.Context, g *ground, l *Look, m f64.Aff3, skip func(x, y int) bool, workers int) (total [Bands]bandSum, err error) {
	w, h := g.area.Dx(), g.area.Dy()
	rows := make([][Bands]bandSum, h)
	type scratch struct {
		codes []uint16
		band  []uint8
		clip  []bool
		core  []bool
		lab   []float32
	}
	buf := make([]*scratch, workers)
	in := l.previewArea()
	left, top, right, bottom := float64(in.Min.X), float64(in.Min.Y), float64(in.Max.X), float64(in.Max.Y)
	p := l.Preview
	err = parallel.Chunks(ctx, workers, h, 16, func(wk, lo, hi int) {
		if buf[wk] == nil {
			buf[wk] = &scratch{make([]uint16, 3*w), make([]uint8, w), make([]bool, w), make([]bool, w), make([]float32, 3*w)}
		}
		s := buf[wk]
		for y := lo; y < hi; y++ {
			n := 0
			core := g.core[y*w : (y+1)*w]
			for x, b := range g.bands[y*w : (y+1)*w] {
				if skip != nil && skip(g.area.Min.X+x, g.area.Min.Y+y) {
					continue
				}
				fx, fy := affine.At(m, float64(g.area.Min.X+x)+0.5, float64(g.area.Min.Y+y)+0.5)
				if !(fx >= left && fx < right && fy >= top && fy < bottom) {
					continue
				}
				at := int(fy)*p.W + int(fx) // neither is below 0
				*(*[3]uint16)(s.codes[3*n:]) = *(*[3]uint16)(p.Pix[3*at:])
				s.band[n], s.clip[n], s.core[n] = b-1, l.BlownShare[at] > 127 || l.BlockedShare[at] > 127, core[x] != 0
				n++
			}
			lab := s.lab[:3*n]
			l.Space.Linear(lab, s.codes[:3*n])
			cores := 0
			for i, b := range s.band[:n] {
				t := &rows[y][b]
				t.wide++
				for c := range 3 {
					t.light[c] += float64(lab[3*i+c])
				}
				if s.core[i] {
					*(*[3]float32)(lab[3*cores:]) = *(*[3]float32)(lab[3*i:])
					s.band[cores], s.clip[cores] = b, s.clip[i]
					cores++
				}
			}
			labRow(lab[:3*cores])
			for i, b := range s.band[:cores] {
				t := &rows[y][b]
				t.lab[0] += float64(lab[3*i])
				t.lab[1] += float64(lab[3*i+1])
				t.lab[2] += float64(lab[3*i+2])
				t.n++
				if s.clip[i] {
					t.clipped++
				}
			}
		}
	})
	for y := range rows {
		for b := range total {
			for c := range 3 {
				total[b].lab[c] += rows[y][b].lab[c]
				total[b].light[c] += rows[y][b].light[c]
			}
			total[b].wide += rows[y][b].wide
			total[b].n += rows[y][b].n
			total[b].clipped += rows[y][b].clipped
		}
	}
	return total, err
}
