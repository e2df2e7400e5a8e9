package simulate

import (
	"context"
	"image"
	"math"
	"sync"

	"stopladder/analysis/demo/scene"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/numeric/parallel"
	"stopladder/analysis/scan"
)

// film is the latent image at the base exposure: log10 H of the three layers
// for every pixel of the scene.
type film struct {
	w, h int
	pix  []float32
	m    [3][3]float64 // scene light to layer exposure, mid-grey = 1
	veil [3]float64
}

const lowestLog = -5 // log10 H under which nothing is told apart

func expose(r *scene.Radiance, stock *Stock) *film {
	f := &film{w: r.W, h: r.H, pix: make([]float32, len(r.Pix))}
	f.m = matmul(stock.Mix, fromScene)
	for i := range f.m {
		for j := range f.m[i] {
			f.m[i][j] /= 0.18
		}
	}
	// The scene's mean, on every fourth pixel of every fourth row: flare needs
	// no better.
	var mean [3]float64
	n := 0
	for y := 0; y < r.H; y += 4 {
		for x := 0; x < r.W; x += 4 {
			a, b, c := r.At(x, y)
			mean[0] += float64(a)
			mean[1] += float64(b)
			mean[2] += float64(c)
			n++
		}
	}
	for i := range f.veil {
		f.veil[i] = stock.Flare * (f.m[i][0]*mean[0] + f.m[i][1]*mean[1] + f.m[i][2]*mean[2]) / float64(n)
	}
	var m [3][3]float32
	var veil [3]float32
	for i := range m {
		veil[i] = float32(f.veil[i])
		for j := range m[i] {
			m[i][j] = float32(f.m[i][j])
		}
	}
	parallel.Bands(r.H, func(y0, y1 int) {
		src, dst := r.Pix[3*r.W*y0:3*r.W*y1], f.pix[3*r.W*y0:3*r.W*y1]
		for i := 0; i+2 < len(src); i += 3 {
			a, b, c := src[i], src[i+1], src[i+2]
			dst[i] = log10(m[0][0]*a + m[0][1]*b + m[0][2]*c + veil[0])
			dst[i+1] = log10(m[1][0]*a + m[1][1]*b + m[1][2]*c + veil[1])
			dst[i+2] = log10(m[2][0]*a + m[2][1]*b + m[2][2]*c + veil[2])
		}
	})
	return f
}

var logTable = func() (t [4097]float32) {
	for i := range t {
		t[i] = float32(math.Log10(1 + float64(i)/4096))
	}
	return t
}()

// log10 returns the logarithm, good to 1e-7, and no less than lowestLog.
func log10(x float32) float32 {
	if !(x > 1e-5) {
		return lowestLog
	}
	b := math.Float32bits(x)
	e := int32(b>>23) - 127
	m := b & 0x7FFFFF
	i := m >> 11
	u := float32(m&0x7FF) * (1.0 / 2048)
	return float32(e)*0.30103 + logTable[i] + u*(logTable[i+1]-logTable[i])
}

func (s *shot) logExposure(rgb [3]float64) (out [3]float64) {
	for i := range out {
		h := s.film.m[i][0]*rgb[0] + s.film.m[i][1]*rgb[1] + s.film.m[i][2]*rgb[2] + s.film.veil[i]
		out[i] = math.Max(math.Log10(math.Max(h, 1e-9)), lowestLog) + s.exposure*stopLog
	}
	return out
}

// tables turn log exposure into density and grain, density into light and
// scanner noise, light into codes: two table look-ups with interpolation each.
type tables struct {
	film [3][]pair // over log H
	scan [3][]pair // over density
	enc  [3][]float32
}

type pair struct{ v, s float32 }

const (
	filmLo, filmHi = -8.0, 8.0
	filmN          = 8192
	scanLo, scanHi = -0.5, 5.5
	scanN          = 8192
	encN           = 8192
	encMax         = 1.3 // of the square root of light
)

// tablesOf keeps the tables of the last few films and scanners: the frames of a roll
// share them.
var tablesOf struct {
	sync.Mutex
	kept map[tableKey]*tables
}

// tableKey is all that the tables follow from.
type tableKey struct {
	stock                   Stock
	scanner                 Scanner
	pitch                   float64
	noGrain, noScannerNoise bool
}

// newTables returns the tables of a shot. Others may use them: they are not to be
// written to.
func newTables(s *shot) *tables {
	key := tableKey{*s.stock, s.scanner, s.pitch, s.o.NoGrain, s.o.NoScannerNoise}
	tablesOf.Lock()
	defer tablesOf.Unlock()
	t := tablesOf.kept[key]
	if t == nil {
		t = makeTables(s)
		if tablesOf.kept == nil || len(tablesOf.kept) >= 8 {
			tablesOf.kept = map[tableKey]*tables{}
		}
		tablesOf.kept[key] = t
	}
	return t
}

