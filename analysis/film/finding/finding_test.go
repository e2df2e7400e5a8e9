package finding

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"stopladder/analysis/film/latitude"
	"stopladder/analysis/judge/criteria"
)

func num(v float64) *float64 { return &v }

func roll(lo, hi int, f func(s float64) [criteria.Count]*float64) (pts []latitude.Point, base int) {
	for i := lo; i <= hi; i++ {
		if i == 0 {
			base = len(pts)
		}
		pts = append(pts, latitude.Point{Stop: float64(i), Values: f(float64(i))})
	}
	return
}

func TestAFilmThatForgivesOverexposure(t *testing.T) {
	pts, base := roll(-3, 4, func(s float64) [criteria.Count]*float64 {
		return [criteria.Count]*float64{num(math.Max(0, -s-1) * 0.04), num(math.Abs(s)), num(math.Max(1, 1-1.5*s)), num(0.5), num(1)}
	})
	got := Sentences(latitude.Measure(pts, base, criteria.Default(), nil))
	text := strings.Join(got, " ")
	for _, want := range []string{"The film holds from \u22121¼ to +3 stops", "salvaged by curves, limits: screen",
		"Under, it ends at \u22121.33 (\u00b1 ", " in 95 of 100 cases), where the noise passes 3.0 L*; a stop further it is 4.5 L*", "Over, it ends at +3.00 (\u00b1 ", "), where the colour difference passes 3.0 \u0394E00; a stop further it is 4.0 \u0394E00.",
		"Overexposure is forgiven more (3 stops against 1¼ stops): when in doubt give more light. Meter carefully: the narrower side forgives 1\u00bc stops, of which \u00be stop is certain."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
}

// A criterion that comes back within its limit, or stays where it passed it, is not
// told as if it went on getting worse.
func TestReadingsThatRecover(t *testing.T) {
	for _, c := range []struct {
		two  float64 // contrast kept at -2; that at -1 is all but the limit
		want string
	}{
		{0.7985, "a stop further it is still kept to 80 %."},
		{0.9, "a stop further it is kept to 90 %, within the limit again."},
		{0.6, "a stop further it is kept to 60 %."},
	} {
		pts, base := roll(-2, 0, func(s float64) [criteria.Count]*float64 {
			return [criteria.Count]*float64{num(0), num(0), num(0), num(0), num(map[float64]float64{0: 1, -1: 0.79999, -2: c.two}[s])}
		})
		if text := strings.Join(Sentences(latitude.Measure(pts, base, criteria.Default(), nil)), " "); !strings.Contains(text, c.want) {
			t.Errorf("%g at -2: %q is not in\n%s", c.two, c.want, text)
		}
	}
}

func TestNoRange(t *testing.T) {
	got := Sentences(latitude.Measure(nil, -1, criteria.Default(), nil))
	if len(got) != 1 || !strings.Contains(got[0], "no base frame") {
		t.Errorf("%q", got)
	}
	pts, base := roll(-1, 1, func(float64) [criteria.Count]*float64 {
		return [criteria.Count]*float64{num(0), num(0), num(4), num(0), num(1)}
	})
	got = Sentences(latitude.Measure(pts, base, criteria.Default(), nil))
	if len(got) != 2 || !strings.Contains(got[0], "base frame itself") || !strings.Contains(got[1], "usable from at least \u22121 to at least +1") {
		t.Errorf("%q", got)
	}
}

var (
	passes  = regexp.MustCompile(`(Under|Over), it ends at ([+\x{2212}]?\d+\.\d\d) \(\x{00b1} (\d+\.\d\d)( in 95 of 100 cases)?\), where (?:the ([a-z ]+) passes|less than) ([0-9.<]+ (?:%|L\*|ΔE00))[^;.]*(?:; a stop further it is [a-z ]*([0-9.<]+) )?`)
	against = regexp.MustCompile(`\((?:at least )?([0-9¼½¾]+) stops? against (?:at least )?([0-9¼½¾]+) stops?\)`)
)

// Whatever the readings are, the sentences say nothing else: figures are taken out
// of the text again and held against the readings.
func TestWordsAgreeWithReadings(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	said := map[string]int{}
	for range 3000 {
		k := [6]float64{}
		for i := range k {
			k[i] = 2.5 * r.Float64()
		}
		lo, hi := -r.IntN(4), r.IntN(5)
		costs := func(s float64) [criteria.Count]*float64 {
			under, over := math.Max(0, -s), math.Max(0, s)
			v := [criteria.Count]*float64{num(math.Min(1, 0.02*(k[0]*under*under+k[1]*over*over))), num(k[2]*under + k[3]*over),
				num(1 + k[4]*under), num(k[5] * math.Abs(s)), num(math.Max(0, 1-0.05*k[0]*under-0.08*k[1]*over))}
			if r.IntN(25) == 0 {
				v[r.IntN(int(criteria.Count))] = nil
			}
			return v
		}
		pts, base := roll(lo, hi, costs)
		var course *latitude.Course // half of the rolls are models, which know their ends better
		if r.IntN(2) == 0 {
			course = &latitude.Course{}
			off := 0.1 * r.Float64()
			for s := float64(lo); s <= float64(hi); s += 0.25 {
				course.Stops = append(course.Stops, s)
				for c, v := range costs(s) {
					x := math.NaN()
					if v != nil {
						x = *v
					}
					course.Values[c], course.Errors[c] = append(course.Values[c], x), append(course.Errors[c], off*x)
				}
			}
		}
		set := criteria.Named()[r.IntN(3)]
		res := latitude.Measure(pts, base, set, course)
		out := Sentences(res)
		text := strings.Join(out, " ")
		if len(out) == 0 || len(out) > 3 || strings.Contains(text, "NaN") || strings.Contains(text, "%!") {
			t.Fatalf("%q", out)
		}
		if res.Holds.Reason != "" {
			continue
		}
		by := map[string]latitude.End{"Under": res.Holds.Lo, "Over": res.Holds.Hi}
		found := map[string]bool{}
		for i, m := range passes.FindAllStringSubmatch(text, -1) {
			e := by[m[1]]
			found[m[1]] = true
			at, err := strconv.ParseFloat(strings.Replace(m[2], "\u2212", "-", 1), 64)
			off, err2 := strconv.ParseFloat(m[3], 64)
			word := m[5]
			if word == "" {
				word = criteria.ContrastKept.Word()
			}
			if err != nil || err2 != nil || e.Open || e.By.Word() != word || e.By.Words(set.Limits[e.By].Holds) != m[6] || math.Abs(at-e.Stop) > 0.0051 || math.Abs(off-e.Uncertainty) > 0.0051 || (i == 0) != (m[4] != "") {
				t.Fatalf("%q against %+v", m[0], e)
			}
			way := map[string]float64{"Under": -1, "Over": 1}[m[1]]
			v, ok := res.Curve(e.By).At(e.Stop + way)
			if (m[7] != "") != ok || ok && !strings.HasPrefix(e.By.Words(v), m[7]) {
				t.Fatalf("%q, and a stop further it is %g (%v)", m[0], v, ok)
			}
			said["ended"]++
		}
		for side, e := range by {
			if found[side] == e.Open {
				t.Fatalf("%s: %+v, in\n%s", side, e, text)
			}
		}
		under, over := -res.Holds.Lo.Stop, res.Holds.Hi.Stop
		off := math.Hypot(res.Holds.Lo.Uncertainty, res.Holds.Hi.Uncertainty)
		switch {
		case strings.Contains(text, "Overexposure is forgiven more"):
			said["over"]++
			if !(over > under+math.Max(alike, off)) || res.Holds.Lo.Open {
				t.Fatalf("%g under, %g over: %s", under, over, text)
			}
		case strings.Contains(text, "Underexposure is forgiven more"):
			said["under"]++
			if !(under > over+math.Max(alike, off)) || res.Holds.Hi.Open {
				t.Fatalf("%g under, %g over: %s", under, over, text)
			}
		case strings.Contains(text, "forgive alike"):
			said["alike"]++
			if m := each.FindStringSubmatch(text); m != nil && (m[1] != m[2]) == (m[3] != "") { // "¼ stop each" beside "-¼ to +½"
				t.Fatalf("the sides of %q are not those of the range", text)
			}
			if math.Abs(under-over) > alike || off > 0.5 || res.Holds.Lo.Open || res.Holds.Hi.Open {
				t.Fatalf("%g under, %g over: %s", under, over, text)
			}
		case strings.Contains(text, "this roll cannot tell"):
			said["not told"]++
			if math.Abs(under-over) > math.Max(alike, off) || res.Holds.Lo.Open || res.Holds.Hi.Open {
				t.Fatalf("%g under, %g over: %s", under, over, text)
			}
		default:
			said["not said"]++
			if !res.Holds.Lo.Open && !res.Holds.Hi.Open {
				t.Fatalf("no side is said to forgive more: %s", text)
			}
		}
		if m := against.FindStringSubmatch(text); m != nil {
			a, b := quarterOf(t, m[1]), quarterOf(t, m[2])
			more, less := math.Max(under, over), math.Min(under, over)
			if a > more+0.02 || a < more-0.25 || b > less+0.02 || b < less-0.25 {
				t.Fatalf("%q: %g and %g", m[0], more, less)
			}
		}
		for word, e := range map[string]latitude.End{"holds from " + end(res.Holds.Lo): res.Holds.Lo, " to " + end(res.Holds.Hi) + " stops": res.Holds.Hi} {
			if !strings.Contains(out[0], word) || strings.Contains(word, "at least") != e.Open {
				t.Fatalf("%q is not in %q", word, out[0])
			}
		}
	}
	for _, k := range []string{"ended", "over", "under", "alike", "not told", "not said"} {
		if said[k] < 20 {
			t.Errorf("%q came only %d times: the readings of this test are too narrow", k, said[k])
		}
	}
	t.Log(fmt.Sprint(said))
}

func quarterOf(t *testing.T, s string) (v float64) {
	t.Helper()
	whole := ""
	for _, c := range s {
		switch c {
		case '¼':
			v += 0.25
		case '½':
			v += 0.5
		case '¾':
			v += 0.75
		default:
			whole += string(c)
		}
	}
	if whole != "" {
		x, err := strconv.ParseFloat(whole, 64)
		if err != nil {
			t.Fatal(err)
		}
		v += x
	}
	return v
}

// each is the range that holds, and the figure where one is told of both sides.
var each = regexp.MustCompile(`holds from \x{2212}(\S+) to \+(\S+) stops?.*forgive alike(, )?`)

// How carefully to meter follows from what is certain, not from the reading alone.
func TestCareFollowsCertainty(t *testing.T) {
	for _, c := range []struct {
		stop, off float64
		want      string
	}{
		{0.95, 0.55, " Meter with all care: the narrower side forgives \u00be stop, of which \u00bc stop is certain."},
		{0.55, 1.01, " Meter with all care: the narrower side forgives \u00bd stop, perhaps hardly anything."},
		{0.1, 0.05, " Meter with all care: the narrower side forgives hardly anything."},
		{0.8, 0, " Meter carefully: the narrower side forgives \u00be stop."},
		{2.6, 0.5, " Even a rough reading will do: the narrower side forgives 2\u00bd stops, of which 2 stops are certain."},
		{2.6, 1, " An ordinary careful reading is enough: the narrower side forgives 2\u00bd stops, of which 1\u00bd stops are certain."},
	} {
		if got := care(latitude.End{Uncertainty: c.off}, c.stop); got != c.want {
			t.Errorf("%g \u00b1 %g:\n%s\n%s", c.stop, c.off, got, c.want)
		}
	}
}

// What is not known is not praised, nor is the advice drawn from it.
func TestUnknownSides(t *testing.T) {
	for _, c := range []struct {
		lo, hi latitude.End
		want   []string
		not    []string
	}{
		{latitude.End{Open: true, By: -1, Unknown: 1}, latitude.End{Stop: 0.53, By: criteria.LostArea},
			[]string{"No frame under the base could be compared", "no advice follows"}, []string{"hardly anything", "still holds", "forgiven more", "narrower"}},
		{latitude.End{Stop: -1, Open: true, By: -1, Unknown: 2}, latitude.End{Stop: 2.5, By: criteria.LostArea},
			[]string{"at \u22121, still holds: what lies beyond is not known"}, []string{"rough reading", "all care", "ordinary"}},
		{latitude.End{Open: true, By: -1}, latitude.End{Stop: 2.5, By: criteria.LostArea},
			[]string{"has no frame under the base"}, []string{"hardly anything", "rough reading"}},
	} {
		r := latitude.Measure(nil, -1, criteria.Named()[0], nil)
		r.Holds, r.Strains = latitude.Range{Lo: c.lo, Hi: c.hi}, latitude.Range{Lo: c.lo, Hi: c.hi}
		text := strings.Join(Sentences(r), " ")
		for _, w := range c.want {
			if !strings.Contains(text, w) {
				t.Errorf("%q is not in %q", w, text)
			}
		}
		for _, w := range c.not {
			if strings.Contains(text, w) {
				t.Errorf("%q is in %q", w, text)
			}
		}
	}
}

// Frames that the scanner corrected say nothing of the film alone.
func TestNotScannedAlike(t *testing.T) {
	r := latitude.Measure(nil, -1, criteria.Named()[0], nil)
	e := latitude.Range{Lo: latitude.End{Stop: -1, By: criteria.LostArea}, Hi: latitude.End{Stop: 3, By: criteria.LostArea}}
	r.Holds, r.Strains, r.NotAlike = e, e, true
	out := Sentences(r)
	text := strings.Join(out, " ")
	if len(out) > 3 || !strings.Contains(text, "not scanned alike") || !strings.HasPrefix(text, "Film and scanner together hold from \u22121 to +3 stops") {
		t.Errorf("%q", out)
	}
	for _, w := range []string{"forgiven more", "reading will do", "Meter", "The film holds"} {
		if strings.Contains(text, w) {
			t.Errorf("%q is in %q", w, text)
		}
	}
}

// The span that stands on the sheet is the one that the finding tells.
func TestSpan(t *testing.T) {
	for _, c := range []struct {
		r    latitude.Range
		want string
	}{
		{latitude.Range{Lo: latitude.End{Stop: -0.91}, Hi: latitude.End{Stop: 3.25}}, "\u2212\u00be to +3\u00bc stops"},
		{latitude.Range{Lo: latitude.End{Open: true}, Hi: latitude.End{Stop: 0.53}}, "at least 0 to +\u00bd stops"},
		{latitude.Range{Lo: latitude.End{Stop: -0.74}, Hi: latitude.End{Stop: 1, Open: true}}, "\u2212\u00be to at least +1 stops"},
		{latitude.Range{Reason: "no"}, ""},
	} {
		if got := Span(c.r); got != c.want {
			t.Errorf("%+v: %q, want %q", c.r, got, c.want)
		}
	}
}
