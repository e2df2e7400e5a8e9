package scan

import (
	"fmt"
	"math"
	"time"
)

// choosePicture takes the full-resolution picture of a file and says why, ""
// when there was no choice. Reduced pictures and masks (TIFF 6.0, page 36) are
// left out, those that a directory carries below itself (SubIFDs) are looked at
// as well. Of several full pictures the first is taken, unless a later one has
// the same shape and at least half as many pixels again along both sides, which
// makes the first a thumbnail that does not say so.
func choosePicture(dirs []*directory) (d *directory, choice string) {
	var full []*directory
	pictures := 0
	for _, c := range dirs {
		for _, s := range append([]*directory{c}, c.below(tagSubIFDs)...) {
			if pictures >= maxDirectories {
				break
			}
			pictures++
			if s.isFull() {
				full = append(full, s)
			}
		}
	}
	if len(full) == 0 {
		return dirs[0], "The file holds only pictures that it calls reduced; the first was read."
	}
	d = full[0]
	w, h := d.side(tagImageWidth), d.side(tagImageLength)
	best := w * h
	for _, c := range full[1:] {
		cw, ch := c.side(tagImageWidth), c.side(tagImageLength)
		alike := math.Abs(cw*h-ch*w) <= 0.02*cw*h
		if alike && cw >= 1.5*w && ch >= 1.5*h && cw*ch > best {
			d, best = c, cw*ch
		}
	}
	switch {
	case pictures == 1:
		return d, ""
	case d != full[0]:
		return d, fmt.Sprintf("The file holds %d pictures; the one of the highest resolution was read.", pictures)
	case d != dirs[0]:
		return d, "The file begins with a reduced picture; the first full picture was read."
	}
	return d, fmt.Sprintf("The file holds %d pictures; the first was read.", pictures)
}

// isFull reports whether a directory is neither a reduced picture nor a mask: bits 0
// and 2 of NewSubfileType, value 2 of the older SubfileType.
func (d *directory) isFull() bool {
	kind, err := d.one(tagNewSubfileType, 0)
	if err != nil || kind&5 != 0 {
		return false
	}
	old, err := d.one(tagSubfileType, 1)
	return err == nil && old != 2
}

func (d *directory) side(tag uint16) float64 {
	v, err := d.one(tag, 0)
	if err != nil {
		return 0
	}
	return float64(v)
}

// depthNote returns how samples of other depths became code values.
func (l *tiffLayout) depthNote() string {
	switch {
	case l.kind == kindFloat:
		return fmt.Sprintf("The file has %d-bit floating-point samples; 0..1 became the codes 0..65535, and what lies outside was put at the nearer end.", l.bits)
	case l.bits > 16:
		return fmt.Sprintf("The file has %d bits per sample; the upper 16 of them are the code values.", l.bits)
	case l.photo == photoPalette:
	case l.bits < 8:
		return fmt.Sprintf("The file has only %d bits per sample; code values were spread to 8 bits.", l.bits)
	case l.bits > 8 && l.bits < 16:
		return fmt.Sprintf("The file has %d bits per sample; code values were spread to 16 bits.", l.bits)
	}
	return ""
}

// describe reads what a file says of itself. What the picture's own directory d
// does not say, the file's first may.
func describe(info *Info, d, first *directory) {
	for _, c := range []*directory{d, first} {
		if info.Description == "" {
			info.Description = c.text(tagDescription)
		}
		if info.Software == "" {
			info.Software = c.text(tagSoftware)
		}
		for _, e := range c.below(tagEXIF) {
			for _, tag := range []uint16{tagDateOriginal, tagDateDigitized} {
				if info.Date == "" {
					info.Date = plainDate(e.text(tag))
				}
			}
		}
		if info.Date == "" {
			info.Date = plainDate(c.text(tagDateTime))
		}
	}
	unit, err := d.one(tagResolutionUnit, 2)
	scale := map[uint64]float64{2: 1, 3: 2.54}[unit]
	if err != nil || scale == 0 {
		return // 1 is no absolute unit
	}
	x, y := scale*d.rational(tagXResolution), scale*d.rational(tagYResolution)
	if x > 0 && y > 0 && x < 1e6 && y < 1e6 {
		info.XPPI, info.YPPI = x, y
	}
}

// plainDate reads the form that TIFF 6.0 and Exif prescribe, and the two that
// other writers use.
func plainDate(s string) string {
	for _, form := range []string{"2006:01:02 15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		if t, err := time.Parse(form, s); err == nil && t.Year() > 1 {
			return t.Format("2006-01-02 15:04:05")
		}
	}
	return ""
}