func makeTables(s *shot) *tables {
	t := &tables{}
	var wg sync.WaitGroup
	for c := range 3 {
		wg.Go(func() {
			f := make([]pair, filmN+2)
			for i := range f {
				d := s.stock.Density(c, filmLo+(filmHi-filmLo)*float64(i)/filmN)
				f[i] = pair{float32(d), float32(s.grainSigma(c, d))}
			}
			t.film[c] = f
			g := make([]pair, scanN+2)
			for i := range g {
				l, n := s.scanner.light(s.stock, c, scanLo+(scanHi-scanLo)*float64(i)/scanN)
				if s.o.NoScannerNoise {
					n = 0
				}
				g[i] = pair{float32(l), float32(n)}
			}
			t.scan[c] = g
		})
	}
	wg.Wait()
	return t.encode(s)
}

// encode returns the tables with the codes of a shot's levels.
func (t tables) encode(s *shot) *tables {
	for c := range 3 {
		e := make([]float32, encN+2)
		for i := range e {
			r := encMax * float64(i) / encN
			e[i] = float32(s.level(c, s.scanner.code(r*r)))
		}
		t.enc[c] = e
	}
	return &t
}

// level applies AutoCorrect's levels.
func (s *shot) level(c int, code float64) float64 {
	l := s.levels[c]
	if l[1] <= l[0] {
		return code
	}
	v := 65535 * (0.05 + 0.9*(code-l[0])/(l[1]-l[0]))
	return math.Min(math.Max(v, 65535*s.scanner.Floor), 65535*s.scanner.Ceiling)
}

// autoLevel finds the levels from a coarse noise-free reading of the image.
func (s *shot) autoLevel() {
	step := max(1, min(s.o.W, s.o.H)/200)
	area := s.truth().Area
	var hist [3][4096]int
	n := 0
	line := make([]float32, 3*s.o.W)
	for y := area.Min.Y; y < area.Max.Y; y += step {
		s.sampleRow(y, line)
		for x := area.Min.X; x < area.Max.X; x += step {
			for c := range 3 {
				d := s.stock.Density(c, float64(line[3*x+c]))
				lin, _ := s.scanner.light(s.stock, c, d)
				hist[c][min(int(s.scanner.code(lin)/16), 4095)]++
			}
			n++
		}
	}
	for c := range 3 {
		sum, lo, hi := 0, -1, -1
		for i, k := range hist[c] {
			sum += k
			if lo < 0 && float64(sum) >= 0.005*float64(n) {
				lo = i
			}
			if hi < 0 && float64(sum) >= 0.995*float64(n) {
				hi = i
			}
		}
		s.levels[c] = [2]float64{16 * float64(lo), 16 * float64(max(hi, lo+16))}
	}
}

// phases of the Catmull-Rom kernel.
const phases = 512

var cubic = func() (t [phases + 1][4]float32) {
	for i := range t {
		u := float64(i) / phases
		t[i] = [4]float32{
			float32((-u + 2*u*u - u*u*u) / 2), float32((2 - 5*u*u + 3*u*u*u) / 2),
			float32((u + 4*u*u - 3*u*u*u) / 2), float32((-u*u + u*u*u) / 2),
		}
	}
	return t
}()

// edgeSoft is how many pixels wide the gate's edge is, either side.
const edgeSoft = 1.5

// sampleRow fills line with log10 H of row y: 3 values a pixel. Outside the gate
// it is the least that there is.
func (s *shot) sampleRow(y int, line []float32) {
	f, m := s.film, s.toScene
	add := float32(s.exposure * stopLog)
	w := s.o.W
	x0, x1 := s.span(y)
	for i := range 3 * w {
		line[i] = lowestLog - 3
	}
	micro := s.scale > 1.5
	for x := x0; x < x1; x++ {
		// Position of the sample among the pixel centres of the scene.
		px, py := affine.At(m, float64(x)+0.5, float64(y)+0.5)
		px, py = px-0.5, py-0.5
		fx, fy := math.Floor(px), math.Floor(py)
		ix, iy := int(fx), int(fy)
		kx, ky := int((px-fx)*phases+0.5), int((py-fy)*phases+0.5)
		var a, b, c float32
		switch {
		case kx&(phases-1) == 0 && ky&(phases-1) == 0:
			ix, iy = clampInt(ix+kx/phases, f.w), clampInt(iy+ky/phases, f.h)
			q := f.pix[3*(iy*f.w+ix):][:3]
			a, b, c = q[0], q[1], q[2]
		case ix >= 1 && iy >= 1 && ix < f.w-2 && iy < f.h-2:
			cx, cy := &cubic[kx], &cubic[ky]
			o := 3 * ((iy-1)*f.w + ix - 1)
			for j := range 4 {
				q := f.pix[o : o+12 : o+12]
				k := cy[j]
				a += k * (cx[0]*q[0] + cx[1]*q[3] + cx[2]*q[6] + cx[3]*q[9])
				b += k * (cx[0]*q[1] + cx[1]*q[4] + cx[2]*q[7] + cx[3]*q[10])
				c += k * (cx[0]*q[2] + cx[1]*q[5] + cx[2]*q[8] + cx[3]*q[11])
				o += 3 * f.w
			}
		default:
			cx, cy := &cubic[kx], &cubic[ky]
			for j := range 4 {
				row := 3 * f.w * clampInt(iy-1+j, f.h)
				for i := range 4 {
					q := f.pix[row+3*clampInt(ix-1+i, f.w):][:3]
					k := cy[j] * cx[i]
					a += k * q[0]
					b += k * q[1]
					c += k * q[2]
				}
			}
		}
		e := add
		if micro {
			e += microTexture(px*s.scale, py*s.scale)
		}
		line[3*x], line[3*x+1], line[3*x+2] = a+e, b+e, c+e
	}
	if s.o.Border {
		s.gateRow(y, line, x0, x1)
	}
}

