package colour

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// libraryProfiles finds the profiles that the ICC library brings for its own
// tests; nothing of them is copied here.
func libraryProfiles(t testing.TB) []string {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/kovidgoyal/imaging").Output()
	if err != nil {
		t.Skipf("SKIPPED: the ICC library's sources cannot be found: %v", err)
	}
	all, _ := filepath.Glob(filepath.Join(strings.TrimSpace(string(out)), "prism/meta/icc/test-profiles/*.ic[cm]"))
	if len(all) == 0 {
		t.Skip("SKIPPED: the ICC library's sources hold no profiles")
	}
	return all
}

// littleCMS evaluates a profile with transicc (Little CMS, Debian's
// liblcms2-utils): CIELAB of device values 0..1, by the rendering intent.
func littleCMS(t testing.TB, profile string, intent int, device [][]float64) []LAB {
	t.Helper()
	if _, err := exec.LookPath("transicc"); err != nil {
		t.Skip("SKIPPED: transicc (liblcms2-utils) is not installed; nothing was compared with Little CMS")
	}
	var in bytes.Buffer
	for _, v := range device {
		for _, x := range v {
			fmt.Fprintf(&in, "%.6f ", 255*x)
		}
		in.WriteByte('\n')
	}
	cmd := exec.Command("transicc", "-n", "-c0", fmt.Sprintf("-t%d", intent), "-i", profile, "-o", "*Lab")
	cmd.Stdin = &in
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("transicc %s: %v", profile, err)
	}
	var labs []LAB
	for _, line := range strings.Split(string(out), "\n") {
		var c LAB
		if n, _ := fmt.Sscan(line, &c.L, &c.A, &c.B); n == 3 {
			labs = append(labs, c)
		}
	}
	if len(labs) != len(device) {
		t.Fatalf("transicc gave %d colours for %d", len(labs), len(device))
	}
	return labs
}

// trialCodes are neutrals, dark colours and colours at random.
func trialCodes(n, channels, max int) []uint16 {
	rnd := rand.New(rand.NewPCG(7, uint64(max)))
	var codes []uint16
	for i := range n {
		var p [3]uint16
		switch i % 3 {
		case 0:
			v := uint16(i * max / n)
			p = [3]uint16{v, v, v}
		case 1:
			for c := range p {
				p[c] = uint16(rnd.IntN(max/8 + 1))
			}
		default:
			for c := range p {
				p[c] = uint16(rnd.IntN(max + 1))
			}
		}
		if channels == 1 {
			p[1], p[2] = p[0], p[0]
		}
		codes = append(codes, p[:]...)
	}
	last := len(codes) - 3
	codes[last], codes[last+1], codes[last+2] = uint16(max), uint16(max), uint16(max)
	return codes
}

// compareWithLittleCMS returns the median and the largest CIEDE2000 difference.
func compareWithLittleCMS(t testing.TB, profile []byte, channels, max int) (median, worst float64) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "p.icc")
	if err := os.WriteFile(path, profile, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := FromICC(profile, channels, max)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	codes := trialCodes(1500, channels, max)
	lin := make([]float32, len(codes))
	s.Linear(lin, codes)
	lab := make([]float32, len(lin))
	Lab(lab, lin)
	var device [][]float64
	for i := 0; i < len(codes); i += 3 {
		v := []float64{float64(codes[i]) / float64(max), float64(codes[i+1]) / float64(max), float64(codes[i+2]) / float64(max)}
		device = append(device, v[:channels])
	}
	// Relative colorimetric throughout. Only for a version 4 profile that has nothing but
	// a perceptual table Little CMS is asked for that, since it then takes the black of
	// the perceptual medium to zero; it does so with any other profile as well, whose
	// black is not that medium's.
	intent := 1
	if profile[8] >= 4 && s.Way() == "perceptual table" {
		intent = int(profile[67])
	}
	want := littleCMS(t, path, intent, device)
	var all []float64
	for i, w := range want {
		got := LAB{float64(lab[3*i]), float64(lab[3*i+1]), float64(lab[3*i+2])}
		d := DeltaE2000(got, w)
		if math.IsNaN(d) {
			t.Fatalf("device %v: %v against %v", device[i], got, w)
		}
		if d > worst {
			worst = d
			if d > 0.3 && testing.Verbose() {
				t.Logf("device %.4v: %.3f, Little CMS %.3f, dE00 %.3f", device[i], got, w, d)
			}
		}
		all = append(all, d)
	}
	return percentile(all, 0.5), worst
}

