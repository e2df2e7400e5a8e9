package main

import (
	"fmt"
	"math"

	"stopladder/analysis/demo/adversary"
)

// test is a roll and the families of checks that it feeds.
type test struct {
	name string
	roll *adversary.Roll
	for_ []string // see checks
	// group names rolls that are held against each other, level what differs in them.
	group string
	level float64
}

var (
	whole = []float64{-3, -2, -1, 0, 1, 2, 3, 4}
	five  = []float64{-2, -1, 0, 1, 2}
)

// list gathers the rolls.
type list struct {
	size   int // pixels along a scan's longest side, where a roll says nothing else
	stocks map[string]*adversary.Film
	all    []test
}

// tests lists all rolls. A new case is one line below: a roll, and the checks that it
// feeds.
func tests(seeds, size int, big bool) []test {
	l := &list{size: size, stocks: adversary.Stocks()}
	l.films(seeds)
	l.casts()
	l.grain()
	l.sizes(big)
	l.brackets()
	for k, film := range []string{"slide-dyes", "negative-dyes"} {
		scene := []string{"brick", "foliage"}[k]
		l.moved(film, scene)
		l.faults(film, scene)
		l.levelled(film, scene, []float64{0.6, 0.27}[k])
	}
	for k, stray := range []float64{0.01, 0.02} {
		l.add(fmt.Sprintf("stray %g", stray), adversary.Roll{Film: l.stocks[[]string{"slide-dyes", "slide-2"}[k]], Scene: []string{"brick", "sky"}[k], Seed: 20, Stray: stray}, "stray", "stops")
	}
	l.hard()
	return l.all
}

// add adds a roll, with what it does not say as most have it.
func (l *list) add(name string, r adversary.Roll, checks ...string) *test {
	if r.Stops == nil {
		r.Stops = whole
	}
	if r.Size == 0 {
		r.Size = l.size
	}
	if r.Grain == 0 {
		r.Grain = 0.02
	}
	if r.Blur == [2]float64{} {
		r.Blur = [2]float64{0.8, 1.4}
	}
	if r.ReadSD == 0 {
		r.ReadSD = 1.5e-4
	}
	l.all = append(l.all, test{name: name, roll: &r, for_: checks})
	return &l.all[len(l.all)-1]
}

// films adds every film before every scene, and some of them with five seeds.
func (l *list) films(seeds int) {
	plain := []string{"casts", "salvage", "noise", "range", "stops", "register", "fixed", "clip"}

	for _, film := range []string{"grey-slide", "grey-negative", "slide-dyes", "slide-2", "negative-dyes"} {
		for k, scene := range adversary.Scenes {
			l.add("core "+film+" "+scene, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: uint64(k + 1)}, plain...)
		}
	}
	for _, p := range [][2]string{{"grey-slide", "foliage"}, {"slide-dyes", "brick"}, {"negative-dyes", "sky"}} {
		for seed := 2; seed <= seeds; seed++ {
			l.add(fmt.Sprintf("seed %d %s %s", seed, p[0], p[1]), adversary.Roll{Film: l.stocks[p[0]], Scene: p[1], Seed: uint64(100 * seed)}, plain...)
		}
	}
}

// casts adds casts of known size.
func (l *list) casts() {
	for _, size := range []float64{1, 3, 8, 20} {
		for k, film := range []string{"slide", "negative"} {
			l.add(fmt.Sprintf("cast %g %s", size, film), adversary.Roll{Film: l.stocks[film].WithCast(size), Scene: []string{"foliage", "night"}[k], Seed: 7}, "casts", "salvage", "range", "stops", "fixed")
		}
	}
}

// grain adds grain of every blur, and more and more of it.
func (l *list) grain() {
	// Grain of every blur.
	for _, blur := range []float64{0.8, 1.2, 1.6, 2, 3} {
		for _, film := range []string{"slide-2", "negative"} {
			l.add(fmt.Sprintf("blur %g %s", blur, film), adversary.Roll{Film: l.stocks[film], Scene: "even", Seed: 8, Stops: five, Grain: 0.03, Blur: [2]float64{blur, blur}}, "noise", "register")
		}
	}
	// More grain.
	for _, grain := range []float64{0.01, 0.02, 0.04, 0.06} {
		for _, film := range []string{"slide-dyes", "negative-dyes"} {
			t := l.add(fmt.Sprintf("grain %g %s", grain, film), adversary.Roll{Film: l.stocks[film], Scene: "even", Seed: 9, Grain: grain}, "salvage", "range", "register", "fixed", "stops")
			t.group, t.level = "grain "+film, grain
		}
	}
}

// sizes adds the same film scanned small and large.
func (l *list) sizes(big bool) {
	for _, film := range []string{"slide-dyes", "negative-dyes"} {
		sizes := [][2]int{{900, 3}, {2700, 1}}
		if big {
			sizes = append(sizes, [2]int{7000, 1})
		}
		for _, s := range sizes {
			k := float64(s[0]*s[1]) / 2700
			t := l.add(fmt.Sprintf("size %d %s", s[0], film), adversary.Roll{Film: l.stocks[film], Scene: "brick", Seed: 10, Stops: []float64{-2, -1, 0, 1, 2, 3}, Size: s[0], Reduce: s[1],
				Grain: 0.045, Blur: [2]float64{1.2 * k, 1.9 * k}}, "range", "noise") // grain as strong, over as many more pixels as it is larger
			t.group, t.level = "size "+film, float64(s[0])
		}
	}
}

