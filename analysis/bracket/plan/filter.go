package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"stopladder/analysis/bracket/exposure"
	"stopladder/analysis/judge/stops"
)

// maxFilter is the most light that a filter or bellows may take, in stops: a density
// of 6, as solar filters have it.
const maxFilter = 20.0

// parseFilter reads light lost in a filter or a bellows, in stops, as its rim says
// it: a density ("ND 0.9"), a factor ("ND8", "NDx8", "8x"), or stops ("3", "1 2/3
// stops"). What is a density to one maker and a factor or stops to another ("ND 3",
// "0.9") is refused.
func parseFilter(text string) (float64, error) {
	t := strings.ReplaceAll(word(text), "×", "x")
	if t == "" || t == "none" {
		return 0, nil
	}
	if err := ambiguous(t); err != nil {
		return 0, err
	}
	figure, nd := cutEnd(t, "nd")
	figure, times := cutEnd(figure, "x")
	v, isNumber := number(figure)
	decimal := strings.ContainsAny(figure, ".,")
	loss := math.NaN()
	switch {
	case times:
		if isNumber {
			loss = math.Log2(v)
		}
	case !isNumber && nd:
	case nd && decimal:
		loss = densityOnRim(v)
	case nd && factorOnRim(figure):
		loss = math.Log2(v)
	case nd:
		if v > 0 && !strings.Contains(figure, "/") {
			return 0, fmt.Errorf("%[1]s could be a density, a factor or stops: write ND %[2]s.0, %[2]sx or %[2]s stops", quote(text), trimmed(v, 6))
		}
	case isNumber && decimal && v > 0 && v <= 3 && math.Abs(v/0.3-math.Round(v/0.3)) < 1e-6:
		plain := trimmed(v, 6)
		if v == math.Trunc(v) {
			plain += ".0"
		}
		return 0, fmt.Errorf("%[1]s could be a density or stops: write ND %[2]s or %[2]s stops", quote(text), plain)
	default:
		if s, err := stops.Parse(strings.TrimPrefix(t, "-")); err == nil {
			loss = s
		}
	}
	if !(loss >= 0 && loss <= maxFilter) {
		return 0, fmt.Errorf("%s is no loss of light up to %g stops: write stops, for example 3 stops, or what the rim of the filter says, for example ND 0.9, ND8 or 8x", quote(text), maxFilter)
	}
	return loss, nil
}

// densityOnRim returns the stops of a density. Rims round: 0.3 is meant as one stop,
// and 3.0 as ten.
func densityOnRim(d float64) float64 {
	if tenths := math.Round(10 * d); math.Abs(10*d-tenths) < 1e-6 {
		return tenths / 3
	}
	return exposure.DensityStops(d)
}

// factorOnRim reports whether a whole number behind ND is one that makers engrave as
// a factor: powers of two, and the rounded ones of dense filters.
func factorOnRim(figure string) bool {
	n, err := strconv.Atoi(figure)
	switch n {
	case 100, 200, 400, 500, 1000, 2000, 4000, 10000, 100000:
		return err == nil
	}
	return err == nil && n >= 2 && n&(n-1) == 0
}

// cutEnd takes a mark away that stands before or behind a figure.
func cutEnd(text, mark string) (rest string, found bool) {
	if rest, found = strings.CutPrefix(text, mark); !found {
		rest, found = strings.CutSuffix(text, mark)
	}
	return strings.TrimSpace(rest), found
}
