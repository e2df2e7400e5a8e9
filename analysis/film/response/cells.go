package response

import (
	"cmp"
	"context"
	"image"
	"math"
	"slices"
	"sort"
	"sync"

	"golang.org/x/image/math/f64"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/median"
	"stopladder/analysis/numeric/parallel"
)

// Cells of the base preview. A print of the preview is about 30 cm long, so a
// cell is about 2.5 mm of it: many cells lie within one tone of the scene, and
// an error of registration of half a pixel moves little of a cell's content.
const (
	cellsAlong = 200   // cells along the longer side
	cellLeast  = 4     // preview pixels
	cellsKept  = 2400  // cells that take part in the fit, at most
	strata     = 24    // of scene brightness, from which cells are taken evenly
	clipShare  = 0.03  // of a cell's pixels: more and the cell's mean is not its own
	stepsLeast = 6     // of light over black, in steps of the data's own codes: of less, rounding makes what it will
	sigmaMost  = 0.12  // of u: noisier samples are left out (the log of a noisy mean is biased)
	modelSigma = 0.008 // of u: what the model itself does not know
	bendShare  = 0.5   // of its square: means of uneven light do not follow a bent curve
	shiftShare = 0.06  // of a cell's contrast: what an error of registration lets in
)

// workTop makes the working scale u = log10(l/(workTop-l)) of light l. Dark tones
// go as density does; near white u keeps rising where density runs out, so that
// curves of positives are nearly straight in it and the smoothness term has
// little to bend.
const workTop = 1.05

func toWork(l float64) float64   { return log10(l / (workTop - l)) }
func fromWork(u float64) float64 { return workTop / (1 + tenTo(-u)) }
func workDensity(u float64) float64 {
	return log10(1+tenTo(-u)) - log10(workTop)
}

// The fit takes these by the ten million; math.Pow and math.Log10 take three times as long.
func tenTo(x float64) float64 { return math.Exp(math.Ln10 * x) }
func log10(x float64) float64 { return math.Log(x) / math.Ln10 }

// densityPerWork is -dD/du at u: 0..1.
func densityPerWork(u float64) float64 { return 1 - fromWork(u)/workTop }

// samples are the readings of the cells: u and its standard deviation, which is
// 0 where the cell cannot be read in that frame and channel.
type samples struct {
	cells, frames int
	u, s          []float64 // index (cell*3+channel)*frames + frame
	spread        []float64 // per cell: contrast within the cell, in u
	bright        []float64 // per cell: the scene's brightness, in a scale of its own
	at            []image.Point
	mean          []float64 // light of a whole scan, frame*3+channel
}

func (m *samples) index(i, c, j int) int { return (i*3+c)*m.frames + j }

// cellSize of a preview in preview pixels.
func cellSize(p *measure.Preview) int {
	return max(cellLeast, (max(p.W, p.H)+cellsAlong/2)/cellsAlong)
}

// readCells reads all cells of the base's image area in all frames.
func readCells(ctx context.Context, frames []Frame, base int, workers int, progress func(float64)) (*samples, error) {
	b := frames[base].Look
	size := cellSize(b.Preview)
	area := previewArea(b)
	nx, ny := area.Dx()/size, area.Dy()/size
	if nx <= 0 || ny <= 0 {
		return &samples{frames: len(frames)}, ctx.Err()
	}
	ox, oy := area.Min.X+(area.Dx()-nx*size)/2, area.Min.Y+(area.Dy()-ny*size)/2
	m := &samples{cells: nx * ny, frames: len(frames), mean: make([]float64, 3*len(frames))}
	n := m.cells * 3 * m.frames
	m.u, m.s = make([]float64, n), make([]float64, n)
	m.spread, m.bright = make([]float64, m.cells), make([]float64, m.cells)
	m.at = make([]image.Point, m.cells)
	for i := range m.at {
		m.at[i] = image.Pt(ox+i%nx*size, oy+i/nx*size)
	}
	spread := make([]float64, m.cells*m.frames)
	bright := make([]float64, m.cells*m.frames)
	for j := range frames {
		if l := frames[j].Look; l != nil && !frames[j].Unregistered {
			copy(m.mean[3*j:], meanLight(l))
		}
	}
	done := 0
	var mu sync.Mutex
	err := parallel.Each(ctx, workers, ny*len(frames), func(_, k int) error {
		j, row := k/ny, k%ny
		if frames[j].Unregistered || frames[j].Look == nil {
			return nil
		}
		r := newCellReader(&frames[j], b, size)
		for i := row * nx; i < (row+1)*nx; i++ {
			spread[i*m.frames+j], bright[i*m.frames+j] = r.read(m, i, j)
		}
		if progress != nil {
			mu.Lock()
			done++
			progress(float64(done) / float64(ny*len(frames)))
			mu.Unlock()
		}
		return nil
	})
	// A cell is as uneven as its median frame shows it: one frame may have
	// clipped the unevenness away.
	v := make([]float64, 0, m.frames)
	for i := range m.spread {
		v = v[:0]
		sum, n := 0.0, 0.0
		for j := range m.frames {
			if s := spread[i*m.frames+j]; s > 0 {
				v = append(v, s)
			}
			if b := bright[i*m.frames+j]; b >= 0 {
				sum += b
				n++
			}
		}
		m.spread[i] = median.Of(v)
		m.bright[i] = sum / math.Max(n, 1)
	}
	return m, err
}

