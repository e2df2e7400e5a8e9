package render

import (
	"errors"
	"image"
	"math"
	"sync"
	"testing"
	"time"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/correction"
	"stopladder/analysis/scan"

	"golang.org/x/image/math/f64"
)

// cropper keeps the newest crop of every frame, and counts.
type cropper struct {
	*Crops
	mu   sync.Mutex
	last map[any]Crop
	told map[any]int
	seen []Crop
}

func newCropper(t *testing.T) *cropper {
	c := &cropper{last: map[any]Crop{}, told: map[any]int{}}
	c.Crops = NewCrops(0, func(k Crop) {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.last[k.Key] = k
		c.told[k.Key]++
		c.seen = append(c.seen, k)
	})
	t.Cleanup(c.Close)
	return c
}

func (c *cropper) of(key any) (Crop, int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.last[key], c.told[key]
}

// fine waits for the sharp crop of a frame.
func (c *cropper) fine(t *testing.T, key any) Crop {
	t.Helper()
	until(t, func() bool { k, _ := c.of(key); return k.Fine })
	k, _ := c.of(key)
	return k
}

// A detail at 1:1 is the file's own pixels around the centre, whatever the area, and of a
// frame that lies elsewhere those of the same place of the scene.
func TestCropsShowTheFilesPixels(t *testing.T) {
	s := testScan(400, 300)
	area := image.Rect(20, 15, 380, 285)
	for name, src := range map[string]scan.Source{
		"in memory": s,
		"streaming": &slowSource{Pixels: s},
		"regional":  &regional{slowSource: &slowSource{Pixels: s}},
	} {
		shift := f64.Aff3{1, 0, 7, 0, 1, -4}
		c := newCropper(t)
		c.Request(CropRequest{Centre: image.Pt(190, 140), W: 60, H: 40, Frames: []CropFrame{
			{Key: "base", Picture: Picture{Look: lookOf(s, 4, area)}, Open: opening(src)},
			{Key: "other", Picture: Picture{Look: lookOf(s, 4, area), Base: area, ToThis: &shift}, Open: opening(src)},
		}})
		checkExact(t, name, c.fine(t, "base").Image, s.Pix, 400, 300, image.Pt(160, 120), 1)
		checkExact(t, name+", registered", c.fine(t, "other").Image, s.Pix, 400, 300, image.Pt(167, 116), 1)
		first := c.seen[0]
		if first.Fine || first.Key != "base" || first.Image == nil {
			t.Errorf("%s: what comes first is %v of %v, want the preview of the first frame", name, first.Fine, first.Key)
		}
	}
}

// Where the scan ends stands the surround, and the centre may be its very corner.
func TestCropsAtTheEdge(t *testing.T) {
	s := testScan(200, 160)
	c := newCropper(t)
	c.Request(CropRequest{Centre: image.Pt(0, 0), W: 30, H: 20, Frames: []CropFrame{
		{Key: 1, Picture: Picture{Look: lookOf(s, 2, image.Rect(0, 0, 200, 160))}, Open: opening(s)}}})
	checkExact(t, "corner", c.fine(t, 1).Image, s.Pix, 200, 160, image.Pt(-15, -10), 1)
}

// Frames of one scene that were laid turned and scaled show one detail.
func TestCropsAreRegistered(t *testing.T) {
	m := around(300, 200, 0.5, 1.002, 5.4, -3.6)
	area := image.Rect(30, 20, 570, 380)
	base, other := sceneScan(600, 400, f64.Aff3{1, 0, 0, 0, 1, 0}), sceneScan(600, 400, m)
	c := newCropper(t)
	c.Request(CropRequest{Centre: image.Pt(340, 170), W: 120, H: 90, Frames: []CropFrame{
		{Key: 1, Picture: Picture{Look: lookOf(base, 4, area), Base: area}, Open: opening(base)},
		{Key: 2, Picture: Picture{Look: lookOf(other, 4, area), Base: area, ToThis: &m}, Open: opening(other)}}})
	a, b := c.fine(t, 1).Image, c.fine(t, 2).Image
	if d := rms(a, b); d > 2 {
		t.Errorf("the details are %.2f display codes RMS apart", d)
	}
	if d := rms(a, canvas(120, 90)); d < 20 {
		t.Errorf("the details show nothing: %.2f", d)
	}
}

