package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
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
