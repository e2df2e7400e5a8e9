package pocket

import (
	"fmt"
	"math"
	"strings"

	"stopladder/analysis/film/response"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
)

// End is where a stretch of drawn lights, or of exposures that keep them, ends.
type End struct {
	Stops float64
	Error float64 // stops, two standard errors
	Then  State   // what comes beyond; Unknown: the roll does not tell
	Open  bool    // the end of what the card asks for, not of what the film takes
}

// Known reports whether the roll shows the end.
func (e End) Known() bool { return !e.Open && e.Then != Unknown }

// step is how finely ends are sought, in stops.
const step = 1.0 / 24

// Ends returns the lights about mid-grey between which all is drawn, at an exposure so many
// stops more than metered; ok is false where mid-grey itself is not drawn.
func (c *Card) Ends(over float64) (dark, light End, ok bool) {
	return c.walk(func(l float64) Cell { return c.At(l, over) }, 0, Darkest, Lightest)
}

// walk goes from a place that is drawn to the ends of what is.
func (c *Card) walk(at func(float64) Cell, from, lo, hi float64) (down, up End, ok bool) {
	if at(from).State != Drawn {
		return down, up, false
	}
	to := func(limit, dir float64) End {
		sure := from // the last that no error makes another
		for n := 1; ; n++ {
			x := from + dir*step*float64(n)
			if dir*(x-limit) > 1e-9 {
				return End{Stops: limit, Error: math.Abs(limit - sure), Open: true}
			}
			cell := at(x)
			if cell.State != Drawn {
				return End{Stops: x - dir*step/2, Error: math.Max(math.Abs(x-sure)-step, step/2), Then: cell.State}
			}
			if !cell.Near {
				sure = x
			}
		}
	}
	return to(lo, -1), to(hi, 1), true
}

// The lights of a scene by which speed and latitude are told, in stops from mid-grey.
const (
	// ShadowPoint: ISO 6 sets the speed of negative film by an exposure of 0.80/S lux s, and a
	// meter makes of what it measures about 8/S: 3 1/3 stops (both from memory).
	ShadowPoint = -10.0 / 3
	// WhitePoint: a white of 90 % reflectance in the light that an 18 % grey is in.
	WhitePoint = 7.0 / 3
)

// Bears returns the exposure errors at which all lights from ShadowPoint to WhitePoint stay
// drawn; ok is false where they are not so at the metered exposure.
func (c *Card) Bears() (under, over End, ok bool) {
	return c.walk(c.worstOf, 0, Least, Most)
}

// worstOf returns the first cell of a scene that is not drawn at an exposure, else a drawn
// one, near a border when one of them is.
func (c *Card) worstOf(over float64) Cell {
	out := Cell{State: Drawn}
	for _, l := range [5]float64{ShadowPoint, WhitePoint, ShadowPoint / 2, 0, WhitePoint / 2} {
		cell := c.At(l, over)
		if cell.State != Drawn {
			return cell
		}
		out.Near = out.Near || cell.Near
	}
	return out
}

// Speed is the film speed that the test suggests: that at which the middle between the ends
// of what is drawn lies midway between ShadowPoint and WhitePoint, so that an ordinary scene
// has as much room at the one end as at the other. ISO 2240 takes the mean of a dark and a
// light point in the same way (from memory); it and ISO 5800 rest on densities of the film,
// which scans do not give.
type Speed struct {
	Stops float64 // log2 of it over the speed that the base frame was metered with
	Error float64 // stops, two standard errors
	ISO   float64 // the nearest of the series of third stops; 0 where the rated speed is not known
}

// Differs reports whether the suggested speed is another than the rated one beyond its error.
func (s Speed) Differs() bool { return math.Abs(s.Stops) > s.Error }

