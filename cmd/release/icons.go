package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"sync"

	xdraw "golang.org/x/image/draw"

	"stopladder/assets"
)

var decodedIcon = sync.OnceValues(func() (image.Image, error) { return png.Decode(bytes.NewReader(assets.Icon)) })

// icon returns the icon that many pixels wide and high.
func icon(side int) (*image.NRGBA, error) {
	from, err := decodedIcon()
	if err != nil {
		return nil, err
	}
	img := image.NewNRGBA(image.Rect(0, 0, side, side))
	xdraw.CatmullRom.Scale(img, img.Rect, from, from.Bounds(), xdraw.Src, nil)
	return img, nil
}

// icons adds the icon in the sizes of the hicolor theme, for the program and its files.
func icons(all tree) error {
	for _, side := range []int{16, 22, 24, 32, 48, 64, 128, 256, 512} {
		img, err := icon(side)
		if err != nil {
			return err
		}
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			return err
		}
		dir := fmt.Sprintf("usr/share/icons/hicolor/%dx%d/", side, side)
		all.add(dir+"apps/"+id+".png", b.Bytes())
		for _, kind := range []string{"roll", "plan", "pack"} {
			all.add(dir+"mimetypes/application-x-stopladder-"+kind+".png", b.Bytes())
		}
	}
	return nil
}
