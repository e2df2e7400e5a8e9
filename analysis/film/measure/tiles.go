package measure

import "math"

// Tiles are small squares of a scan, spread over it, that are kept as they are where its
// preview is reduced: they tell the noise of its single pixels.
type Tiles struct {
	Side  int      // pixels of the scan, whole cells of the preview
	Codes []uint16 // tile after tile, row by row, interleaved RGB code values, as stored
	nx    int
	step  [2]int // from tile to tile, pixels
}

// TileCells is how many pixels of the preview a tile is long.
const TileCells = 8

const (
	tileCount = 400 // about: 0.6 to 10 MB for previews reduced by 2 to 8
	tileLeast = 4
	tileShare = 4 // bytes for each pixel of a smaller preview
)

// newTiles places them; nil where the preview is the scan itself, or too small.
func newTiles(g grid) *Tiles {
	side := TileCells * g.f
	if g.f == 1 || g.w < 2*side || g.h < 2*side {
		return nil
	}
	most := tileCount
	if max(g.W, g.H) <= PreviewSide/2 {
		// A preview that is smaller than its scan asks for: of a roll of many frames,
		// whose tiles, that much larger, share memory as the previews do.
		most = min(most, max(tileLeast, tileShare*g.W*g.H/(6*side*side)))
	}
	t := &Tiles{Side: side, nx: min(20, g.w/side)}
	if most < tileCount {
		t.nx = min(t.nx, max(1, int(math.Sqrt(float64(most)))))
	}
	ny := min(most/t.nx, g.h/side)
	t.step = [2]int{g.w / t.nx, g.h / ny}
	t.Codes = make([]uint16, 3*side*side*t.nx*ny)
	return t
}

// N returns how many tiles there are.
func (t *Tiles) N() int {
	if t == nil {
		return 0
	}
	return len(t.Codes) / (3 * t.Side * t.Side)
}

// At returns the codes of the i-th tile.
func (t *Tiles) At(i int) []uint16 {
	n := 3 * t.Side * t.Side
	return t.Codes[i*n : (i+1)*n]
}

// take keeps what a stored row has of the tiles.
func (t *Tiles) take(y int, row []uint16) {
	j, v := y/t.step[1], y%t.step[1]
	if v >= t.Side || (j+1)*t.nx > t.N() {
		return
	}
	for i := range t.nx {
		x := i * t.step[0]
		copy(t.At(j*t.nx + i)[3*v*t.Side:3*(v+1)*t.Side], row[3*x:3*(x+t.Side)])
	}
}
