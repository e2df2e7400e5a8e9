package plot

import (
	"testing"

	"stopladder/analysis/ink"
)

// At every size, in every kind of roll: no word leaves the plot or lies on another.
func TestWordsFit(t *testing.T) {
	for name, d := range kinds() {
		for _, s := range [][2]float64{{220, 160}, {240, 200}, {300, 210}, {320, 240}, {360, 260}, {420, 300}, {480, 600}, {560, 400}, {700, 300}, {760, 420}, {1200, 300}, {1200, 800}, {2400, 1600}} {
			checkWords(t, name, Response(d, s[0], s[1], &ink.Dark))
		}
	}
}
