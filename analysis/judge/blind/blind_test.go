package blind

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"testing"

	"stopladder/analysis/judge/roll"
)

func rollOf(labels ...float64) *roll.Roll {
	r := &roll.Roll{}
	for i, s := range labels {
		r.Frames = append(r.Frames, roll.Frame{File: fmt.Sprintf("/scans/%d.tif", i), Stop: s, Origin: roll.ByHand, SHA256: fmt.Sprintf("%064x", i+1), Bytes: 9})
	}
	return r
}

func whole() []float64 { return []float64{-3, -2, -1, 0, 1, 2, 3, 4} }

// judge is a simulated one of known ends and noise.
type judge struct {
	lo, hi, strains, noise float64 // ends to hold; strains: stops beyond them that still strain
	slip                   float64
	draw                   func(*rand.Rand) float64 // of unit standard deviation
}

func (j judge) says(s float64, rnd *rand.Rand) roll.Verdict {
	if rnd.Float64() < j.slip {
		return []roll.Verdict{roll.Holds, roll.Strains, roll.Breaks}[rnd.IntN(3)]
	}
	// Its ends move from view to view, each by itself.
	under, over := s-j.lo+j.noise*j.draw(rnd), j.hi-s+j.noise*j.draw(rnd)
	switch out := math.Min(under, over); {
	case out >= 0:
		return roll.Holds
	case out >= -j.strains:
		return roll.Strains
	}
	return roll.Breaks
}

func normal(r *rand.Rand) float64 { return r.NormFloat64() }

// logistic is of another making than the fit's own: its tails are longer.
func logistic(r *rand.Rand) float64 {
	u := r.Float64()
	return math.Log(u/(1-u)) * math.Sqrt(3) / math.Pi
}

// judgings has a judge judge a roll.
func judging(t *testing.T, labels []float64, times int, j judge, seed uint64) *Result {
	t.Helper()
	r := rollOf(labels...)
	if err := Begin(r, "2026-11-30", "", times, seed); err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(seed, 5))
	b := &r.Blind[0]
	for Next(b) >= 0 {
		Mark(b, j.says(b.Views[Next(b)].Stop, rnd), 2, "2026-11-30")
	}
	return Of(r, b)
}

// within reports whether an end's bounds hold the truth: a bound that lies beyond the bracket
// is none.
func within(e End, truth, side float64) bool {
	lo, hi := e.Lo, e.Hi
	if e.Beyond {
		if side < 0 {
			lo = math.Inf(-1)
		} else {
			hi = math.Inf(1)
		}
	}
	return truth >= lo && truth <= hi
}

// Simulated judges of known ends and noise: the stated 95 % hold the truth in 95 % of cases
// about, whatever the judge's noise, the bracket and the number of views; of judges whose
// noise is not the fit's own as well. And they are no wider than they must be.
func TestErrorsCover(t *testing.T) {
	each := 60
	if testing.Short() {
		each = 15
	}
	halves := []float64{}
	for s := -2.0; s <= 3; s += 0.5 {
		halves = append(halves, s)
	}
	cases := []struct {
		name   string
		labels []float64
		times  int
		noise  float64
		slip   float64
		draw   func(*rand.Rand) float64
	}{
		{"certain", whole(), 2, 0.1, 0, normal},
		{"usual", whole(), 3, 0.4, 0, normal},
		{"wavering", whole(), 3, 0.8, 0, normal},
		{"one view", whole(), 1, 0.4, 0, normal},
		{"slips", whole(), 4, 0.4, 0.03, normal},
		{"logistic", whole(), 3, 0.5, 0, logistic},
		{"half stops", halves, 2, 0.3, 0, normal},
	}
	all, held := 0, 0
	for n, c := range cases {
		rnd := rand.New(rand.NewPCG(uint64(n), 1))
		in, of, wide := 0, 0, 0.0
		for k := range each {
			// Ends anywhere in the bracket, the base frame between them.
			lo, hi := c.labels[0]*rnd.Float64(), c.labels[len(c.labels)-1]*rnd.Float64()
			res := judging(t, c.labels, c.times, judge{lo: lo, hi: hi, strains: 0.7, noise: c.noise, slip: c.slip, draw: c.draw}, uint64(1000*n+k))
			if !res.Holds.OK {
				continue // nothing was accepted: nothing is said
			}
			for _, x := range []struct {
				e     End
				truth float64
				side  float64
			}{{res.Holds.Under, lo, -1}, {res.Holds.Over, hi, 1}, {res.Usable.Under, lo - 0.7, -1}, {res.Usable.Over, hi + 0.7, 1}} {
				of++
				if within(x.e, x.truth, x.side) {
					in++
				}
				wide += x.e.Hi - x.e.Lo
			}
		}
		share := float64(in) / float64(of)
		t.Logf("%-11s %3d of %3d within (%.1f %%), %.2f stops wide", c.name, in, of, 100*share, wide/float64(of))
		all, held = all+of, held+in
		// Judgings are alike in pairs of ends: three standard errors of half as many.
		if least := 0.95 - 3*math.Sqrt(0.95*0.05/float64(of/2)); share < least {
			t.Errorf("%s: the stated 95 %% hold %.1f %%", c.name, 100*share)
		}
		// One view of each frame leaves much open; even so less than half of what was believed
		// beforehand, 95 % of nine stops.
		most := 2.2
		if c.times == 1 {
			most = 0.95 * 9 / 2
		}
		if wide/float64(of) > most {
			t.Errorf("%s: errors of %.2f stops say nothing", c.name, wide/float64(of))
		}
	}
	if share := float64(held) / float64(all); share < 0.935 {
		t.Errorf("over all the stated 95 %% hold %.1f %%", 100*share)
	}
}