// Speed returns the film speed that the test suggests; ok is false where the roll does not
// show both ends.
func (c *Card) Speed() (s Speed, ok bool) {
	dark, light, ok := c.Ends(0)
	if !ok || !dark.Known() || !light.Known() {
		return s, false
	}
	s.Stops = (ShadowPoint+WhitePoint)/2 - (dark.Stops+light.Stops)/2
	s.Error = (dark.Error + light.Error) / 2 // mid-grey moves both
	if c.rated > 0 {
		s.ISO = nearestSpeed(c.rated * math.Exp2(s.Stops))
	}
	return s, true
}

// speeds is the series of film speeds in third stops (ISO 6 and 5800, from memory).
var speeds = []float64{100, 125, 160, 200, 250, 320, 400, 500, 640, 800}

// nearestSpeed returns the nearest of the series.
func nearestSpeed(v float64) float64 {
	best := 0.0
	for _, decade := range []float64{0.01, 0.1, 1, 10, 100, 1000} {
		for _, s := range speeds {
			if s *= decade; best == 0 || math.Abs(math.Log(s/v)) < math.Abs(math.Log(best/v)) {
				best = s
			}
		}
	}
	switch { // as they are written
	case best < 8:
		return math.Round(best*10) / 10
	case math.Abs(best-12.5) < 1:
		return 12
	case math.Abs(best-31) < 2:
		return 32
	case math.Abs(best-62.5) < 3:
		return 64
	}
	return math.Round(best)
}

// KindOf returns the kind of film that a roll says it is of.
func KindOf(r *roll.Roll) Kind {
	text := " " + strings.ToLower(r.Demo+" "+r.Stock) + " "
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(text, w) {
				return true
			}
		}
		return false
	}
	rev, neg := has("reversal", "slide", "transparency", "e-6", " e6 "), has("negative", "c-41", " c41 ", "print film")
	switch {
	case rev && !neg:
		return Reversal
	case neg && !rev:
		return Negative
	}
	return Undecided
}

// Sentence is one that stands on a card.
type Sentence struct {
	Text  string
	Small bool // what it rests on, not what to do
}

// third rounds stops to thirds towards mid-grey.
func third(v float64) float64 {
	return math.Copysign(math.Floor(math.Abs(v)*3+1e-6)/3, v)
}

// unsigned spells stops without a sign.
func unsigned(v float64) string { return strings.TrimLeft(stops.Label(math.Abs(v)), "+-−") }

// many is "1 stop", "2 1/3 stops", "1/3 stop".
func many(v float64) string {
	if math.Abs(v) <= 1+1e-9 {
		return unsigned(v) + " stop"
	}
	return unsigned(v) + " stops"
}

// within is an error as it is written.
func within(e float64) string { return fmt.Sprintf("±%.1f", math.Max(0.1, e)) }

// tenths are stops as a figure.
func tenths(v float64) string { return strings.Replace(fmt.Sprintf("%+.1f", v), "-", "−", 1) }

// Lines returns what the card says, the most useful first.
func (c *Card) Lines() (out []Sentence) {
	say := func(small bool, format string, args ...any) {
		out = append(out, Sentence{Text: fmt.Sprintf(format, args...), Small: small})
	}
	dark, light, ok := c.Ends(0)
	if !ok {
		say(false, "As metered, mid-grey itself is not drawn by these limits: this roll gives no advice.")
		return out
	}
	c.place(light, dark, say)
	c.meter(light, dark, say)
	if under, over, ok := c.Bears(); ok {
		say(false, "Shadows at %s and white at %s bear an error from %s to %s.", stops.Label(ShadowPoint), stops.Label(WhitePoint), bound(under), bound(over))
	} else {
		say(false, "Shadows at %s and white at %s do not both stay drawn as metered.", stops.Label(ShadowPoint), stops.Label(WhitePoint))
	}
	c.speed(say)
	return out
}

func bound(e End) string {
	s := stops.Label(third(e.Stops))
	if e.Open {
		return s + " at least"
	}
	return s
}

