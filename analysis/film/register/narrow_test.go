package register

import (
	"image"
	"testing"
)

// A place of a few pixels is too small for blocks: they stay as they lay. Found by the
// siege: the blocks were counted as none, and the first row of pixels had no block.
func TestBlocksStayWhereThePlaceIsTooSmall(t *testing.T) {
	lies := grid{box: image.Rect(0, 0, 64, 48), nx: 8, ny: 8}
	al := &aligner{a: &level{w: 64, h: 48}, grid: lies}
	// All that both show lies in one block, whose place is 16 pixels wide and 12 or fewer high.
	f := &fitness{corr: 0.9, count: 1, where: []int{60}, info: make([][16]float64, 1)}
	f.info[0][0] = 1
	if al.narrow(f) || al.grid != lies {
		t.Errorf("the blocks lie in %+v", al.grid)
	}
	// A larger place takes them.
	al.a, al.grid.box = &level{w: 640, h: 480}, image.Rect(0, 0, 640, 480)
	if !al.narrow(f) || al.grid.nx < 2 || al.grid.ny < 2 || al.grid.box == lies.box {
		t.Errorf("the blocks lie in %+v", al.grid)
	}
}
