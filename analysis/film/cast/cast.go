// Package cast tells colour shifts: in CIELAB a* and b*, in CC density, and in
// words that never say anything but the figures.
//
// # Words
//
// A shift of the plane a*b* is told by its length, rounded to whole units, and by
// the nearest of eight directions:
//
//	 0° redder        90° yellower     180° greener   270° bluer
//	45° warmer       135° yellow-green 225° cyan      315° more magenta
//
// Under half a unit it is no shift. One unit of a* on grey is about 1.5 dE00, one
// of b* about 1.0 (CIEDE2000, kL = kC = kH = 1).
package cast

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan/colour"
)

// CC is a colour in density against green: how much denser red, and blue, are than
// green. Dense in red is cyan, dense in blue is yellow. A hundredth is one CC.
type CC struct {
	RG float64 `json:"rg"`
	BG float64 `json:"bg"`
}

// CCOf returns the CC of linear light on the sRGB primaries; ok is false where a
// channel has no light.
func CCOf(r, g, b float64) (c CC, ok bool) {
	if !(r > 0 && g > 0 && b > 0) {
		return c, false
	}
	return CC{RG: math.Log10(g / r), BG: math.Log10(g / b)}, true
}

// Less returns c against another colour: the filter pack between the two.
func (c CC) Less(o CC) CC { return CC{c.RG - o.RG, c.BG - o.BG} }

// CCOfLab is CCOf of a CIELAB (D50) colour.
func CCOfLab(l colour.LAB) (CC, bool) { return CCOf(colour.LinearOf(l)) }

// Shift is a shift in the a*b* plane.
type Shift struct{ DA, DB float64 }

// Size returns the shift's length in CIELAB units.
func (s Shift) Size() float64 { return math.Hypot(s.DA, s.DB) }

var directions = [8]string{"redder", "warmer", "yellower", "more yellow-green", "greener", "more cyan", "bluer", "more magenta"}

// Direction returns the nearest of the eight words.
func (s Shift) Direction() string {
	turn := math.Atan2(s.DB, s.DA) / (math.Pi / 4)
	return directions[(int(math.Round(turn))+8)%8]
}

// Words returns the shift in words, "" for none: "4 warmer".
func (s Shift) Words() string {
	n := math.Round(s.Size())
	if !(n >= 1) {
		return ""
	}
	return fmt.Sprintf("%.0f %s", n, s.Direction())
}

// Mends is up to what crossover, in dE00, a single balance is said to mend the casts:
// what is seen on inspection (standards: 2 to 3; convention).
const Mends = 2.0

// names of the bands in a sentence, in the order in which they are told.
var names = [measure.Bands]string{"shadows", "midtones", "highlights"}

// Sentence tells the shifts of the bands against the base frame, from the
// highlights down. Bands that are nil are left out, or named as not known where they
// were sought; the crossover is left out where it is not known. It is "" where no band
// is known.
func Sentence(bands [measure.Bands]*Shift, sought [measure.Bands]bool, crossover *float64) string {
	var parts, still, unknown []string
	for b := measure.Bands - 1; b >= 0; b-- {
		if bands[b] == nil {
			if sought[b] {
				unknown = append(unknown, names[b])
			}
			continue
		}
		if w := bands[b].Words(); w != "" {
			parts = append(parts, names[b]+" "+w)
		} else {
			still = append(still, names[b])
		}
	}
	if len(parts)+len(still) == 0 {
		return ""
	}
	var s string
	switch {
	case len(parts) == 0:
		s = "No cast against the base"
	case len(still) == 0:
		s = strings.Join(parts, ", ") + " than the base"
	default:
		s = strings.Join(parts, ", ") + " than the base, " + strings.Join(still, " and ") + " as the base"
	}
	if crossover != nil {
		x := math.Round(*crossover*10) / 10
		if x > Mends {
			s += fmt.Sprintf(": one balance cannot mend them (crossover %.1f ΔE00)", x)
		} else if len(parts) > 0 {
			s += fmt.Sprintf(": one balance mends them (crossover %.1f ΔE00)", x)
		}
	}
	s = strings.ToUpper(s[:1]) + s[1:] + "."
	if len(unknown) > 0 {
		s += " Of the " + strings.Join(unknown, " and ") + " it is not known."
	}
	return s
}

// Losses returns in words what is Blown and Blocked of the image area: "12 % of the
// picture is Blown, 3.1 % Blocked." or "Nothing is Blown or Blocked.".
func Losses(blown, blocked float64, percent func(float64) string) string {
	switch {
	case blown == 0 && blocked == 0:
		return "Nothing is Blown or Blocked."
	case blocked == 0:
		return percent(blown) + " of the picture is Blown, nothing Blocked."
	case blown == 0:
		return percent(blocked) + " of the picture is Blocked, nothing Blown."
	}
	return percent(blown) + " of the picture is Blown, " + percent(blocked) + " Blocked."
}
