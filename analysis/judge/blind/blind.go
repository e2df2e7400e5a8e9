// Package blind is blind judging for oneself: the frames of a roll come in random order,
// without labels, each several times; afterwards the verdicts tell how they run over stops,
// where the judge contradicts themselves, and the range that follows with its error
// (assets/manual/blind.md).
package blind

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"stopladder/analysis/judge/roll"
	"stopladder/analysis/judge/stops"
)

// Times how often each frame may be shown.
const (
	LeastTimes, UsualTimes, MostTimes = 1, 3, 6
)

// ErrFew says that there is too little to judge.
var ErrFew = errors.New("blind judging needs three labelled frames at least")

// Begin adds a blind judging to a roll: every frame so many times, in an order that seed
// draws, no frame twice in a row. shown is the grade at which frames are shown, "" as
// scanned. One that was begun before and is not done stays as it is and ends there.
func Begin(r *roll.Roll, day, shown string, times int, seed uint64) error {
	if len(r.Frames) < 3 {
		return ErrFew
	}
	if len(r.Blind) >= roll.MaxBlind {
		return errors.New("the roll keeps 64 blind judgings already, which is the most")
	}
	b := roll.Blind{Begun: day, Shown: shown}
	if len(r.Marks) > 0 {
		b.Judge = r.Marks[0].Judge
	}
	for _, i := range order(len(r.Frames), min(max(times, LeastTimes), MostTimes), seed) {
		f := &r.Frames[i]
		b.Views = append(b.Views, roll.View{Name: f.ScanName(), SHA256: f.ScanHash(), Stop: f.Stop})
	}
	if len(b.Views) > roll.MaxViews {
		return errors.New("the roll has too many frames to be judged so many times: choose fewer times")
	}
	r.Blind = append(r.Blind, b)
	return nil
}

// order returns the frames' indices: rounds of all frames, each in a random order, so that
// what a judge grows tired of falls on all frames alike.
func order(n, times int, seed uint64) (out []int) {
	rnd := rand.New(rand.NewPCG(seed, 20))
	for range times {
		round := rnd.Perm(n)
		if len(out) > 0 && round[0] == out[len(out)-1] {
			k := 1 + rnd.IntN(n-1)
			round[0], round[k] = round[k], round[0]
		}
		out = append(out, round...)
	}
	return out
}

// Open returns the index of the blind judging that has views to come, -1 for none.
func Open(r *roll.Roll) int {
	if n := len(r.Blind) - 1; n >= 0 && Next(&r.Blind[n]) >= 0 {
		return n
	}
	return -1
}

// Next returns the index of the next view to come, -1 when all have a verdict.
func Next(b *roll.Blind) int {
	return slices.IndexFunc(b.Views, func(v roll.View) bool { return v.Verdict == roll.Unjudged })
}

// Mark gives the next view of a blind judging a verdict. The last one ends it.
func Mark(b *roll.Blind, v roll.Verdict, seconds float64, day string) {
	i := Next(b)
	if i < 0 || v == roll.Unjudged {
		return
	}
	b.Views[i].Verdict = v
	if seconds > 0 && seconds < 1e5 {
		b.Views[i].Seconds = math.Round(seconds*10) / 10
	}
	if Next(b) < 0 {
		b.Done = day
	}
}

// Back takes the last verdict away; it reports whether there was one.
func Back(b *roll.Blind) bool {
	i := Next(b)
	if i < 0 {
		i = len(b.Views)
	}
	if i == 0 {
		return false
	}
	b.Views[i-1].Verdict, b.Views[i-1].Seconds, b.Done = roll.Unjudged, 0, ""
	return true
}

// Frame returns the index of the frame that a view is of: by the scan's hash, else by name;
// -1 where the roll has it no more.
func Frame(r *roll.Roll, v roll.View) int {
	if v.SHA256 != "" {
		if i := slices.IndexFunc(r.Frames, func(f roll.Frame) bool { return f.ScanHash() == v.SHA256 && f.ScanName() == v.Name }); i >= 0 {
			return i
		}
	}
	return slices.IndexFunc(r.Frames, func(f roll.Frame) bool {
		return f.ScanName() == v.Name && (v.SHA256 == "" || f.ScanHash() == "" || f.ScanHash() == v.SHA256)
	})
}

// seen is a view with its stop as the roll labels it now.
type seen struct {
	roll.View
	stop float64
}

// judged returns the views that have a verdict, of frames that the roll still has.
func judged(r *roll.Roll, b *roll.Blind) (out []seen, gone int) {
	for _, v := range b.Views {
		if v.Verdict == roll.Unjudged {
			continue
		}
		i := Frame(r, v)
		if i < 0 {
			gone++
			continue
		}
		out = append(out, seen{v, r.Frames[i].Stop})
	}
	return out, gone
}

