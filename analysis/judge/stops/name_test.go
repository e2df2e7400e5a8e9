package stops

import (
	"math"
	"testing"
)

const third = 1.0 / 3

// The forms that photographers and labs write, and beside them the names that
// look like a stop and are none. There is no standard for file names: the table is
// common practice, no source.
var labelled = []struct {
	name string
	stop float64
}{
	{"-3.tif", -3}, {"+1.tif", 1}, {"m2.tif", -2}, {"p1.5.tif", 1.5}, {"0.tif", 0}, {"base.tif", 0},
	{"+1/2.tif", 0.5}, {"-1 1/3.tif", -1 - third}, {"2under.tif", -2}, {"1over.tif", 1}, {"under2.tif", -2},
	{"over 1.5.tif", 1.5}, {"minus1.tif", -1}, {"plus2.tif", 2}, {"+0.3.tif", third}, {"-.7.tif", -2 * third},
	{"+.33.tif", third}, {"-1.67.tif", -1 - 2*third}, {"+1.66.tif", 1 + 2*third}, {"-0,7.tif", -2 * third},
	{"−2.tif", -2}, {"–2.tif", -2}, {"+½.tif", 0.5}, {"+1½.tif", 1.5}, {"−1⅓.tif", -1 - third}, {"-1 ⅔.tif", -1 - 2*third}, {"+¼.tif", 0.25}, {"-¾.tif", -0.75},
	{"+1,5.tif", 1.5}, {"p1_5.tif", 1.5}, {"+1_5.tif", 1.5}, {"m0_3.tif", -third}, {"+0_67.tif", 2 * third},
	{"+1∕2.tif", 0.5}, {"+1⁄2.tif", 0.5}, {"+1.5", 1.5}, {"-3", -3}, {"+0.tif", 0}, {"-0.tif", 0}, {"±0.tif", 0}, {"0.0.tif", 0},
	{"scan_-3.tif", -3}, {"scan -3.tif", -3}, {"scan +1.tif", 1}, {"scan+1.tif", 1}, {"roll7 -1/2.tif", -0.5}, {"test(-2).tif", -2}, {"[+2] wall.tif", 2},
	{"2026-11-25_-3.tif", -3}, {"2026-11-25 +1.tif", 1}, {"IMG_0012_-2.tif", -2}, {"IMG_0012 m2.tif", -2}, {"-3_0012.tif", -3}, {"-3_05.tif", -3}, {"-2-wall.tif", -2},
	{"film 400 -2.tif", -2}, {"M2.tif", -2}, {"P1.tif", 1}, {"scan_p2.tif", 2}, {"base_0012.tif", 0}, {"scan_base.tif", 0}, {"Base frame.TIFF", 0},
	{"base+1.tif", 1}, {"base +1.tif", 1}, {"base_-2.tif", -2}, {"minus 1.tif", -1}, {"minus_1.tif", -1}, {"minus-1.tif", -1}, {"plus+2.tif", 2},
	{"1 stop over.tif", 1}, {"2-stops-under.tif", -2}, {"1/2 under.tif", -0.5}, {"1½ over.tif", 1.5}, {"wall 2 under.tif", -2}, {"2_under.tif", -2}, {"under_2.tif", -2}, {"Over_1.tif", 1},
	{"+1ev.tif", 1}, {"-1 EV.tif", -1}, {"ev+1.tif", 1}, {"EV-1.tif", -1}, {"0ev.tif", 0}, {"ev0.tif", 0}, {"+1stop.tif", 1}, {"+01.tif", 1}, {"-03.tif", -3}, {"frame12_+1.tif", 1},
	{"-1 under.tif", -1}, {"scan_1.5over.tif", 1.5}, {"+3 (2).tif", 3}, {"-16.tif", -16}, {"+1.tar.tif", 1},
}

var unlabelled = []string{
	"", ".tif", "3.tif", "12.tif", "00.tif", "000.tif", "frame 3.tif", "frame3.tif", "IMG_0012.tif", "DSC00012.tif", "2026-11-25.tif", "25.11.2026.tif", "2026_11_25.tif",
	"100.tif", "400.tif", "4000x3000.tif", "6x7.tif", "6x7_3.tif", "scan-3.tif", "roll7-2.tif", "A-3.tif", "E-6.tif", "C-41.tif", "Super-8.tif", "50mm.tif", "1-2.tif", "1_2.tif",
	"+1_2.tif", "+1-2.tif", "-1-2.tif", "+1 2.tif", "-3_2.tif", "+1+2.tif", "-3_+1.tif", "+1 -1.tif", "over-2.tif", "under+1.tif", "plus-2.tif", "+1 under.tif", "-1 over.tif", "1over2.tif", "2 under 1 over.tif",
	"base-1.tif", "iso100+1.tif", "N+1.tif", "N-1.tif", "n +1.tif", "push+1.tif", "push +2.tif", "pull -1.tif", "Scan_M6_003.tif", "body M6.tif", "m6x7.tif", "p1080.tif", "1080p.tif",
	"+17.tif", "-100.tif", "-0012.tif", "+400.tif", "±1.tif", "--3.tif", "overcast 2.tif", "hangover.tif", "over.tif", "under.tif", "minus.tif", "database.tif", "base2.tif", "basement.tif",
	"+1/1.tif", "+5/2.tif", "+1/7.tif", "+1/2/3.tif", "-3rd.tif", "+2x.tif", "-8bit.tif", "scan - 3.tif", "+.tif", "-.tif", "v1.5.tif", "1.5.tif", "1/2.tif", "scan_0.tif", "0_1.tif", "+1.2345.tif", "ev12.tif", "f-8.tif", "f8.tif", "lamp1.tif", "am2.tif", "+1.5.3.tif",
	"frame 3 over.tif", "scan_2_under.tif", "frame 12 1/2 over.tif", "IMG 4 over.tif",
}

// fromName reads one name by itself.
func fromName(fileName string) (stop float64, ok bool) {
	r := read(stem(fileName))
	return r.stop, r.ok
}

func TestFromName(t *testing.T) {
	for _, c := range labelled {
		got, ok := fromName(c.name)
		if !ok || math.Abs(got-c.stop) > 1e-12 {
			t.Errorf("fromName(%q) = %v, %v; want %v", c.name, got, ok, c.stop)
		}
	}
	for _, n := range unlabelled {
		if got, ok := fromName(n); ok {
			t.Errorf("fromName(%q) = %v; want no label", n, got)
		}
	}
}

func FuzzFromName(f *testing.F) {
	for _, c := range labelled {
		f.Add(c.name)
	}
	for _, n := range unlabelled {
		f.Add(n)
	}
	f.Fuzz(func(t *testing.T, name string) {
		stop, ok := fromName(name)
		if math.IsNaN(stop) || math.Abs(stop) > Limit || !ok && stop != 0 {
			t.Errorf("fromName(%q) = %v, %v", name, stop, ok)
		}
		if again, ok2 := fromName(name); again != stop || ok2 != ok {
			t.Errorf("fromName(%q) is not stable", name)
		}
	})
}