// previewArea is the image area in whole preview pixels.
func previewArea(l *measure.Look) image.Rectangle {
	f := max(1, l.Preview.Factor)
	r := image.Rect((l.Area.Min.X+f-1)/f, (l.Area.Min.Y+f-1)/f, l.Area.Max.X/f, l.Area.Max.Y/f)
	return r.Intersect(image.Rect(0, 0, l.Preview.W, l.Preview.H))
}

// cellReader reads cells of the base in one frame.
type cellReader struct {
	p              *measure.Preview
	tone           *[3][]float32
	area           image.Rectangle
	blown, blocked []uint8
	m              f64.Aff3 // base preview px -> frame preview px
	size           float64
	w, h           float64 // of a cell in the frame
	step           int     // codes between neighbouring levels of the data
	marks          *measure.Marks
}

func newCellReader(f *Frame, base *measure.Look, size int) *cellReader {
	l := f.Look
	r := &cellReader{p: l.Preview, tone: l.Space.Tone(), area: previewArea(l), blown: l.BlownShare, blocked: l.BlockedShare, size: float64(size), marks: f.Marks}
	fb, ff := float64(max(1, base.Preview.Factor)), float64(max(1, l.Preview.Factor))
	r.step = 1
	if b := l.EffectiveBits; b > 0 && b < l.Info.Bits {
		r.step = 1 << min(l.Info.Bits-b, 12)
	}
	r.m = affine.Reduced(f.Map, fb, ff)
	r.w = float64(size) * math.Hypot(r.m[0], r.m[3])
	r.h = float64(size) * math.Hypot(r.m[1], r.m[4])
	return r
}

// read fills cell i of frame j and returns the contrast within it (0: it cannot
// be read) and its brightness, clipped or not (-1: it is not in the frame).
func (r *cellReader) read(m *samples, i, j int) (spread, bright float64) {
	cx, cy := float64(m.at[i].X)+r.size/2, float64(m.at[i].Y)+r.size/2
	x, y := affine.At(r.m, cx, cy)
	x0, y0, x1, y1 := x-r.w/2, y-r.h/2, x+r.w/2, y+r.h/2
	if !(r.w > 0.5 && r.h > 0.5) ||
		!(x0 >= float64(r.area.Min.X) && y0 >= float64(r.area.Min.Y) && x1 <= float64(r.area.Max.X) && y1 <= float64(r.area.Max.Y)) {
		return 0, -1
	}
	ix0, iy0 := int(x0), int(y0)
	ix1, iy1 := min(int(math.Ceil(x1)), r.p.W), min(int(math.Ceil(y1)), r.p.H)
	var sum, sq [3]float64
	var n, high, low float64
	for py := iy0; r.marks != nil && py < iy1; py++ {
		for px := ix0; px < ix1; px++ {
			if r.marks.At(px, py) {
				return 0, -1
			}
		}
	}
	tr, tg, tb := r.tone[0], r.tone[1], r.tone[2]
	for py := iy0; py < iy1; py++ {
		wy := cover(float64(py), y0, y1)
		at := py * r.p.W
		for px := ix0; px < ix1; px++ {
			w := wy
			if px == ix0 || px == ix1-1 {
				w *= cover(float64(px), x0, x1)
			}
			q := r.p.Pix[3*(at+px) : 3*(at+px)+3 : 3*(at+px)+3]
			a, b, c := float64(tr[q[0]]), float64(tg[q[1]]), float64(tb[q[2]])
			n += w
			sum[0] += w * a
			sum[1] += w * b
			sum[2] += w * c
			sq[0] += w * a * a
			sq[1] += w * b * b
			sq[2] += w * c * c
			high += w * float64(r.blown[at+px])
			low += w * float64(r.blocked[at+px])
		}
	}
	if n <= 0 {
		return 0, -1
	}
	bright = math.Cbrt(math.Max(0, (sum[0]+sum[1]+sum[2])/n))
	if high+low > clipShare*255*n {
		return 0, bright
	}
	worst := 0.0
	for c := range 3 {
		l := sum[c] / n
		if !(l > 1e-6 && l < 1.04) {
			continue
		}
		perLight := workTop / (l * (workTop - l) * math.Ln10)
		s := math.Sqrt(math.Max(sq[c]/n-l*l, 0)) * perLight
		worst = math.Max(worst, s)
		// Grain is wider than a pixel: a quarter of the pixels count.
		v := s*s*(4/n+shiftShare*shiftShare+bendShare*bendShare*s*s) + modelSigma*modelSigma
		// Whole codes: an even cell is off by up to half a step, an uneven one is
		// dithered by its own unevenness.
		step := r.stepAt(c, l)
		if l < stepsLeast*step {
			continue
		}
		q := step * perLight
		v += q * q / 12 * math.Max(4/n, 1-2*s/q)
		if v > sigmaMost*sigmaMost {
			continue
		}
		k := m.index(i, c, j)
		m.u[k], m.s[k] = toWork(l), math.Sqrt(v)
	}
	return worst, bright
}