// place says where the ends of the scene may lie.
func (c *Card) place(light, dark End, say func(bool, string, ...any)) {
	switch {
	case light.Open:
		say(false, "Whatever is up to %s over mid-grey keeps its texture.", many(light.Stops))
	case light.Then == Unknown:
		say(false, "Place the brightest thing that must keep its texture no more than %s over: the roll does not show more.", many(third(light.Stops)))
	default:
		say(false, "Place the brightest thing that must keep its texture no more than %s over: at %s %s it is %s.", many(third(light.Stops)), tenths(light.Stops), within(light.Error), light.Then.Word())
	}
	switch {
	case dark.Open:
		say(false, "Whatever is down to %s under mid-grey is drawn.", many(dark.Stops))
	case dark.Then == Unknown:
		say(false, "Shadows that matter no lower than %s: the roll does not show less.", stops.Label(third(dark.Stops)))
	default:
		say(false, "Shadows that matter no lower than %s: at %s %s they are %s.", stops.Label(third(dark.Stops)), tenths(dark.Stops), within(dark.Error), dark.Then.Word())
	}
}

// meter says what to meter, and how much more or less than its reading to give: of the end
// that the kind of film loses first, or that has less room.
func (c *Card) meter(light, dark End, say func(bool, string, ...any)) {
	byLight := light.Stops-WhitePoint < ShadowPoint-dark.Stops
	if c.kind != Undecided {
		byLight = c.kind == Reversal
	}
	switch {
	case byLight && light.Known():
		say(false, "Meter the light: of the brightest thing that must keep its texture give at most %s more than its reading.", many(third(light.Stops)))
	case !byLight && dark.Known():
		say(false, "Meter the shadows: of the darkest thing that matters give at most %s less than its reading.", many(third(dark.Stops)))
	}
}

// speed says the film speed that the test suggests, and what it rests on.
func (c *Card) speed(say func(bool, string, ...any)) {
	s, ok := c.Speed()
	if !ok {
		say(false, "No film speed: the roll does not show both ends.")
		return
	}
	give := "give what the meter says"
	if t := math.Round(s.Stops*3) / 3; s.Differs() && t < 0 {
		give = "give " + many(t) + " more"
	} else if s.Differs() && t > 0 {
		give = "give " + many(t) + " less"
	}
	switch {
	case s.ISO == 0:
		say(false, "Film speed: against the one you metered with %s (%s stop).", give, within(s.Error))
	case s.Differs():
		say(false, "Film speed by this test: ISO %g %s stop, metered at ISO %g: %s.", s.ISO, within(s.Error), c.rated, give)
	default:
		say(false, "Film speed by this test: ISO %g %s stop, no other than the ISO %g that was metered with: %s.", s.ISO, within(s.Error), c.rated, give)
	}
	say(true, "The speed puts the middle of both ends midway between shadows at %s and white at %s; it rests on one roll's response, noise and scan, not on densities of the film.", stops.Label(ShadowPoint), stops.Label(WhitePoint))
}

// Basis returns what the card rests on, in small sentences.
func (c *Card) Basis() (out []string) {
	out = append(out, "This roll, this lab, this scanner. The maker's data sheet first.")
	at := fmt.Sprintf("Mid-grey: where the base frame shows 18 %% (as metered, %s stop).", within(c.MidGreyError))
	if c.MidGrey == response.MidGreyPatch {
		at = fmt.Sprintf("Mid-grey: the patch %q in the base frame (%s stop).", c.GreyPatch, within(c.MidGreyError))
	}
	out = append(out, at)
	limits := fmt.Sprintf("Noisy: above %.1f L* once brought to the base frame's look by %s. Flat: under %.0f %% of the steepest contrast", c.Limit, c.Set.Grade.InWords(), 100*response.FlatShare)
	if c.Kept > 0 {
		limits += fmt.Sprintf(", or under %.0f %% of the base frame's", 100*c.Kept)
	}
	out = append(out, limits+". Blocked, blown: nothing left.")
	if !c.NoiseKnown {
		out = append(out, "The roll's noise could not be told: nothing is called noisy, and blocked may come sooner.")
	}
	return out
}
