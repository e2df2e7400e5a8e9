// Package pocket tells, from a measured roll, what becomes of a scene's light at the next
// exposure: for a light so many stops over mid-grey, exposed so many stops more than
// metered, whether the film has it blocked, noisy, drawn, flat or blown
// (assets/manual/pocket.md).
//
// # What is asked
//
// A grey of the scene lies l stops over metered mid-grey, and the film gets s stops more
// than metered, so that the grey stands at x = l + s on the measured response.
//
//   - Blown, Blocked: channels that carry half of the luminance say nothing: the scan is at
//     its ceiling or floor, or a third of a stop moves them by less than their noise at the
//     viewing scale (package salvage's definition of lost).
//   - Flat: in channels that carry half of the luminance the film separates tones by less
//     than response.FlatShare of its steepest slope; or, where the limits are held against
//     salvage by exposure or balance, which give no contrast back, the contrast kept of the
//     base frame's is under the judge's limit to hold.
//   - Noisy: brought to the look that the base frame gives this light, its noise in L* is
//     above the judge's limit to hold. Where the limits are held against curves these give
//     back the contrast as well, and raise the noise by it.
//   - Drawn: none of these.
//
// The worst word counts, in the order above.
//
// # Errors
//
// A cell is near a border when another word comes out within the errors: the place of
// mid-grey, the scale of the stops, the response's density, its slope and the noise, each
// moved by two standard errors either way, together. Where the roll says nothing of a light
// the cell is Unknown.
//
// Units: stops, over positive; light is linear, 1 the profile's white; noise L* units.
package pocket

import (
	"errors"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
)

// State is what becomes of a light.
type State uint8

// The states, from no light to too much.
const (
	Unknown State = iota // the roll does not tell
	Blocked
	Noisy
	Drawn
	Flat
	Blown
)

// States returns those that a light may be told to be in, from the dark end.
func States() []State { return []State{Blocked, Noisy, Drawn, Flat, Blown} }

// Word returns the state as it is written, in lower case.
func (s State) Word() string {
	return [...]string{"not known", "blocked", "noisy", "drawn", "flat", "blown"}[s]
}

// Cell is what becomes of one light at one exposure.
type Cell struct {
	State State
	Near  bool    // another state lies within the errors
	Noise float64 // L*, once brought to the base frame's look; NaN where it is not known
}

// The span of a card, in stops.
const (
	Darkest, Lightest = -6.0, 6.0 // light against metered mid-grey
	Least, Most       = -3.0, 4.0 // exposure against the meter's
)

// Card is what a roll says of the next exposure. It is safe for concurrent use.
type Card struct {
	Limit float64 // noise in L* that a light may have to hold
	Kept  float64 // contrast that must be kept to hold, 0..1; 0: curves give it back
	Set   criteria.Set

	MidGrey      response.MidGrey // how mid-grey was placed
	GreyPatch    string           // name of the patch that is the grey card; "" none
	MidGreyError float64          // stops, taken as two standard errors
	NoiseKnown   bool             // false: no cell is told Noisy, nor lost to noise

	tones tones
	kind  Kind
	rated float64
}

// Options of New.
type Options struct {
	Limits *criteria.Set // nil: the roll's own
	Kind   Kind          // of film; Undecided: as the roll says
	Rated  float64       // ISO film speed that the base frame was metered with; 0 not known
}

// What the place of mid-grey is off by, in stops, as two standard errors. By a grey card:
// its texture and its own reflectance, which are common practice. By the meter: a lab places
// mid-grey by eye, and a meter and its user are not better (common practice, no source).
const (
	cardError    = 0.1
	meteredError = 1.0 / 3
)

// Errors of New, for people.
var (
	ErrNoResponse = errors.New("a pocket card needs the film's response, and the roll does not give one")
	ErrNoBase     = errors.New("a pocket card needs the base frame, and it could not be read")
)