// stepAt is the light of one step of the data's own codes at light l of channel c.
func (r *cellReader) stepAt(c int, l float64) float64 {
	t := r.tone[c]
	i := sort.Search(len(t), func(i int) bool { return float64(t[i]) >= l })
	lo := max(0, i-r.step/2-1)
	hi := min(len(t)-1, lo+r.step)
	return math.Max(float64(t[hi]-t[lo]), 1e-9)
}

// cover is the part of pixel p..p+1 within lo..hi.
func cover(p, lo, hi float64) float64 { return math.Min(p+1, hi) - math.Max(p, lo) }

// pick keeps the evenest cells of every brightness of the scene, and of those
// only the ones that at least two frames show.
func (m *samples) pick(most int) *samples {
	type cell struct {
		i      int
		bright float64
	}
	var cells []cell
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range m.cells {
		best := 0
		for c := range 3 {
			seen := 0
			for j := range m.frames {
				if k := m.index(i, c, j); m.s[k] > 0 {
					seen++
				}
			}
			best = max(best, seen)
		}
		if best < 2 || m.spread[i] <= 0 {
			continue
		}
		b := m.bright[i]
		lo, hi = math.Min(lo, b), math.Max(hi, b)
		cells = append(cells, cell{i, b})
	}
	var bins [strata][]cell
	for _, c := range cells {
		k := 0
		if hi > lo {
			k = min(int((c.bright-lo)/(hi-lo)*strata), strata-1)
		}
		bins[k] = append(bins[k], c)
	}
	for k := range bins {
		slices.SortStableFunc(bins[k], func(a, b cell) int { return cmp.Compare(m.spread[a.i], m.spread[b.i]) })
	}
	var kept []int
	for round := 0; len(kept) < most; round++ {
		any := false
		for k := range bins {
			if round < len(bins[k]) && len(kept) < most {
				kept = append(kept, bins[k][round].i)
				any = true
			}
		}
		if !any {
			break
		}
	}
	slices.Sort(kept)
	out := &samples{cells: len(kept), frames: m.frames, mean: m.mean}
	for _, i := range kept {
		a, b := m.index(i, 0, 0), m.index(i+1, 0, 0)
		out.u = append(out.u, m.u[a:b]...)
		out.s = append(out.s, m.s[a:b]...)
		out.spread = append(out.spread, m.spread[i])
		out.at = append(out.at, m.at[i])
	}
	return out
}

// meanLight is the mean light of a whole scan by channel, border and all: what a
// scanner's flare comes from. Every seventh row is read.
func meanLight(l *measure.Look) []float64 {
	out := make([]float64, 3)
	tone, p := l.Space.Tone(), l.Preview
	n := 0
	for y := 0; y < p.H; y += 7 {
		row := p.Pix[3*y*p.W : 3*(y+1)*p.W]
		for i := 0; i+2 < len(row); i += 3 {
			for c := range 3 {
				out[c] += float64(tone[c][row[i+c]])
			}
		}
		n += p.W
	}
	for c := range out {
		out[c] /= float64(max(1, n))
	}
	return out
}
