package main

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/judge/criteria"
)

// outcome is a roll, its truth and what the program makes of it.
type outcome struct {
	test   test
	frames []*adversary.Frame
	read   *readings
	truth  *adversary.Truth
	true_  []*adversary.FrameTruth
	ends   [2][2]adversary.End // true; Holds, Strains; under, over. Of rolls that stand in a group
}

// scans is a folder to write the roll's scans into; "": they are not written.
func run(ctx context.Context, t test, scans string) (*outcome, error) {
	o := &outcome{test: t}
	for i := range t.roll.Stops {
		o.frames = append(o.frames, t.roll.Frame(i))
	}
	if scans != "" {
		if err := keep(filepath.Join(scans, t.name), t.roll.Stops, o.frames); err != nil {
			return nil, err
		}
	}
	var err error
	if o.read, err = measure(ctx, t.roll, o.frames); err != nil {
		return nil, err
	}
	o.truth = t.roll.Truth()
	if t.group != "" {
		for l := range levels {
			o.ends[l][0], o.ends[l][1] = o.truth.Ends(criteria.Default(), l == 0)
		}
	}
	for _, name := range t.for_ {
		if slices.Contains([]string{"casts", "salvage", "noise", "camera", "sharp"}, name) && o.true_ == nil {
			for i := range t.roll.Stops {
				o.true_ = append(o.true_, o.truth.Frame(i))
			}
		}
	}
	return o, nil
}

func (o *outcome) label(i int) string { return fmt.Sprintf("%+g", o.test.roll.Stops[i]) }

func (o *outcome) base(i int) bool { return o.test.roll.Stops[i] == 0 }

var bandNames = [3]string{"shadows", "midtones", "highlights"}

// within is a bound that is a share of the truth or a fixed one, whichever is more.
func within(want, share, fixed float64) float64 { return math.Max(share*math.Abs(want), fixed) }

// checks are what a roll's readings are held against, by name.
var checks = map[string]func(o *outcome, b *book){
	"casts": casts, "salvage": salvaged, "noise": noises, "range": ranges, "stops": stopsOf, "register": registered,
	"fixed": fixed, "clip": clip, "camera": camera, "dust": dust, "stray": stray, "sharp": sharp, "blue": blue, "auto": auto,
}

func casts(o *outcome, b *book) {
	grey := strings.HasPrefix(o.test.roll.Film.Name, "grey") || o.test.roll.Film.Panchromatic
	for i, f := range o.read.frames {
		if o.base(i) {
			continue
		}
		levels := [3]float64{f.bands[0].level, f.bands[1].level, f.bands[2].level}
		greys, _ := o.truth.CastsAt(i, levels)
		for k := range levels { // the crossover is that of the greys that are told
			if f.bands[k].cast[0] != f.bands[k].cast[0] {
				levels[k] = 0
			}
		}
		_, crossover := o.truth.CastsAt(i, levels)
		for k, v := range o.true_[i].Bands {
			if l := adversary.Lightness(levels[k]); levels[k] > 0 && v.Area > 0.005 {
				b.add("level of a band, where its cast is told", o, o.label(i)+" "+bandNames[k], l, adversary.Lightness(v.Level), math.Abs(l-adversary.Lightness(v.Level)), 1)
			}
		}
		for k, v := range greys {
			if v[0] != v[0] {
				continue
			}
			off := math.Hypot(f.bands[k].cast[0]-v[0], f.bands[k].cast[1]-v[1])
			size := math.Hypot(v[0], v[1])
			name := "casts in neutrals"
			if grey {
				name = "greys of a film with identical layers: cast"
			}
			b.add(name, o, o.label(i)+" "+bandNames[k], math.Hypot(f.bands[k].cast[0], f.bands[k].cast[1]), size, off, within(size, 0.05, 0.5))
		}
		if crossover == crossover {
			name := "crossover in neutrals"
			if grey {
				name = "greys of a film with identical layers: crossover"
			}
			b.add(name, o, o.label(i), f.crossover, crossover, math.Abs(f.crossover-crossover), within(crossover, 0.05, 0.5))
		}
		if grey && f.words != "" {
			b.is("greys of a film with identical layers: words", o, o.label(i)+" "+f.words, strings.HasPrefix(f.words, "No cast"))
		}
	}
}

