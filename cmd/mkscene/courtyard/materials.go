package courtyard

import (
	"math"

	"stopladder/analysis/demo/valuenoise"
)

// The courtyard's materials.
const (
	matPlaster = iota
	matOchre
	matPaving
	matKerb
	matTile
	matTerracotta
	matLeaf
	matDarkLeaf
	matPetal
	matBark
	matWood
	matShutter
	matRoomWall
	matRoomFloor
	matBeam
	matBlueGlaze
	matWhiteGlaze
	matLemon
	matOrange
	matCushion
	matCard
	matBoard
	matSoil
	matIron
	matStone
	matHill
	matCount
)

// planar gives texture coordinates in metres on the plane that a wall or a
// floor lies in.
func planar(p, n vec) (float64, float64) {
	ax, ay, az := math.Abs(n.x), math.Abs(n.y), math.Abs(n.z)
	switch {
	case ay > ax && ay > az:
		return p.x, p.z
	case ax > az:
		return p.z + 31, p.y
	}
	return p.x, p.y
}

func plain(c vec) func(p, n vec, tone float64) surface {
	return func(_, _ vec, tone float64) surface {
		return surface{albedo: c.scale(0.85 + 0.3*tone)}
	}
}

// brick returns mortar 0..1, and a number for the brick.
func brick(u, v, w, h float64) (joint, id float64) {
	row := math.Floor(v / h)
	u = u/w + 0.5*math.Mod(row, 2) + 0.06*valuenoise.At(row, 3, 9)
	col := math.Floor(u)
	x, y := (u-col)*w, v-row*h
	d := math.Min(math.Min(x, w-x), math.Min(y, h-y)) + 0.002*valuenoise.At(u*40, v*40, 12)
	return smooth(0.009, 0.004, d), valuenoise.Unit(int(row), int(col), 5)
}

// bare says how far plaster has fallen off the wall, 0..1.
func bare(u, v float64) float64 {
	d := math.Hypot((u-1.72)/0.62, (v-0.62)/0.52)
	d2 := math.Hypot((u+0.08)/0.20, (v-0.20)/0.22)
	m := math.Min(d, d2)
	return smooth(0.02, 0.06, 0.95-m+0.75*valuenoise.Sum(u*3.1, v*3.1, 5, 20))
}

func plasterHeight(u, v float64) float64 {
	return 0.011*valuenoise.Sum(u*2.3, v*2.9, 3, 30) + 0.0042*valuenoise.Sum(u*11, v*14, 4, 31) + 0.0011*valuenoise.At(u*90, v*90, 33)
}

func plasterAt(base vec, bricks bool) func(p, n vec, tone float64) surface {
	return func(p, n vec, tone float64) surface {
		u, v := planar(p, n)
		c := base.scale(1 + 0.07*valuenoise.Sum(u*1.3, v*1.3, 4, 3) + 0.05*valuenoise.Sum(u*17, v*17, 3, 4))
		// Rain streaks from above, damp from below.
		streak := smooth(1.9, 3.2, v) * smooth(0.05, 0.6, valuenoise.Sum(u*5.5, v*0.35, 4, 6)+0.25)
		damp := smooth(0.55, 0.0, v+0.5*valuenoise.Sum(u*1.8, v*1.8, 4, 8))
		c = c.mul(vec{1, 1, 1}.lerp(vec{0.74, 0.71, 0.66}, 0.55*streak))
		c = c.mul(vec{1, 1, 1}.lerp(vec{0.62, 0.56, 0.47}, 0.75*damp))
		if bricks && math.Abs(n.z) > 0.5 {
			if b := bare(u, v); b > 0 {
				j, id := brick(u, v, 0.25, 0.068)
				bc := vec{0.34, 0.15, 0.085}.lerp(vec{0.46, 0.25, 0.14}, id).scale(0.9 + 0.3*valuenoise.Sum(u*30, v*30, 3, 15))
				bc = bc.lerp(vec{0.42, 0.38, 0.31}, j)
				c = c.lerp(bc, b)
			}
		}
		return surface{albedo: c}
	}
}

