package response

import (
	"context"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"stopladder/analysis/demo/adversary"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/scan"
)

// camera is what makes an 8-bit picture of linear light: a tone curve of its own kind, a
// balance that it may set anew for every frame, and what moved before it.
type camera struct {
	curve   float64 // strength of the S of its tone curve
	balance [][3]float64
	moving  float64 // share of the picture's width that a thing covers which moves from frame to frame
}

// pictures are a roll of the adversary's as such a camera makes it. Exposures are the
// roll's; labels its stops.
func (k camera) pictures(t *testing.T, r adversary.Roll) []Frame {
	t.Helper()
	r.Size, r.Grain, r.Blur, r.ReadSD = 600, 0.012, [2]float64{0.6, 0.9}, 2e-4
	rnd := rand.New(rand.NewPCG(r.Seed, 5))
	var frames []Frame
	for i, s := range r.Stops {
		if i < len(k.balance) {
			r.Gains = slices.Repeat([][3]float64{{1, 1, 1}}, len(r.Stops))
			r.Gains[i] = k.balance[i]
		}
		p := r.Frame(i).Pixels
		w, h := p.Header.Width, p.Header.Height
		q := &scan.Pixels{Header: p.Header, Pix: make([]uint16, len(p.Pix))}
		q.Header.Bits, q.Header.Path = 8, fmt.Sprintf("picture %d.jpg", i+1)
		for n, v := range p.Pix {
			x := float64(v) / 65535
			x = (1-k.curve)*x + k.curve*x*x*(3-2*x)
			q.Pix[n] = uint16(min(max(255*x+0.5, 0), 255))
		}
		if k.moving > 0 { // a grey thing, lit as the scene is
			side := int(k.moving * float64(w))
			at := image.Pt(rnd.IntN(w-side), rnd.IntN(h-side))
			tone := 255 * math.Pow(min(1, 0.12*math.Exp2(r.Exposure(i))), 1/2.2)
			for y := at.Y; y < at.Y+side; y++ {
				for x := at.X; x < at.X+side; x++ {
					for c := range 3 {
						q.Pix[3*(y*w+x)+c] = uint16(min(max(tone*(0.8+0.4*float64(x-at.X)/float64(side))+4*rnd.NormFloat64(), 0), 255))
					}
				}
			}
		}
		area := r.Gate()
		l, err := measure.NewLook(context.Background(), q, measure.Options{Area: &area})
		if err != nil {
			t.Fatal(err)
		}
		frames = append(frames, Frame{Look: l, Stop: s, StopKnown: true, Map: r.Map(i)})
	}
	return frames
}

