// Package clip puts a picture into the system's clipboard, which the window's toolkit can
// only put text into.
package clip

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // what is exported as JPEG is copied as well
	"image/png"
	"os"
	"sync"

	"golang.design/x/clipboard"
)

// ready finds the clipboard once: without a display there is none.
var ready = sync.OnceValue(clipboard.Init)

// File puts a PNG or JPEG file into the clipboard, as a PNG, which is what clipboards hold.
// On X11 it stays there for as long as the program runs. It takes a second for a large
// picture and belongs in a worker. The error is one sentence.
func File(path string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("the picture cannot be read again: %w", err)
	}
	if err := ready(); err != nil {
		return errors.New("no clipboard for pictures is to be had here; open the file and copy it from there")
	}
	if !bytes.HasPrefix(data, []byte("\x89PNG")) {
		img, _, err := image.Decode(bytes.NewReader(data))
		if err != nil {
			return fmt.Errorf("the picture cannot be read again: %w", err)
		}
		var b bytes.Buffer
		if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, img); err != nil {
			return err
		}
		data = b.Bytes()
	}
	if clipboard.Write(clipboard.FmtImage, data) == nil {
		return errors.New("the clipboard did not take the picture; open the file and copy it from there")
	}
	return nil
}