func makeMaterials() []material {
	m := make([]material, matCount)
	for i := range m {
		m[i] = material{at: plain(grey(0.3))}
	}
	masonry(m)
	plants(m)
	joinery(m)
	room(m)
	things(m)
	for mat, c := range map[int]vec{
		matPlaster: {0.75, 0.71, 0.63}, matOchre: {0.62, 0.375, 0.155}, matPaving: {0.455, 0.30, 0.205},
		matStone: {0.485, 0.435, 0.355}, matKerb: {0.485, 0.435, 0.355}, matTile: {0.45, 0.245, 0.14},
		matTerracotta: {0.50, 0.27, 0.16}, matRoomWall: {0.47, 0.45, 0.38}, matRoomFloor: {0.24, 0.19, 0.155},
		matHill: {0.21, 0.235, 0.22}, matBeam: {0.13, 0.085, 0.055}, matBark: {0.18, 0.145, 0.11},
	} {
		m[mat].mean = c
	}
	return m
}

// masonry makes the materials of plaster, paving, stone and fired clay.
func masonry(m []material) {
	m[matPlaster] = material{
		at: plasterAt(vec{0.80, 0.765, 0.69}, true),
		height: func(p, n vec, _ float64) float64 {
			u, v := planar(p, n)
			h := plasterHeight(u, v)
			if math.Abs(n.z) > 0.5 {
				if b := bare(u, v); b > 0 {
					j, id := brick(u, v, 0.25, 0.068)
					h = mix(h, -0.012-0.008*j+0.003*id+0.002*valuenoise.Sum(u*40, v*40, 3, 14), b)
				}
			}
			return h
		},
		step: 0.0035,
	}
	m[matOchre] = material{
		at: plasterAt(vec{0.66, 0.40, 0.165}, false),
		height: func(p, n vec, _ float64) float64 {
			u, v := planar(p, n)
			return plasterHeight(u, v)
		},
		step: 0.004,
	}
	paving := func(p vec) (joint, id, u, v float64) {
		// Square terracotta slabs, laid on the diagonal.
		u, v = (p.x+p.z)*math.Sqrt2/2, (p.x-p.z)*math.Sqrt2/2
		const s = 0.31
		fu, fv := math.Floor(u/s), math.Floor(v/s)
		x, y := u-fu*s, v-fv*s
		wob := 0.0022 * valuenoise.Sum(u*22, v*22, 3, 70)
		d := math.Min(math.Min(x, s-x), math.Min(y, s-y)) + wob
		// Worn corners.
		c := math.Hypot(math.Min(x, s-x), math.Min(y, s-y))
		d = math.Min(d, c-0.008)
		return smooth(0.010, 0.004, d), valuenoise.Unit(int(fu)+900, int(fv)+900, 71), u, v
	}
	m[matPaving] = material{
		at: func(p, n vec, _ float64) surface {
			j, id, u, v := paving(p)
			c := vec{0.40, 0.215, 0.125}.lerp(vec{0.52, 0.33, 0.21}, id)
			c = c.lerp(vec{0.45, 0.36, 0.27}, 0.5*valuenoise.Unit(int(id*1e6), 3, 3))
			c = c.scale(1 + 0.22*valuenoise.Sum(u*4, v*4, 4, 72) + 0.18*valuenoise.Sum(u*28, v*28, 4, 73))
			c = c.lerp(vec{0.34, 0.29, 0.225}, j)
			dust := smooth(-0.1, 0.5, valuenoise.Sum(p.x*0.9, p.z*0.9, 4, 74))
			return surface{albedo: c.lerp(vec{0.46, 0.38, 0.29}, 0.35*dust)}
		},
		height: func(p, n vec, _ float64) float64 {
			j, id, u, v := paving(p)
			return -0.006*j + 0.0016*valuenoise.Sum(u*7, v*7, 4, 75) + 0.0008*valuenoise.At(u*70, v*70, 76) + 0.02*(id-0.5)*(u-v)*0
		},
		step: 0.004,
	}
	stone := func(p, n vec, tone float64) surface {
		u, v := planar(p, n)
		c := vec{0.50, 0.45, 0.365}.scale(0.82 + 0.3*tone + 0.16*valuenoise.Sum(u*6, v*6, 4, 80) + 0.15*valuenoise.Sum(u*45, v*45, 3, 81))
		return surface{albedo: c}
	}
	stoneHeight := func(p, n vec, _ float64) float64 {
		u, v := planar(p, n)
		return 0.003*valuenoise.Sum(u*12, v*12, 4, 82) + 0.0012*valuenoise.At(u*80, v*80, 83)
	}
	m[matStone] = material{at: stone, height: stoneHeight, step: 0.004}
	m[matKerb] = m[matStone]
	m[matTile] = material{
		at: func(p, _ vec, tone float64) surface {
			c := vec{0.40, 0.175, 0.085}.lerp(vec{0.55, 0.31, 0.18}, tone)
			l := smooth(0.1, 0.5, valuenoise.Sum(p.x*9, p.z*9+p.y*5, 4, 85))
			c = c.scale(0.9+0.25*valuenoise.Sum(p.x*25, p.z*25, 3, 86)).lerp(vec{0.36, 0.34, 0.22}, 0.5*l)
			return surface{albedo: c}
		},
	}
	m[matTerracotta] = material{
		at: func(p, _ vec, tone float64) surface {
			c := vec{0.47, 0.205, 0.105}.lerp(vec{0.52, 0.29, 0.18}, tone)
			// Lime bloom.
			l := smooth(0.05, 0.5, valuenoise.Sum(p.x*6, p.y*9+p.z*6, 4, 88))
			return surface{albedo: c.scale(1+0.15*valuenoise.Sum(p.x*30, p.y*30, 3, 87)).lerp(vec{0.62, 0.53, 0.44}, 0.4*l)}
		},
		height: func(p, _ vec, _ float64) float64 {
			return 0.0012*math.Sin(p.y*260) + 0.0015*valuenoise.Sum(p.x*30+p.z*30, p.y*30, 3, 89)
		},
		step: 0.003,
	}
}

