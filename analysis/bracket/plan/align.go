package plan

import (
	"math"
	"slices"
)

// aligned finds, for scans in an order, the mapping onto the frames of the bracket
// that keeps the order and fits the measured stops best; nil without measured
// stops. The fewer of the two all find a partner. The origin of measured stops is
// free, so that it is tried in tenths of a stop.
func (m *matcher) aligned(order []int) []int {
	if m.measured == nil {
		return nil
	}
	var scans []int
	for _, i := range order {
		if v := m.measured[i]; !math.IsNaN(v) && !math.IsInf(v, 0) {
			scans = append(scans, i)
		}
	}
	if len(scans) < 3 || len(scans) > 1000 {
		return nil
	}
	const grain = 10
	var origins []int
	for _, i := range scans {
		for _, t := range m.tests {
			if c := math.Round(grain * (m.measured[i] - m.real.Exposed[t].Stop)); math.Abs(c) <= 40*grain {
				origins = append(origins, int(c))
			}
		}
	}
	slices.Sort(origins)
	least := math.Inf(1)
	var best []int
	for _, c := range slices.Compact(origins) {
		cost, pairs := m.warp(scans, float64(c)/grain)
		if cost < least {
			least, best = cost, pairs
		}
	}
	if best == nil {
		return nil
	}
	mapping := m.nothing()
	for k, i := range scans {
		mapping[i] = best[k]
	}
	return mapping
}

// warp pairs scans and frames at one origin: the least sum of squared differences
// of all pairings that keep the order and leave out none of the shorter side.
func (m *matcher) warp(scans []int, origin float64) (float64, []int) {
	n, k := len(scans), len(m.tests)
	spare, lacking := max(0, n-k), max(0, k-n) // scans and frames that stay alone
	table := make([]float64, (n+1)*(k+1))
	at := func(i, j int) *float64 { return &table[i*(k+1)+j] }
	const most = 16.0 // a difference of four stops: no worse than wrong
	for i := 0; i <= n; i++ {
		for j := 0; j <= k; j++ {
			v := math.Inf(1)
			if i == 0 && j == 0 {
				v = 0
			}
			if i > 0 && j > 0 {
				d := m.measured[scans[i-1]] - origin - m.real.Exposed[m.tests[j-1]].Stop
				v = *at(i-1, j-1) + math.Min(d*d, most)
			}
			if i > 0 && spare > 0 {
				v = math.Min(v, *at(i-1, j))
			}
			if j > 0 && lacking > 0 {
				v = math.Min(v, *at(i, j-1))
			}
			*at(i, j) = v
		}
	}
	pairs := slices.Repeat([]int{-1}, n)
	for i, j := n, k; i > 0 || j > 0; {
		switch {
		case i > 0 && spare > 0 && *at(i, j) == *at(i-1, j):
			i--
		case j > 0 && lacking > 0 && *at(i, j) == *at(i, j-1):
			j--
		default:
			i, j = i-1, j-1
			pairs[i] = m.tests[j]
		}
	}
	return *at(n, k), pairs
}
