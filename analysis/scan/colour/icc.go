package colour

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/kovidgoyal/imaging/prism/meta/icc"
)

// FromICC builds the space of an embedded profile. channels is the number of
// colour channels of the scan (1 or 3), max its largest code value (255 or
// 65535). Profiles of RGB and grey devices are read: by the relative colorimetric
// table (A2B1) where there is one, which says what is there and not what would
// please; else by the table of the profile's own rendering intent (absolute counts
// as relative); else by matrix and curves. A table that cannot be used gives way to
// the next of these, and Way says which it was. Profiles are not trusted: one that
// is damaged, of another kind, or larger than MaxProfileBytes gives an error.
func FromICC(profile []byte, channels, max int) (s *Space, err error) {
	return fromICC(profile, channels, max, ordinarySides)
}

func fromICC(profile []byte, channels, max int, sides gridSides) (*Space, error) {
	if channels != 1 && channels != 3 || max < 1 || max > math.MaxUint16 {
		return nil, fmt.Errorf("a scan of %d channels up to code %d is not possible", channels, max)
	}
	broken, err := checkProfile(profile)
	if err != nil {
		return nil, err
	}
	var first error
	for _, way := range ways(profile) {
		s, err := spaceBy(way, profile, broken, channels, max, sides)
		if err == nil {
			s.passed = first
			return s, nil
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

// way is one of the ways that a profile describes.
type way struct {
	name   string
	table  string // its tag; "": matrix and curves
	intent icc.RenderingIntent
}

// ways lists those that a profile has, the first to be tried first (ICC.1:2022,
// 8.10.2, for what a table of another intent stands in for).
func ways(profile []byte) (all []way) {
	if tagOf(profile, "A2B1") != nil {
		all = append(all, way{"relative colorimetric table", "A2B1", icc.RelativeColorimetricRenderingIntent})
	}
	intent := icc.RenderingIntent(binary.BigEndian.Uint32(profile[64:]) & 0xFFFF)
	if intent >= icc.AbsoluteColorimetricRenderingIntent {
		intent = icc.RelativeColorimetricRenderingIntent
	}
	if intent == icc.SaturationRenderingIntent && tagOf(profile, "A2B2") != nil {
		all = append(all, way{"saturation table", "A2B2", intent})
	}
	if tagOf(profile, "A2B0") != nil {
		if intent != icc.RelativeColorimetricRenderingIntent || tagOf(profile, "A2B1") != nil {
			intent = icc.PerceptualRenderingIntent
		}
		all = append(all, way{"perceptual table", "A2B0", intent})
	}
	if len(all) == 0 || tagOf(profile, "rTRC") != nil || tagOf(profile, "kTRC") != nil {
		all = append(all, way{"matrix and curves", "", icc.RelativeColorimetricRenderingIntent})
	}
	return all
}

// spaceBy builds the space by one way of a checked profile. broken are the tags that
// must not be looked at.
func spaceBy(w way, profile []byte, broken map[string]error, channels, max int, sides gridSides) (s *Space, err error) {
	needed := []string{w.table}
	if w.table == "" {
		needed = []string{"rTRC", "gTRC", "bTRC", "kTRC"}
	}
	for _, tag := range needed {
		if err := broken[tag]; err != nil {
			return nil, err
		}
	}
	// The library panics on some damaged profiles.
	defer func() {
		if r := recover(); r != nil {
			s, err = nil, errors.New("it is damaged")
		}
	}()
	// It chooses its table by the intent: it must find this one alone.
	p, err := icc.DecodeProfile(bytes.NewReader(only(profile, w.table, broken)))
	if err != nil {
		return nil, errors.New("it is damaged")
	}
	s = &Space{name: profileName(p, profile), max: max, way: w.name}
	d := device{inputs: 3}
	switch p.Header.DataColorSpace {
	case icc.ColorSpaceRGB:
	case icc.ColorSpaceGray:
		if channels != 1 {
			return nil, errors.New("it is for grey pictures and the scan is in colour")
		}
		d.inputs = 1
		if w.table == "" {
			s.way = "curve"
		}
	default:
		return nil, fmt.Errorf("it is for %v, not for RGB or grey", p.Header.DataColorSpace)
	}
	if d.pipe, err = p.CreateTransformerToPCS(w.intent, d.inputs, false); err != nil {
		return nil, errors.New("it lacks what it needs, or is damaged")
	}
	d.lab = p.Header.ProfileConnectionSpace == icc.ColorSpaceLab
	// The perceptual black of version 4 is not zero; it is taken to zero as
	// Little CMS does (cmscnvrt.c, from memory), which the tests compare with.
	d.blackScaled = p.Header.Version.Major >= 4 && w.table != "" &&
		(w.intent == icc.PerceptualRenderingIntent || w.intent == icc.SaturationRenderingIntent)

	switch {
	case d.inputs == 1:
		s.impl, err = newGrey(&d, max)
	case w.table != "":
		s.impl, err = newGrid(&d, max, sides)
	default:
		s.impl, err = shaperOf(&d, profile, max)
	}
	if err != nil {
		return nil, err
	}
	return s, nil
}

// only returns a profile whose tables but one, and whose broken tags, go by names
// that nobody looks for.
func only(profile []byte, table string, broken map[string]error) []byte {
	out := bytes.Clone(profile)
	for i := range int(binary.BigEndian.Uint32(out[128:])) {
		e := out[132+12*i:]
		sig := string(e[:4])
		if broken[sig] != nil || (sig == "A2B0" || sig == "A2B1" || sig == "A2B2") && sig != table {
			copy(e, "none")
		}
	}
	return out
}

// profileName returns the profile's description in one line of at most 80 letters.
func profileName(p *icc.Profile, raw []byte) string {
	const unnamed = "a profile without a name"
	// The library copies a text once for each of its translations, which may all
	// be the whole tag: a long tag would take the square of its length.
	if len(tagOf(raw, "desc")) > 8<<10 {
		return unnamed
	}
	name, err := p.Description()
	name = strings.Join(strings.Fields(strings.ToValidUTF8(name, "")), " ")
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F {
			return -1
		}
		return r
	}, name)
	if err != nil || name == "" {
		return unnamed
	}
	if r := []rune(name); len(r) > 80 {
		name = string(r[:79]) + "…"
	}
	return name
}

// device is a profile's way from device values 0..1 to the connection space.
type device struct {
	pipe        *icc.Pipeline
	inputs      int
	lab         bool
	blackScaled bool
}

// perceptualBlack is the black of the version 4 perceptual reference medium,
// XYZ relative to D50 white (ICC.1:2022, 6.3.4 gives Y = 0.0034731).
var perceptualBlack = [3]float64{0.00336, 0.0034731, 0.00287}

// stages lists the steps of the profile.
func (d *device) stages() (all []icc.ChannelTransformer) {
	d.pipe.TransformDebug(0, 0, 0, func(_, _, _, _, _, _ float64, t icc.ChannelTransformer) { all = append(all, t) })
	return all
}

// finish takes what the pipeline gives to XYZ, D50.
func (d *device) finish(v [3]float64) [3]float64 {
	if d.lab {
		v = xyzOfLab(LAB{v[0], v[1], v[2]}, pcsWhite)
	}
	if d.blackScaled {
		for i := range v {
			v[i] = (v[i] - perceptualBlack[i]) * pcsWhite[i] / (pcsWhite[i] - perceptualBlack[i])
		}
	}
	return v
}

// xyz evaluates the profile.
func (d *device) xyz(r, g, b float64) [3]float64 {
	if d.inputs == 1 {
		in, out := []float64{r, 0, 0, 0}, make([]float64, 4)
		d.pipe.TransformGeneral(out, in)
		return d.finish([3]float64(out))
	}
	x, y, z := d.pipe.Transform(r, g, b)
	return d.finish([3]float64{x, y, z})
}

func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.Abs(x) > 1e6 {
			return false
		}
	}
	return true
}

