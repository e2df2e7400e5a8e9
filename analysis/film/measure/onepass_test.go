package measure

import (
	"context"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"stopladder/analysis/scan"
)

// plainLook is NewLook by the plain way.
func plainLook(t *testing.T, px *scan.Pixels, present int, opt Options) *Look {
	t.Helper()
	ctx := context.Background()
	l := &Look{Info: px.Header}
	l.setSpace(opt)
	var err error
	if l.Preview, err = buildPreview(ctx, px, present, l.Space, 2, nil); err != nil {
		t.Fatal(err)
	}
	whole := image.Rect(0, 0, px.Header.Width, present)
	l.places = findPlaces(l.Preview, newLevelTable(l.Space), whole)
	l.Area = l.places.area
	if opt.Area != nil {
		l.Area = opt.Area.Intersect(whole)
	}
	if l.Hist, err = countCodes(ctx, px, l.Area, 2); err != nil {
		t.Fatal(err)
	}
	lim := findCodeRange(&l.Hist, effectiveDepth(&l.Hist, px.Header.Bits))
	if opt.CodeRange != nil {
		lim = *opt.CodeRange
	}
	l.Ceiling, l.Floor = lim.Ceiling, lim.Floor
	l.Mean = l.Hist.mean()
	clip, err := countClipped(ctx, px, present, l.Preview, l.Area, lim, 2)
	if err != nil {
		t.Fatal(err)
	}
	l.Blown, l.Blocked = clip.high.of(l.Hist.Pixels), clip.low.of(l.Hist.Pixels)
	l.BlownShare, l.BlockedShare = clip.highShare, clip.lowShare
	return l
}

// sameLook holds a look against the plain one: counts, shares and area exactly,
// preview pixels within the one code that light in whole numbers may cost.
func sameLook(t *testing.T, what string, got, want *Look) {
	t.Helper()
	if got.Area != want.Area {
		t.Errorf("%s: area %v, want %v", what, got.Area, want.Area)
	}
	for c := range got.Hist.Counts {
		if !slices.Equal(got.Hist.Channel(c), want.Hist.Channel(c)) {
			t.Errorf("%s: histogram of channel %d differs", what, c)
		}
	}
	if got.Hist.Pixels != want.Hist.Pixels || got.Mean != want.Mean || got.Ceiling != want.Ceiling || got.Floor != want.Floor || got.Blown != want.Blown || got.Blocked != want.Blocked {
		t.Errorf("%s: readings differ: %v %v %v %v, want %v %v %v %v", what, got.Mean, got.Ceiling, got.Blown, got.Blocked, want.Mean, want.Ceiling, want.Blown, want.Blocked)
	}
	if !slices.Equal(got.BlownShare, want.BlownShare) || !slices.Equal(got.BlockedShare, want.BlockedShare) {
		t.Errorf("%s: shares differ", what)
	}
	if got.Preview.W != want.Preview.W || got.Preview.H != want.Preview.H || got.Preview.Factor != want.Preview.Factor {
		t.Fatalf("%s: preview %d x %d, want %d x %d", what, got.Preview.W, got.Preview.H, want.Preview.W, want.Preview.H)
	}
	for i, v := range got.Preview.Pix {
		if w := want.Preview.Pix[i]; max(v, w)-min(v, w) > 1 {
			t.Fatalf("%s: preview code %d is %d, want %d", what, i, v, w)
		}
	}
}

// kinds of files that libtiff writes, by the arguments of tiffcp, and how many ways each
// is turned besides.
var kinds = [][]string{
	{"-c", "lzw:2", "-r", "37"}, {"-c", "zip", "-r", "1"}, {"-c", "zip:2", "-t", "-w", "240", "-l", "112"}, {"-c", "packbits", "-r", "1000000"},
	{"-c", "none", "-B", "-r", "3"}, {"-c", "lzw", "-r", "1000000"},
}

// files are scans of a few kinds as libtiff writes them, borders and clipping included,
// turned every way; or, of a picture for which few are enough, plain, in tiles, and turned.
func files(t *testing.T, px *scan.Pixels, few bool) map[string]string {
	t.Helper()
	dir := t.TempDir()
	plain := filepath.Join(dir, "plain.tif")
	writeTIFF(t, plain, px)
	out := map[string]string{"plain": plain}
	if _, err := exec.LookPath("tiffcp"); err != nil {
		t.Log("SKIPPED in part: tiffcp is not installed; only uncompressed strips were read")
		return out
	}
	for i, args := range kinds {
		if few && i != 2 {
			continue
		}
		name := filepath.Join(dir, fmt.Sprintf("%d.tif", i))
		if b, err := exec.Command("tiffcp", append(slices.Clone(args), plain, name)...).CombinedOutput(); err != nil {
			t.Fatalf("tiffcp %v: %v\n%s", args, err, b)
		}
		out[fmt.Sprint(args)] = name
	}
	b, err := os.ReadFile(plain)
	if err != nil {
		t.Fatal(err)
	}
	for o := 2; o <= 8; o++ {
		if few && o != 7 {
			continue
		}
		name := filepath.Join(dir, fmt.Sprintf("turned%d.tif", o))
		if err = os.WriteFile(name, b, 0o600); err == nil {
			err = exec.Command("tiffset", "-s", "274", fmt.Sprint(o), name).Run()
		}
		if err != nil {
			t.Fatal(err)
		}
		out[fmt.Sprintf("orientation %d", o)] = name
	}
	return out
}

// The one-pass look against the plain way: for a picture with a border as every kind of
// file, and as three kinds for pictures that make the guess right, wrong at the edges, and
// far off.
func TestOnePassIsExact(t *testing.T) {
	blown := busyPixels(2311, 802)
	for i, v := range blown.Pix {
		blown.Pix[i] = uint16(min(2*int(v), 60000+i%7))
	}
	late := busyPixels(2100, 900) // a border that few rows show
	hand := image.Rect(100, 50, 1900, 801)
	for name, c := range map[string]struct {
		px  *scan.Pixels
		opt Options
	}{
		"border": {busyPixels(2311, 802), Options{}}, "blown": {blown, Options{}}, "no border": {clippedPixels(2200, 611), Options{}},
		"four":  {busyPixels(6201, 260), Options{}}, // cells of four pixels, the last of one
		"small": {busyPixels(700, 400), Options{}}, "by hand": {late, Options{Area: &hand}},
		"limits": {late, Options{CodeRange: &CodeRange{Ceiling: RGB[int]{50000, 51000, 65535}, Floor: RGB[int]{3000, 0, 800}}}},
	} {
		for kind, path := range files(t, c.px, name != "border") {
			src, err := scan.Open(path, scan.DefaultBounds)
			if err != nil {
				t.Fatal(err)
			}
			held, err := scan.Hold(context.Background(), src)
			if err != nil {
				t.Fatal(err)
			}
			want := plainLook(t, held, held.Header.Height, c.opt)
			what := name + ", " + kind
			got := look(t, src, c.opt)
			sameLook(t, what, got, want)
			if kind == "plain" {
				sameLook(t, what+", held", look(t, held, c.opt), want)
			}
			area := got.Area.Inset(3)
			again, err := got.Recount(context.Background(), src, Options{Area: &area})
			if err != nil {
				t.Fatal(err)
			}
			opt := c.opt
			opt.Area, opt.CodeRange = &area, nil
			sameLook(t, what+", counted again", again, plainLook(t, held, held.Header.Height, opt))
		}
	}
}