// rank orders verdicts: better is more.
func rank(v roll.Verdict) int {
	switch v {
	case roll.Holds:
		return 2
	case roll.Strains:
		return 1
	}
	return 0
}

// Stop is what was said of the frames at one stop.
type Stop struct {
	Stop                   float64
	Holds, Strains, Breaks int
}

// Unlike is one frame that got different verdicts.
type Unlike struct {
	Stop     float64
	Name     string
	Verdicts []roll.Verdict // in the order in which they were given
}

// Turned are two frames on one side of the base of which the farther one got the better
// verdict, at least once.
type Turned struct {
	Farther, Nearer float64      // stops
	Better, Worse   roll.Verdict // of the farther, of the nearer
	Times           int          // pairs of views
}

// Result is what a blind judging comes to.
type Result struct {
	Blind  roll.Blind
	Of, To int // views that have a verdict, and those to come
	Gone   int // views of frames that the roll has no more
	Stops  []Stop
	Unlike []Unlike
	Turned []Turned
	// Again is the share of pairs of views of one frame that got the same verdict, Pairs how
	// many pairs there are; 0 pairs: no frame was seen twice.
	Again  float64
	Pairs  int
	Holds  Fit // what holds
	Usable Fit // what holds or strains
}

// Of analyses a blind judging.
func Of(r *roll.Roll, b *roll.Blind) *Result {
	list, gone := judged(r, b)
	out := &Result{Blind: *b, Of: len(list) + gone, To: len(b.Views) - len(list) - gone, Gone: gone}
	slices.SortStableFunc(list, func(a, b seen) int {
		switch {
		case a.stop < b.stop:
			return -1
		case a.stop > b.stop:
			return 1
		}
		return stops.Natural(a.Name, b.Name)
	})
	same := 0
	for i := 0; i < len(list); {
		j := i
		s := Stop{Stop: list[i].stop}
		for ; j < len(list) && math.Abs(list[j].stop-list[i].stop) < stops.Near; j++ {
			switch list[j].Verdict {
			case roll.Holds:
				s.Holds++
			case roll.Strains:
				s.Strains++
			default:
				s.Breaks++
			}
		}
		out.Stops = append(out.Stops, s)
		i = j
	}
	for i := 0; i < len(list); {
		j := i
		u := Unlike{Stop: list[i].stop, Name: list[i].Name}
		for ; j < len(list) && list[j].Name == list[i].Name; j++ {
			u.Verdicts = append(u.Verdicts, list[j].Verdict)
		}
		for a := range u.Verdicts {
			for _, v := range u.Verdicts[a+1:] {
				out.Pairs++
				if u.Verdicts[a] == v {
					same++
				}
			}
		}
		if slices.ContainsFunc(u.Verdicts, func(v roll.Verdict) bool { return v != u.Verdicts[0] }) {
			out.Unlike = append(out.Unlike, u)
		}
		i = j
	}
	if out.Pairs > 0 {
		out.Again = float64(same) / float64(out.Pairs)
	}
	out.Turned = turned(list)
	out.Holds = fit(list, func(v roll.Verdict) bool { return v == roll.Holds })
	out.Usable = fit(list, func(v roll.Verdict) bool { return v == roll.Holds || v == roll.Strains })
	return out
}

// turned finds the pairs of frames that were judged the wrong way round. The base frame
// counts as the nearest on both sides.
func turned(list []seen) (out []Turned) {
	for _, far := range list {
		for _, near := range list {
			if far.stop*near.stop < 0 || math.Abs(far.stop) < math.Abs(near.stop)+stops.Near || rank(far.Verdict) <= rank(near.Verdict) {
				continue
			}
			i := slices.IndexFunc(out, func(t Turned) bool {
				return t.Farther == far.stop && t.Nearer == near.stop && t.Better == far.Verdict && t.Worse == near.Verdict
			})
			if i < 0 {
				out = append(out, Turned{Farther: far.stop, Nearer: near.stop, Better: far.Verdict, Worse: near.Verdict})
				i = len(out) - 1
			}
			out[i].Times++
		}
	}
	return out
}

// Prune takes the views to come away whose frames the roll has no more: they cannot be shown.
func Prune(r *roll.Roll, b *roll.Blind) {
	b.Views = slices.DeleteFunc(b.Views, func(v roll.View) bool { return v.Verdict == roll.Unjudged && Frame(r, v) < 0 })
}