func salvaged(o *outcome, b *book) {
	kind := "contrast kept, reversal"
	if o.test.roll.Film.Negative {
		kind = "contrast kept, negative"
	}
	for i, f := range o.read.frames {
		t, g := o.true_[i].Grades[adversary.Curves], f.grades[adversary.Curves]
		if o.base(i) {
			b.is("dE00 of exactly zero", o, o.label(i), g.deltaE == 0)
			continue
		}
		if x, y := f.grades[adversary.Exposure].crossover, f.grades[adversary.Balance].crossover; x == x && y == y {
			b.add("crossover of the balance over that of the exposure grade", o, o.label(i), y, x, y-x, 0.005)
		}
		if t.Contrast == t.Contrast {
			b.add(kind, o, o.label(i), g.contrast, t.Contrast, math.Abs(g.contrast-t.Contrast), 0.05)
		}
		if t.DeltaE == t.DeltaE {
			b.add("dE00 after curves", o, o.label(i), g.deltaE, t.DeltaE, math.Abs(g.deltaE-t.DeltaE), within(t.DeltaE, 0.15, 0.15))
			b.add("dE00 after curves, 95th percentile", o, o.label(i), g.p95, t.P95, math.Abs(g.p95-t.P95), within(t.P95, 0.2, 0.5))
			if g.deltaE == g.deltaE {
				b.is("dE00 of exactly zero", o, o.label(i), g.deltaE != 0)
			}
		}
		b.add("lost area", o, o.label(i), g.lost, t.Lost, math.Abs(g.lost-t.Lost), within(t.Lost, 0.15, 0.005))
		if t.Noise == t.Noise {
			b.add("noise of the shadows after curves", o, o.label(i), g.noise, t.Noise, math.Abs(g.noise/t.Noise-1), 0.1)
		}
	}
}

func noises(o *outcome, b *book) {
	name := "noise of a band, blur by density"
	switch blur := o.test.roll.Blur; {
	case strings.HasPrefix(o.test.group, "size"):
		name = "noise of a band, scans of 900 to 7000 px"
	case blur[0] == blur[1]:
		name = fmt.Sprintf("noise of a band, blur %g px", blur[0])
	}
	for i, f := range o.read.frames {
		for k, v := range o.true_[i].Bands {
			if v.NoiseL != v.NoiseL || v.Area < 0.02 {
				continue
			}
			what := o.label(i) + " " + bandNames[k]
			b.add(name, o, what+" L*", f.bands[k].noiseL, v.NoiseL, math.Abs(f.bands[k].noiseL/v.NoiseL-1), 0.1)
			b.add(name, o, what+" S/N", f.bands[k].snr, v.SNR, math.Abs(f.bands[k].snr/v.SNR-1), 0.1)
		}
	}
}

var (
	levels = [2]string{"Holds", "Strains"}
	sides  = [2]string{"under", "over"}
)

// offEnd is how far an end is from the true one, within the bracket; a range where there
// is none, or none where there is one, is off by the bracket.
func offEnd(got end, want adversary.End) float64 {
	switch {
	case got.none && want.None:
		return 0
	case got.none != want.None:
		return 9
	}
	return math.Abs(got.stop - want.Stop)
}

func eachEnd(o *outcome, b *book, fn func(l, d int, got end, want adversary.End)) {
	for l := range levels {
		lo, hi := o.truth.Ends(criteria.Default(), l == 0)
		for d, want := range []adversary.End{lo, hi} {
			got := o.read.ends[l][d]
			courses(o, b, l, d, got, want)
			if !got.none && !want.None && !(got.open && want.Open) {
				what := fmt.Sprintf("%s %s by %s, truly %s +/- %.2f", sides[d], levels[l], by(got.open, got.by), by(want.Open, want.By), got.err)
				b.add("ends within their stated uncertainty", o, what, got.stop, want.Stop, offEnd(got, want), got.err+0.005)
			}
			fn(l, d, got, want)
		}
	}
}

func by(open bool, c criteria.Criterion) string {
	if open || c < 0 {
		return "open"
	}
	return c.Key()
}

func ranges(o *outcome, b *book) {
	eachEnd(o, b, func(l, d int, got end, want adversary.End) {
		off := offEnd(got, want)
		what := fmt.Sprintf("%s %s by %s, truly %s", sides[d], levels[l], by(got.open, got.by), by(want.Open, want.By))
		// "At least so far, and nothing is known beyond" is not an end: it is untold, unless
		// the true one lies nearer.
		if got.unknown && !want.None && math.Abs(want.Stop) >= math.Abs(got.stop) {
			got.stop, off = math.NaN(), math.NaN()
		}
		b.add(fmt.Sprintf("%s end of the range, %s", sides[d], levels[l]), o, what, or9(got), want.Stop, off, 0.1)
	})
}

