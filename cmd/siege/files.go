package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/image/tiff"

	"stopladder/analysis/bracket/plan"
	"stopladder/analysis/judge/roll"
)

// The pictures are tiny, so that thousands can be measured.
const width, height = 64, 48

// picture is a scene of even steps and some texture at a stop; shade tells two versions of
// one scan apart.
func picture(stop, shade float64) *image.RGBA64 {
	img := image.NewRGBA64(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			k := (y/4*(width/4) + x/4) * 79 % (width * height / 16)
			light := math.Exp2(-6+6*float64(k)/float64(width*height/16)+stop) * shade * (1 + 0.02*math.Sin(float64(x*y)))
			v := uint16(min(65535, 65535*math.Pow(light, 1/2.2)))
			img.SetRGBA64(x, y, color.RGBA64{v, uint16(float64(v) * 0.95), uint16(float64(v) * 0.9), 0xffff})
		}
	}
	return img
}

// encoders make the formats of scans.
var encoders = []struct {
	name, ext string
	encode    func(*bytes.Buffer, image.Image) error
}{
	{"TIFF", ".tif", func(b *bytes.Buffer, m image.Image) error { return tiff.Encode(b, m, nil) }},
	{"TIFF, Deflate", ".tif", func(b *bytes.Buffer, m image.Image) error {
		return tiff.Encode(b, m, &tiff.Options{Compression: tiff.Deflate, Predictor: true})
	}},
	{"PNG", ".png", func(b *bytes.Buffer, m image.Image) error { return png.Encode(b, m) }},
	{"JPEG", ".jpg", func(b *bytes.Buffer, m image.Image) error { return jpeg.Encode(b, m, nil) }},
}

// encodedBefore keeps files that were made: thousands of rolls begin with the same ones.
var encodedBefore = map[string][]byte{}

func encoded(kind int, stop, shade float64) ([]byte, error) {
	key := fmt.Sprint(kind, stop, shade)
	if b, ok := encodedBefore[key]; ok {
		return bytes.Clone(b), nil
	}
	var b bytes.Buffer
	if err := encoders[kind].encode(&b, picture(stop, shade)); err != nil {
		return nil, err
	}
	encodedBefore[key] = bytes.Clone(b.Bytes())
	return b.Bytes(), nil
}

// stopNames of a roll of three frames.
var stopNames = []struct {
	name string
	stop float64
}{{"-1", -1}, {"0", 0}, {"+1", 1}}

// writeRoll writes the scans of a roll into dir.
func writeRoll(dir string, kind int) (paths []string, err error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	for _, s := range stopNames {
		b, err := encoded(kind, s.stop, 1)
		if err != nil {
			return nil, err
		}
		p := filepath.Join(dir, s.name+encoders[kind].ext)
		if err := os.WriteFile(p, b, 0o666); err != nil {
			return nil, err
		}
		paths = append(paths, p)
	}
	return paths, nil
}

// whole returns what is wrong with a result, nil where it is one.
func whole(path string) error {
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	switch filepath.Ext(path) {
	case ".json":
		var v map[string]any
		return json.Unmarshal(b, &v)
	case ".csv":
		if !bytes.HasPrefix(b, []byte("file,")) || !bytes.HasSuffix(b, []byte("\r\n")) || bytes.Count(b, []byte("\r\n")) != 1+len(stopNames) {
			return fmt.Errorf("%d bytes of CSV end in the middle", len(b))
		}
	case ".png":
		_, err = png.Decode(bytes.NewReader(b))
	case ".tif":
		_, err = tiff.Decode(bytes.NewReader(b))
	case ".pdf":
		if !bytes.HasPrefix(b, []byte("%PDF-")) || !bytes.HasSuffix(bytes.TrimSpace(b), []byte("%%EOF")) {
			return errors.New("the PDF has no end")
		}
	case plan.Ext:
		_, err = plan.Load(path)
	case roll.Ext:
		_, _, err = roll.Load(path)
	}
	return err
}

// known remembers the content of files.
type known map[string][]byte

func remember(paths ...string) known {
	k := known{}
	for _, p := range paths {
		if b, err := os.ReadFile(p); err == nil {
			k[p] = b
		}
	}
	return k
}

// changed names a file that is not what it was.
func (k known) changed() string {
	for p, was := range k {
		if now, err := os.ReadFile(p); err != nil || !bytes.Equal(now, was) {
			return filepath.Base(p)
		}
	}
	return ""
}

// leftovers returns the program's unfinished files in dir and below, and makes them old,
// so that the next write may sweep them.
func leftovers(dir string) (names []string) {
	then := time.Now().Add(-10 * time.Minute)
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.HasPrefix(d.Name(), ".stopladder-") {
			names = append(names, path)
			_ = os.Chtimes(path, then, then)
		}
		return nil
	})
	return names
}

// sentences returns what of a command's words is none of the program's sentences.
func sentences(words string) string {
	for _, l := range strings.Split(strings.TrimSuffix(words, "\n"), "\n") {
		if l != "" && (!strings.HasPrefix(l, "stopladder: ") || !strings.HasSuffix(l, ".")) {
			return l
		}
	}
	return ""
}
