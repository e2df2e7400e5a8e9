package headless

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/base64"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// tag is one entry of a TIFF's directory. Values that do not fit into the entry are
// given as the offset where they stand.
type tag struct {
	id, kind uint16
	count    uint32
	value    uint32
}

const (
	short = 3
	long  = 4
)

// tiffOf is a little-endian TIFF (Adobe, TIFF 6.0, section 2) of one directory; the
// pixels follow it at the offset that pixelsAt gives for as many tags.
func tiffOf(next uint32, pixels []byte, tags ...tag) []byte {
	b := binary.LittleEndian.AppendUint32([]byte("II*\x00"), 8)
	b = binary.LittleEndian.AppendUint16(b, uint16(len(tags)))
	for _, t := range tags {
		b = binary.LittleEndian.AppendUint16(b, t.id)
		b = binary.LittleEndian.AppendUint16(b, t.kind)
		b = binary.LittleEndian.AppendUint32(b, t.count)
		b = binary.LittleEndian.AppendUint32(b, t.value)
	}
	return append(binary.LittleEndian.AppendUint32(b, next), pixels...)
}

func pixelsAt(tags int) uint32 { return uint32(8 + 2 + 12*tags + 4) }

// grey8 are the tags of a grey picture of 8 bits in one strip, with some replaced
// or added (they must come in order).
func grey8(w, h, bytes uint32, change ...tag) []tag {
	tags := []tag{{256, long, 1, w}, {257, long, 1, h}, {258, short, 1, 8}, {259, short, 1, 1}, {262, short, 1, 1},
		{273, long, 1, 0}, {277, short, 1, 1}, {278, long, 1, h}, {279, long, 1, bytes}}
next:
	for _, c := range change {
		for i := range tags {
			if tags[i].id == c.id {
				tags[i] = c
				continue next
			}
			if tags[i].id > c.id {
				tags = append(tags[:i], append([]tag{c}, tags[i:]...)...)
				continue next
			}
		}
		tags = append(tags, c)
	}
	for i := range tags {
		if tags[i].id == 273 && tags[i].value == 0 {
			tags[i].value = pixelsAt(len(tags))
		}
	}
	return tags
}

// passes is a picture of 64 x 64 pixels, an invented pattern, as libjpeg-turbo writes it
// in passes (ITU-T T.81, annex G): Go's encoder makes none such.
const passes = `
/9j/2wBDABQODxIPDRQSEBIXFRQYHjIhHhwcHj0sLiQySUBMS0dARkVQWnNiUFVtVkVGZIhlbXd7gYKBTmCNl4x9lnN+gXz/2wBDARUXFx4aHjshITt8U0ZT
fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHx8fHz/wgARCABAAEADASIAAhEBAxEB/8QAGQABAAMBAQAAAAAAAAAAAAAA
AwACBAEF/8QAGQEAAgMBAAAAAAAAAAAAAAAAAwQAAQIF/9oADAMBAAIQAxAAAAHEgIJuJEpZ7jcddSJSvgJRHHdSEgSVSiRDVc0ETwk4jb/EFIloTiC1VQWJ
eQudGemiRMDugJkKJEwL/8QAGBAAAwEBAAAAAAAAAAAAAAAAAAEQAhH/2gAIAQEAAQUCzciuYhVHLkzciqFUKKoVRm5M3IqhVRCqFP/EABoRAAMBAQEBAAAA
AAAAAAAAAAABAiERQTH/2gAIAQMBAT8Bd5wc70d5wc70f0bwf0p4NYOtGsHWjvwcejvwcen/xAAYEQEBAQEBAAAAAAAAAAAAAAAQEQESAP/aAAgBAgEBPwGE
YQhue5OT/8QAFBABAAAAAAAAAAAAAAAAAAAAYP/aAAgBAQAGPwIB/8QAGBABAQEBAQAAAAAAAAAAAAAAAAERECD/2gAIAQEAAT8h4xHeIS4pGpEuK1CTF9jW
JW1iVtRqRqkMxKrer0vVtYlTWJxq0satLH//2gAMAwEAAgADAAAAEA/lkrTBydAIaa7siv/EABgRAQEBAQEAAAAAAAAAAAAAAAEAIREg/9oACAEDAQE/EAh4
KFILSoaFHc2Y9yZ8STlP/8QAGhEAAgMBAQAAAAAAAAAAAAAAAAEhMUERUf/aAAgBAgEBPxB7HXBz6OuDUDkNQOQ7HEdkI9DeD0Pw/8QAGRABAQEBAQEAAAAA
AAAAAAAAAQARIRAx/9oACAEBAAE/EFhLpOmwZ4S6TpsE82viz9y28yxl2GhJhLjLWPIYTpsWyLou2ybAnR5sYzb28Vj5Bwk5fV9EOF8T9vssI2RuxsyNRt8X
DaNqXJcNo2pcl//Z`