// Eighteen brackets made as cameras make them, each with what must be told of it. What
// cannot be told may be said so; a wrong certainty is a defect. Of those that differ by scene
// and film alone one is tried, or all on request.
func TestMadeAsByCameras(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	films := adversary.Stocks()
	eight := func(film, scene string, seed uint64, drift ...float64) adversary.Roll {
		return adversary.Roll{Film: films[film], Scene: scene, Seed: seed, Stops: []float64{-4, -3, -2, -1, 0, 1, 2, 3}, Drift: drift}
	}
	balance := func(seed uint64, size float64) (out [][3]float64) {
		rnd := rand.New(rand.NewPCG(seed, 6))
		for range 8 {
			out = append(out, [3]float64{1 - size*rnd.Float64(), 1, 1 - size*rnd.Float64()})
		}
		return out
	}
	one := func(at int, g [3]float64) [][3]float64 {
		out := slices.Repeat([][3]float64{{1, 1, 1}}, 8)
		out[at] = g
		return out
	}
	yes, no := true, false
	type want struct {
		fixed *bool // nil: anything but a false certainty is asked for by not
		label Case  // "": no label may be named
	}
	exchange := func(a, b int) func(f []Frame) { return func(f []Frame) { f[a].Stop, f[b].Stop = f[b].Stop, f[a].Stop } }
	none := func([]Frame) {}
	right, open := 0, 0
	list := []struct {
		name   string
		cam    camera
		roll   adversary.Roll
		change func(f []Frame)
		want   want
		more   bool // on request
	}{
		{"plain, brick", camera{curve: 0.5}, eight("grey-slide", "brick", 101, 0.03, -0.05, 0.04, 0, 0, -0.03, 0.05), none, want{&yes, ""}, false},
		{"plain, foliage", camera{curve: 0.8}, eight("slide-dyes", "foliage", 102), none, want{&yes, ""}, true},
		{"plain, night", camera{curve: 0.3}, eight("slide-2", "night", 103, 0.1, -0.1, 0.05, -0.06, 0, 0.12, -0.1), none, want{&yes, ""}, true},
		{"balance of every frame, brick", camera{curve: 0.5, balance: balance(104, 0.25)}, eight("slide-dyes", "brick", 104), none, want{&no, ""}, true},
		{"balance of every frame, sky", camera{curve: 0.5, balance: balance(105, 0.15)}, eight("slide-2", "sky", 105), none, want{&no, ""}, true},
		{"balance of every frame, foliage", camera{curve: 0.7, balance: balance(106, 0.2)}, eight("negative-dyes", "foliage", 106), none, want{&no, ""}, false},
		{"balance of one frame, brick", camera{curve: 0.5, balance: one(5, [3]float64{0.85, 1, 1.1})}, eight("slide-dyes", "brick", 107), none, want{&no, ""}, true},
		{"balance of one frame, night", camera{curve: 0.5, balance: one(2, [3]float64{1.15, 1, 0.85})}, eight("slide-2", "night", 108), none, want{&no, ""}, false},
		{"exposed alike, three labels", camera{curve: 0.5}, eight("slide-dyes", "brick", 109, 0, 0, 0, 0, 0, 0, -1, -2), none, want{&yes, SameExposure}, true},
		{"exposed alike, two labels, dark", camera{curve: 0.5}, eight("slide-2", "foliage", 110, 0, 0, 1), none, want{&yes, SameExposure}, false},
		{"exposed alike, two labels, light", camera{curve: 0.3}, eight("negative-dyes", "sky", 111, 0, 0, 0, 0, 0, 0, 0, -1), none, want{&yes, SameExposure}, true},
		{"swapped, neighbours", camera{curve: 0.5}, eight("slide-dyes", "brick", 112), exchange(5, 6), want{&yes, SwappedLabels}, false},
		{"swapped, far", camera{curve: 0.7}, eight("slide-2", "night", 113, 0.05, -0.05, 0.04), exchange(1, 6), want{&yes, SwappedLabels}, true},
		{"swapped, stray light", camera{curve: 0.4}, func() adversary.Roll { r := eight("slide-dyes", "foliage", 114); r.Stray = 0.01; return r }(), exchange(2, 5), want{&yes, SwappedLabels}, false},
		{"a label a step off", camera{curve: 0.5}, eight("slide-2", "brick", 115), func(f []Frame) { f[6].Stop = 3; f[7].Stop = 3 }, want{&yes, WholeStep}, false},
		{"a row a step off", camera{curve: 0.5}, eight("negative-dyes", "foliage", 116), func(f []Frame) { f[5].Stop, f[6].Stop, f[7].Stop = 2, 3, 4 }, want{&yes, RowOff}, false},
		{"a thing moves", camera{curve: 0.5, moving: 0.2}, eight("slide-dyes", "brick", 117), none, want{&yes, ""}, true},
		{"a large thing moves", camera{curve: 0.5, moving: 0.35}, eight("slide-2", "foliage", 118), none, want{&yes, ""}, false},
	}
	tried := 0
	for _, x := range list {
		if x.more && !all() {
			continue
		}
		tried++
		frames := x.cam.pictures(t, x.roll)
		x.change(frames)
		r, err := Fit(context.Background(), frames, 4, Options{})
		if err != nil {
			t.Fatal(err)
		}
		told := "cannot tell"
		if r.Scan.Fixed != nil {
			told = map[bool]string{true: "fixed", false: "not alike"}[*r.Scan.Fixed]
		}
		wrong, labels := r.Scan.Fixed != nil && *r.Scan.Fixed != *x.want.fixed, ""
		missed := x.want.label != ""
		for _, f := range r.Labels {
			labels += " | " + f.Text
			if f.Case == x.want.label {
				missed = false
			}
			wrong = wrong || x.want.label == ""
		}
		t.Logf("%s: %s (%s)%s; %s %s", x.name, told, r.Scan.Case, labels, r.Scan.Reason, strings.Join(r.Scan.Findings, " "))
		switch {
		case wrong:
			t.Errorf("%s: a wrong certainty", x.name)
		case missed:
			t.Errorf("%s: not told", x.name)
		case r.Scan.Fixed == nil:
			open++
		default:
			right++
		}
	}
	t.Logf("%d of %d told right, %d cannot be told", right, tried, open)
	if right+open < tried {
		t.Errorf("%d of %d rolls", right+open, tried)
	}
}