// More views make it more certain, and the judge's own noise is found.
func TestMoreViewsTellMore(t *testing.T) {
	width := func(times int) (wide, noise float64) {
		n := 30
		for k := range n {
			r := judging(t, whole(), times, judge{lo: -1.4, hi: 2.3, strains: 1, noise: 0.6, draw: normal}, uint64(k))
			wide += (r.Holds.Over.Hi - r.Holds.Over.Lo) / float64(n)
			noise += r.Holds.Noise / float64(n)
		}
		return wide, noise
	}
	one, _ := width(1)
	six, noise := width(6)
	if six > 0.75*one {
		t.Errorf("six views of each frame are %.2f stops wide, one %.2f", six, one)
	}
	if noise < 0.35 || noise > 0.9 {
		t.Errorf("a noise of 0.6 stops is told as %.2f", noise)
	}
}

// An end that the bracket does not show is open, and is not told as one.
func TestOpenEnds(t *testing.T) {
	r := judging(t, whole(), 3, judge{lo: -1.5, hi: 9, strains: 0.5, noise: 0.3, draw: normal}, 3)
	if e := r.Holds.Over; !e.Open || e.Stop != 4 || !e.Beyond {
		t.Errorf("an end far beyond the bracket: %+v", e)
	}
	if e := r.Holds.Under; e.Open || math.Abs(e.Stop+1.5) > 0.6 {
		t.Errorf("the end at -1.5: %+v", e)
	}
	none := judging(t, whole(), 2, judge{lo: 8, hi: -8, noise: 0.1, draw: normal}, 3)
	if none.Holds.OK {
		t.Errorf("nothing was accepted, and a range is told: %+v", none.Holds)
	}
}

// Where a judge contradicts themselves is told as it is, counted by hand here.
func TestContradictions(t *testing.T) {
	r := rollOf(-1, 0, 1, 2)
	said := map[string][]roll.Verdict{
		"0.tif": {roll.Holds, roll.Breaks},   // -1
		"1.tif": {roll.Strains, roll.Holds},  // 0
		"2.tif": {roll.Breaks, roll.Breaks},  // +1
		"3.tif": {roll.Strains, roll.Breaks}, // +2
	}
	if err := Begin(r, "d", "", 2, 1); err != nil {
		t.Fatal(err)
	}
	b := &r.Blind[0]
	for Next(b) >= 0 {
		name := b.Views[Next(b)].Name
		Mark(b, said[name][0], 1, "d")
		said[name] = said[name][1:]
	}
	res := Of(r, b)
	if len(res.Unlike) != 3 || res.Unlike[0].Stop != -1 || !reflect.DeepEqual(res.Unlike[0].Verdicts, []roll.Verdict{roll.Holds, roll.Breaks}) {
		t.Errorf("frames with several verdicts: %+v", res.Unlike)
	}
	if res.Pairs != 4 || res.Again != 0.25 {
		t.Errorf("%d pairs, %.2f alike; want 4 and a quarter", res.Pairs, res.Again)
	}
	want := []Turned{
		{-1, 0, roll.Holds, roll.Strains, 1},
		{2, 1, roll.Strains, roll.Breaks, 2},
	}
	if !reflect.DeepEqual(res.Turned, want) {
		t.Errorf("turned round: %+v, want %+v", res.Turned, want)
	}
	if res.Stops[3].Strains != 1 || res.Stops[3].Breaks != 1 || res.Of != 8 || res.To != 0 || b.Done != "d" {
		t.Errorf("%+v, %d of %d, done %q", res.Stops[3], res.Of, res.To, b.Done)
	}
}