// courses notes every criterion about an end, as the program has it and as it is.
func courses(o *outcome, b *book, l, d int, got end, want adversary.End) {
	if !b.about || got.none || want.None {
		return
	}
	for _, c := range criteria.All() {
		limit := criteria.Default().Limits[c].Holds
		if l == 1 {
			limit = criteria.Default().Limits[c].Strains
		}
		for _, at := range []struct {
			name string
			stop float64
		}{{"true end", want.Stop}, {"told end", got.stop}} {
			v, err := o.read.course(c, at.stop)
			b.course(fmt.Sprintf("%s\t%s %s\t%s\t%.2f\t%s\t%.4f\t%.4f\t%.4f\t%.4f", o.test.name, sides[d], levels[l], at.name, at.stop, c.Key(), v, err, o.truth.CostAt(at.stop).Of(c), limit))
		}
	}
}

func or9(e end) float64 {
	if e.none {
		return 9
	}
	return e.stop
}

func stopsOf(o *outcome, b *book) {
	for i, f := range o.read.frames {
		if o.base(i) {
			continue
		}
		want := o.test.roll.Exposure(i)
		off := math.Abs(f.stop - want)
		if math.Abs(o.test.roll.Stops[i]) <= 2 {
			b.add("measured stop, -2 to +2", o, o.label(i), f.stop, want, off, 0.036)
		}
		b.add("measured stop within two of its errors", o, o.label(i), f.stop, want, off, 2*f.stopErr)
	}
}

func registered(o *outcome, b *book) {
	n := 0.0
	gate := o.test.roll.Gate()
	for i, f := range o.read.frames {
		if !f.registered {
			n++
			continue
		}
		if o.base(i) || f.at == nil {
			continue
		}
		m, off := o.test.roll.Map(i), 0.0
		for _, p := range [][2]int{{gate.Min.X, gate.Min.Y}, {gate.Max.X, gate.Min.Y}, {gate.Min.X, gate.Max.Y}, {gate.Max.X, gate.Max.Y}} {
			x, y := f.at(float64(p[0]), float64(p[1]))
			px, py := float64(p[0]), float64(p[1])
			off = math.Max(off, math.Hypot(x-(m[0]*px+m[1]*py+m[2]), y-(m[3]*px+m[4]*py+m[5])))
		}
		b.add("registration at the corners", o, o.label(i), off, 0, off, 0.5)
	}
	b.add("frames not registered in a roll", o, "", n, 0, n, 1)
	b.is("sentences that are false", o, "open the whole bracket", !strings.Contains(o.read.words, "open the whole bracket"))
}

func fixed(o *outcome, b *book) {
	what := "fixed"
	switch f := o.read.fixed; {
	case f == nil:
		what = "cannot tell"
	case !*f:
		what = "not fixed"
	}
	b.is("scanned alike is not denied", o, what, what != "not fixed")
}

func clip(o *outcome, b *book) {
	for i, f := range o.read.frames {
		c := o.frames[i].Clip
		b.add("clipped fractions", o, o.label(i)+" blown", f.blown, c.Blown, math.Abs(f.blown-c.Blown), 1e-9)
		b.add("clipped fractions", o, o.label(i)+" blocked", f.blocked, c.Blocked, math.Abs(f.blocked-c.Blocked), 1e-9)
	}
}

func camera(o *outcome, b *book) {
	for i, f := range o.read.frames {
		if o.base(i) {
			continue
		}
		t := o.true_[i]
		g := f.grades[adversary.Curves]
		b.add("camera moved by 20 px: lost area", o, o.label(i), g.lost, t.Grades[adversary.Curves].Lost, math.Abs(g.lost-t.Grades[adversary.Curves].Lost), within(t.Grades[adversary.Curves].Lost, 0.15, 0.005))
		b.add("camera moved by 20 px: what is not shown", o, o.label(i), 1-f.shown, 1-t.Shown, math.Abs(f.shown-t.Shown), 0.01)
	}
	eachEnd(o, b, func(l, d int, got end, want adversary.End) {
		b.add("camera moved by 20 px: ends", o, sides[d]+" "+levels[l], or9(got), want.Stop, offEnd(got, want), 0.1)
	})
}

func dust(o *outcome, b *book) {
	eachEnd(o, b, func(l, d int, got end, want adversary.End) {
		b.add("dust on 1.7 %: ends", o, sides[d]+" "+levels[l], or9(got), want.Stop, offEnd(got, want), 0.1)
	})
	share := o.test.roll.FilmDust + o.test.roll.Glass
	for i, f := range o.read.frames {
		b.add("dust on 1.7 %: its share", o, o.label(i), f.dirtShare, share, math.Abs(f.dirtShare-share), share/2)
	}
}

