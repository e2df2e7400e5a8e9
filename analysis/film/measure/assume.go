package measure

import (
	"fmt"

	"stopladder/analysis/scan/colour"
)

// assumable are the spaces that a scan without a profile may be taken for,
// beside sRGB: primaries, white (CIE 1931 x, y) and gamma.
var assumable = []struct {
	name      string
	primaries [3][2]float64
	white     [2]float64
	gamma     float64
}{
	// Adobe RGB (1998) Color Image Encoding, 2005.
	{"Adobe RGB (1998)", [3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, [2]float64{.3127, .3290}, 563.0 / 256},
	// ROMM RGB, ISO 22028-2, as most files of it have it: plain gamma 1.8 without the toe.
	{"ROMM RGB", [3][2]float64{{.7347, .2653}, {.1596, .8404}, {.0366, .0001}}, [2]float64{.3457, .3585}, 1.8},
	// Linear light on the primaries of IEC 61966-2-1: what scanning programs call
	// gamma 1 or raw.
	{"Linear sRGB", [3][2]float64{{.64, .33}, {.30, .60}, {.15, .06}}, [2]float64{.3127, .3290}, 1},
}

// AssumedProfiles lists what Options.AssumedProfile may name.
func AssumedProfiles() []string {
	names := []string{"sRGB"}
	for _, a := range assumable {
		names = append(names, a.name)
	}
	return names
}

// setSpace takes the scan's profile, or the one to assume where it has none.
func (l *Look) setSpace(opt Options) {
	if opt.AssumedProfile != "sRGB" {
		l.assumed = opt.AssumedProfile
	}
	space, note := colour.Of(l.Info.ICC, l.Info.Channels, l.Info.Max())
	l.Space, l.ProfileAssumed = space, space.Assumed()
	if note != "" && opt.AssumedProfile != "" && opt.AssumedProfile != "sRGB" {
		if s, err := assumedSpace(opt.AssumedProfile, l.Info.Channels, l.Info.Max()); err != nil {
			note += fmt.Sprintf(" (%v)", err)
		} else {
			l.Space, l.ProfileAssumed = s, true
			note = fmt.Sprintf("The scan has no usable colour profile; %s was assumed.", opt.AssumedProfile)
		}
	}
	if note != "" {
		l.Notes = append(l.Notes, note)
	}
}

func assumedSpace(name string, channels, max int) (*colour.Space, error) {
	for _, a := range assumable {
		if a.name == name {
			return colour.Shared(colour.MatrixProfile(a.name, a.primaries, a.white, a.gamma), channels, max)
		}
	}
	return nil, fmt.Errorf("the profile %q that the roll assumes is not known", name)
}

// Assumes reports whether the look is what this assumed profile ("" is sRGB) gives:
// the scan carries a profile of its own, or was taken for this one.
func (l *Look) Assumes(profile string) bool {
	if profile == "sRGB" {
		profile = ""
	}
	return !l.ProfileAssumed || l.assumed == profile
}
