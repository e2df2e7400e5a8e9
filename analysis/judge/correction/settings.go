// Package correction is a correction of a picture: exposure, balance, shadow lift, black
// point, highlight compression and a curve for each channel. It changes what is
// shown and never what is measured. One correction may be laid over all frames
// alike; that of a single frame is a salvage.
//
// # Order
//
// Each channel of linear light on the sRGB primaries (1 is white) goes its own
// way, so a correction is three curves:
//
//	gain        x * 2^Exposure, and 10^RG for red, 10^BG for blue
//	black       (x-Black)/(1-Black), what is below becomes 0
//	curve       in stops from white, through its points
//	lift        the deep shadows raised by Lift stops, nothing from mid-grey up
//	highlights  a soft shoulder
//
// All of them rise, so no correction turns tones over.
package correction

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopladder/analysis/numeric/number"
)

// Point is a point of a curve: light in and out, both in stops from white.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Settings are one correction. The zero value leaves a picture as scanned.
type Settings struct {
	Exposure   float64    `json:"exposure,omitempty"`   // stops, -MaxExposure..MaxExposure
	RG         float64    `json:"rg,omitempty"`         // density by which red is lightened against green; CC/100
	BG         float64    `json:"bg,omitempty"`         // density by which blue is lightened against green; CC/100
	Lift       float64    `json:"lift,omitempty"`       // stops, 0..MaxLift
	Black      float64    `json:"black,omitempty"`      // linear light, 0..MaxBlack
	Highlights float64    `json:"highlights,omitempty"` // 0 none .. 1
	Curves     [3][]Point `json:"curves,omitzero"`      // R, G, B; nil is none
}

// Bounds of what Validate accepts.
const (
	MaxExposure = 12.0
	MaxBalance  = 3.0
	MaxLift     = 4.0
	MaxBlack    = 0.05
	MaxPoints   = 64
	maxStops    = 40.0 // of a curve's point, either way
)

// nothing is a correction that no code value of 16 bits can show: what is left when
// steps there and back are added up.
const nothing = 1e-6

// IsZero reports whether nothing is corrected.
func (s Settings) IsZero() bool {
	none := func(v float64) bool { return math.Abs(v) < nothing }
	return none(s.Exposure) && none(s.RG) && none(s.BG) && none(s.Lift) && none(s.Black) && none(s.Highlights) &&
		len(s.Curves[0]) == 0 && len(s.Curves[1]) == 0 && len(s.Curves[2]) == 0
}

// Equal reports whether both correct alike.
func (s Settings) Equal(o Settings) bool {
	for c := range s.Curves {
		if !slices.Equal(s.Curves[c], o.Curves[c]) {
			return false
		}
	}
	return s.Exposure == o.Exposure && s.RG == o.RG && s.BG == o.BG && s.Lift == o.Lift && s.Black == o.Black && s.Highlights == o.Highlights
}

// Clone shares nothing with s.
func (s Settings) Clone() Settings {
	out := s
	for c, pts := range s.Curves {
		out.Curves[c] = slices.Clone(pts)
	}
	return out
}

// Validate returns in one sentence what keeps the settings from being used; nil when
// nothing does.
func (s Settings) Validate() error {
	for _, f := range []struct {
		name      string
		v, lo, hi float64
	}{
		{"exposure", s.Exposure, -MaxExposure, MaxExposure},
		{"red balance", s.RG, -MaxBalance, MaxBalance},
		{"blue balance", s.BG, -MaxBalance, MaxBalance},
		{"shadow lift", s.Lift, 0, MaxLift},
		{"black point", s.Black, 0, MaxBlack},
		{"highlight compression", s.Highlights, 0, 1},
	} {
		if !(f.v >= f.lo && f.v <= f.hi) {
			return fmt.Errorf("the correction's %s is %g, and it must be %g to %g", f.name, f.v, f.lo, f.hi)
		}
	}
	for c, pts := range s.Curves {
		if len(pts) > MaxPoints {
			return fmt.Errorf("the correction's curve for %s has %d points, and %d are the most", channelName(c), len(pts), MaxPoints)
		}
		for i, p := range pts {
			if !(math.Abs(p.X) <= maxStops && math.Abs(p.Y) <= maxStops) {
				return fmt.Errorf("the correction's curve for %s has a point at %g, %g, and both must be within %g stops of white", channelName(c), p.X, p.Y, maxStops)
			}
			if i > 0 && (p.X <= pts[i-1].X || p.Y < pts[i-1].Y) {
				return fmt.Errorf("the correction's curve for %s turns back at its point %d, and a curve must rise", channelName(c), i+1)
			}
		}
	}
	return nil
}

func channelName(c int) string { return [3]string{"red", "green", "blue"}[c] }

// Words returns the correction in one line, "" for none.
func (s Settings) Words() string {
	if s.IsZero() {
		return ""
	}
	var out []string
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if math.Abs(s.Exposure) >= nothing {
		add("exposure %s stops", number.Signed(s.Exposure, 2))
	}
	for _, b := range []struct {
		v           float64
		plus, minus string
	}{{s.RG, "red", "cyan"}, {s.BG, "blue", "yellow"}} {
		name := b.plus
		if b.v < 0 {
			name = b.minus
		}
		switch n := math.Abs(100 * b.v); {
		case n >= 0.5:
			add("CC %.0f %s", n, name)
		case n >= 100*nothing: // what is corrected is said
			add("CC under 0.5 %s", name)
		}
	}
	if math.Abs(s.Lift) >= nothing {
		add("shadows lifted %s stops", number.Signed(s.Lift, 2))
	}
	if math.Abs(s.Black) >= nothing {
		add("black point at %.2f %% of white", 100*s.Black)
	}
	if math.Abs(s.Highlights) >= nothing {
		add("highlights compressed %.0f %%", 100*s.Highlights)
	}
	var curves []string
	for c, pts := range s.Curves {
		if len(pts) > 0 {
			curves = append(curves, channelName(c))
		}
	}
	switch len(curves) {
	case 0:
	case 3:
		add("a curve for each channel")
	default:
		add("a curve for %s", strings.Join(curves, " and "))
	}
	return strings.Join(out, ", ")
}

// Gain returns what channel c (0 R, 1 G, 2 B) is multiplied by.
func (s Settings) Gain(c int) float64 {
	g := math.Exp2(s.Exposure)
	switch c {
	case 0:
		g *= math.Pow(10, s.RG)
	case 2:
		g *= math.Pow(10, s.BG)
	}
	return g
}
