package register

import "math"

// toneBins is how finely the tone curve between two frames is followed.
const toneBins = 48

// toneSteps is the resolution of the curve's table.
const toneSteps = 2048

// tones are a level's values put into bins of about equal population, so that
// every bin says something.
type tones struct {
	lo, scale float32
	bin       [toneSteps]uint8
	n         int
}

func newTones(v []float32, ok []bool) *tones {
	t := &tones{}
	lo, hi := float32(math.Inf(1)), float32(math.Inf(-1))
	for i, x := range v {
		if ok == nil || ok[i] {
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	if !(hi > lo) {
		return t
	}
	t.lo, t.scale = lo, (toneSteps-1)/(hi-lo)
	var count [toneSteps]int
	total := 0
	for i, x := range v {
		if ok == nil || ok[i] {
			count[int((x-lo)*t.scale)]++
			total++
		}
	}
	// A step that holds more than a bin's share (a clipped tone) is a bin of
	// its own; widths are bounded as well, so that rare tones are not lumped.
	share, widest := float64(total)/toneBins*1.5, toneSteps/16
	sum, wide, b := 0, 0, 0
	for i, c := range count {
		if wide > 0 && b < toneBins-1 && (float64(sum+c) > share && sum > 0 || wide >= widest) {
			b, sum, wide = b+1, 0, 0
		}
		t.bin[i] = uint8(b)
		sum += c
		wide++
	}
	t.n = b + 1
	return t
}

func (t *tones) step(x float32) int {
	return min(max(int((x-t.lo)*t.scale), 0), toneSteps-1)
}

// curve is what one frame shows where the other shows a tone.
type curve struct {
	to     [toneSteps + 1]float32
	weight [toneSteps]float32 // 1/variance about the curve
}

// fit makes the curve that rises through the bins' means (pool adjacent
// violators, weighted by n), straight between their centres. sx, sy are sums.
func (c *curve) fit(n, sx, sy []float64, t *tones) bool {
	type knot struct{ n, x, y float64 }
	var ks []knot
	for i := range n {
		if n[i] < 8 {
			continue
		}
		k := knot{n[i], sx[i] / n[i], sy[i] / n[i]}
		for len(ks) > 0 && ks[len(ks)-1].y >= k.y {
			p := ks[len(ks)-1]
			s := p.n + k.n
			k = knot{s, (p.x*p.n + k.x*k.n) / s, (p.y*p.n + k.y*k.n) / s}
			ks = ks[:len(ks)-1]
		}
		ks = append(ks, k)
	}
	if len(ks) == 0 {
		return false
	}
	j := 0
	for i := range c.to {
		x := float64(t.lo) + float64(i)/float64(t.scale)
		for j < len(ks)-2 && x > ks[j+1].x {
			j++
		}
		switch {
		case len(ks) == 1 || x <= ks[0].x:
			c.to[i] = float32(ks[0].y)
		case x >= ks[len(ks)-1].x:
			c.to[i] = float32(ks[len(ks)-1].y)
		default:
			a, b := ks[j], ks[j+1]
			c.to[i] = float32(a.y + (b.y-a.y)*(x-a.x)/(b.x-a.x))
		}
	}
	return true
}

// at returns the curve's value.
func (c *curve) at(t *tones, x float32) float32 {
	p := (x - t.lo) * t.scale
	i := min(max(int(p), 0), toneSteps-1)
	f := min(max(p-float32(i), 0), 1)
	return c.to[i] + f*(c.to[i+1]-c.to[i])
}