// New makes the card of a roll.
func New(r *film.Roll, o Options) (*Card, error) {
	switch {
	case r.Base < 0 || r.Frames[r.Base].Look == nil || r.Frames[r.Base].Look.Space == nil:
		return nil, ErrNoBase
	case r.Response == nil || r.Response.Curve == nil:
		if r.Response != nil && r.Response.Reason != "" {
			return nil, errors.New(ErrNoResponse.Error() + ": " + r.Response.Reason)
		}
		return nil, ErrNoResponse
	}
	c := &Card{Set: r.Limits(), MidGrey: r.Response.Curve.MidGrey, MidGreyError: meteredError, kind: o.Kind, rated: o.Rated}
	if o.Limits != nil {
		c.Set = *o.Limits
	}
	c.Limit = c.Set.Limits[criteria.Noise].Holds
	if c.Set.Grade != criteria.Curves {
		c.Kept = c.Set.Limits[criteria.ContrastKept].Holds
	}
	if c.kind == Undecided {
		c.kind = KindOf(r.Judged)
	}
	c.tones = tonesOf(r)
	c.NoiseKnown = c.tones.noise != nil && c.tones.noise.SigmaY(midGrey) > 0
	if c.MidGrey == response.MidGreyPatch {
		c.MidGreyError = cardError
	} else if p, at, ok := greyCard(r, &c.tones); ok {
		c.MidGrey, c.GreyPatch, c.MidGreyError, c.tones.origin = response.MidGreyPatch, p.Name, cardError, at
	}
	return c, nil
}

const midGrey = 0.18

// Kind is the kind of a film: by which end its speed is told.
type Kind string

// The kinds of film.
const (
	Undecided Kind = ""
	Negative  Kind = "negative"
	Reversal  Kind = "reversal"
)

// Kind returns the kind of film that the card takes it to be.
func (c *Card) Kind() Kind { return c.kind }

// Rated returns the film speed that the base frame was metered with, 0 where it is not known.
func (c *Card) Rated() float64 { return c.rated }

// At returns what becomes of a light so many stops over metered mid-grey, exposed so many
// stops more than metered.
func (c *Card) At(light, over float64) Cell {
	mid := c.state(light, over, way{})
	cell := Cell{State: mid, Noise: c.noise(light, over, way{})}
	if mid == Unknown {
		return cell
	}
	for _, shift := range [3]float64{0, -1, 1} {
		for _, slope := range [3]float64{0, -1, 1} {
			for _, noise := range [3]float64{0, -1, 1} {
				if c.state(light, over, way{shift, slope, noise}) != mid {
					cell.Near = true
					return cell
				}
			}
		}
	}
	return cell
}

// way moves the readings by so many of their errors: 0 none, 1 up, -1 down.
type way struct{ shift, slope, noise float64 }

// state is what becomes of a light when the readings are moved so.
func (c *Card) state(light, over float64, w way) State {
	x := light + over
	x += w.shift * c.tones.place(x, c.MidGreyError)
	slope := 1 + w.slope*c.tones.slopeError(x)
	end, known := c.tones.lost(x, slope, w.noise)
	switch {
	case !known:
		return Unknown
	case end != Unknown:
		return end
	case c.tones.flat(x, slope):
		return Flat
	case c.Kept > 0 && c.tones.kept(light, x)*slope < c.Kept:
		return Flat
	case c.noise(light, over, w) > c.Limit:
		return Noisy
	}
	return Drawn
}

// noise is that of a light in L*, brought to the look that the base frame gives it; NaN where
// it is not known.
func (c *Card) noise(light, over float64, w way) float64 {
	x := light + over
	off := w.shift * c.tones.place(x, c.MidGreyError)
	n := c.tones.salvaged(light+off, x+off, c.Set.Grade == criteria.Curves)
	if _, e := c.tones.sigma(c.tones.luminance(x + off)); e == e {
		n *= 1 + w.noise*e
	}
	if c.Set.Grade == criteria.Curves {
		n /= 1 + w.slope*c.tones.slopeError(x+off) // the contrast that is given back
	}
	return n
}

// greyCard returns the patch that is a grey card in the base frame, and where its light lies on
// the response, in stops.
func greyCard(r *film.Roll, t *tones) (p roll.Patch, at float64, ok bool) {
	set := r.Patches()
	if set == nil {
		return p, 0, false
	}
	for i, p := range r.Judged.Patches {
		if !p.Neutral || !isGreyCard(p.Name) || i >= len(set.Patches) {
			continue
		}
		if x, ok := greyAt(set, i, r.Base, t); ok {
			return p, x, true
		}
	}
	return p, 0, false
}

// looks returns those of the frames that took part.
func looks(r *film.Roll) (out []*measure.Look) {
	for _, f := range r.Frames {
		if f.Look != nil && f.Look.Space != nil {
			out = append(out, f.Look)
		}
	}
	return out
}