func sharp(o *outcome, b *book) {
	for i, f := range o.read.frames {
		for k, v := range o.true_[i].Bands {
			if v.NoiseL == v.NoiseL && v.Area >= 0.02 {
				b.add("sharpened by the scanner: noise of a band", o, o.label(i)+" "+bandNames[k]+" L*", f.bands[k].noiseL, v.NoiseL, math.Abs(f.bands[k].noiseL/v.NoiseL-1), 0.1)
			}
		}
		if g, t := f.grades[adversary.Curves].lost, o.true_[i].Grades[adversary.Curves].Lost; !o.base(i) {
			b.add("sharpened by the scanner: lost area", o, o.label(i), g, t, math.Abs(g-t), within(t, 0.15, 0.005))
		}
	}
	eachEnd(o, b, func(l, d int, got end, want adversary.End) {
		b.add("sharpened by the scanner: ends", o, sides[d]+" "+levels[l], or9(got), want.Stop, offEnd(got, want), 0.1)
	})
}

func stray(o *outcome, b *book) {
	f := o.read.fixed
	b.is("stray light of the scanner, slides: fixed", o, "", f != nil && *f)
	b.add("stray light of the scanner, slides: its size", o, "", o.read.flare, o.test.roll.Stray, math.Abs(o.read.flare-o.test.roll.Stray), 0.005)
}

func blue(o *outcome, b *book) {
	at := slices.Index(o.test.roll.Stops, 1)
	worst, frame := 0.0, -1
	for i, f := range o.read.frames {
		if v := math.Abs(f.gain[2] - f.gain[1]); f.gainTold && v > worst {
			worst, frame = v, i
		}
	}
	named := o.read.fixed != nil && !*o.read.fixed && frame == at
	excused := strings.Contains(o.read.words, "indistinguishable") || strings.Contains(o.read.words, "cannot be told from")
	b.is("one frame's blue x 0.9", o, strings.ReplaceAll(o.read.words, "\n", " "), named || excused)
}

func auto(o *outcome, b *book) {
	b.is("mild automatic exposure: words", o, strings.ReplaceAll(o.read.words, "\n", " "), !strings.Contains(o.read.words, "hardly differ"))
	for i, f := range o.read.frames {
		if o.base(i) {
			continue
		}
		want := o.truth.GainInStops(i)
		if !f.gainTold {
			b.is("automatic exposure: a gain that is not told is said to be beyond telling", o, o.label(i), strings.Contains(o.read.words, "cannot be told"))
			continue
		}
		got := f.gain[1]
		b.add("mild automatic exposure: gain", o, o.label(i), got, want, math.Abs(got-want), 0.2)
	}
}

// together holds rolls of one group against each other.
func together(done []*outcome, b *book) {
	groups := map[string][]*outcome{}
	var names []string
	for _, o := range done {
		if o == nil || o.test.group == "" {
			continue
		}
		if groups[o.test.group] == nil {
			names = append(names, o.test.group)
		}
		groups[o.test.group] = append(groups[o.test.group], o)
	}
	for _, name := range names {
		g := groups[name]
		slices.SortFunc(g, func(a, b *outcome) int { return int(1000 * (a.test.level - b.test.level)) })
		kind, _, _ := strings.Cut(name, " ")
		for k := 1; k < len(g); k++ {
			last, o := g[k-1], g[k]
			if kind == "alone" {
				zero := func(o *outcome) float64 { return o.read.frames[slices.Index(o.test.roll.Stops, 0)].noisy }
				now, before := zero(o), zero(last)
				if before != before { // said that it could not be told
					now = before
				}
				b.add("Noisy of one file alone, as 3, as 8", o, fmt.Sprintf("beside %g frames", last.test.level), now, before, math.Abs(now-before), 0.005)
				continue
			}
			for l := range levels {
				for d := range sides {
					x, y := last.read.ends[l][d], o.read.ends[l][d]
					what := fmt.Sprintf("%s %s beside %g", sides[d], levels[l], last.test.level)
					if x.none || y.none {
						if kind == "grain" && y.none {
							continue // narrower than any
						}
						if x.none != y.none {
							b.add(groupRow[kind], o, what, or9(y), or9(x), 9, 0)
						}
						continue
					}
					switch kind {
					case "grain":
						out := math.Abs(y.stop) - math.Abs(x.stop)
						b.add(groupRow[kind], o, what, y.stop, x.stop, out, 0.01)
					case "size":
						// A finer scan has less of the scanner's own noise: the true ends move too.
						moved, truly := y.stop-x.stop, o.ends[l][d].Stop-last.ends[l][d].Stop
						b.add(groupRow[kind], o, what, moved, truly, math.Abs(moved-truly), 0.1)
					case "step":
						b.add(groupRow[kind], o, what, y.stop, x.stop, math.Abs(y.stop-x.stop), x.err+y.err+0.005)
					}
				}
			}
		}
	}
}

var groupRow = map[string]string{
	"grain": "more grain: how far an end moves outward",
	"size":  "same film at 900, 2700, 7000 px: how ends move",
	"step":  "half stops and whole stops: ends",
}