// hostile returns the files of testdata/hostile.
func hostile(t *testing.T) map[string][]byte {
	t.Helper()
	sound := make([]byte, 32*32)
	for i := range sound {
		sound[i] = byte(7 * i)
	}
	img := image.NewGray(image.Rect(0, 0, 32, 32))
	copy(img.Pix, sound)
	var p, j bytes.Buffer
	if err := png.Encode(&p, img); err != nil {
		t.Fatal(err)
	}
	rgb := image.NewRGBA(image.Rect(0, 0, 64, 64))
	for i := range 64 * 64 {
		rgb.SetRGBA(i%64, i/64, color.RGBA{byte(3 * i), byte(5 * i), byte(i), 255})
	}
	if err := jpeg.Encode(&j, rgb, nil); err != nil {
		t.Fatal(err)
	}
	broken := bytes.Clone(p.Bytes())
	broken[8+8+13+4+8+6] ^= 0xff // inside IDAT
	// A PNG of 32000 x 32000 whose pixels are a few kilobytes of deflated zeros.
	var zeros bytes.Buffer
	z := zlib.NewWriter(&zeros)
	z.Write(make([]byte, 1<<20))
	z.Close()
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, 32000), 32000)
	bomb := append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(head, 8, 0, 0, 0, 0))...)
	bomb = append(append(bomb, pngChunk("IDAT", zeros.Bytes())...), pngChunk("IEND", nil)...)
	var deflated bytes.Buffer
	z = zlib.NewWriter(&deflated)
	z.Write(sound)
	z.Close()
	flipped := bytes.Clone(deflated.Bytes())
	flipped[len(flipped)/2] ^= 4
	// A copy that stopped after 4 kB and was given its full size beforehand.
	unfinished := tiffOf(0, bytes.Repeat(sound[1:255], 60), grey8(100, 152, 15200)...)
	unfinished = append(unfinished[:4096], make([]byte, 15200+int(pixelsAt(9))-4096)...)
	inPasses, err := base64.StdEncoding.DecodeString(strings.ReplaceAll(passes, "\n", ""))
	if err != nil {
		t.Fatal(err)
	}
	lastPass := bytes.LastIndex(inPasses, []byte{0xFF, 0xDA})
	tiff := func(pixels []byte, w, h, n uint32, change ...tag) []byte {
		return tiffOf(0, pixels, grey8(w, h, n, change...)...)
	}
	return map[string][]byte{
		"empty.tif":               {},
		"text.tif":                []byte("This is not a picture.\n"),
		"directory-beyond.tif":    binary.LittleEndian.AppendUint32([]byte("II*\x00"), 1<<30),
		"directory-loop.tif":      tiffOf(8, sound, grey8(32, 32, 1024)...),
		"truncated.tif":           tiff(sound[:600], 32, 32, 1024),
		"bomb-size.tif":           tiff(sound[:64], 1<<31, 1<<31, 64),
		"bomb-strip.tif":          tiff(sound[:64], 32, 32, 1<<32-1),
		"bomb-strips.tif":         tiff(sound[:64], 20000, 20000, 64, tag{273, long, 1 << 30, 8}, tag{279, long, 1 << 30, 8}, tag{278, long, 1, 1}),
		"bomb-deflate.tif":        tiff(zeros.Bytes(), 20000, 20000, uint32(zeros.Len()), tag{259, short, 1, 8}),
		"bomb-size.png":           bomb,
		"deflate-garbage.tif":     tiff(sound[:200], 32, 32, 200, tag{259, short, 1, 8}),
		"deflate-cut.tif":         tiff(deflated.Bytes()[:deflated.Len()/2], 32, 32, uint32(deflated.Len()), tag{259, short, 1, 8}),
		"deflate-flipped.tif":     tiff(flipped, 32, 32, uint32(len(flipped)), tag{259, short, 1, 8}),
		"unfinished.tif":          unfinished,
		"lzw-garbage.tif":         tiff(sound[100:300], 32, 32, 200, tag{259, short, 1, 5}),
		"no-width.tif":            tiffOf(0, sound, grey8(32, 32, 1024)[1:]...),
		"width-zero.tif":          tiff(sound, 0, 32, 1024),
		"samples-many.tif":        tiff(sound, 32, 32, 1024, tag{277, short, 1, 65535}),
		"bits-odd.tif":            tiff(sound, 32, 32, 1024, tag{258, short, 1, 77}),
		"compression-unknown.tif": tiff(sound, 32, 32, 1024, tag{259, short, 1, 34892}),
		"separated.tif":           tiff(sound, 16, 16, 1024, tag{258, short, 1, 8}, tag{262, short, 1, 5}, tag{277, short, 1, 4}),
		"profile-beyond.tif":      tiff(sound, 32, 32, 1024, tag{34675, 7, 5000, 1 << 28}),
		"pixels-broken.png":       broken,
		"cut.png":                 p.Bytes()[:p.Len()/2],
		"cut.jpg":                 j.Bytes()[:j.Len()/2],
		"cut-in-passes.jpg":       inPasses[:lastPass],
		"cut-last-pass.jpg":       inPasses[:(lastPass+len(inPasses))/2],
	}
}

