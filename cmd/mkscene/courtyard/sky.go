package courtyard

import (
	"math"

	"stopladder/analysis/demo/valuenoise"
)

// The light: a sun half a degree wide and an open sky with cumulus clouds.
var (
	sunDir   = vec{0.70, 0.565, 0.43}.unit()
	sunE     = vec{1.00, 0.90, 0.76}.scale(math.Pi) // irradiance at right angles
	sunAngle = 0.0047                               // half width in radians (the sun's 16 arc minutes)
)

// clear is the cloudless sky.
func clear(d vec) vec {
	h := clamp(d.y, 0, 1)
	f := math.Pow(1-h, 4)
	c := vec{0.085, 0.165, 0.345}.lerp(vec{0.30, 0.355, 0.42}, f)
	// Forward scattering brightens the sky towards the sun.
	g := math.Max(d.dot(sunDir), 0)
	return c.scale(0.86 + 0.5*g*g*g*g)
}

// cloud returns the cover 0..1 and the light of the clouds in a direction.
func cloud(d vec) (float64, vec) {
	az, el := math.Atan2(d.x, -d.z), math.Asin(clamp(d.y, -1, 1))
	dens := func(a, e float64) float64 {
		x, y := a*5.2+7.3, e*8.5
		wx, wy := valuenoise.Sum(x*2.1, y*2.1, 3, 40), valuenoise.Sum(x*2.1+9, y*2.1, 3, 50)
		n := 0.75 * valuenoise.Sum(x*0.55+0.16*wx, y*0.75+0.16*wy+2, 7, 60)
		// Billows: folded noise makes round heads.
		b := math.Abs(valuenoise.Sum(x*1.7+0.2*wx, y*1.9+0.2*wy, 5, 66))
		n += 0.30 * (0.35 - b)
		// Cover is highest in a belt over the horizon; flat bases come from
		// cutting harder below than above.
		return n + 0.045 - 0.55*math.Abs(e-0.24)
	}
	c := dens(az, el)
	cover := smooth(-0.06, 0.20, c)
	if cover == 0 {
		return 0, vec{}
	}
	// A cloud is bright where there is less of it towards the sun.
	lit := clamp(0.62+1.5*(c-dens(az+0.055, el+0.05))-0.35*math.Max(c-0.12, 0), 0, 1.15)
	col := vec{0.30, 0.335, 0.39}.lerp(vec{0.68, 0.66, 0.63}, lit)
	return cover * 0.95, col
}

// sky is what the camera sees of the sky.
func sky(d vec) vec {
	if d.y < -0.02 {
		return vec{0.06, 0.055, 0.045}
	}
	base := clear(d)
	cover, c := cloud(d)
	return base.lerp(c, cover)
}

// skyTable is the sky for indirect light, where its small detail does not matter.
type skyTable struct {
	pix []vec
}

const skyW, skyH = 192, 48

func newSkyTable() *skyTable {
	t := &skyTable{pix: make([]vec, skyW*skyH)}
	for j := range skyH {
		el := (float64(j) + 0.5) / skyH * math.Pi / 2
		for i := range skyW {
			az := ((float64(i)+0.5)/skyW*2 - 1) * math.Pi
			s, c := math.Sincos(az)
			t.pix[j*skyW+i] = sky(vec{s * math.Cos(el), math.Sin(el), -c * math.Cos(el)})
		}
	}
	return t
}

func (t *skyTable) at(d vec) vec {
	if d.y < -0.02 {
		return vec{0.06, 0.055, 0.045}
	}
	az, el := math.Atan2(d.x, -d.z), math.Asin(clamp(d.y, 0, 1))
	i := min(int((az/math.Pi+1)/2*skyW), skyW-1)
	j := min(int(el/(math.Pi/2)*skyH), skyH-1)
	return t.pix[j*skyW+i]
}