// plants makes leaves, petals and bark.
func plants(m []material) {
	leaf := func(a, b, ta, tb vec) material {
		return material{at: func(_, _ vec, tone float64) surface {
			return surface{albedo: a.lerp(b, tone), through: ta.lerp(tb, tone), coat: 0.035, rough: 0.55}
		}}
	}
	m[matLeaf] = leaf(vec{0.050, 0.098, 0.028}, vec{0.135, 0.185, 0.045}, vec{0.05, 0.105, 0.012}, vec{0.17, 0.24, 0.025})
	m[matDarkLeaf] = leaf(vec{0.026, 0.050, 0.022}, vec{0.060, 0.092, 0.036}, vec{0.012, 0.028, 0.006}, vec{0.035, 0.065, 0.012})
	m[matPetal] = material{at: func(_, _ vec, tone float64) surface {
		return surface{albedo: vec{0.52, 0.032, 0.17}.lerp(vec{0.62, 0.085, 0.30}, tone), through: vec{0.26, 0.012, 0.075}}
	}}
	m[matBark] = material{
		at: func(p, _ vec, tone float64) surface {
			return surface{albedo: vec{0.20, 0.16, 0.12}.scale(0.8 + 0.6*valuenoise.Sum(p.x*30, p.y*8+p.z*30, 4, 90) + 0.3*tone)}
		},
		height: func(p, _ vec, _ float64) float64 { return 0.006 * valuenoise.Sum(p.x*45+p.z*30, p.y*9, 4, 91) },
		step:   0.004,
	}
}

// joinery makes the woods.
func joinery(m []material) {
	wood := func(c vec) material {
		return material{at: func(p, n vec, tone float64) surface {
			g := valuenoise.Sum(p.x*14+p.z*9, p.y*55, 4, 92)
			return surface{albedo: c.scale(0.85 + 0.3*tone + 0.35*g)}
		}}
	}
	m[matWood] = wood(vec{0.30, 0.19, 0.105})
	m[matBeam] = wood(vec{0.17, 0.115, 0.075})
	m[matShutter] = material{at: func(p, n vec, tone float64) surface {
		c := vec{0.060, 0.185, 0.235}.scale(0.9 + 0.2*tone + 0.15*valuenoise.Sum(p.z*9, p.y*60, 3, 93))
		w := smooth(0.28, 0.5, valuenoise.Sum(p.z*22, p.y*30, 4, 94))
		return surface{albedo: c.lerp(vec{0.33, 0.27, 0.20}, 0.6*w), coat: 0.03, rough: 0.6}
	}}
}