// expected is a row of the table of hostile files in testdata/README.md.
type expected struct {
	status int
	says   string
}

// hostileTable reads the table of testdata/README.md: file, how it was made, exit
// status, a part of the sentence.
func hostileTable(t *testing.T) map[string]expected {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]expected{}
	_, section, ok := strings.Cut(string(b), "## Hostile files")
	if !ok {
		t.Fatal("testdata/README.md has no section on hostile files")
	}
	for line := range strings.Lines(section) {
		cells := strings.Split(strings.TrimSpace(line), " | ")
		if len(cells) != 4 || !strings.HasPrefix(cells[0], "| `") {
			continue
		}
		status, err := strconv.Atoi(cells[2])
		if err != nil {
			t.Fatalf("testdata/README.md: %q is no exit status", cells[2])
		}
		out[strings.Trim(cells[0], "|` ")] = expected{status, strings.TrimSuffix(cells[3], " |")}
	}
	return out
}

// Every hostile file ends as its row says: with its exit status, one sentence that
// names it, and in little memory.
func TestHostile(t *testing.T) {
	table := hostileTable(t)
	files, err := filepath.Glob(filepath.Join(testdata, "hostile", "*"))
	if err != nil || len(files) < 20 {
		t.Fatalf("%d hostile files, %v", len(files), err)
	}
	for _, path := range files {
		name := filepath.Base(path)
		want, ok := table[name]
		if !ok {
			t.Errorf("%s has no row in testdata/README.md", name)
			continue
		}
		delete(table, name)
		if want.says == "-" { // nothing to complain of
			want.says = ""
		}
		for _, flags := range [][]string{nil, {"--first-look"}} {
			hostileOne(t, path, want, flags)
		}
	}
	for name := range table {
		t.Errorf("testdata/README.md has a row for %s, which is not there", name)
	}
}

func hostileOne(t *testing.T, path string, want expected, flags []string) {
	t.Helper()
	name := filepath.Base(path)
	var o, e bytes.Buffer
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	status := run(context.Background(), append([]string{"measure", path, "--json", "-"}, flags...), streams{strings.NewReader(""), &o, &e})
	runtime.ReadMemStats(&after)
	said := e.String()
	if status != want.status || !strings.Contains(said, want.says) || (want.says == "") != (said == "") || said != "" && !strings.Contains(said, name) || strings.Count(said, "\n") > 1 {
		t.Errorf("%s %v: status %d, want %d; %q, want %q", name, flags, status, want.status, said, want.says)
	}
	if used := after.TotalAlloc - before.TotalAlloc; used > 64<<20 {
		t.Errorf("%s %v took %d MB", name, flags, used>>20)
	}
}
