package colour

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

type profileTag struct {
	sig  string
	data []byte
}

// profileOf puts a profile together out of its tags.
func profileOf(version byte, class, device, pcs string, intent byte, tags ...profileTag) []byte {
	head := make([]byte, 128)
	head[8] = version
	copy(head[12:], class+device+pcs)
	copy(head[36:], "acsp")
	head[67] = intent
	copy(head[68:], xyzTag(pcsWhite)[8:])
	tags = append([]profileTag{{"wtpt", xyzTag(pcsWhite)}}, tags...)
	at := 132 + 12*len(tags)
	out := binary.BigEndian.AppendUint32(head, uint32(len(tags)))
	var body []byte
	for _, t := range tags {
		out = append(out, t.sig...)
		out = binary.BigEndian.AppendUint32(out, uint32(at+len(body)))
		out = binary.BigEndian.AppendUint32(out, uint32(len(t.data)))
		body = append(body, t.data...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	out = append(out, body...)
	binary.BigEndian.PutUint32(out, uint32(len(out)))
	return out
}

// sampled is a curve of n points; of none it is the identity, of one a gamma.
func sampled(n int, gamma float64) []byte {
	b := append([]byte("curv"), 0, 0, 0, 0)
	b = binary.BigEndian.AppendUint32(b, uint32(n))
	if n == 1 {
		return binary.BigEndian.AppendUint16(b, uint16(math.Round(256*gamma)))
	}
	for i := range n {
		b = binary.BigEndian.AppendUint16(b, uint16(math.Round(65535*math.Pow(float64(i)/float64(n-1), gamma))))
	}
	return b
}

func matrixTags(curve []byte) []profileTag {
	m := adaptation(xyToXYZ(whiteD65), pcsWhite).mul(rgbToXYZ([3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, whiteD65))
	var tags []profileTag
	for c, sig := range []string{"rXYZ", "gXYZ", "bXYZ"} {
		tags = append(tags, profileTag{sig, xyzTag([3]float64{m[0][c], m[1][c], m[2][c]})})
	}
	for _, sig := range []string{"rTRC", "gTRC", "bTRC"} {
		tags = append(tags, profileTag{sig, curve})
	}
	return tags
}

// seen is what an invented scanner sees: what is there, or what would please, which
// has more colour and a lifted black.
func seen(r, g, b float64, pleasing bool) LAB {
	p := func(v float64) float64 { return math.Pow(v, 2.2) }
	l := LabOf(.9*p(r)+.08*p(g)+.02*p(b), .1*p(r)+.85*p(g)+.05*p(b), .03*p(r)+.07*p(g)+.9*p(b))
	if pleasing {
		l = LAB{8 + .92*l.L, 1.3 * l.A, 1.3 * l.B}
	}
	return l
}

// words writes samples of 8 or 16 bits.
func samplesOf(b []byte, width int, v ...float64) []byte {
	for _, x := range v {
		x = math.Max(0, math.Min(1, x))
		if width == 1 {
			b = append(b, byte(math.Round(255*x)))
		} else {
			b = binary.BigEndian.AppendUint16(b, uint16(math.Round(65535*x)))
		}
	}
	return b
}

// encodeLab returns CIELAB as parts of one, as lut8Type and lutAToBType write it, or
// in the older way of lut16Type (ICC.1:2022, tables 12 and 43).
func encodeLab(c LAB, legacy bool) []float64 {
	v := []float64{c.L / 100, (c.A + 128) / 255, (c.B + 128) / 255}
	if legacy {
		for i := range v {
			v[i] *= 65280.0 / 65535
		}
	}
	return v
}

func encodeXYZ(c LAB) []float64 {
	v := xyzOfLab(c, pcsWhite)
	return []float64{v[0] * 32768 / 65535, v[1] * 32768 / 65535, v[2] * 32768 / 65535}
}

// lut is a lut8Type or lut16Type table.
func lut(width, side int, xyz, pleasing bool) []byte {
	b := append([]byte(fmt.Sprintf("mft%d", width)), 0, 0, 0, 0, 3, 3, byte(side), 0)
	for i := range 9 {
		b = s15Fixed16(b, float64(map[bool]int{true: 1}[i%4 == 0]))
	}
	entries := 256
	if width == 2 {
		entries = 200
		b = binary.BigEndian.AppendUint16(b, uint16(entries))
		b = binary.BigEndian.AppendUint16(b, 2)
	}
	for range 3 {
		for i := range entries {
			b = samplesOf(b, width, math.Pow(float64(i)/float64(entries-1), .9))
		}
	}
	b = append(b, cube(side, width, func(r, g, bl float64) []float64 {
		c := seen(math.Pow(r, 1/.9), math.Pow(g, 1/.9), math.Pow(bl, 1/.9), pleasing)
		if xyz {
			return encodeXYZ(c)
		}
		return encodeLab(c, width == 2)
	})...)
	for range 3 {
		if width == 2 {
			b = samplesOf(b, 2, 0, 1)
			continue
		}
		for i := range 256 {
			b = append(b, byte(i))
		}
	}
	return b
}

func cube(side, width int, f func(r, g, b float64) []float64) (out []byte) {
	for r := range side {
		for g := range side {
			for b := range side {
				n := float64(side - 1)
				out = samplesOf(out, width, f(float64(r)/n, float64(g)/n, float64(b)/n)...)
			}
		}
	}
	return out
}

// aToB is a lutAToBType table: A curves and a cube of samples of width bytes, M
// curves and a matrix where matrix is set, B curves.
func aToB(width, side int, xyz, matrix, pleasing bool) []byte {
	b := append([]byte("mAB "), 0, 0, 0, 0, 3, 3, 0, 0)
	b = append(b, make([]byte, 20)...)
	here := func(i int) { binary.BigEndian.PutUint32(b[12+4*i:], uint32(len(b))) }
	curves := func(i int, c []byte) {
		here(i)
		for range 3 {
			b = append(b, c...)
			for len(b)%4 != 0 {
				b = append(b, 0)
			}
		}
	}
	curves(0, parametric(0, 1))
	if matrix {
		here(1)
		for i := range 12 { // the identity, and a little of nothing
			b = s15Fixed16(b, float64(map[bool]int{true: 1}[i < 9 && i%4 == 0]))
		}
		curves(2, parametric(0, 1))
	}
	here(3)
	b = append(b, byte(side), byte(side), byte(side))
	b = append(b, make([]byte, 13)...)
	b = append(b, byte(width), 0, 0, 0)
	b = append(b, cube(side, width, func(r, g, bl float64) []float64 {
		c := seen(math.Pow(r, 1/.8), math.Pow(g, 1/.8), math.Pow(bl, 1/.8), pleasing)
		if xyz {
			return encodeXYZ(c)
		}
		return encodeLab(c, false)
	})...)
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	curves(4, sampled(64, .8))
	return b
}

// invented are profiles of every kind that is read, by name.
func invented() map[string][]byte {
	all := map[string][]byte{}
	for kind, params := range [][]float64{{1.8}, {2.2, 1.05, -.05}, {2.1, .95, .04, .01}, {2.4, 1 / 1.055, .055 / 1.055, 1 / 12.92, .04045}, {2.2, .98, .01, .2, .05, .01, .002}} {
		all[fmt.Sprintf("matrix, parametric %d", kind)] = profileOf(4, "mntr", "RGB ", "XYZ ", 0, matrixTags(parametric(uint16(kind), params...))...)
	}
	for _, n := range []int{0, 1, 2, 33, 1024, 4096} {
		all[fmt.Sprintf("matrix, curve of %d", n)] = profileOf(2, "scnr", "RGB ", "XYZ ", byte(n%2), matrixTags(sampled(n, 1.9))...)
	}
	all["grey, gamma"] = profileOf(2, "scnr", "GRAY", "XYZ ", 0, profileTag{"kTRC", sampled(1, 2.2)})
	all["grey, curve"] = profileOf(2, "scnr", "GRAY", "XYZ ", 1, profileTag{"kTRC", sampled(500, 1.7)})
	all["grey, parametric, Lab"] = profileOf(4, "scnr", "GRAY", "Lab ", 0, profileTag{"kTRC", parametric(0, 1.8)})
	both := func(version byte, pcs string, table func(pleasing bool) []byte) []byte {
		return profileOf(version, "scnr", "RGB ", pcs, 0, append(matrixTags(sampled(1, 2.2)), profileTag{"A2B0", table(true)}, profileTag{"A2B1", table(false)})...)
	}
	all["lut8"] = both(2, "Lab ", func(p bool) []byte { return lut(1, 17, false, p) })
	all["lut16"] = both(2, "Lab ", func(p bool) []byte { return lut(2, 17, false, p) })
	all["lut16, version 4"] = both(4, "Lab ", func(p bool) []byte { return lut(2, 17, false, p) })
	all["lut16, XYZ"] = both(2, "XYZ ", func(p bool) []byte { return lut(2, 33, true, p) })
	all["mAB, 8 bits"] = both(4, "Lab ", func(p bool) []byte { return aToB(1, 17, false, false, p) })
	all["mAB, 16 bits"] = both(4, "Lab ", func(p bool) []byte { return aToB(2, 17, false, false, p) })
	all["mAB, matrix"] = both(4, "Lab ", func(p bool) []byte { return aToB(2, 25, false, true, p) })
	all["mAB, XYZ"] = both(4, "XYZ ", func(p bool) []byte { return aToB(2, 33, true, true, p) })
	all["perceptual alone"] = profileOf(2, "scnr", "RGB ", "Lab ", 0, profileTag{"A2B0", lut(2, 17, false, true)})
	all["perceptual alone, version 4"] = profileOf(4, "scnr", "RGB ", "Lab ", 0, profileTag{"A2B0", aToB(2, 17, false, false, true)})
	all["relative alone"] = profileOf(4, "scnr", "RGB ", "Lab ", 0, profileTag{"A2B1", aToB(2, 17, false, false, false)})
	return all
}

// Profiles of all kinds, invented and the library's own, within 0.3 dE00 of Little
// CMS, which is asked for the relative colorimetric colours where the profile has
// them and else for those of its own intent.
func TestKindsAgainstLittleCMS(t *testing.T) {
	all := invented()
	for _, path := range libraryProfiles(t) {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if string(b[16:20]) != "CMYK" && filepath.Base(path) != "lcms-stress.icc" { // its table has sides of different lengths
			all[filepath.Base(path)] = b
		}
	}
	names := make([]string, 0, len(all))
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	worstOfAll := 0.0
	for _, name := range names {
		channels := 3
		if string(all[name][16:20]) == "GRAY" {
			channels = 1
		}
		median, worst := compareWithLittleCMS(t, all[name], channels, 65535)
		s, _ := FromICC(all[name], channels, 65535)
		t.Logf("%-36s %-29s dE00 median %.4f worst %.4f", name, s.Way(), median, worst)
		if worst > 0.3 {
			t.Errorf("%s: worst dE00 against Little CMS is %.3f", name, worst)
		}
		worstOfAll = math.Max(worstOfAll, worst)
	}
	t.Logf("%d profiles, worst %.3f", len(all), worstOfAll)
	if len(all) < 40 {
		t.Errorf("only %d profiles", len(all))
	}
}

// The relative colorimetric table is taken whatever the header asks for; the
// perceptual one is another picture.
func TestRelativeTableIsTaken(t *testing.T) {
	for _, name := range []string{"lut8", "lut16", "mAB, 16 bits"} {
		p := invented()[name]
		for _, intent := range []byte{0, 1, 2, 3} {
			p[67] = intent
			s, note := Of(p, 3, 65535)
			if s.Way() != "relative colorimetric table" || note != "" {
				t.Errorf("%s, intent %d: by its %s, note %q", name, intent, s.Way(), note)
			}
		}
		codes := []uint16{30000, 20000, 10000}
		lin := make([]float32, 3)
		s, _ := Of(p, 3, 65535)
		s.Linear(lin, codes)
		got := LabOf(float64(lin[0]), float64(lin[1]), float64(lin[2]))
		r, g, b := 30000.0/65535, 20000.0/65535, 10000.0/65535
		if d := DeltaE2000(got, seen(r, g, b, false)); d > 1.5 {
			t.Errorf("%s: %v, what is there is %v: dE00 %.2f", name, got, seen(r, g, b, false), d)
		}
		if d := DeltaE2000(got, seen(r, g, b, true)); d < 5 {
			t.Errorf("%s: the colours are those of the perceptual table (dE00 %.2f)", name, d)
		}
	}
}

// A table that cannot be used gives way to the next way of its profile, and a note
// says so: first another table, then matrix and curves, sRGB last.
func TestTableGivesWay(t *testing.T) {
	harm := func(p []byte, sigs ...string) []byte {
		p = bytes.Clone(p)
		for _, sig := range sigs {
			copy(tagOf(p, sig), "odd!")
		}
		return p
	}
	sound := invented()["lut16"]
	matrix := profileOf(2, "scnr", "RGB ", "XYZ ", 0, matrixTags(sampled(1, 2.2))...)
	xyz := invented()["lut16, XYZ"]
	for _, c := range []struct {
		name string
		p    []byte
		way  string
		same []byte // a profile of the same colours
	}{
		{"the relative table is damaged", harm(sound, "A2B1"), "perceptual table", nil},
		{"both are", harm(xyz, "A2B1", "A2B0"), "matrix and curves", matrix},
	} {
		s, note := Of(c.p, 3, 65535)
		if s.Way() != c.way || !strings.Contains(note, "could not be used") || !strings.Contains(note, c.way) || !strings.HasSuffix(note, ".") {
			t.Errorf("%s: by its %q, note %q", c.name, s.Way(), note)
		}
		if c.same != nil {
			want, _ := Of(c.same, 3, 65535)
			codes := trialCodes(300, 3, 65535)
			a, b := make([]float32, len(codes)), make([]float32, len(codes))
			s.Linear(a, codes)
			want.Linear(b, codes)
			if !slices.Equal(a, b) {
				t.Errorf("%s: not the colours of the matrix", c.name)
			}
		}
	}
	if s, note := Of(harm(invented()["relative alone"], "A2B1"), 3, 65535); !s.Assumed() || s.Way() != "" || !strings.Contains(note, "sRGB was assumed") {
		t.Errorf("nothing left: %q, %q", s.Way(), note)
	}
}
