package abreast

import (
	"encoding/json"
	"math/rand/v2"
	"regexp"
	"testing"

	"stopladder/analysis/judge/kept"
	"stopladder/analysis/shelf"
	"stopladder/analysis/shelf/against"
)

// Readings come from files of strangers: whatever stands in them is refused when they are
// read, or compared and drawn without harm.
func TestDamagedReadings(t *testing.T) {
	sound := entry(0)
	sound.Roll.Readings.Range.Strains = &kept.Ends{Lo: kept.End{Stop: -2, Error: 0.1}, Hi: kept.End{Stop: 3}}
	sound.Roll.Readings.Frames = []kept.Frame{{File: "a", Stop: is(0), Measured: is(0), Curves: &kept.Cost{DeltaE: is(1)}}, {File: "b", Stop: is(0), Measured: is(0.1)}}
	text, err := json.Marshal(sound.Roll.Readings)
	if err != nil {
		t.Fatal(err)
	}
	value := regexp.MustCompile(`-?[0-9.]+|\[[^\[\]]*\]|"[a-zA-Z]*"|true|false`)
	places := value.FindAllIndex(text, -1)
	random := rand.New(rand.NewPCG(1, 2))
	refused, taken := 0, 0
	for range 2500 {
		b := append([]byte{}, text...)
		at := places[random.IntN(len(places))]
		with := []string{"null", "-1e9", "1e300", "0", "[]", `"x"`, "{}", "[null]", "-0.5", "7", "[1,2,3]"}[random.IntN(11)]
		b = append(append(append([]byte{}, b[:at[0]]...), with...), b[at[1]:]...)
		k := &kept.Readings{}
		if json.Unmarshal(b, k) != nil {
			refused++
			continue
		}
		taken++
		e := entry(1)
		e.Roll.Readings = k
		a, err := against.Take(sound)
		if err != nil {
			t.Fatal(err)
		}
		x, err := against.Take(e)
		if err != nil {
			continue
		}
		r, err := against.Compare([]against.Roll{a, x}, against.Options{Again: true})
		if err != nil {
			continue
		}
		r.Documented("t")
		inside(t, Compare(r, 900, White, "damaged"))
		inside(t, Shelf(&shelf.Shelf{}, []*shelf.Entry{e}, 900, White, "damaged"))
		if t.Failed() {
			t.Fatalf("of %s", b)
		}
	}
	if refused < 100 || taken < 100 {
		t.Errorf("%d refused, %d taken", refused, taken)
	}
}
