package model

import (
	"context"
	"image"
	"math"

	"stopladder/analysis/numeric/parallel"
)

// reading is the light of all places in one frame.
type reading struct {
	light []float32 // 3 a place, of the scan's channels
	state []uint8   // a place: bit c is set where channel c is clipped; beyond where it is not shown
	// green is that of the pixel that is nearest to the place: reading between pixels takes
	// the ends of texture away, so that fewer places are as light or as dark as an end.
	green []float32
}

// beyond: the frame does not show the place, or something lies on it.
const beyond uint8 = 1 << 7

// places returns how many places a block has.
func (m *Model) places() int { k := cellsAlong * m.per; return k * k }

// spot returns the preview pixel of the base frame at a place of a block; places of a cell
// follow on each other.
func (m *Model) spot(area image.Rectangle, block, place int) (x, y int) {
	pp := m.per * m.per
	cell, p := place/pp, place%pp
	in := func(k int) int { return (2*k + 1) * m.side / (2 * m.per) }
	x = area.Min.X + ((block%m.nx)*cellsAlong+cell%cellsAlong)*m.side + in(p%m.per)
	y = area.Min.Y + ((block/m.nx)*cellsAlong+cell/cellsAlong)*m.side + in(p/m.per)
	return x, y
}

// read reads all frames.
func (m *Model) read(ctx context.Context, area image.Rectangle) ([]reading, error) {
	out := make([]reading, len(m.frames))
	n := m.places()
	for j := range out {
		f := &m.frames[j]
		r := reading{make([]float32, 3*n*m.nx*m.ny), make([]uint8, n*m.nx*m.ny), make([]float32, n*m.nx*m.ny)}
		p, tone := f.look.Preview, f.look.Space.Tone()
		ceiling := [3]int{f.look.Ceiling.R, f.look.Ceiling.G, f.look.Ceiling.B}
		floor := [3]int{f.look.Floor.R, f.look.Floor.G, f.look.Floor.B}
		still := f.at[0] == 1 && f.at[4] == 1 && f.at[1] == 0 && f.at[3] == 0 && f.at[2] == math.Trunc(f.at[2]) && f.at[5] == math.Trunc(f.at[5])
		shown := f.look.PreviewArea()
		kept := make([]float64, m.ny)
		err := parallel.Chunks(ctx, 0, m.ny, 0, func(_, y0, y1 int) {
			for b := y0 * m.nx; b < y1*m.nx; b++ {
				for q := range n {
					k := b*n + q
					x, y := m.spot(area, b, q)
					fx := f.at[0]*(float64(x)+0.5) + f.at[1]*(float64(y)+0.5) + f.at[2] - 0.5
					fy := f.at[3]*(float64(x)+0.5) + f.at[4]*(float64(y)+0.5) + f.at[5] - 0.5
					ix, iy := int(math.Floor(fx)), int(math.Floor(fy))
					if ix < shown.Min.X || iy < shown.Min.Y || ix >= shown.Max.X || iy >= shown.Max.Y || !still && (ix+1 >= shown.Max.X || iy+1 >= shown.Max.Y) ||
						f.marks.At(ix, iy) {
						r.state[k] = beyond
						continue
					}
					t, s := float32(fx-float64(ix)), float32(fy-float64(iy))
					w := [4]float32{(1 - t) * (1 - s), t * (1 - s), (1 - t) * s, t * s}
					taps := 4
					if still {
						w, taps = [4]float32{1}, 1
					}
					near := 3 * ((iy+int(s+0.5))*p.W + ix + int(t+0.5))
					r.green[k] = tone[1][p.Pix[near+1]]
					for i := range taps {
						o := 3 * ((iy+i>>1)*p.W + ix + i&1)
						for c := range 3 {
							code := p.Pix[o+c]
							r.light[3*k+c] += w[i] * tone[c][code]
							if w[i] > 0.05 && (int(code) >= ceiling[c] || int(code) <= floor[c]) {
								r.state[k] |= 1 << c
							}
						}
						kept[b/m.nx] += float64(w[i] * w[i])
					}
				}
			}
		})
		if err != nil {
			return nil, err
		}
		for _, v := range kept {
			f.kept += v / float64(n*m.nx*m.ny)
		}
		out[j] = r
	}
	m.unveil(out)
	return out, nil
}

