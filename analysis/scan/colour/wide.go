package colour

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"github.com/kovidgoyal/imaging/prism/meta/icc"
)

// Scans whose samples are no light of three channels (CIELAB, inks) are given in an
// encoding of our own that has nothing to lose: the primaries of ROMM RGB (ISO
// 22028-2), which enclose nearly all colours of surfaces, white D50, and the curve of
// CIE L*, under which the code of a neutral is its L*.

var rommPrimaries = [3][2]float64{{.7347, .2653}, {.1596, .8404}, {.0366, .0001}}

var (
	pcsWhiteXY = [2]float64{pcsWhite[0] / (pcsWhite[0] + pcsWhite[1] + pcsWhite[2]), pcsWhite[1] / (pcsWhite[0] + pcsWhite[1] + pcsWhite[2])}
	pcsToWide  = rgbToXYZ(rommPrimaries, pcsWhiteXY).inverse()
)

// WideProfile writes the profile of that encoding; desc is the name that is shown.
func WideProfile(desc string) []byte {
	// L* undone: ((100 X + 16) / 116)^3 from X = 0.08 on, 100 X / kappa below.
	return writeProfile(desc, rommPrimaries, pcsWhiteXY, parametric(3, 3, 100.0/116, 16.0/116, 100/labKappa, .08))
}

// WideOfXYZ returns the 16-bit codes of a colour, CIE XYZ under D50 with white at 1.
// What lies outside is put at the nearer end, and inside is false.
func WideOfXYZ(xyz [3]float64) (codes [3]uint16, inside bool) {
	inside = true
	for i, v := range pcsToWide.apply(xyz) {
		l := 1.16*labF(v) - .16
		if !(l >= -1e-4) || l > 1+1e-4 {
			inside = false
		}
		codes[i] = uint16(65535*math.Max(0, math.Min(1, l)) + .5)
	}
	return codes, inside
}

// WideOfLab is WideOfXYZ for CIELAB under D50.
func WideOfLab(c LAB) (codes [3]uint16, inside bool) { return WideOfXYZ(xyzOfLab(c, pcsWhite)) }

// Inks is the way from the inks of a printing profile to light. It may be used by one
// goroutine at a time; Clone gives another goroutine its own.
type Inks struct {
	name, way string
	profile   []byte
	d         device
	in, out   []float64
}

// FromCMYK builds the way from CMYK, 0 (no ink) to 1 each, by an embedded profile:
// its relative colorimetric table where it has one, else its perceptual one.
func FromCMYK(profile []byte) (*Inks, error) {
	broken, err := checkProfile(profile)
	if err != nil {
		return nil, err
	}
	if string(profile[16:20]) != "CMYK" {
		return nil, errors.New("it is not for CMYK")
	}
	var first error
	for _, w := range ways(profile) {
		in, err := inksBy(w, profile, broken)
		if err == nil {
			return in, nil
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

func inksBy(w way, profile []byte, broken map[string]error) (in *Inks, err error) {
	if w.table == "" {
		return nil, errors.New("it has no table")
	}
	if err := broken[w.table]; err != nil {
		return nil, err
	}
	defer func() { // the library panics on some damaged profiles
		if recover() != nil {
			in, err = nil, errors.New("it is damaged")
		}
	}()
	p, err := icc.DecodeProfile(bytes.NewReader(only(profile, w.table, broken)))
	if err != nil {
		return nil, errors.New("it is damaged")
	}
	in = &Inks{name: profileName(p, profile), way: w.name, profile: profile, in: make([]float64, 4), out: make([]float64, 4), d: device{inputs: 4}}
	if in.d.pipe, err = p.CreateTransformerToPCS(w.intent, 4, false); err != nil {
		return nil, errors.New("it lacks what it needs, or is damaged")
	}
	in.d.lab = p.Header.ProfileConnectionSpace == icc.ColorSpaceLab
	in.d.blackScaled = p.Header.Version.Major >= 4 && w.intent != icc.RelativeColorimetricRenderingIntent
	for i := range 16 {
		if xyz := in.XYZ([4]float64{float64(i & 1), float64(i >> 1 & 1), float64(i >> 2 & 1), float64(i >> 3)}); !finite(xyz[:]...) {
			return nil, errNotNumbers
		}
	}
	return in, nil
}

// Name returns the profile's own description and by which part of it light is found.
func (k *Inks) Name() string { return fmt.Sprintf("%s, by its %s", k.name, k.way) }

// Clone returns the same way for another goroutine.
func (k *Inks) Clone() *Inks {
	c := *k
	c.in, c.out = make([]float64, 4), make([]float64, 4)
	return &c
}

// XYZ returns the light of inks, CIE XYZ under D50, white of the PCS at 1.
func (k *Inks) XYZ(cmyk [4]float64) [3]float64 {
	copy(k.in, cmyk[:])
	k.d.pipe.TransformGeneral(k.out, k.in)
	return k.d.finish([3]float64(k.out))
}