func clampInt(i, n int) int { return max(0, min(i, n-1)) }

// span returns the part of a row that may hold image.
func (s *shot) span(y int) (int, int) {
	if !s.o.Border {
		return 0, s.o.W
	}
	lo, hi := s.o.W, 0
	for _, yy := range [2]float64{float64(y) - 1, float64(y) + 2} {
		// Walk the row in base coordinates and clip to the gate, grown a little.
		bx, by := affine.At(s.toBase, 0, yy)
		dx, dy := s.toBase[0], s.toBase[3]
		t0, t1 := 0.0, float64(s.o.W)
		clip := func(p, d, a, b float64) {
			if math.Abs(d) < 1e-12 {
				if p < a || p > b {
					t1 = -1
				}
				return
			}
			u, v := (a-p)/d, (b-p)/d
			t0, t1 = math.Max(t0, math.Min(u, v)), math.Min(t1, math.Max(u, v))
		}
		clip(bx, dx, float64(s.gate.Min.X)-3, float64(s.gate.Max.X)+3)
		clip(by, dy, float64(s.gate.Min.Y)-3, float64(s.gate.Max.Y)+3)
		if t1 > t0 {
			lo, hi = min(lo, int(t0)), max(hi, int(math.Ceil(t1)))
		}
	}
	return max(lo, 0), min(max(hi, lo), s.o.W)
}

// gateRow darkens the exposure at and beyond the gate's edge, whose corners are
// a little round.
func (s *shot) gateRow(y int, line []float32, x0, x1 int) {
	g := s.gate
	cx, cy := float64(g.Min.X+g.Max.X)/2, float64(g.Min.Y+g.Max.Y)/2
	hw, hh := float64(g.Dx())/2, float64(g.Dy())/2
	r := 0.006 * float64(g.Dx())
	shade := func(x int) bool {
		bx, by := affine.At(s.toBase, float64(x)+0.5, float64(y)+0.5)
		qx, qy := math.Abs(bx-cx)-hw+r, math.Abs(by-cy)-hh+r
		// Signed distance to a rounded rectangle.
		d := math.Hypot(math.Max(qx, 0), math.Max(qy, 0)) + math.Min(math.Max(qx, qy), 0) - r
		cover := 0.5 - d/(2*edgeSoft)
		if cover >= 1 {
			return false
		}
		l := float32(lowestLog - 3)
		if cover > 1e-4 {
			l = float32(math.Log10(cover))
		}
		for c := range 3 {
			line[3*x+c] = max(line[3*x+c]+l, lowestLog-3)
		}
		return true
	}
	// A row near the top or bottom edge is shaded throughout; others only at
	// their ends, round corners included.
	all := false
	for _, x := range [2]int{x0, max(x0, x1-1)} {
		_, by := affine.At(s.toBase, float64(x)+0.5, float64(y)+0.5)
		all = all || math.Abs(by-cy) > hh-4
	}
	for x := x0; x < x1; x++ {
		if !shade(x) && !all && float64(x-x0) > r+8 {
			break
		}
	}
	if !all {
		for x := x1 - 1; x > x0+int(r)+8; x-- {
			if !shade(x) && float64(x1-x) > r+8 {
				break
			}
		}
	}
}

var microTile = func() *[256 * 256]float32 {
	var t [256 * 256]float32
	for i := range t {
		t[i] = gauss[at(99, i&255, i>>8)&4095] * 0.006
	}
	return &t
}()

