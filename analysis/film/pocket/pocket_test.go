package pocket_test

import (
	"fmt"
	"math"
	"os"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/demo/scene"
	"stopladder/analysis/demo/simulate"
	"stopladder/analysis/film"
	"stopladder/analysis/film/pocket"
	"stopladder/analysis/judge/criteria"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/load"
	"stopladder/analysis/numeric/affine"
	"stopladder/analysis/scan"
)

// truth is a simulator's word on a grey, by stops of exposure over mid-grey, of the model
// without noise.
type truth interface {
	grey(x float64) grey
}

type grey struct {
	y, sigmaY       float64
	slope, steepest [3]float64 // density by stop
	gone            bool
}

var luma = [3]float64{0.2126, 0.7152, 0.0722} // IEC 61966-2-1

// become is what becomes of a light by the definitions of the manual, from the truth.
func become(t truth, set criteria.Set, light, over float64) pocket.State {
	g := t.grey(light + over)
	bright := light+over > 0
	if g.gone && bright {
		return pocket.Blown
	} else if g.gone {
		return pocket.Blocked
	}
	flat := 0.0
	for c, w := range luma {
		if g.slope[c] < 0.15*g.steepest[c] {
			flat += w
		}
	}
	if flat >= 0.5 {
		return pocket.Flat
	}
	base := t.grey(light)
	contrast := func(x float64) float64 { return math.Log2(t.grey(x+0.3).y / t.grey(x-0.3).y) }
	if set.Grade != criteria.Curves && contrast(light) > 0 && contrast(light+over)/contrast(light) < set.Limits[criteria.ContrastKept].Holds {
		return pocket.Flat
	}
	// dL*/dY, CIE 15.
	slope := 24389.0 / 27
	if base.y > 216.0/24389 {
		slope = 116.0 / 3 / math.Cbrt(base.y*base.y)
	}
	noise := slope * base.y / g.y * g.sigmaY
	if set.Grade == criteria.Curves {
		noise *= contrast(light) / contrast(light+over)
	}
	if noise > set.Limits[criteria.Noise].Holds {
		return pocket.Noisy
	}
	return pocket.Drawn
}

// foreign is the adversary's truth: another making than the program's own.
type foreign struct{ t *adversary.Truth }

func (f foreign) grey(x float64) grey {
	g := f.t.Grey(x)
	return grey{math.Max(g.Y, 1e-7), g.SigmaY, g.Slope, g.Steepest, g.Gone}
}

func foreignRoll(t *testing.T, r adversary.Roll) (*film.Roll, truth) {
	t.Helper()
	if r.Stops == nil {
		r.Stops = []float64{-3, -2, -1, 0, 1, 2, 3, 4}
	}
	if r.Blur[0] == 0 {
		r.Blur = [2]float64{0.8, 1.4}
	}
	r.ReadSD = 1.5e-4
	scans := make([]*scan.Pixels, len(r.Stops))
	for i := range r.Stops {
		scans[i] = r.Frame(i).Pixels
	}
	return measured(t, r.Stops, scans, nil), foreign{r.Truth()}
}

