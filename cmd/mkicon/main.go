// Command mkicon draws the program's icon: five rungs from dark to light on
// their axis, and the judge's range beside it. Run it by go generate ./assets
// after a change.
package main

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"os"

	"stopladder/analysis/disk/wholefile"
	"stopladder/analysis/show/paint"
)

const side = 512

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "mkicon: say which file to write")
		os.Exit(2)
	}
	if err := wholefile.Write(os.Args[1], func(w io.Writer) error { return png.Encode(w, draw()) }); err != nil {
		fmt.Fprintln(os.Stderr, "mkicon:", err)
		os.Exit(1)
	}
}

func draw() image.Image {
	img := image.NewRGBA(image.Rect(0, 0, side, side))
	c := paint.New(img, 1)
	c.RoundRect(image.Rect(16, 16, side-16, side-16), 72, paint.Hex(0x333333))
	for i := range 5 {
		y := 96 + i*66
		v := uint32(0xF2 - 0x2E*i)
		c.RoundRect(image.Rect(214, y, 436, y+50), 8, paint.Hex(v<<16|v<<8|v))
		c.Fill(image.Rect(140, y+22, 214, y+28), paint.Hex(0x8C8C8C))
	}
	c.Fill(image.Rect(136, 84, 144, 428), paint.Hex(0xC8C8C8))
	top, bottom := 96+66+25, 96+3*66+25
	c.Fill(image.Rect(82, top, 100, bottom), paint.Orange)
	for _, y := range []int{top, bottom} {
		c.RoundRect(image.Rect(58, y-11, 170, y+11), 6, paint.Orange)
	}
	return img
}