var errNotNumbers = errors.New("it gives colours that are no numbers")

// shaperOf takes the curves and the matrix out of a matrix/TRC profile.
func shaperOf(d *device, profile []byte, max int) (converter, error) {
	var curves []icc.Curve1D
	var rest []icc.ChannelTransformer
	for i, t := range d.stages() {
		c, ok := t.(icc.Curves)
		switch {
		case ok && i == 0:
			curves = c.Curves()
		case ok:
			return nil, errors.New("its steps are not in the usual order")
		default:
			rest = append(rest, t)
		}
	}
	var m mat3
	for c := range 3 {
		var unit [3]float64
		unit[c] = 1
		for _, t := range rest {
			unit[0], unit[1], unit[2] = t.Transform(unit[0], unit[1], unit[2])
		}
		if !finite(unit[:]...) {
			return nil, errNotNumbers
		}
		for r := range 3 {
			m[r][c] = unit[r]
		}
	}
	if math.Abs(m.det()) < 1e-6 {
		return nil, errors.New("its primaries do not span a colour space")
	}
	var tables [3][]float32
	for c, sig := range []string{"rTRC", "gTRC", "bTRC"} {
		raw := tagOf(profile, sig)
		if c > 0 && bytes.Equal(raw, tagOf(profile, "rTRC")) {
			tables[c] = tables[0] // as in nearly all profiles; a curve takes milliseconds
			continue
		}
		tables[c] = make([]float32, max+1)
		points := sampledCurve(raw)
		for i := range tables[c] {
			v := float64(i) / float64(max)
			switch {
			case points != nil:
				v = interpolate(points, v)
			case curves != nil:
				v = curves[c].Transform(v)
			}
			if !finite(v) {
				return nil, errNotNumbers
			}
			tables[c][i] = float32(v)
		}
	}
	return newShaper(tables, pcsToSRGB.mul(m)), nil
}

// sampledCurve returns the points of a sampled curve (ICC.1:2022, 10.6), nil for
// any other kind. The library puts the exact sRGB curve in the place of a table
// that comes near it, which is up to 0.7 dE00 from what a short table says.
func sampledCurve(tag []byte) []uint16 {
	if len(tag) < 12 || string(tag[:4]) != "curv" {
		return nil
	}
	n := int(binary.BigEndian.Uint32(tag[8:])) // checkCurve has compared it with the length
	if n < 2 {
		return nil
	}
	points := make([]uint16, n)
	for i := range points {
		points[i] = binary.BigEndian.Uint16(tag[12+2*i:])
	}
	return points
}

// interpolate reads a sampled curve at v in 0..1, linearly between its points.
func interpolate(points []uint16, v float64) float64 {
	p := v * float64(len(points)-1)
	k := min(int(p), len(points)-2)
	a, b := float64(points[k]), float64(points[k+1])
	return (a + (b-a)*(p-float64(k))) / 65535
}