// room makes the materials of walls and floor indoors.
func room(m []material) {
	m[matRoomWall] = material{at: func(p, n vec, _ float64) surface {
		u, v := planar(p, n)
		// A painted dado below, limewash above.
		c := vec{0.62, 0.55, 0.43}.lerp(vec{0.16, 0.265, 0.28}, smooth(0.93, 0.92, v))
		if v > 0.92 && v < 0.965 {
			c = vec{0.045, 0.06, 0.065}
		}
		return surface{albedo: c.scale(1 + 0.25*valuenoise.Sum(u*2, v*2, 4, 95))}
	}}
	m[matRoomFloor] = material{at: func(p, _ vec, _ float64) surface {
		// Cement tiles: a quartered star in three inks.
		const s = 0.25
		fx, fz := math.Floor(p.x/s), math.Floor(p.z/s)
		x, y := (p.x/s-fx)*2-1, (p.z/s-fz)*2-1
		ax, ay := math.Abs(x), math.Abs(y)
		c := vec{0.42, 0.385, 0.31}
		if ax+ay > 1.25 {
			c = vec{0.27, 0.075, 0.045}
		} else if math.Max(ax, ay)*0.9+math.Min(ax, ay)*0.9 < 0.62 {
			c = vec{0.045, 0.085, 0.14}
			if math.Hypot(x, y) < 0.22 {
				c = vec{0.42, 0.385, 0.31}
			}
		}
		if math.Max(ax, ay) > 0.975 {
			c = vec{0.16, 0.14, 0.115}
		}
		return surface{albedo: c.scale(1 + 0.25*valuenoise.Sum(p.x*5, p.z*5, 4, 96))}
	}}
}

// things makes the materials of what stands about, of the grey card, and of the hill.
func things(m []material) {
	glaze := func(c, d vec) material {
		return material{at: func(p, _ vec, tone float64) surface {
			g := smooth(0.0, 0.5, valuenoise.Sum(p.x*7+p.z*5, p.y*11, 4, 97))
			return surface{albedo: c.lerp(d, g), coat: 0.045, rough: 0.22}
		}}
	}
	m[matBlueGlaze] = glaze(vec{0.022, 0.075, 0.235}, vec{0.045, 0.14, 0.30})
	m[matWhiteGlaze] = material{at: func(p, n vec, tone float64) surface {
		// tone carries a painted band's height.
		c := vec{0.62, 0.59, 0.52}
		if h := math.Mod(p.y*9, 1); h > 0.62 && h < 0.8 {
			c = vec{0.05, 0.10, 0.26}
		}
		return surface{albedo: c, coat: 0.045, rough: 0.2}
	}}
	fruit := func(c vec) material {
		return material{at: func(p, _ vec, tone float64) surface {
			return surface{albedo: c.scale(0.88 + 0.24*tone), coat: 0.04, rough: 0.5}
		}}
	}
	m[matLemon] = fruit(vec{0.70, 0.50, 0.035})
	m[matOrange] = fruit(vec{0.66, 0.25, 0.018})
	m[matCushion] = material{
		at: func(p, n vec, tone float64) surface {
			c := vec{0.46, 0.055, 0.035}
			if s := math.Mod((p.x+10)*7.5, 1); s > 0.72 && s < 0.86 {
				c = vec{0.58, 0.46, 0.28}
			}
			return surface{albedo: c.scale(1 + 0.15*valuenoise.At(p.x*350, (p.y+p.z)*350, 98))}
		},
		height: func(p, n vec, _ float64) float64 { return 0.0008 * valuenoise.At(p.x*260, (p.y+p.z)*260, 99) },
		step:   0.002,
	}
	// tone of the card material is the reflectance itself.
	m[matCard] = material{at: func(_, _ vec, tone float64) surface { return surface{albedo: grey(tone)} }}
	m[matBoard] = material{at: plain(vec{0.060, 0.056, 0.050})}
	m[matSoil] = material{at: func(p, _ vec, _ float64) surface {
		return surface{albedo: vec{0.075, 0.052, 0.036}.scale(1 + 0.6*valuenoise.Sum(p.x*60, p.z*60, 3, 100))}
	}}
	m[matIron] = material{at: plain(vec{0.035, 0.033, 0.032})}
	m[matHill] = material{at: func(p, _ vec, _ float64) surface {
		c := vec{0.135, 0.155, 0.085}.lerp(vec{0.25, 0.22, 0.13}, smooth(-0.3, 0.4, valuenoise.Sum(p.x*0.05, p.y*0.09+p.z*0.05, 5, 101)))
		// The air between lends the hill some of the sky's light.
		return surface{albedo: c.lerp(vec{0.27, 0.33, 0.42}, 0.35)}
	}}
}