// brackets adds one roll measured by few frames and many.
func (l *list) brackets() {
	// One roll alone, as three, as eight.
	for _, film := range []string{"slide-dyes", "negative-dyes"} {
		for _, stops := range [][]float64{{0}, {-1, 0, 1}, whole} {
			r := adversary.Roll{Film: l.stocks[film], Scene: "foliage", Seed: 11, Stops: stops, Grain: 0.05, Camera: nil}
			t := l.add(fmt.Sprintf("alone %d %s", len(stops), film), r)
			t.group, t.level = "alone "+film, float64(len(stops))
		}
	}
	// Half stops beside whole ones.
	for _, film := range []string{"slide-dyes", "negative-dyes"} {
		for _, step := range []float64{0.5, 1} {
			var stops []float64
			for s := -2.0; s <= 3; s += step {
				stops = append(stops, s)
			}
			t := l.add(fmt.Sprintf("step %g %s", step, film), adversary.Roll{Film: l.stocks[film], Scene: "sky", Seed: 12, Stops: stops}, "range")
			t.group, t.level = "step "+film, step
		}
	}
}

// moved adds a camera that moved, and film that did.
func (l *list) moved(film, scene string) {
	move := func(n float64) (m []adversary.Move) {
		for i := range whole {
			m = append(m, adversary.Move{DX: n * float64(i-3) / 4, DY: -n * float64((i*i)%5-4) / 5})
		}
		m[3] = adversary.Move{}
		return m
	}
	turn := move(9)
	for i := range turn {
		if i != 3 {
			turn[i].Rotation, turn[i].Scale = 0.3*float64(i%3-1), 1+0.001*float64(i%2)
		}
	}
	l.add("camera "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 13, Border: true, Camera: move(20)}, "camera", "register")
	l.add("film "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 13, Border: true, Scanner: turn}, "register", "stops", "range")
}

// faults adds what a lens, a light or a scanner does to a roll.
func (l *list) faults(film, scene string) {
	l.add("dust "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 14, FilmDust: 0.017}, "dust")
	l.add("glass "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 14, Glass: 0.017}, "dust")
	l.add("drift "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 15, Drift: []float64{0.2, -0.15, 0.1, 0, -0.2, 0.2, -0.1, 0.15}}, "stops", "fixed")
	l.add("flare "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 16, Flare: 0.015}, "stops", "casts", "fixed")
	l.add("blue "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 17, Gains: [][3]float64{{}, {}, {}, {}, {1, 1, 0.9}}}, "blue")
	l.add("sharp "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 26, Sharpen: 0.8, SharpenRadius: 1}, "sharp", "stops", "fixed", "register")
	l.add("8 bit "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 19, Bits: 8}, "salvage", "range", "stops", "clip", "fixed")
}

// levelled adds scanners that expose by themselves, a little, or so that so much of a stop
// is taken back.
func (l *list) levelled(film, scene string, back float64) {
	var mild [][3]float64
	for i, s := range whole {
		g := 1 - 0.09*s
		if i == 3 {
			g = 1
		}
		mild = append(mild, [3]float64{g, g, g})
	}
	var strong [][3]float64
	for i, s := range whole {
		g := math.Exp2(-back * s)
		if i == 3 {
			g = 1
		}
		strong = append(strong, [3]float64{g, g, g})
	}
	l.add("auto more "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 18, Gains: strong}, "auto")
	l.add("auto "+film, adversary.Roll{Film: l.stocks[film], Scene: scene, Seed: 18, Gains: mild}, "auto")
}

// hard adds strong grain in the dark, little contrast, black and white.
func (l *list) hard() {
	fog := *l.stocks["grey-negative"]
	fog.Name, fog.Contrast = "flat grey-negative", 0.7
	l.add("flat foliage", adversary.Roll{Film: &fog, Scene: "foliage", Seed: 23, Grain: 0.06, Blur: [2]float64{1, 1.8}}, "register")
	l.add("black and white night", adversary.Roll{Film: l.stocks["mono"], Scene: "night", Seed: 24, Grain: 0.04, Blur: [2]float64{1, 1.8}}, "register", "casts", "salvage", "range", "stops", "fixed")
	l.add("black and white sky", adversary.Roll{Film: l.stocks["mono"], Scene: "sky", Seed: 25, Grain: 0.06, Blur: [2]float64{1, 1.8}}, "register", "casts", "salvage", "range", "stops", "fixed")
	l.add("grainy night", adversary.Roll{Film: l.stocks["negative"], Scene: "night", Seed: 21, Grain: 0.06, Blur: [2]float64{1.2, 2}}, "register")
	l.add("grainy sky", adversary.Roll{Film: l.stocks["slide-2"], Scene: "sky", Seed: 22, Grain: 0.06, Blur: [2]float64{1.2, 2}}, "register")
}
