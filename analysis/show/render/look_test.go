package render

import (
	"image"
	"math"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
	"stopladder/analysis/scan/colour"
)

// testScan is a picture in which every pixel has a colour of its own.
func testScan(w, h int) *scan.Pixels {
	p := &scan.Pixels{Header: scan.Info{Path: "test.tif", Width: w, Height: h, Bits: 16, Channels: 3}}
	p.Pix = make([]uint16, 3*w*h)
	for i := range w * h {
		x, y := i%w, i/w
		p.Pix[3*i] = uint16(1000 + (x*7919+y*104729)%60000)
		p.Pix[3*i+1] = uint16(1000 + (x*611953+y*31337)%60000)
		p.Pix[3*i+2] = uint16(1000 + (x*13+y*7)%60000)
	}
	return p
}

// smoothScan changes slowly, so that its reductions are known.
func smoothScan(w, h int) *scan.Pixels {
	p := testScan(w, h)
	for i := range w * h {
		x, y := float64(i%w)/float64(w), float64(i/w)/float64(h)
		p.Pix[3*i] = uint16(8000 + 40000*x)
		p.Pix[3*i+1] = uint16(8000 + 40000*y)
		p.Pix[3*i+2] = uint16(30000 + 10000*math.Sin(6*x)*math.Cos(5*y))
	}
	return p
}

// lookOf builds a look by hand: preview by the plain mean of codes, which is
// enough for these tests, shares counted exactly.
func lookOf(p *scan.Pixels, factor int, area image.Rectangle) *measure.Look {
	w, h := p.Header.Width, p.Header.Height
	pv := &measure.Preview{Factor: factor, W: (w + factor - 1) / factor, H: (h + factor - 1) / factor}
	pv.Pix = make([]uint16, 3*pv.W*pv.H)
	l := &measure.Look{
		Info: p.Header, Space: colour.AssumedSRGB(65535), Preview: pv, Area: area,
		Ceiling: measure.RGB[int]{R: 65535, G: 65535, B: 65535},
	}
	l.BlownShare, l.BlockedShare = make([]uint8, pv.W*pv.H), make([]uint8, pv.W*pv.H)
	for i := range pv.W * pv.H {
		var sum [3]int
		n, hi, lo := 0, 0, 0
		for y := i / pv.W * factor; y < min(h, (i/pv.W+1)*factor); y++ {
			for x := i % pv.W * factor; x < min(w, (i%pv.W+1)*factor); x++ {
				q := p.Pix[3*(y*w+x):][:3]
				n++
				if max(q[0], q[1], q[2]) == 65535 {
					hi++
				}
				if min(q[0], q[1], q[2]) == 0 {
					lo++
				}
				for k := range sum {
					sum[k] += int(q[k])
				}
			}
		}
		for k := range sum {
			pv.Pix[3*i+k] = uint16(sum[k] / n)
		}
		l.BlownShare[i], l.BlockedShare[i] = uint8(255*hi/n), uint8(255*lo/n)
	}
	return l
}

func detailOf(p *scan.Pixels, l *measure.Look, r image.Rectangle, step int) *Detail {
	c := newCutter(l, r, step)
	w := 3 * p.Header.Width
	for y := r.Min.Y; y < r.Max.Y; y++ {
		c.row(y, p.Pix[w*y+3*r.Min.X:w*y+3*r.Max.X])
	}
	return c.done()
}

// converted is what a pixel of the file looks like: IEC 61966-2-1, written out
// here once more so that the test does not lean on the code under test.
func converted(v uint16) uint8 {
	s := float64(v) / 65535
	lin := s / 12.92
	if s > 0.04045 {
		lin = math.Pow((s+0.055)/1.055, 2.4)
	}
	out := 12.92 * lin
	if lin > 0.0031308 {
		out = 1.055*math.Pow(lin, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * out))
}

// within compares bytes; two converters may round an exact half differently.
func near(a, b uint8, tol int) bool { return int(a)-int(b) <= tol && int(b)-int(a) <= tol }
