package colour

// grey is the class of profiles with one channel: a colour for each code. Scans
// repeat their one channel, so the first of the three is read.
type grey struct {
	light [][3]float32
	bytes [][4]uint8
	tones [3][]float32
}

func newGrey(d *device, max int) (converter, error) {
	g := &grey{light: make([][3]float32, max+1), bytes: make([][4]uint8, max+1)}
	tone := make([]float32, max+1)
	for i := range g.light {
		xyz := d.xyz(float64(i)/float64(max), 0, 0)
		if !finite(xyz[:]...) {
			return nil, errNotNumbers
		}
		for c, v := range pcsToSRGB.apply(xyz) {
			g.light[i][c] = float32(v)
			g.bytes[i][c] = display(float32(v))
		}
		g.bytes[i][3] = 255
		tone[i] = float32(xyz[1])
	}
	g.tones = [3][]float32{tone, tone, tone}
	return g, nil
}

func (g *grey) linear(dst []float32, codes []uint16) {
	for i := 0; i+2 < len(codes); i += 3 {
		v := at(g.light, codes[i])
		copy(dst[i:i+3], v[:])
	}
}

func (g *grey) rgba(dst []uint8, codes []uint16) {
	for i := range len(codes) / 3 {
		v := at(g.bytes, codes[3*i])
		copy(dst[4*i:4*i+4], v[:])
	}
}

func (g *grey) tone() *[3][]float32 { return &g.tones }
