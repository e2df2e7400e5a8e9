package latitude

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"stopladder/analysis/judge/criteria"
)

func num(v float64) *float64 { return &v }

// film is an invented film: its costs at any stop.
type film struct {
	lost, dE, noise, crossover, contrast func(s float64) float64
}

func (f film) at(s float64) Point {
	return Point{Stop: s, Values: [criteria.Count]*float64{num(f.lost(s)), num(f.dE(s)), num(f.noise(s)), num(f.crossover(s)), num(f.contrast(s))}}
}

func roll(f film, lo, hi, step float64) (pts []Point, base int) {
	for s := lo; s <= hi+1e-9; s += step {
		if math.Abs(s) < 1e-9 {
			base = len(pts)
		}
		pts = append(pts, f.at(s))
	}
	return
}

// zero everywhere but where the test says.
func plain() film {
	none := func(float64) float64 { return 0 }
	return film{none, none, none, none, func(float64) float64 { return 1 }}
}

// One criterion that is a straight line has its end where the line crosses.
func TestEndsOfStraightLines(t *testing.T) {
	f := plain()
	f.noise = func(s float64) float64 { return math.Max(0, 1-1.5*s) } // 3 L* at -1.333, 6 at -3.333
	f.dE = func(s float64) float64 { return math.Max(0, 2*s) }        // 3 at 1.5, 6 at 3
	pts, base := roll(f, -3, 4, 1)
	r := Measure(pts, base, criteria.Default(), nil)
	for _, c := range []struct {
		what string
		e    End
		stop float64
		by   criteria.Criterion
		open bool
	}{
		{"holds under", r.Holds.Lo, -4.0 / 3, criteria.Noise, false},
		{"holds over", r.Holds.Hi, 1.5, criteria.DeltaE, false},
		{"strains over", r.Strains.Hi, 3, criteria.DeltaE, false},
		{"strains under", r.Strains.Lo, -3, -1, true},
	} {
		if math.Abs(c.e.Stop-c.stop) > 0.02 || c.e.By != c.by || c.e.Open != c.open {
			t.Errorf("%s: %+v, want %g by %d", c.what, c.e, c.stop, c.by)
		}
		// A reading may be off by a tenth, two of its errors by a fifth, and more of lines
		// so flat by more of a stop.
		if !(c.e.Uncertainty > 0) || c.e.Uncertainty > 0.2*math.Abs(c.stop)+0.25 {
			t.Errorf("%s: uncertainty %g", c.what, c.e.Uncertainty)
		}
	}
	want := []Suggestion{SaysStrains, SaysStrains, SaysHolds, SaysHolds, SaysHolds, SaysStrains, SaysStrains, SaysBreaks}
	for i, v := range r.Verdicts {
		if v.Says != want[i] {
			t.Errorf("%+g: %q by %v, want %q", pts[i].Stop, v.Says, v.By, want[i])
		}
	}
}

