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

// tests lists all rolls. A new case is one line here: a roll, and the checks that it
// feeds.
func tests(seeds, size int, big bool) (out []test) {
	stocks := adversary.Stocks()
	add := func(name string, r adversary.Roll, checks ...string) *test {
		if r.Stops == nil {
			r.Stops = whole
		}
		if r.Size == 0 {
			r.Size = size
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
		out = append(out, test{name: name, roll: &r, for_: checks})
		return &out[len(out)-1]
	}
	plain := []string{"casts", "salvage", "noise", "range", "stops", "register", "fixed", "clip"}

	// Every film before every scene, and some of them with five seeds.
	for _, film := range []string{"grey-slide", "grey-negative", "slide-dyes", "slide-2", "negative-dyes"} {
		for k, scene := range adversary.Scenes {
			add("core "+film+" "+scene, adversary.Roll{Film: stocks[film], Scene: scene, Seed: uint64(k + 1)}, plain...)
		}
	}
	for _, p := range [][2]string{{"grey-slide", "foliage"}, {"slide-dyes", "brick"}, {"negative-dyes", "sky"}} {
		for seed := 2; seed <= seeds; seed++ {
			add(fmt.Sprintf("seed %d %s %s", seed, p[0], p[1]), adversary.Roll{Film: stocks[p[0]], Scene: p[1], Seed: uint64(100 * seed)}, plain...)
		}
	}
	// Casts of known size.
	for _, size := range []float64{1, 3, 8, 20} {
		for k, film := range []string{"slide", "negative"} {
			add(fmt.Sprintf("cast %g %s", size, film), adversary.Roll{Film: stocks[film].WithCast(size), Scene: []string{"foliage", "night"}[k], Seed: 7}, "casts", "salvage", "range", "stops", "fixed")
		}
	}
	// Grain of every blur.
	for _, blur := range []float64{0.8, 1.2, 1.6, 2, 3} {
		for _, film := range []string{"slide-2", "negative"} {
			add(fmt.Sprintf("blur %g %s", blur, film), adversary.Roll{Film: stocks[film], Scene: "even", Seed: 8, Stops: five, Grain: 0.03, Blur: [2]float64{blur, blur}}, "noise", "register")
		}
	}
	// More grain.
	for _, grain := range []float64{0.01, 0.02, 0.04, 0.06} {
		for _, film := range []string{"slide-dyes", "negative-dyes"} {
			t := add(fmt.Sprintf("grain %g %s", grain, film), adversary.Roll{Film: stocks[film], Scene: "even", Seed: 9, Grain: grain}, "salvage", "range", "register", "fixed", "stops")
			t.group, t.level = "grain "+film, grain
		}
	}
	// The same film scanned small and large.
	for _, film := range []string{"slide-dyes", "negative-dyes"} {
		sizes := [][2]int{{900, 3}, {2700, 1}}
		if big {
			sizes = append(sizes, [2]int{7000, 1})
		}
		for _, s := range sizes {
			k := float64(s[0]*s[1]) / 2700
			t := add(fmt.Sprintf("size %d %s", s[0], film), adversary.Roll{Film: stocks[film], Scene: "brick", Seed: 10, Stops: []float64{-2, -1, 0, 1, 2, 3}, Size: s[0], Reduce: s[1],
				Grain: 0.045 * k, Blur: [2]float64{1.2 * k, 1.9 * k}}, "range", "noise")
			t.group, t.level = "size "+film, float64(s[0])
		}
	}
	// One roll alone, as three, as eight.
	for _, film := range []string{"slide-dyes", "negative-dyes"} {
		for _, stops := range [][]float64{{0}, {-1, 0, 1}, whole} {
			r := adversary.Roll{Film: stocks[film], Scene: "foliage", Seed: 11, Stops: stops, Grain: 0.05, Camera: nil}
			t := add(fmt.Sprintf("alone %d %s", len(stops), film), r)
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
			t := add(fmt.Sprintf("step %g %s", step, film), adversary.Roll{Film: stocks[film], Scene: "sky", Seed: 12, Stops: stops}, "range")
			t.group, t.level = "step "+film, step
		}
	}
	// The camera moved, or the film did.
	for k, film := range []string{"slide-dyes", "negative-dyes"} {
		scene := []string{"brick", "foliage"}[k]
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
		add("camera "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 13, Border: true, Camera: move(20)}, "camera", "register")
		add("film "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 13, Border: true, Scanner: turn}, "register", "stops", "range")
		add("dust "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 14, FilmDust: 0.017}, "dust")
		add("glass "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 14, Glass: 0.017}, "dust")
		add("drift "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 15, Drift: []float64{0.2, -0.15, 0.1, 0, -0.2, 0.2, -0.1, 0.15}}, "stops", "fixed")
		add("flare "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 16, Flare: 0.015}, "stops", "casts", "fixed")
		add("blue "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 17, Gains: [][3]float64{{}, {}, {}, {}, {1, 1, 0.9}}}, "blue")
		var mild [][3]float64
		for i, s := range whole {
			g := 1 - 0.09*s
			if i == 3 {
				g = 1
			}
			mild = append(mild, [3]float64{g, g, g})
		}
		var strong [][3]float64 // takes a good third of the stops back
		for i, s := range whole {
			g := math.Exp2(-[]float64{0.6, 0.27}[k] * s)
			if i == 3 {
				g = 1
			}
			strong = append(strong, [3]float64{g, g, g})
		}
		add("auto more "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 18, Gains: strong}, "auto")
		add("auto "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 18, Gains: mild}, "auto")
		add("sharp "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 26, Sharpen: 0.8, SharpenRadius: 1}, "sharp", "stops", "fixed", "register")
		add("8 bit "+film, adversary.Roll{Film: stocks[film], Scene: scene, Seed: 19, Bits: 8}, "salvage", "range", "stops", "clip", "fixed")
	}
	for k, stray := range []float64{0.01, 0.02} {
		add(fmt.Sprintf("stray %g", stray), adversary.Roll{Film: stocks[[]string{"slide-dyes", "slide-2"}[k]], Scene: []string{"brick", "sky"}[k], Seed: 20, Stray: stray}, "stray", "stops")
	}
	// Strong grain in the dark, little contrast, black and white.
	fog := *stocks["grey-negative"]
	fog.Name, fog.Contrast = "flat grey-negative", 0.7
	add("flat foliage", adversary.Roll{Film: &fog, Scene: "foliage", Seed: 23, Grain: 0.06, Blur: [2]float64{1, 1.8}}, "register")
	add("black and white night", adversary.Roll{Film: stocks["mono"], Scene: "night", Seed: 24, Grain: 0.04, Blur: [2]float64{1, 1.8}}, "register", "casts", "salvage", "range", "stops", "fixed")
	add("black and white sky", adversary.Roll{Film: stocks["mono"], Scene: "sky", Seed: 25, Grain: 0.06, Blur: [2]float64{1, 1.8}}, "register", "casts", "salvage", "range", "stops", "fixed")
	add("grainy night", adversary.Roll{Film: stocks["negative"], Scene: "night", Seed: 21, Grain: 0.06, Blur: [2]float64{1.2, 2}}, "register")
	add("grainy sky", adversary.Roll{Film: stocks["slide-2"], Scene: "sky", Seed: 22, Grain: 0.06, Blur: [2]float64{1.2, 2}}, "register")
	return out
}
