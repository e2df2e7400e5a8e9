package main

import (
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/image/draw"
)

// Pictures of the main screens, for eyes and for the manual: make shots. Each is taken of
// the real window over the sample roll, as PNG, and as a small JPEG for the manual.
const (
	smallWidth = 740 // pixels
	quality    = 80
)

func TestShots(t *testing.T) {
	dir := os.Getenv("STOPLADDER_SHOTS")
	if dir == "" {
		t.Skip("draws pictures for a person to look at: make shots")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	s := newScreen(t, 1280, 800)
	s.start(1280, 800)
	take := func(name string) {
		time.Sleep(1500 * time.Millisecond)
		keepShot(t, dir, name, s.shot())
	}
	rest := func() { s.tool("xdotool", "mousemove", "640", "798") }
	s.find("Try the sample roll")
	time.Sleep(4 * time.Second)
	take("start")
	s.click("Try the sample roll")
	s.find("Holds")
	rest()
	s.measured()
	s.click("Close") // of what offers the tour
	rest()
	take("ladder")
	s.keys("Up", "2", "o", "x")
	take("two")
	s.keys("o", "x", "5")
	s.tool("xdotool", "mousemove", "940", "300", "mousemove", "1010", "420")
	take("edge")
	s.keys("3")
	rest()
	take("all")
	s.keys("1", "c")
	take("curve")
	s.keys("c", "r")
	take("readings")
	s.keys("k")
	take("casts")
	s.keys("q")
	s.click("Suggest")
	rest()
	time.Sleep(2 * time.Second)
	take("patches")
	s.keys("w", "g")
	take("salvage")
	s.keys("e")
	s.click("This frame by hand")
	rest()
	time.Sleep(4 * time.Second)
	take("correction")
	s.keys("Escape", "g", "slash")
	s.tool("xdotool", "type", "--delay", "60", "mask")
	take("commands")
	s.keys("Escape")
	s.tool("xdotool", "mousemove", "230", "378")
	time.Sleep(time.Second)
	take("card")
	s.keys("ctrl+e")
	s.find("Choose the file…")
	time.Sleep(4 * time.Second)
	take("sheet")
	s.keys("Escape")
}

// measured waits until nothing is read or compared any more.
func (s *screen) measured() {
	s.t.Helper()
	s.wait("the end of comparing", 3*time.Minute, func() bool { return !s.says("Stop") })
	time.Sleep(time.Second)
}

func keepShot(t *testing.T, dir, name string, img image.Image) {
	t.Helper()
	write := func(file string, encode func(f *os.File) error) {
		f, err := os.Create(filepath.Join(dir, file))
		if err == nil {
			err = encode(f)
		}
		if err == nil {
			err = f.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	write(name+".png", func(f *os.File) error { return png.Encode(f, img) })
	b := img.Bounds()
	small := image.NewRGBA(image.Rect(0, 0, smallWidth, smallWidth*b.Dy()/b.Dx()))
	draw.CatmullRom.Scale(small, small.Rect, img, b, draw.Src, nil)
	write(name+".jpg", func(f *os.File) error { return jpeg.Encode(f, small, &jpeg.Options{Quality: quality}) })
}