// Costs as films have them, at random: what a roll of whole stops says lies within
// a quarter stop of what one of half stops says.
func TestWholeStopsAreAsGoodAsHalves(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	logistic := func(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
	ends, worst, far := 0, 0.0, 0
	for range 400 {
		a, b, w := 1+2*r.Float64(), 1+2*r.Float64(), 0.5+0.7*r.Float64()
		k, n := 0.6+2*r.Float64(), 0.3+0.5*r.Float64()
		f := film{
			lost: func(s float64) float64 {
				l := logistic((s-a-2)/w) + 0.5*logistic((-s-b-2)/w)
				return math.Max(0, l-logistic((-a-2)/w)-0.5*logistic((-b-2)/w))
			},
			dE:        func(s float64) float64 { return k * math.Pow(math.Abs(s), 1.4) },
			noise:     func(s float64) float64 { return 1.2 * math.Exp2(-n*s) },
			crossover: func(s float64) float64 { return 0.8 * k * math.Abs(s) },
			contrast:  func(s float64) float64 { return 1 - 0.35*logistic(1.5*(math.Abs(s)-a-0.5)) },
		}
		for _, set := range criteria.Named() {
			p, pb := roll(f, -4, 5, 1)
			q, qb := roll(f, -4, 5, 0.5)
			whole, half := Measure(p, pb, set, nil), Measure(q, qb, set, nil)
			if whole.Holds.Reason != half.Holds.Reason {
				t.Fatalf("%q and %q", whole.Holds.Reason, half.Holds.Reason)
			}
			for _, e := range [][2]End{{whole.Holds.Lo, half.Holds.Lo}, {whole.Holds.Hi, half.Holds.Hi}, {whole.Strains.Lo, half.Strains.Lo}, {whole.Strains.Hi, half.Strains.Hi}} {
				d := math.Abs(e[0].Stop - e[1].Stop)
				ends++
				worst = math.Max(worst, d)
				if d > 0.25 {
					far++
					t.Errorf("%s: whole stops say %.2f (%s), halves %.2f", set.Name, e[0].Stop, "", e[1].Stop)
				}
			}
		}
	}
	t.Logf("%d ends, worst %.2f stops apart, %d beyond a quarter", ends, worst, far)
}

func TestOpenAndMissing(t *testing.T) {
	pts, base := roll(plain(), -1, 2, 1)
	r := Measure(pts, base, criteria.Default(), nil)
	if !r.Holds.Lo.Open || r.Holds.Lo.Stop != -1 || !r.Holds.Hi.Open || r.Holds.Hi.Stop != 2 || r.Holds.Reason != "" {
		t.Errorf("%+v", r.Holds)
	}
	// One frame alone.
	r = Measure(pts[base:base+1], 0, criteria.Default(), nil)
	if !strings.Contains(r.Holds.Reason, "whole bracket") || r.Strains.Reason == "" || r.Verdicts[0].Says != SaysHolds {
		t.Errorf("one frame has a range: %+v", r)
	}
	// The whole bracket is there, and none of it could be compared.
	for i := range pts {
		if i != base {
			pts[i].Values = [criteria.Count]*float64{}
		}
	}
	if r = Measure(pts, base, criteria.Default(), nil); !strings.Contains(r.Holds.Reason, "notes") || strings.Contains(r.Holds.Reason, "open the whole") {
		t.Errorf("frames that are there are asked for: %q", r.Holds.Reason)
	}
	r = Measure(nil, -1, criteria.Default(), nil)
	if r.Holds.Reason == "" || r.Strains.Reason == "" {
		t.Error("a roll without a base has a range")
	}
	r = Measure([]Point{{Stop: 0}, {Stop: 1}}, 0, criteria.Default(), nil)
	if r.Holds.Reason == "" || r.Verdicts[1].Says != NotSuggested || len(r.Verdicts[1].Missing) != int(criteria.Count) {
		t.Errorf("%+v", r)
	}
	// Without lost area a frame may break, but not hold.
	p := plain().at(1)
	p.Values[criteria.LostArea] = nil
	r = Measure([]Point{plain().at(0), p}, 0, criteria.Default(), nil)
	if r.Verdicts[1].Says != NotSuggested {
		t.Errorf("%+v", r.Verdicts[1])
	}
	p.Values[criteria.Noise] = num(50)
	r = Measure([]Point{plain().at(0), p}, 0, criteria.Default(), nil)
	if r.Verdicts[1].Says != SaysBreaks {
		t.Errorf("%+v", r.Verdicts[1])
	}
}

func TestBaseBeyondALimit(t *testing.T) {
	f := plain()
	f.noise = func(float64) float64 { return 3.5 }
	pts, base := roll(f, -1, 1, 1)
	r := Measure(pts, base, criteria.Default(), nil)
	if !strings.Contains(r.Holds.Reason, "base frame itself") || !strings.Contains(r.Holds.Reason, "3.5 L*") || r.Strains.Reason != "" {
		t.Errorf("%q, %q", r.Holds.Reason, r.Strains.Reason)
	}
}

// The curve passes through every reading, also through those that wiggle, and
// never leaves the span of two neighbours.
func TestCurvesAreExactAndBounded(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	for range 200 {
		var pts []Point
		x := -4.0
		for range 2 + r.IntN(9) {
			pts = append(pts, Point{Stop: x, Values: [criteria.Count]*float64{num(r.Float64()), num(10 * r.Float64()), nil, nil, nil}})
			x += 0.1 + r.Float64()
		}
		res := Measure(pts, 0, criteria.Default(), nil)
		for _, c := range []criteria.Criterion{criteria.LostArea, criteria.DeltaE} {
			k := res.Curve(c)
			for i, p := range pts {
				if v, ok := k.At(p.Stop); !ok || math.Abs(v-*p.Values[c]) > 1e-9 {
					t.Fatalf("at a reading: %g %v, want %g", v, ok, *p.Values[c])
				}
				if i == 0 {
					continue
				}
				a, b := *pts[i-1].Values[c], *p.Values[c]
				for f := 0.0; f < 1; f += 0.1 {
					v, _ := k.At(pts[i-1].Stop + f*(p.Stop-pts[i-1].Stop))
					if v < math.Min(a, b)-1e-9 || v > math.Max(a, b)+1e-9 {
						t.Fatalf("between %g and %g the curve has %g", a, b, v)
					}
				}
			}
		}
		if _, ok := res.Curve(criteria.DeltaE).At(pts[0].Stop - 0.1); ok || res.Curve(criteria.Noise) != nil {
			t.Fatal("a curve beyond the frames")
		}
	}
}

func BenchmarkMeasure(b *testing.B) {
	f := plain()
	f.noise = func(s float64) float64 { return math.Exp2(-s) }
	pts, base := roll(f, -3, 4, 1.0/3)
	for b.Loop() {
		Measure(pts, base, criteria.Default(), nil)
	}
}

// A frame that could not be read says nothing: the range reaches as far as the last
// frame of which something is known, and that lies further in.
func TestUnreadFramesDoNotHold(t *testing.T) {
	set := criteria.Named()[0]
	at := func(stop, share float64) Point {
		p := Point{Stop: stop}
		for _, c := range criteria.All() {
			v := share * set.Limits[c].Holds // of what holds
			if c.Least() {
				v = set.Limits[c].Holds / share
			}
			p.Values[c] = &v
		}
		return p
	}
	for _, c := range []struct {
		name   string
		points []Point
		base   int
		lo, hi End
	}{
		{"the ends unread", []Point{{Stop: -2}, at(-1, 0.5), at(0, 0.1), at(1, 0.5), {Stop: 2}, {Stop: 3}}, 2,
			End{Stop: -1, Open: true, By: -1, Unknown: 1}, End{Stop: 1, Open: true, By: -1, Unknown: 2}},
		{"one side unread", []Point{{Stop: -1}, at(0, 0.1), at(1, 0.5)}, 1, End{Open: true, By: -1, Unknown: 1}, End{Stop: 1, Open: true, By: -1}},
		{"one between", []Point{at(0, 0.1), {Stop: 1}, at(2, 0.5)}, 0, End{Open: true, By: -1}, End{Stop: 2, Open: true, By: -1}},
	} {
		r := Measure(c.points, c.base, set, nil).Holds
		if r.Reason != "" || r.Lo != c.lo || r.Hi != c.hi {
			t.Errorf("%s: %+v, want %+v and %+v", c.name, r, c.lo, c.hi)
		}
	}
	// One criterion that breaks ends it all the same.
	lost := 10 * set.Limits[criteria.LostArea].Strains
	far := Point{Stop: 1}
	far.Values[criteria.LostArea] = &lost
	if r := Measure([]Point{at(0, 0.1), far}, 0, set, nil).Holds; r.Hi.Open || r.Hi.By != criteria.LostArea || !(r.Hi.Stop > 0 && r.Hi.Stop < 1) {
		t.Errorf("a frame of which only lost area is known: %+v", r.Hi)
	}
}

// The uncertainty of an end holds two errors of the readings, which a slope of 1.3 L* a
// stop makes stops of (3 L* less or more by a fifth: 0.75 L* on the farther side), and two
// of the frames' places, in squares. Where the roll is a model, the course's own errors
// are those.
func TestUncertaintyOfAnEnd(t *testing.T) {
	f := plain()
	f.noise = func(s float64) float64 { return math.Max(0, 3-1.3*(s+1.3)) } // 3 L*, where it ends Holds, at -1.3
	for _, c := range []struct{ step, placed float64 }{{1, 0.9}, {0.5, 0.9}, {1, 0.3}, {1, 0.12}, {0.5, 0.2}, {0.5, 0}} {
		pts, base := roll(f, -3, 2, c.step)
		course := &Course{}
		for i := range pts {
			pts[i].StopError = c.placed
			course.Stops = append(course.Stops, pts[i].Stop)
			for k, v := range pts[i].Values {
				course.Values[k] = append(course.Values[k], *v)
				course.Errors[k] = append(course.Errors[k], map[criteria.Criterion]float64{criteria.Noise: 0.13}[criteria.Criterion(k)])
			}
		}
		for _, o := range []struct {
			c    *Course
			want float64
		}{{nil, math.Hypot(0.75/1.3, 2*c.placed)}, {course, math.Hypot(0.2, 2*c.placed)}} {
			e := Measure(pts, base, criteria.Default(), o.c).Holds.Lo
			if math.Abs(e.Stop+1.3) > 0.02 || math.Abs(e.Uncertainty-o.want) > 0.04 {
				t.Errorf("frames %g apart, placed within %g: ends at %.3f within %.4f, want %g", c.step, c.placed, e.Stop, e.Uncertainty, o.want)
			}
		}
	}
}
