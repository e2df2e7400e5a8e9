package adversary

import "math"

// Grey is what is true of a grey on the film and in its scan, without noise.
type Grey struct {
	Light  [3]float64 // linear, of the scan's channels, clipped as it clips
	Y      float64    // luminance of that
	SigmaY float64    // standard deviation of luminance in a viewing pixel, to first order, before clipping
	Slope  [3]float64 // by how much a stop more lowers the density of the scan's channels, before clipping
	// Steepest are the greatest of those over all greys that a scan of 1 % of full scale and
	// more shows.
	Steepest [3]float64
	Gone     bool // channels that carry half of the luminance say nothing, see Truth
	Partial  bool // some channel does
}

// Grey returns the truth of a grey whose layers got so many stops more than a metered
// mid-grey of the base frame. Flare of the lens is not in it: it is part of what they got.
func (t *Truth) Grey(stops float64) (g Grey) {
	v := t.view
	m := v.m
	s := float32(stops)
	var light [3]float32
	var state [1]uint8
	v.develop([]float32{s, s, s}, 0, [3]float64{1, 1, 1}, light[:], state[:])
	g.Gone, g.Partial = state[0]&gone != 0, state[0]&partial != 0
	var moves [3]float64 // of luminance by each layer's part
	raw := m.expose([3]float64{stops, stops, stops})
	for c := range 3 {
		g.Light[c] = float64(light[c])
		g.Y += luma[c] * g.Light[c]
		for j := range 3 {
			moves[j] -= math.Ln10 * luma[c] * raw[c] * m.mix[c][j]
		}
	}
	var own, together, read float64
	for j := range 3 {
		sd := float64(v.sigma[j].at(s)) * moves[j]
		own, together = own+sd*sd, together+sd
		read += luma[j] * luma[j] * v.read * v.read
	}
	g.SigmaY = math.Sqrt((1-m.film.Alike)*own + m.film.Alike*together*together + read)
	g.Slope = m.slope(stops)
	for x := dimmest + 1; x < brightest-1; x += 0.05 {
		p, all := m.expose([3]float64{x, x, x}), m.slope(x)
		for c := range 3 {
			if p[c] >= 0.01 {
				g.Steepest[c] = math.Max(g.Steepest[c], all[c])
			}
		}
	}
	return g
}

// slope returns by how much a stop about a grey lowers the density of the scan's channels,
// per stop.
func (m *model) slope(stops float64) (out [3]float64) {
	const h = 0.1
	a, b := m.expose([3]float64{stops - h, stops - h, stops - h}), m.expose([3]float64{stops + h, stops + h, stops + h})
	for c := range 3 {
		out[c] = math.Log10(b[c]/a[c]) / (2 * h)
	}
	return out
}