// A shadow lift is on the crop as it is on the picture, the scan is not read again for it,
// and what has not changed is not told again.
func TestCropsFollowACorrection(t *testing.T) {
	s := smoothScan(300, 200)
	area := image.Rect(0, 0, 300, 200)
	src := &regional{slowSource: &slowSource{Pixels: s}}
	looks := [3]*measure.Look{1: lookOf(s, 4, area), 2: lookOf(s, 4, area)}
	frame := func(key int, a *Correction) CropFrame {
		return CropFrame{Key: key, Picture: Picture{Look: looks[key], Adjust: a}, Open: opening(src)}
	}
	c := newCropper(t)
	ask := func(a *Correction) {
		c.Request(CropRequest{Centre: image.Pt(150, 100), W: 80, H: 50, Frames: []CropFrame{frame(1, a), frame(2, nil)}})
	}
	ask(nil)
	plain := c.fine(t, 1)
	c.fine(t, 2)
	read := src.regions
	lift := Corrected(correction.Settings{Lift: 2}, correction.Settings{})
	ask(lift)
	until(t, func() bool { k, _ := c.of(1); return k.Fine && rms(k.Image, plain.Image) > 0 })
	got, _ := c.of(1)
	want := canvas(80, 50)
	p := Picture{Look: looks[1], Adjust: lift, Detail: detailOf(s, looks[1], area, 1)}
	Render(want, p, Port{area, 80, 50}.centredAt(View{Zoom: 1}, 150, 100), Overlay{})
	if d := rms(got.Image, want); d > 0 {
		t.Errorf("the lifted detail is %.2f display codes RMS off the picture", d)
	}
	if src.regions != read {
		t.Errorf("the scan was read %d times for a correction", src.regions-read)
	}
	_, n := c.of(2)
	ask(lift)
	ask(nil)
	until(t, func() bool { k, _ := c.of(1); return rms(k.Image, plain.Image) == 0 })
	if _, now := c.of(2); now != n {
		t.Errorf("a frame that did not change was told %d times more", now-n)
	}
}

// Of requests that follow each other the last one counts.
func TestCropsTheNewestCounts(t *testing.T) {
	s := testScan(600, 400)
	src := &slowSource{Pixels: s, gate: make(chan struct{}, 1000)}
	l := lookOf(s, 4, image.Rect(0, 0, 600, 400))
	c := NewCrops(1<<10, nil) // nothing is held: every detail is read
	var mu sync.Mutex
	var last Crop
	c.done = func(k Crop) { mu.Lock(); last = k; mu.Unlock() }
	defer c.Close()
	for x := range 40 {
		c.Request(CropRequest{Centre: image.Pt(100+x, 200), W: 40, H: 30, Frames: []CropFrame{{Key: 1, Picture: Picture{Look: l}, Open: opening(src)}}})
		if x == 20 {
			until(t, func() bool { n, _ := src.counts(); return n > 0 })
		}
	}
	for range 900 {
		src.gate <- struct{}{}
	}
	until(t, func() bool { mu.Lock(); defer mu.Unlock(); return last.Fine })
	checkExact(t, "the last", last.Image, s.Pix, 600, 400, image.Pt(119, 185), 1)
	if n, _ := src.counts(); n > 20 {
		t.Errorf("%d details were begun for one that is wanted", n)
	}
}

// A scan that cannot be opened leaves the preview, once, with the reason.
func TestCropsWithoutTheScan(t *testing.T) {
	s := testScan(300, 200)
	gone := errors.New("gone")
	opened := 0
	f := CropFrame{Key: 1, Picture: Picture{Look: lookOf(s, 4, image.Rect(0, 0, 300, 200))},
		Open: func() (scan.Source, error) { opened++; return nil, gone }}
	c := newCropper(t)
	r := CropRequest{Centre: image.Pt(150, 100), W: 40, H: 30, Frames: []CropFrame{f}}
	c.Request(r)
	if k := c.fine(t, 1); !errors.Is(k.Err, gone) || k.Image == nil {
		t.Errorf("told %v, %v", k.Err, k.Image == nil)
	}
	r.Centre.X++
	c.Request(r)
	until(t, func() bool { _, n := c.of(1); return n == 3 })
	if k := c.fine(t, 1); !errors.Is(k.Err, gone) || opened != 1 {
		t.Errorf("opened %d times; told %v", opened, k.Err)
	}
	c.Request(CropRequest{Centre: image.Pt(1, 1), W: 40, H: 30, Frames: []CropFrame{{Key: 2}}})
	until(t, func() bool { _, n := c.of(2); return n == 1 })
	if k, _ := c.of(2); k.Image != nil || !k.Fine {
		t.Errorf("a frame that was not read has the crop %+v", k)
	}
}

// A detail costs the rows it touches, whatever the scan's size: for a ladder of many
// frames.
func TestCropsReadLittle(t *testing.T) {
	s := testScan(2000, 1500)
	src := &regional{slowSource: &slowSource{Pixels: s}}
	c := newCropper(t)
	from := time.Now()
	c.Request(CropRequest{Centre: image.Pt(1000, 700), W: 112, H: 82, Frames: []CropFrame{
		{Key: 1, Picture: Picture{Look: lookOf(s, 4, image.Rect(0, 0, 2000, 1500))}, Open: opening(src)}}})
	c.fine(t, 1)
	if most := int(math.Ceil(1.5*114)) * int(math.Ceil(1.5*84)); src.largest > most {
		t.Errorf("%d pixels were read for 112 x 82, want %d at most", src.largest, most)
	}
	t.Logf("after %v", time.Since(from))
}