// unveil gives all frames the stray light that the base frame has from the scanner: the
// response is as the base frame's scan shows it.
func (m *Model) unveil(read []reading) {
	if m.flare == 0 {
		return
	}
	mean := make([][3]float64, len(read))
	base := 0
	for j, r := range read {
		if m.frames[j].stop == 0 {
			base = j
		}
		n := 0.0
		for k, st := range r.state {
			if st&beyond != 0 {
				continue
			}
			n++
			for c := range 3 {
				mean[j][c] += float64(r.light[3*k+c])
			}
		}
		for c := range 3 {
			mean[j][c] /= math.Max(1, n)
		}
	}
	for j, r := range read {
		for k := range r.light {
			r.light[k] = max(0, r.light[k]-float32(m.flare*(mean[j][k%3]-mean[base][k%3])))
		}
		for k := range r.green {
			r.green[k] = max(0, r.green[k]-float32(m.flare*(mean[j][1]-mean[base][1])))
		}
	}
}

// sure is the error of a reading that no noise knows of, in log10 exposure: frames lie on
// each other to a fraction of a pixel, and reading between pixels takes contrast away.
const sure = 0.015

// place finds the light of all places.
func (m *Model) place(ctx context.Context, read []reading) error {
	n := m.places()
	m.x, m.absent = make([]float32, 3*n*m.nx*m.ny), make([]bool, n*m.nx*m.ny)
	base := 0
	for j, f := range m.frames {
		if f.stop == 0 {
			base = j
			break
		}
	}
	u := narrow(m.unmix)
	return parallel.Chunks(ctx, 0, m.ny, 0, func(_, y0, y1 int) {
		noise := make([]float32, 3*n)
		for b := y0 * m.nx; b < y1*m.nx; b++ {
			for q := range n {
				k := b*n + q
				var sum, weight, left [3]float32
				for j := range read {
					st := read[j].state[k]
					if st&beyond != 0 {
						continue
					}
					f := &m.frames[j]
					d := apart(&u, read[j].light[3*k:])
					for c := range 3 {
						if st>>c&1 != 0 {
							continue
						}
						l := m.layer[c]
						e, s := l.exposure(d[c])
						if e < float32(l.covered[0]) || e > float32(l.covered[1]) || !(s < 1) {
							continue
						}
						w := 1 / (s*s + sure*sure)
						sum[c] += w * (e - float32(f.stop*stopLog))
						weight[c] += w
						left[c] += w * w * s * s * float32(f.kept)
					}
				}
				unshown := true
				for j := range read {
					unshown = unshown && read[j].state[k]&beyond != 0
				}
				if unshown {
					m.absent[k] = true
				}
				for c := range 3 {
					if weight[c] > 0 {
						m.x[3*k+c], noise[3*q+c] = sum[c]/weight[c], left[c]/(weight[c]*weight[c])
						continue
					}
					// No frame tells: as the base frame has it, drawn on, where it shows it.
					d := apart(&u, read[base].light[3*k:])
					m.x[3*k+c], _ = m.layer[c].exposure(d[c])
					noise[3*q+c] = 0
				}
			}
			m.still(m.x[3*b*n:3*(b+1)*n], noise)
		}
	})
}

// still takes the noise that is left out of the spread of a block's places.
func (m *Model) still(x, noise []float32) {
	n := len(x) / 3
	for c := range 3 {
		var mean, sq, nv float64
		for k := range n {
			v := float64(x[3*k+c])
			mean, sq, nv = mean+v, sq+v*v, nv+float64(noise[3*k+c])
		}
		mean, nv = mean/float64(n), nv/float64(n)
		spread := (sq/float64(n) - mean*mean) * float64(n) / float64(n-1)
		if !(spread > 0) {
			continue
		}
		f := math.Sqrt(math.Max(0, 1-nv/spread))
		for k := range n {
			x[3*k+c] = float32(mean + f*(float64(x[3*k+c])-mean))
		}
	}
}

func narrow(m [3][3]float64) (out [3][3]float32) {
	for i := range m {
		for j := range m[i] {
			out[i][j] = float32(m[i][j])
		}
	}
	return out
}

// apart returns the layers' densities of light.
func apart(u *[3][3]float32, light []float32) (d [3]float32) {
	var s [3]float32
	for c := range 3 {
		s[c] = -log10(max(light[c], 1e-7))
	}
	for c := range 3 {
		d[c] = u[c][0]*s[0] + u[c][1]*s[1] + u[c][2]*s[2]
	}
	return d
}