// Every frame comes as often as was asked for, in rounds, never twice in a row, and another
// seed has another order.
func TestOrder(t *testing.T) {
	first := map[int]int{}
	for seed := range uint64(400) {
		o := order(8, 3, seed)
		if len(o) != 24 {
			t.Fatal(len(o))
		}
		n := map[int]int{}
		for i, f := range o {
			n[f]++
			if i > 0 && o[i-1] == f {
				t.Fatalf("seed %d: %v", seed, o)
			}
			if (i+1)%8 == 0 {
				for k := range 8 {
					if n[k] != (i+1)/8 {
						t.Fatalf("seed %d: not in rounds: %v", seed, o)
					}
				}
			}
		}
		first[o[0]]++
	}
	for k := range 8 {
		if first[k] < 25 || first[k] > 80 { // of 50: chi-squared has it once in a million
			t.Errorf("frame %d comes first %d times of 400", k, first[k])
		}
	}
}

// A judging that is broken off is kept in the roll file with all that was said, goes on where
// it was, and the judge's ordinary marks stay what they are. Frames that were labelled anew
// since count at their stop of now.
func TestBrokenOffAndGoneOn(t *testing.T) {
	r := rollOf(whole()...)
	r.Frames[2].Verdict, r.Frames[2].Note = roll.Strains, "pale"
	r.Judge().Judge = "me"
	r.SetRange(-1, 2)
	if err := Begin(r, "2026-11-30", "curves", 2, 7); err != nil {
		t.Fatal(err)
	}
	marks := r.Clone()
	path := filepath.Join(t.TempDir(), "r.stopladder")
	said := 0
	for step := 0; Open(r) >= 0; step++ {
		b := &r.Blind[Open(r)]
		Mark(b, []roll.Verdict{roll.Holds, roll.Strains, roll.Breaks}[step%3], 1.234, "2026-12-01")
		said++
		if step%4 == 1 {
			if !Back(b) {
				t.Fatal("the last verdict cannot be taken back")
			}
			said--
		}
		if err := r.Save(path); err != nil {
			t.Fatal(err)
		}
		again, problems, err := roll.Load(path)
		for _, p := range problems {
			if p.Code != roll.Missing {
				t.Error(p.Text)
			}
		}
		if err != nil || !reflect.DeepEqual(again.Blind, r.Blind) {
			t.Fatalf("after %d verdicts: %v\n%+v\n%+v", said, err, again.Blind, r.Blind)
		}
		r = again
	}
	if n := len(r.Blind[0].Views); said != n || r.Blind[0].Done != "2026-12-01" || r.Blind[0].Judge != "me" || r.Blind[0].Shown != "curves" {
		t.Errorf("%d said of %d: %+v", said, n, r.Blind[0])
	}
	for i, f := range marks.Frames {
		if g := r.Frames[i]; g.Verdict != f.Verdict || g.Note != f.Note {
			t.Errorf("frame %d: %q %q was %q %q", i, g.Verdict, g.Note, f.Verdict, f.Note)
		}
	}
	if !reflect.DeepEqual(r.Marks[0].Range, marks.Marks[0].Range) {
		t.Errorf("the range was touched: %+v", r.Marks[0].Range)
	}
	r.Frames[7].Stop = 3.5
	if s := Of(r, &r.Blind[0]).Stops; s[len(s)-1].Stop != 3.5 {
		t.Errorf("a new label is not minded: %+v", s)
	}
	r.Frames = r.Frames[:6]
	if res := Of(r, &r.Blind[0]); res.Gone != 4 || res.Of != 16 {
		t.Errorf("of frames that are gone: %d gone, %d said", res.Gone, res.Of)
	}
}
