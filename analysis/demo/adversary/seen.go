package adversary

// seen is a frame beside the base frame.
type seen struct {
	v           *view
	s           float64
	gain        [3]float64
	blocks      []*block
	light       [][]float32
	state       [][]uint8
	base, frame [][3]float64 // means of blocks over what neither has lost
	lost, all   int
}

// look photographs the blocks, s stops over the base. shows says
// whether the frame has a place, as shares of the gate; nil: it has all.
func (v *view) look(s float64, gain [3]float64, shows func(x, y float64) bool) *seen {
	o := &seen{v: v, s: s, gain: gain}
	for i := range v.blocks {
		o.blocks = append(o.blocks, &v.blocks[i])
	}
	n := len(o.blocks)
	o.light, o.state = make([][]float32, n), make([][]uint8, n)
	bands(n, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			b := o.blocks[i]
			o.light[i], o.state[i] = make([]float32, len(b.light)), make([]uint8, len(b.state))
			v.develop(b.e, s, gain, o.light[i], o.state[i])
			for p := range o.state[i] {
				px, py := v.place(b, p)
				if shows != nil && !shows(px, py) {
					o.state[i][p] |= unshown
				}
			}
		}
	})
	for i, b := range o.blocks {
		var x, y [3]float64
		k := 0
		for p := range b.state {
			if o.state[i][p]&unshown != 0 {
				continue
			}
			o.all++
			switch {
			case b.state[p]&gone != 0:
			case o.state[i][p]&gone != 0:
				o.lost++
			default:
				k++
				for c := range 3 {
					x[c] += float64(b.light[3*p+c])
					y[c] += float64(o.light[i][3*p+c])
				}
			}
		}
		if 2*k < len(b.state) || k == 0 {
			continue
		}
		for c := range 3 {
			x[c], y[c] = x[c]/float64(k), y[c]/float64(k)
		}
		o.base, o.frame = append(o.base, x), append(o.frame, y)
	}
	return o
}