func percentile(v []float64, p float64) float64 {
	w := append([]float64(nil), v...)
	for i := range w { // few values: insertion
		for j := i; j > 0 && w[j] < w[j-1]; j-- {
			w[j], w[j-1] = w[j-1], w[j]
		}
	}
	return w[int(p*float64(len(w)-1))]
}

// Every RGB and grey profile of the library's collection against Little CMS.
func TestProfilesAgainstLittleCMS(t *testing.T) {
	compared, refused := 0, 0
	for _, path := range libraryProfiles(t) {
		name := filepath.Base(path)
		p, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		channels := 3
		switch string(p[16:20]) {
		case "CMYK":
			if _, err := FromICC(p, 3, 255); err == nil {
				t.Errorf("%s: an ink profile was taken for a scan's", name)
			}
			continue
		case "GRAY":
			channels = 1
		}
		if _, err := FromICC(p, channels, 255); err != nil {
			// The one that the library would interpolate wrongly (see checkTable).
			if !strings.Contains(err.Error(), "sides of different lengths") {
				t.Errorf("%s: %v", name, err)
			}
			t.Logf("%-34s refused: %v", name, err)
			refused++
			continue
		}
		// A scan is read by the intent that its profile's header names: each
		// profile is therefore read with the header as it is, and asking for the
		// perceptual and the relative intent (byte 67, ICC.1, 7.2.15).
		own := p[67]
		for _, intent := range []byte{0, 1} {
			p = append([]byte(nil), p...)
			p[67] = intent
			for _, max := range []int{255, 65535} {
				median, worst := compareWithLittleCMS(t, p, channels, max)
				t.Logf("%-34s intent %d (its own %d), max code %5d: dE00 median %.4f worst %.4f", name, intent, own, max, median, worst)
				if worst > 0.3 {
					t.Errorf("%s, intent %d, at %d: worst dE00 against Little CMS is %.3f", name, intent, max, worst)
				}
				compared++
			}
		}
	}
	if compared < 40 || refused > 1 {
		t.Fatalf("%d comparisons, %d profiles refused", compared, refused)
	}
}

