package noise

import (
	"context"
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/parallel"
)

// Alone measures the noise of a frame's luminance by itself, where no other can be laid on it.
// Texture passes for noise there, but for two things: it is not everywhere, so that each
// level is read from the blocks whose surroundings are calm; and where even those differ
// more from each other than blocks of noise do, the level is not known; and where that is
// so of most levels, none is. Blocks with a
// clipped pixel are left out. The error is ErrAlone or ctx's.
func Alone(ctx context.Context, look *measure.Look, opt Options) (*Levels, error) {
	out, tiles := newLevels(look), tilesOf(look)
	for _, side := range sides {
		of := blocksOf(out.factor, side)
		obs, err := blocksIn(ctx, look, side, opt.Workers)
		if err != nil {
			return nil, err
		}
		if out.Blocks = len(obs); out.Blocks == 0 {
			break
		}
		out.plane[lumPlane] = fit(obs, tiles[lumPlane], of)
		if out.plane[lumPlane].ok && of.left(out.plane[lumPlane].shapes[:]) > leastLeft {
			break
		}
	}
	if !out.plane[lumPlane].ok {
		return nil, ErrAlone
	}
	return out, nil
}

// blocksIn reads the blocks of one frame, wall to wall.
func blocksIn(ctx context.Context, l *measure.Look, side, workers int) (out []observation, err error) {
	p, f := l.Preview, max(1, l.Preview.Factor)
	x0, y0 := (l.Area.Min.X+f-1)/f+2, (l.Area.Min.Y+f-1)/f+2
	nx, ny := (min(l.Area.Max.X/f, p.W)-2-x0)/side, (min(l.Area.Max.Y/f, p.H)-2-y0)/side
	if nx < 1 || ny < 1 || l.Space == nil {
		return out, nil
	}
	found := make([]*observation, nx*ny)
	rooms := make([]*work, parallel.Workers(workers, ny))
	err = parallel.Each(ctx, workers, ny, func(worker, by int) error {
		if rooms[worker] == nil {
			rooms[worker] = newWork(side)
			for i := range rooms[worker].b {
				rooms[worker].b[i] = 1 // nothing is taken from the frame but its plane
			}
		}
		w := rooms[worker]
	blocks:
		for bx := range nx {
			for v := range side {
				at := (y0+by*side+v)*p.W + x0 + bx*side
				for u := range side {
					if l.BlownShare[at+u]|l.BlockedShare[at+u] != 0 {
						continue blocks
					}
				}
				copy(w.codes[3*v*side:3*(v+1)*side], p.Pix[3*at:3*(at+side)])
			}
			l.Space.Linear(w.linA, w.codes)
			for i := range w.a {
				w.a[i] = luminance(w.linA[3*i:])
			}
			if o, ok := w.observe(1, 0, 0, 0); ok {
				light := math.Exp2(o.li)
				o.room = [2]float64{light * narrow(l, w.codes), math.Inf(1)}
				o.vb, o.db = 0, 0
				found[by*nx+bx] = &o
			}
		}
		return nil
	})
	index := make([]int32, len(found))
	n := int32(0)
	for i, o := range found {
		if index[i] = -1; o != nil {
			index[i] = n
			n++
		}
	}
	for i, o := range found {
		if o == nil {
			continue
		}
		o.beside = []int32{}
		for y := max(0, i/nx-1); y <= min(ny-1, i/nx+1); y++ {
			for x := max(0, i%nx-1); x <= min(nx-1, i%nx+1); x++ {
				if j := index[y*nx+x]; j >= 0 && y*nx+x != i {
					o.beside = append(o.beside, j)
				}
			}
		}
		out = append(out, *o)
	}
	return out, err
}

// narrow returns the least, of the channels, that a block's mean code has to the nearer
// end of the scan, in light over its light.
func narrow(l *measure.Look, codes []uint16) float64 {
	least := 1.0
	for c := range 3 {
		sum := 0
		for i := c; i < len(codes); i += 3 {
			sum += int(codes[i])
		}
		tone := l.Space.Tone()[c]
		light := float64(tone[min(sum/(len(codes)/3), len(tone)-1)])
		least = math.Min(least, room(l, c, light)/light)
	}
	return least
}
