package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// Other pictures between the frames of a bracket are found by how light the scans
// are, for pictures that lighten with exposure and for negatives left negative, through a tone
// curve that flattens at both ends.
func TestOtherPicturesAreFoundByLight(t *testing.T) {
	f, err := New(Form{Meter: "EV 12", ISO: "100", Camera: "leaf", From: "-3", To: "+4", Step: "1", Hold: "f/8"}, Generic())
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	tries, first, offered := 0, 0, 0
	for range 300 {
		sign := 1.0
		if tries%3 == 0 {
			sign = -1
		}
		others := 1 + r.IntN(2)
		left := map[int]bool{}
		for len(left) < others {
			left[r.IntN(8+others)] = true
		}
		var names []string
		var light []float64
		next := 0
		for i := range 8 + others {
			names = append(names, fmt.Sprintf("scan%02d.tif", i+1))
			stop := r.Float64()*7 - 3
			if !left[i] {
				stop = f.Plan.Frames[next].Stop
				next++
			}
			light = append(light, sign/(1+math.Exp(-0.7*stop))+0.01*r.NormFloat64())
		}
		a, err := MatchByLight(f, names, light)
		if err != nil {
			t.Fatal(err)
		}
		if a.Sure || a.Question == "" || len(a.Offers) == 0 {
			t.Fatalf("light decided: %+v", a)
		}
		tries++
		for k, o := range a.Offers {
			ok := o.Misfit == nil && !strings.Contains(o.Text, "NaN")
			at := 0
			for i := range names {
				if left[i] {
					continue
				}
				// A picture as light as its neighbour in the bracket may stand for it.
				want := f.Plan.Frames[at].Stop
				at++
				ok = ok && o.Scans[i].Known && math.Abs(o.Scans[i].Stop-want) < 1e-9
			}
			if ok {
				offered++
				if k == 0 {
					first++
				}
				break
			}
		}
	}
	t.Logf("of %d rolls the right way came first for %d, and was offered for %d", tries, first, offered)
	// Some pictures could be their neighbours; but the right way is among the offers.
	if first*10 < tries*6 || offered*20 < tries*19 {
		t.Errorf("of %d rolls the right way came first for %d, and was offered for %d", tries, first, offered)
	}
	for _, light := range [][]float64{nil, make([]float64, 9), {math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN()}} {
		names := make([]string, 9)
		for i := range names {
			names[i] = fmt.Sprintf("s%d.tif", i)
		}
		a, err := MatchByLight(f, names, light)
		if err != nil || a.Sure || len(a.Offers) == 0 {
			t.Errorf("%v: %+v, %v", light, a, err)
		}
	}
}

// curve is how light a scan of a bracket is: a tone curve that flattens at both ends.
func curve(stop float64) float64 { return 1 / (1 + math.Exp(-0.7*stop)) }