// The profiles that this package writes, read by Little CMS and by ourselves.
func TestWrittenProfiles(t *testing.T) {
	for _, c := range []struct {
		name    string
		profile []byte
	}{
		{"sRGB", SRGBProfile()},
		{"wide", MatrixProfile("Wide, gamma 2.2", [3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, [2]float64{.3127, .3290}, 563.0/256)},
		{"widest", MatrixProfile("Widest, gamma 1.8", [3][2]float64{{.7347, .2653}, {.1596, .8404}, {.0366, .0001}}, [2]float64{.3457, .3585}, 1.8)},
		{"linear", MatrixProfile("Linear light", srgbPrimaries, whiteD65, 1)},
	} {
		median, worst := compareWithLittleCMS(t, c.profile, 3, 65535)
		t.Logf("%s: dE00 median %.5f worst %.5f", c.name, median, worst)
		if worst > 0.05 {
			t.Errorf("%s: worst dE00 against Little CMS is %.3f", c.name, worst)
		}
	}
	s, err := FromICC(SRGBProfile(), 3, 65535)
	if err != nil {
		t.Fatal(err)
	}
	if s.Name() != "sRGB" || s.Assumed() || s.ProfileName() != "sRGB" {
		t.Errorf("name %q, assumed %v", s.Name(), s.Assumed())
	}
	// Against the exact curve and primaries, not against another program.
	codes := trialCodes(1000, 3, 65535)
	lin := make([]float32, len(codes))
	s.Linear(lin, codes)
	for i, code := range codes {
		near(t, fmt.Sprintf("light of code %d", code), float64(lin[i]), DecodeSRGB(float64(code)/65535), 1.5e-4)
	}
}

func TestAssumed(t *testing.T) {
	s, note := Of(nil, 3, 255)
	if !s.Assumed() || s.Name() != "sRGB" || !strings.Contains(note, "sRGB was assumed") {
		t.Errorf("%q assumed %v note %q", s.Name(), s.Assumed(), note)
	}
	s, note = Of([]byte("no profile"), 3, 65535)
	if !s.Assumed() || s.Max() != 65535 || !strings.Contains(note, "not an ICC profile") {
		t.Errorf("assumed %v note %q", s.Assumed(), note)
	}
	s, note = Of(SRGBProfile(), 3, 65535)
	if s.Assumed() || note != "" {
		t.Errorf("a sound profile gave the note %q", note)
	}
	tone := AssumedSRGB(255).Tone()
	near(t, "tone of code 128", float64(tone[0][128]), 0.2158605, 5e-8)
}

// RGBA is Linear followed by SRGB8, to the byte, in every class of profile.
func TestRGBAIsLinearShown(t *testing.T) {
	profiles := map[string][]byte{
		"assumed": nil,
		"sRGB":    SRGBProfile(),
		"wide":    MatrixProfile("w", [3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, whiteD65, 2.2),
		"table":   scannerProfile(17),
	}
	for name, p := range profiles {
		s, _ := Of(p, 3, 65535)
		codes := trialCodes(3000, 3, 65535)
		lin := make([]float32, len(codes))
		want, got := make([]uint8, len(codes)/3*4), make([]uint8, len(codes)/3*4)
		s.Linear(lin, codes)
		SRGB8(want, lin)
		s.RGBA(got, codes)
		off := 0
		for i := range want {
			if d := int(want[i]) - int(got[i]); d > 1 || d < -1 {
				t.Fatalf("%s: byte %d is %d, want %d", name, i, got[i], want[i])
			} else if d != 0 {
				off++
			}
		}
		// The rounding of an sRGB profile's matrix is left out (identityTolerance).
		if off*100 > len(want) {
			t.Errorf("%s: %d of %d bytes are one off", name, off, len(want))
		}
	}
}

// scannerProfile builds a lut16Type profile such as scanners have: gamma-like
// input curves, a table of Lab with a strong twist, one that no matrix can do.
func scannerProfile(side int) []byte {
	b := append([]byte("mft2"), 0, 0, 0, 0, 3, 3, byte(side), 0)
	for i := range 9 {
		v := 0.0
		if i%4 == 0 {
			v = 1
		}
		b = s15Fixed16(b, v)
	}
	const entries = 256
	b = binary.BigEndian.AppendUint16(b, entries)
	b = binary.BigEndian.AppendUint16(b, 2)
	for c := range 3 {
		for i := range entries {
			v := math.Pow(float64(i)/(entries-1), 0.5+0.05*float64(c))
			b = binary.BigEndian.AppendUint16(b, uint16(65535*v))
		}
	}
	for r := range side {
		for g := range side {
			for bl := range side {
				x, y, z := float64(r)/float64(side-1), float64(g)/float64(side-1), float64(bl)/float64(side-1)
				l := LabOf(x*x*(1-.1*y), y*y*(1-.1*z), z*z*(1-.1*x))
				for i, v := range []float64{l.L * 652.80, (l.A + 128) * 256, (l.B + 128) * 256} { // version 2 encoding
					_ = i
					b = binary.BigEndian.AppendUint16(b, uint16(math.Max(0, math.Min(65535, math.Round(v)))))
				}
			}
		}
	}
	for range 3 {
		b = append(b, 0, 0, 255, 255)
	}
	return tableProfile(2, "scnr", "RGB ", "Lab ", b)
}

// tableProfile wraps one A2B0 table.
func tableProfile(version byte, class, device, pcs string, table []byte) []byte {
	head := make([]byte, 128)
	head[8] = version
	copy(head[12:], class+device+pcs)
	copy(head[36:], "acsp")
	copy(head[68:], xyzTag(pcsWhite)[8:])
	white := xyzTag(pcsWhite)
	out := binary.BigEndian.AppendUint32(head, 2)
	for _, t := range []struct {
		sig      string
		at, size int
	}{{"wtpt", 156, len(white)}, {"A2B0", 156 + len(white), len(table)}} {
		out = append(out, t.sig...)
		out = binary.BigEndian.AppendUint32(out, uint32(t.at))
		out = binary.BigEndian.AppendUint32(out, uint32(t.size))
	}
	out = append(append(out, white...), table...)
	binary.BigEndian.PutUint32(out, uint32(len(out)))
	return out
}

func TestScannerTableAgainstLittleCMS(t *testing.T) {
	for _, side := range []int{9, 17, 33} {
		for _, intent := range []byte{0, 1} {
			p := scannerProfile(side)
			p[67] = intent
			median, worst := compareWithLittleCMS(t, p, 3, 65535)
			t.Logf("table of %d, intent %d: dE00 median %.4f worst %.4f", side, intent, median, worst)
			if worst > 0.3 {
				t.Errorf("table of %d, intent %d: worst dE00 against Little CMS is %.3f", side, intent, worst)
			}
		}
	}
	s, err := FromICC(scannerProfile(17), 3, 65535)
	if err != nil {
		t.Fatal(err)
	}
	tone := s.Tone()[1]
	near(t, "tone of white", float64(tone[65535]), 1, 1e-6)
	for i := 1; i < len(tone); i++ {
		if tone[i] < tone[i-1] {
			t.Fatalf("tone falls at code %d", i)
		}
	}
}

// Counts that the profile does not hold are refused before memory is taken.
func TestHostileProfiles(t *testing.T) {
	sound := SRGBProfile()
	if _, err := FromICC(sound, 3, 255); err != nil {
		t.Fatal(err)
	}
	for n := range len(sound) {
		if s, err := FromICC(sound[:n], 3, 255); err == nil && n < len(sound)-4 {
			t.Fatalf("the first %d of %d bytes made the space %q", n, len(sound), s.Name())
		}
	}
	change := func(what string, f func(p []byte) []byte) {
		p := f(append([]byte(nil), sound...))
		if _, err := FromICC(p, 3, 255); err == nil {
			t.Errorf("%s was accepted", what)
		}
	}
	change("four billion tags", func(p []byte) []byte { binary.BigEndian.PutUint32(p[128:], 1<<32-1); return p })
	change("no tags", func(p []byte) []byte { binary.BigEndian.PutUint32(p[128:], 0); return p })
	change("a tag beyond the end", func(p []byte) []byte { binary.BigEndian.PutUint32(p[132+8:], 1<<31); return p })
	change("a CMYK profile", func(p []byte) []byte { copy(p[16:], "CMYK"); return p })
	change("primaries of zero", func(p []byte) []byte {
		for {
			i := bytes.Index(p, append([]byte("XYZ "), 0, 0, 0, 0))
			if i < 0 {
				return p
			}
			copy(p[i:], make([]byte, 20))
			copy(p[i:], "XYZ_")
		}
	})
	curve := append([]byte("curv"), 0, 0, 0, 0, 0xFF, 0xFF, 0xFF, 0xF0)
	change("a curve of four billion points", func([]byte) []byte { return writeProfile("x", srgbPrimaries, whiteD65, curve) })
	big := scannerProfile(9)
	i := bytes.Index(big, []byte("mft2"))
	big[i+10] = 255
	if _, err := FromICC(big, 3, 255); err == nil {
		t.Error("a table of 255 x 255 x 255 that is not there was accepted")
	}
	if _, err := FromICC(scannerProfile(9), 2, 255); err == nil {
		t.Error("two channels were accepted")
	}
}

// FuzzICC: whatever the bytes, an error or a space whose light is finite.
func FuzzICC(f *testing.F) {
	f.Add(SRGBProfile())
	f.Add(scannerProfile(3))
	inks := append([]byte("mAB "), 0, 0, 0, 0, 4, 3, 0, 0, 0, 0, 0, 32, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 68, 0, 0, 0, 0)
	for range 3 {
		inks = append(inks, "curv\x00\x00\x00\x00\x00\x00\x00\x00"...)
	}
	inks = append(append(inks, 2, 2, 2, 2), make([]byte, 12)...)
	inks = append(append(inks, 1, 0, 0, 0), bytes.Repeat([]byte{200, 128, 128, 30, 100, 150}, 8)...)
	f.Add(profileOf(4, "prtr", "CMYK", "Lab ", 0, profileTag{"A2B1", inks}))
	for _, path := range libraryProfiles(f) {
		if p, err := os.ReadFile(path); err == nil && len(p) < 32<<10 {
			f.Add(p)
		}
	}
	f.Fuzz(func(t *testing.T, p []byte) {
		if k, err := FromCMYK(p); err == nil {
			for i := range 256 {
				ink := func(bit int) float64 { return float64(i>>bit&3) / 3 }
				WideOfXYZ(k.XYZ([4]float64{ink(0), ink(2), ink(4), ink(6)}))
			}
		}
		for _, channels := range []int{1, 3} {
			// Small grids: a full one takes seconds under the fuzzer's counters.
			s, err := fromICC(p, channels, 255, gridSides{9, 13})
			if err != nil {
				if strings.ContainsAny(err.Error(), "\n") {
					t.Errorf("the reason has more than one line: %q", err)
				}
				continue
			}
			codes := []uint16{0, 0, 0, 255, 255, 255, 255, 0, 128, 1, 2, 3}
			lin, out := make([]float32, len(codes)), make([]uint8, 16)
			s.Linear(lin, codes)
			s.RGBA(out, codes)
			for _, v := range lin {
				if v != v || math.IsInf(float64(v), 0) {
					t.Errorf("light is %v", lin)
				}
			}
			if n := len(s.Tone()[2]); n != 256 {
				t.Errorf("tone has %d entries", n)
			}
		}
	})
}

func benchmarkRGBA(b *testing.B, profile []byte) {
	s, _ := Of(profile, 3, 65535)
	const w, h = 1600, 1000
	codes := make([]uint16, 3*w*h)
	rnd := rand.New(rand.NewPCG(3, 4))
	for i := range codes { // a slope with grain, as a scan has
		codes[i] = uint16(min(65535, max(0, i/3%w*40+rnd.IntN(2000)-1000)))
	}
	dst := make([]uint8, 4*w*h)
	for b.Loop() {
		s.RGBA(dst, codes)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/frame")
}

func BenchmarkRGBAAssumed(b *testing.B) { benchmarkRGBA(b, nil) }
func BenchmarkRGBAMatrix(b *testing.B) {
	benchmarkRGBA(b, MatrixProfile("w", [3][2]float64{{.64, .33}, {.21, .71}, {.15, .06}}, whiteD65, 2.2))
}
func BenchmarkRGBATable(b *testing.B) { benchmarkRGBA(b, scannerProfile(33)) }

func BenchmarkFromICCTable(b *testing.B) {
	p := scannerProfile(33)
	for b.Loop() {
		if _, err := FromICC(p, 3, 65535); err != nil {
			b.Fatal(err)
		}
	}
}