// microTexture returns detail finer than the embedded scene has, in log10 H, fixed to
// the scene: smooth noise at about two pixels of the scan.
func microTexture(x, y float64) float32 {
	x, y = x*0.55, y*0.55
	fx, fy := math.Floor(x), math.Floor(y)
	u, v := float32(x-fx), float32(y-fy)
	ix, iy := int(fx)&255, int(fy)&255
	jx, jy := (ix+1)&255, (iy+1)&255
	t := microTile
	a := t[iy<<8|ix] + u*(t[iy<<8|jx]-t[iy<<8|ix])
	b := t[jy<<8|ix] + u*(t[jy<<8|jx]-t[jy<<8|ix])
	return a + v*(b-a)
}

// band scans rows y0..y1-1 into dst.
func (s *shot) band(y0, y1 int, dst []uint16) {
	w := s.o.W
	line := make([]float32, 3*w)
	var noise []float32
	var g *grain
	noGrain, noScan := s.quiet || s.o.NoGrain, s.quiet || s.o.NoScannerNoise
	noise = make([]float32, 3*w)
	if !noGrain {
		g = newGrain(mix64(s.seed^0x6741), w, y0)
	}
	scanSeed := mix64(s.seed ^ 0x5CA2)
	const fScale, sScale = filmN / (filmHi - filmLo), scanN / (scanHi - scanLo)
	for y := y0; y < y1; y++ {
		s.sampleRow(y, line)
		if g != nil {
			g.next(noise)
		}
		out := dst[3*w*(y-y0):][:3*w]
		for x := range w {
			var h uint64
			if !noScan {
				h = at(scanSeed, x, y)
			}
			for c := range 3 {
				i := 3*x + c
				p := min(max((line[i]-filmLo)*fScale, 0), filmN)
				k := int(p)
				u := p - float32(k)
				t := s.tab.film[c][k : k+2 : k+2]
				d := t[0].v + u*(t[1].v-t[0].v) + (t[0].s+u*(t[1].s-t[0].s))*noise[i]
				p = min(max((d-scanLo)*sScale, 0), scanN)
				k = int(p)
				u = p - float32(k)
				t = s.tab.scan[c][k : k+2 : k+2]
				l := t[0].v + u*(t[1].v-t[0].v)
				if !noScan {
					l += (t[0].s + u*(t[1].s-t[0].s)) * gauss[h&4095]
					h >>= 12
				}
				out[i] = s.tab.code(c, l)
			}
		}
		if s.o.Border {
			s.holderRow(y, out)
		}
		if s.o.EightBitInSixteen {
			for i, v := range out {
				out[i] = uint16((uint32(v)*255+32767)/65535) << 8
			}
		}
	}
}

func (t *tables) code(c int, l float32) uint16 {
	if l < 0 {
		l = 0
	}
	p := min(float32(math.Sqrt(float64(l)))*(encN/encMax), encN)
	k := int(p)
	u := p - float32(k)
	e := t.enc[c][k : k+2 : k+2]
	return uint16(e[0] + u*(e[1]-e[0]) + 0.5)
}

// holderRow places the opaque holder over what lies outside its window.
func (s *shot) holderRow(y int, out []uint16) {
	var dark [3]uint16
	for c := range dark {
		dark[c] = uint16(s.level(c, s.scanner.code(s.scanner.holder(s.stock, c))) + 0.5)
	}
	fill := func(a, b int) {
		for x := a; x < b; x++ {
			copy(out[3*x:], dark[:])
		}
	}
	if y < s.window.Min.Y || y >= s.window.Max.Y {
		fill(0, s.o.W)
		return
	}
	fill(0, s.window.Min.X)
	fill(s.window.Max.X, s.o.W)
}

const bandHeight = 48

func (s *shot) info(path string) scan.Info {
	return scan.Info{Path: path, Format: "TIFF", Width: s.o.W, Height: s.o.H, Bits: 16, Channels: 3, ICC: Profile(), Orientation: 1}
}

// pixels scans the whole frame on all processors.
func (s *shot) pixels(ctx context.Context) (*scan.Pixels, error) {
	p := &scan.Pixels{Header: s.info(""), Pix: make([]uint16, 3*s.o.W*s.o.H)}
	err := s.rows(ctx, image.Pt(0, s.o.H), p.Pix)
	if err != nil {
		return nil, err
	}
	return p, nil
}

// rows scans rows from span.X to span.Y into dst.
func (s *shot) rows(ctx context.Context, span image.Point, dst []uint16) error {
	bands := (span.Y - span.X + bandHeight - 1) / bandHeight
	return parallel.Each(ctx, 0, bands, func(_, i int) error {
		y0 := span.X + i*bandHeight
		y1 := min(y0+bandHeight, span.Y)
		s.band(y0, y1, dst[3*s.o.W*(y0-span.X):3*s.o.W*(y1-span.X)])
		return nil
	})
}