// The order of names is held against how light the scans are. What fits stays as it
// was, for pictures and for negatives left negative, on a plan of any order; what does
// not is asked, with the order of light among the offers.
func TestOrderOfNamesIsHeldAgainstLight(t *testing.T) {
	for _, c := range []struct {
		order, again string
		scans        []float64 // by name: the stops that they really have
		sign         float64   // -1: darker with more exposure
		sure         bool
		first        string // of the offers, where asked
	}{
		{order: "base-first", scans: []float64{0, -3, -2, -1, 1, 2, 3, 4}, sign: 1, sure: true},
		{order: "under-over", scans: []float64{-3, -2, -1, 0, 1, 2, 3, 4}, sign: 1, sure: true},
		{order: "base-first", scans: []float64{0, -3, -2, -1, 1, 2, 3, 4}, sign: -1, sure: true},
		{order: "base-first", scans: []float64{-3, -2, -1, 0, 1, 2, 3, 4}, sign: 1, first: "from the darkest at −3 to the lightest at +4"},
		{order: "base-first", scans: []float64{-3, -2, -1, 0, 1, 2, 3, 4}, sign: -1, first: "from the lightest at −3 to the darkest at +4"},
		{order: "under-over", scans: []float64{0, -3, -2, -1, 1, 2, 3, 4}, sign: 1, first: "from the darkest at −3 to the lightest at +4"},
		{order: "base-first", scans: []float64{4, 3, 2, 1, -1, -2, -3, 0}, sign: 1, first: "from its last frame to its first"},
		{order: "under-over", scans: []float64{4, 3, 2, 1, 0, -1, -2, -3}, sign: 1, first: "from its last frame to its first"},
		{order: "over-under", scans: []float64{-3, -2, -1, 0, 1, 2, 3, 4}, sign: 1, first: "from its last frame to its first"},
		{order: "under-over", scans: []float64{-3, -2, 0, -1, 1, 2, 3, 4}, sign: 1, first: "from the darkest at −3 to the lightest at +4"},
	} {
		f := made(t, Form{Meter: "EV 12", ISO: "100", Camera: "leaf", From: "-3", To: "+4", Step: "1", Hold: "f/8", Order: c.order})
		var light []float64
		for i, stop := range c.scans {
			light = append(light, c.sign*curve(stop)+0.002*float64(i%3-1)) // a little noise
		}
		a, err := MatchByLight(f, numbered(1, 8), light)
		if err != nil {
			t.Fatal(err)
		}
		if a.Sure != c.sure || len(a.Scans) != 8 {
			t.Errorf("%s, scans %v: sure %v, %s %+v", c.order, c.scans, a.Sure, a.Question, a.Findings)
			continue
		}
		if c.sure {
			if found := strings.Join(a.Findings, " "); !same(stopsOf(a.Scans), c.scans) || !strings.Contains(found, "how light they are fits") {
				t.Errorf("%s, scans %v: %v", c.order, c.scans, stopsOf(a.Scans))
			}
			continue
		}
		if a.Question == "" || strings.Contains(a.Question, "%!") || a.Scans[0].Known {
			t.Errorf("%s, scans %v: %q", c.order, c.scans, a.Question)
		}
		right := slices.IndexFunc(a.Offers, func(o Offer) bool { return same(stopsOf(o.Scans), c.scans) })
		if right < 0 || right > 1 || c.sign > 0 && right > 0 || !strings.Contains(a.Offers[right].Text, c.first) {
			t.Errorf("%s, scans %v: the right way is offer %d of %+v", c.order, c.scans, right+1, a.Offers)
		}
		for _, o := range a.Offers {
			if o.Misfit != nil || o.Scans[0].Measured != nil || !strings.HasSuffix(o.Text, ".") {
				t.Errorf("%+v", o)
			}
		}
	}
	// Scans that an automatic exposure made alike tell nothing, nor does one alone.
	f := held(t)
	a, err := MatchByLight(f, numbered(1, 9), []float64{.500, .501, .502, .499, .501, .5, .502, .5, .501})
	if err != nil || !a.Sure || !slices.Contains(a.Findings, takenByName) {
		t.Errorf("scans that are alike: %+v, %v", a.Question, err)
	}
	// Labels in the names are kept, and told where light contradicts them.
	names := []string{"-1.tif", "0.tif", "+1.tif"}
	a, err = MatchByLight(f, names, []float64{curve(-1), curve(1), curve(0)})
	if found := strings.Join(a.Findings, " "); err != nil || !a.Sure || !strings.Contains(found, `"+1.tif" is darker than "0.tif"`) {
		t.Errorf("%+v %v", a.Findings, err)
	}
	a, err = MatchByLight(f, names, []float64{curve(-1), curve(0), curve(1)})
	if found := strings.Join(a.Findings, " "); err != nil || !a.Sure || strings.Contains(found, "darker") {
		t.Errorf("%+v %v", a.Findings, err)
	}
}