func measured(t *testing.T, labels []float64, scans []*scan.Pixels, patches []roll.Patch) *film.Roll {
	t.Helper()
	job := &load.Job{Roll: &roll.Roll{Demo: "no files, so no hashes", Patches: patches}}
	for i, s := range labels {
		job.Roll.Frames = append(job.Roll.Frames, roll.Frame{File: fmt.Sprintf("frame %d", i+1), Stop: s, Origin: roll.ByHand})
	}
	m, err := load.Measure(t.Context(), job, nil, load.Options{Open: func(_ *roll.Roll, i int) (scan.Source, error) { return scans[i], nil }}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// own is the truth of the program's simulator.
type own struct {
	t    *simulate.Truth
	peak [3]float64
	full float64
}

func newOwn(t *simulate.Truth) *own {
	o := &own{t: t, full: math.Pow(simulate.DefaultScanner().Ceiling, 2.2)}
	for x := -12.0; x < 8; x += 0.05 {
		for c, s := range o.slopes(x) {
			if l, _ := t.Light(c, x*stopLog); l >= 0.01 {
				o.peak[c] = math.Max(o.peak[c], s)
			}
		}
	}
	return o
}

const stopLog = 0.30102999566398119521

func (o *own) slopes(x float64) (out [3]float64) {
	for c := range out {
		a, _ := o.t.Light(c, (x-0.1)*stopLog)
		b, _ := o.t.Light(c, (x+0.1)*stopLog)
		out[c] = math.Log10(math.Max(b, 1e-9)/math.Max(a, 1e-9)) / 0.2
	}
	return out
}

func (o *own) grey(x float64) (g grey) {
	g.slope, g.steepest = o.slopes(x), o.peak
	floor := math.Pow(simulate.DefaultScanner().Floor, 2.2)
	dead, v := 0.0, 0.0
	for c, w := range luma {
		l, s := o.t.Light(c, x*stopLog)
		if l >= o.full || l <= floor || math.Ln10*l*g.slope[c]/3 < s {
			dead += w
		}
		l = math.Min(math.Max(l, floor), o.full)
		g.y += w * l
		v += w * w * s * s
	}
	g.sigmaY, g.gone = math.Sqrt(v), dead >= 0.5
	return g
}

func ownRoll(t *testing.T, stock simulate.Stock, seed uint64) (*film.Roll, truth) {
	t.Helper()
	light, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	labels := simulate.DefaultStops()
	var scans []*scan.Pixels
	var base *simulate.Truth
	for _, s := range labels {
		f, err := simulate.Shoot(t.Context(), light, stock, simulate.Options{Seed: seed, W: 900, H: 720, MaxShift: 0.004, ShutterError: 0.05}, s)
		if err != nil {
			t.Fatal(err)
		}
		if s == 0 {
			base = f.Truth
		}
		scans = append(scans, f.Pixels)
	}
	return measured(t, labels, scans, nil), newOwn(base)
}

// tally counts cells.
type tally struct{ all, unknown, near, sure, wrong int }

func (n *tally) add(m tally) {
	n.all, n.unknown, n.near, n.sure, n.wrong = n.all+m.all, n.unknown+m.unknown, n.near+m.near, n.sure+m.sure, n.wrong+m.wrong
}

// count holds every third of a stop of a card against the truth.
func count(t *testing.T, name string, c *pocket.Card, truth truth) (n tally) {
	t.Helper()
	for e := pocket.Least; e <= pocket.Most; e++ {
		for k := -18; k <= 18; k++ {
			l := float64(k) / 3
			cell := c.At(l, e)
			n.all++
			switch {
			case cell.State == pocket.Unknown:
				n.unknown++
			case cell.Near:
				n.near++
			default:
				n.sure++
				if want := become(truth, c.Set, l, e); want != cell.State {
					n.wrong++
					if os.Getenv("STOPLADDER_LOOK") != "" {
						t.Logf("%s: light %+.2f exposed %+g: %s, and it is %s (noise %.2f)", name, l, e, cell.State.Word(), want.Word(), cell.Noise)
					}
				}
			}
		}
	}
	t.Logf("%s: %d of %d sure cells wrong; %d near a border, %d not known of %d", name, n.wrong, n.sure, n.near, n.unknown, n.all)
	return n
}

// rollsOf are those that cells are held against. The first two groups were used while the
// errors of slope and noise were set, the third was not looked at before.
func rollsOf(t *testing.T) map[string]func() (*film.Roll, truth) {
	films := adversary.Stocks()
	of := func(name, scene string, grain float64, seed uint64) func() (*film.Roll, truth) {
		return func() (*film.Roll, truth) {
			return foreignRoll(t, adversary.Roll{Film: films[name], Scene: scene, Grain: grain, Size: 800, Seed: seed})
		}
	}
	out := map[string]func() (*film.Roll, truth){"slide-2 brick": of("slide-2", "brick", 0.02, 31)}
	if !testing.Short() {
		out["negative foliage"] = of("negative", "foliage", 0.02, 32)
		out["grey-negative sky"] = of("grey-negative", "sky", 0.03, 33)
		out["own negative"] = func() (*film.Roll, truth) { return ownRoll(t, simulate.Negative(), 5) }
		out["own reversal"] = func() (*film.Roll, truth) { return ownRoll(t, simulate.Reversal(), 5) }
	}
	if os.Getenv("STOPLADDER_ALL_ROLLS") != "" {
		out["slide night"] = of("slide", "night", 0.04, 34)
		out["slide-dyes foliage"] = of("slide-dyes", "foliage", 0.02, 41)
		out["negative-dyes sky"] = of("negative-dyes", "sky", 0.03, 42)
		out["grey-slide-2 brick"] = of("grey-slide-2", "brick", 0.03, 43)
		out["slide-2 night"] = of("slide-2", "night", 0.02, 44)
		out["grey-slide sky"] = of("grey-slide", "sky", 0.02, 45)
	}
	return out
}

// Of the cells that a card is sure of 95 % must be right, on every roll, whoever made it; and
// it must be sure of more than half. The simulators' metered mid-grey is where the card takes
// it to be; the room that a card leaves for that is taken away, so that nothing is hidden
// behind it.
func TestCellsOfKnownLight(t *testing.T) {
	var all tally
	for name, made := range rollsOf(t) {
		m, tr := made()
		for _, set := range []criteria.Set{criteria.Named()[0], criteria.Named()[2], byExposure()} {
			c, err := pocket.New(m, pocket.Options{Limits: &set})
			if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
			c.MidGreyError = 0.03
			n := count(t, name+" "+set.Title()+" "+string(set.Grade), c, tr)
			all.add(n)
			if n.sure > 0 && float64(n.wrong) > 0.05*float64(n.sure) {
				t.Errorf("%s %s: %d of %d cells beyond the error are wrong", name, set.Title(), n.wrong, n.sure)
			}
			if n.sure < n.all/2 {
				t.Errorf("%s %s: only %d of %d cells are sure", name, set.Title(), n.sure, n.all)
			}
		}
		// The count can fail: the same card against a film a stop and a half faster.
		c, err := pocket.New(m, pocket.Options{})
		if err != nil {
			t.Fatal(err)
		}
		c.MidGreyError = 0.03
		if n := count(t, name+", a stop and a half off", c, moved{tr, -1.5}); float64(n.wrong) <= 0.05*float64(n.sure) {
			t.Errorf("%s: a film a stop and a half faster passes for this one: %d of %d cells wrong", name, n.wrong, n.sure)
		}
	}
	t.Logf("all: %+v, %.2f %% of the sure cells right", all, 100*(1-float64(all.wrong)/float64(all.sure)))
}

// moved is a truth by so many stops.
type moved struct {
	of    truth
	stops float64
}

func (m moved) grey(x float64) grey { return m.of.grey(x - m.stops) }

// The latitude that handbooks give: negative colour one stop under to two over, reversal half
// a stop either way (US Army SS0514 A, Introduction to Basic Color Photography, 1994, p.
// 1-29): three stops and one. The card's scene is shadows at -3 1/3 and white at +2 1/3, its
// films the simulator's, whose curves are laid out as such films have them.
//
// Where those lie about the metered exposure is another matter, and is held as well: fixed
// settings of a scanner put white where the base frame has it, so that the room that the film
// still has over is the scanner's to lose. Handbooks speak of pictures that were printed one
// by one.
func TestLatitudeOfHandbooks(t *testing.T) {
	if testing.Short() {
		t.Skip("two rolls are measured")
	}
	width := func(s simulate.Stock) (under, over pocket.End) {
		m, _ := ownRoll(t, s, 6)
		c, err := pocket.New(m, pocket.Options{})
		if err != nil {
			t.Fatal(err)
		}
		under, over, ok := c.Bears()
		if !ok {
			t.Fatalf("%s: the metered exposure itself is not borne", s.Name)
		}
		return under, over
	}
	neg, rev := simulate.Negative(), simulate.Reversal()
	u, o := width(neg)
	t.Logf("negative: %.2f to %+.2f", u.Stops, o.Stops)
	if w := o.Stops - u.Stops; math.Abs(w-3) > 0.5 {
		t.Errorf("negative film bears %.2f stops, handbooks 3", w)
	}
	if u.Stops > -1 || o.Stops < 2-1.1 {
		t.Errorf("negative film bears %.2f to %+.2f; one stop under, and two over less what the scan ends", u.Stops, o.Stops)
	}
	// What ends it over is the scan: the film itself, two stops over, still separates white.
	x := (pocket.WhitePoint + 2) * stopLog
	if s := (neg.Density(1, x+0.05) - neg.Density(1, x-0.05)) / 0.1; s < 0.15*neg.Gamma(1) {
		t.Errorf("the film itself is flat two stops over: slope %.3f", s)
	}
	u, o = width(rev)
	t.Logf("reversal: %.2f to %+.2f", u.Stops, o.Stops)
	if w := o.Stops - u.Stops; math.Abs(w-1) > 0.5 {
		t.Errorf("reversal film bears %.2f stops, handbooks 1", w)
	}
	if math.Abs(u.Stops+0.5) > 0.6 || math.Abs(o.Stops-0.5) > 0.6 {
		t.Errorf("reversal film bears %.2f to %+.2f, handbooks half a stop either way", u.Stops, o.Stops)
	}
}

// The ends and the film speed against the truth's, walked to in the same way; and the speed
// against the one that the simulator's negative film was given by ISO 5800, which rests on
// densities.
func TestEndsAndSpeed(t *testing.T) {
	if testing.Short() {
		t.Skip("three rolls are measured")
	}
	for name, made := range rollsOf(t) {
		if name == "grey-negative sky" {
			continue
		}
		m, tr := made()
		c, err := pocket.New(m, pocket.Options{Rated: 400})
		if err != nil {
			t.Fatal(err)
		}
		metered := c.MidGreyError
		c.MidGreyError = 0.03
		dark, light, ok := c.Ends(0)
		if !ok {
			t.Errorf("%s: mid-grey is not drawn", name)
			continue
		}
		end := func(dir float64) float64 {
			for n := 1; n < 600; n++ {
				if x := dir * float64(n) / 100; become(tr, c.Set, x, 0) != pocket.Drawn {
					return x
				}
			}
			return 6 * dir
		}
		for _, e := range []struct {
			what string
			got  pocket.End
			want float64
		}{{"dark", dark, end(-1)}, {"light", light, end(1)}} {
			t.Logf("%s: the %s end at %+.2f ± %.2f, truth %+.2f", name, e.what, e.got.Stops, e.got.Error, e.want)
			if e.got.Known() && math.Abs(e.got.Stops-e.want) > e.got.Error+0.03 {
				t.Errorf("%s: the %s end is told at %+.2f ± %.2f, and it is at %+.2f", name, e.what, e.got.Stops, e.got.Error, e.want)
			}
		}
		if s, ok := c.Speed(); ok {
			want := (pocket.ShadowPoint+pocket.WhitePoint)/2 - (end(-1)+end(1))/2
			if math.Abs(s.Stops-want) > s.Error {
				t.Errorf("%s: the speed is told as %+.2f ± %.2f stops, and it is %+.2f", name, s.Stops, s.Error, want)
			}
			if name == "own negative" {
				c.MidGreyError = metered
				s, _ = c.Speed()
				t.Logf("%s, ISO 400: told as ISO %g ± %.2f stops", name, s.ISO, s.Error)
				if s.Differs() {
					t.Errorf("a film of ISO 400 by ISO 5800 is told as ISO %g, beyond its error of %.2f stops", s.ISO, s.Error)
				}
			}
		} else if name == "own negative" {
			t.Error("no film speed of the negative film")
		}
	}
}

// A patch that is called a grey card places mid-grey, and with less room for error.
func TestGreyCardPlacesMidGrey(t *testing.T) {
	light, err := scene.Embedded()
	if err != nil {
		t.Fatal(err)
	}
	at := scene.Places[0] // the grey card
	labels := []float64{-2, -1, 0, 1, 2}
	shoot := func(off float64) *film.Roll {
		var scans []*scan.Pixels
		var card roll.Patch
		for _, s := range labels {
			f, err := simulate.Shoot(t.Context(), light, simulate.Negative(), simulate.Options{Seed: 3, Stops: labels, W: 700, H: 560}, s+off)
			if err != nil {
				t.Fatal(err)
			}
			scans = append(scans, f.Pixels)
			x0, y0 := affine.At(f.Truth.FromScene, at.X0*float64(light.W), at.Y0*float64(light.H))
			x1, y1 := affine.At(f.Truth.FromScene, at.X1*float64(light.W), at.Y1*float64(light.H))
			card = roll.Patch{Name: "Grey card", X: (x0 + x1) / 2, Y: (y0 + y1) / 2, R: 0.3 * math.Min(x1-x0, y1-y0), Neutral: true}
		}
		return measured(t, labels, scans, []roll.Patch{card})
	}
	ends := func(r *film.Roll) (dark, light pocket.End, c *pocket.Card) {
		c, err := pocket.New(r, pocket.Options{})
		if err != nil {
			t.Fatal(err)
		}
		dark, light, ok := c.Ends(0)
		if !ok {
			t.Fatal("mid-grey is not drawn")
		}
		return dark, light, c
	}
	_, l0, c := ends(shoot(0))
	if c.GreyPatch == "" || c.MidGreyError > 0.2 {
		t.Fatalf("the grey card was not taken: %+v", c)
	}
	// The base frame got half a stop more than metered: the card's mid-grey goes with it, and
	// what may lie over it is half a stop less.
	_, l1, _ := ends(shoot(0.5))
	if d := l0.Stops - l1.Stops; math.Abs(d-0.5) > 0.1 {
		t.Errorf("half a stop more moves the light end by %.2f, from %.2f to %.2f", d, l0.Stops, l1.Stops)
	}
}

// byExposure are limits that are held against salvage by exposure, which gives back no
// contrast.
func byExposure() criteria.Set {
	s := criteria.Named()[1]
	s.Grade = criteria.Exposure
	s.Name = ""
	return s
}
