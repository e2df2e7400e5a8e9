package headless

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image/png"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/scan/tiffwrite"
	"stopladder/assets"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"stopladder": func() { os.Exit(Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// Each script is one behaviour, told as a user would try it.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Condition:           condition,
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"scan":     cmdScan,
			"status":   cmdStatus,
			"sentence": cmdSentence,
			"value":    cmdValue,
			"valid":    cmdValid,
			"png":      cmdPNG,
			"same":     cmdSame,
			"leftover": cmdLeftover,
			"cut":      cmdCut,
			"absurd":   cmdAbsurd,
			"early":    cmdEarly,
			"clean":    cmdClean,
			"hostile":  cmdHostile,
			"hostilename": func(ts *testscript.TestScript, _ bool, args []string) {
				b := []byte(ts.ReadFile("roll/0.tif"))
				first := "a\x1b[2J.tif"
				if runtime.GOOS == "windows" { // which has no such names
					first = "a[2J.tif"
				}
				for _, n := range []string{first, "b\u202egnp.tif"} {
					ts.Check(os.WriteFile(filepath.Join(ts.MkAbs(args[0]), n), b, 0o600))
				}
			},
			"device": cmdIs(func(m fs.FileMode) bool { return m&fs.ModeCharDevice != 0 }),
			"islink": cmdIs(func(m fs.FileMode) bool { return m&fs.ModeSymlink != 0 }),
			"windowslines": func(ts *testscript.TestScript, _ bool, args []string) {
				text := strings.ReplaceAll(ts.ReadFile(args[0]), "\n", "\r\n")
				ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte("\xef\xbb\xbf"+text), 0o600))
			},
			"mode": cmdMode,
			"fifo": cmdFIFO,
			"link": cmdLink,
		},
	})
}

// condition knows, beside testscript's own, [links]: symbolic links are made here. Windows
// lets few make them, and Wine says that it made one and did not.
func condition(name string) (bool, error) {
	if name != "links" {
		return false, fmt.Errorf("no condition is called %s", name)
	}
	dir, err := os.MkdirTemp("", "links")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(dir)
	if err := os.Symlink(dir, filepath.Join(dir, "link")); err != nil {
		return false, nil
	}
	info, err := os.Lstat(filepath.Join(dir, "link"))
	return err == nil && info.Mode()&fs.ModeSymlink != 0, nil
}

// Test scans are a mosaic of cells whose light runs in equal steps over a range
// of stops, in an order that looks like a picture and not like a film border.
const cell = 4

// walk numbers the cells so that each step of light comes once: 7919 is a prime
// that divides no number of cells used here.
func walk(x, y, nx, ny int) int { return (y*nx + x) * 7919 % (nx * ny) }

// cellLight is the light of the k-th of n cells, white = 1, as exposed.
func cellLight(k, n int, stop float64) float64 {
	return math.Exp2(-7 + 8*float64(k)/float64(n-1) + stop)
}

// codeOf is the code of linear light: IEC 61966-2-1 in 16 bits, clipped, and
// with everything ten stops down lost in the scanner's black.
func codeOf(light float64) uint16 {
	switch {
	case light < math.Exp2(-10):
		return 0
	case light >= 1:
		return 65535
	case light <= 0.0031308:
		return uint16(math.Round(12.92 * light * 65535))
	}
	return uint16(math.Round((1.055*math.Pow(light, 1/2.4) - 0.055) * 65535))
}

// cmdScan makes a test scan: scan FILE STOP [WIDTH HEIGHT].
func cmdScan(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 && len(args) != 4 {
		ts.Fatalf("usage: scan FILE STOP [WIDTH HEIGHT]")
	}
	stop, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	w, h := 240, 160
	if len(args) == 4 {
		w, err = strconv.Atoi(args[2])
		ts.Check(err)
		h, err = strconv.Atoi(args[3])
		ts.Check(err)
	}
	nx, ny := w/cell, h/cell
	row := make([]uint16, 3*w)
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	tw, err := tiffwrite.NewWriter(f, tiffwrite.Options{Width: w, Height: h})
	ts.Check(err)
	for y := 0; y < h; y++ {
		for x := 0; x < w; x++ {
			k := walk(x/cell, y/cell, nx, ny)
			code := codeOf(cellLight(k, nx*ny, stop))
			row[3*x], row[3*x+1], row[3*x+2] = code, code, code
		}
		ts.Check(tw.WriteRows(row))
	}
	ts.Check(tw.Close())
	ts.Check(f.Close())
}

// counts gives the fractions of a scan that stand at the ceiling and the floor,
// by counting the codes that cmdScan wrote.
func counts(w, h int, stop float64) (blown, blocked float64) {
	nx, ny := w/cell, h/cell
	for y := 0; y < ny; y++ {
		for x := 0; x < nx; x++ {
			switch codeOf(cellLight(walk(x, y, nx, ny), nx*ny, stop)) {
			case 65535:
				blown++
			case 0:
				blocked++
			}
		}
	}
	n := float64(nx * ny)
	return blown / n, blocked / n
}

// cmdStatus runs the program and checks its exit status: status N ARGS...
func cmdStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: status N ARGS...")
	}
	want := args[0]
	err := ts.Exec("stopladder", args[1:]...)
	got := "0"
	if err != nil {
		got = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if got != want {
		ts.Fatalf("exit status %s, want %s", got, want)
	}
}

// cmdSentence checks that standard error holds N messages of one line each, and
// that each of the words stands there: sentence N WORDS...
func cmdSentence(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: sentence N WORDS...")
	}
	text := ts.ReadFile("stderr")
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if text == "" {
		lines = nil
	}
	if fmt.Sprint(len(lines)) != args[0] {
		ts.Fatalf("%d lines on standard error, want %s", len(lines), args[0])
	}
	for _, l := range lines {
		if !strings.HasPrefix(l, "stopladder: ") || !strings.HasSuffix(l, ".") || strings.HasSuffix(l, "..") {
			ts.Fatalf("not a sentence of the program: %q", l)
		}
	}
	for _, w := range args[1:] {
		if !strings.Contains(text, w) {
			ts.Fatalf("standard error says nothing of %q", w)
		}
	}
}

// cmdValue checks one value of a JSON file: value FILE PATH WANT. A path is
// keys and indices with points between; a frame goes by its file name too.
// WANT is a JSON value, or blown:STOP or blocked:STOP for the known count, or
// has:TEXT for a text or list that must contain it.
func cmdValue(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 {
		ts.Fatalf("usage: value FILE PATH WANT")
	}
	var doc any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &doc))
	got, ok := find(doc, strings.Split(args[1], "/"))
	if !ok {
		ts.Fatalf("%s is not there", args[1])
	}
	want := args[2]
	var equal bool
	switch kind, rest, _ := strings.Cut(want, ":"); kind {
	case "has":
		b, err := json.Marshal(got)
		ts.Check(err)
		equal = bytes.Contains(b, []byte(rest))
	case "blown", "blocked":
		stop, err := strconv.ParseFloat(rest, 64)
		ts.Check(err)
		hi, lo := counts(240, 160, stop)
		exact := map[string]float64{"blown": hi, "blocked": lo}[kind]
		v, isNumber := got.(float64)
		equal = isNumber && math.Abs(v-exact) < 1e-9 // exact counts: rounding of one division only
		want = fmt.Sprint(exact)
	default:
		var w any
		ts.Check(json.Unmarshal([]byte(want), &w))
		equal = fmt.Sprint(got) == fmt.Sprint(w)
	}
	if equal == neg {
		ts.Fatalf("%s is %v, wanted %s (not: %v)", args[1], got, want, neg)
	}
}

func find(doc any, path []string) (any, bool) {
	for _, p := range path {
		switch v := doc.(type) {
		case map[string]any:
			next, ok := v[p]
			if !ok {
				return nil, false
			}
			doc = next
		case []any:
			i, err := strconv.Atoi(p)
			if err != nil {
				i = -1
				for j, e := range v {
					if m, ok := e.(map[string]any); ok && m["file"] == p {
						i = j
					}
				}
			}
			if i < 0 || i >= len(v) {
				return nil, false
			}
			doc = v[i]
		default:
			return nil, false
		}
	}
	return doc, true
}

// cmdValid checks a JSON file against a published schema: valid FILE [SCHEMA].
func cmdValid(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 && len(args) != 2 {
		ts.Fatalf("usage: valid FILE [SCHEMA]")
	}
	name := append(args, "measure-1")[1]
	raw := assets.Schema(name)
	if raw == nil {
		ts.Fatalf("the schema %s is not among the assets", name)
	}
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	ts.Check(err)
	c := jsonschema.NewCompiler()
	ts.Check(c.AddResource("measure-1.json", schema))
	s, err := c.Compile("measure-1.json")
	ts.Check(err)
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	ts.Check(s.Validate(doc))
}

// cmdPNG checks that a file is a PNG of a width: png FILE WIDTH.
func cmdPNG(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: png FILE WIDTH")
	}
	img, err := png.Decode(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(err)
	if got := fmt.Sprint(img.Bounds().Dx()); got != args[1] {
		ts.Fatalf("%s is %s pixels wide, want %s", args[0], got, args[1])
	}
}

// cmdSame remembers a file's content at its first call, and checks it later.
func cmdSame(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: same FILE")
	}
	kept := ts.MkAbs(args[0]) + ".kept"
	now := ts.ReadFile(args[0])
	before, err := os.ReadFile(kept)
	if os.IsNotExist(err) {
		ts.Check(os.WriteFile(kept, []byte(now), 0o600))
		return
	}
	ts.Check(err)
	if string(before) != now {
		ts.Fatalf("%s is not as it was", args[0])
	}
}

// cmdLeftover fails when a temporary file of the program lies about.
func cmdLeftover(ts *testscript.TestScript, neg bool, args []string) {
	if !neg || len(args) != 0 {
		ts.Fatalf("usage: ! leftover")
	}
	ts.Check(filepath.WalkDir(ts.MkAbs("."), func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if strings.HasPrefix(d.Name(), ".stopladder-") || strings.Contains(d.Name(), ".part-") {
			return fmt.Errorf("%s was left behind", path)
		}
		return nil
	}))
}

// cmdHostile writes a roll file of two scans whose note begins with a formula and turns
// the direction of writing: hostile FILE FOLDER.
func cmdHostile(ts *testscript.TestScript, neg bool, args []string) {
	text := `{"format":"stopladder roll","version":1,"title":"=HYPERLINK(1)","frames":[
{"file":"` + args[1] + `/0.tif","stop":0,"stopFrom":"hand","note":"=cmd|x, \u202Egnp.exe"},{"file":"` + args[1] + `/+1.tif","stop":1,"stopFrom":"hand"}]}`
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}

// cmdClean fails where a file holds a character that steers: clean FILE.
func cmdClean(ts *testscript.TestScript, neg bool, args []string) {
	for _, r := range ts.ReadFile(args[0]) {
		if r < ' ' && r != '\n' && r != '\r' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			ts.Fatalf("%s holds %q", args[0], r)
		}
	}
}

// cmdIs checks what kind of file something is: device FILE, islink FILE.
func cmdIs(kind func(fs.FileMode) bool) func(*testscript.TestScript, bool, []string) {
	return func(ts *testscript.TestScript, neg bool, args []string) {
		info, err := os.Lstat(ts.MkAbs(args[0]))
		ts.Check(err)
		if !kind(info.Mode()) {
			ts.Fatalf("%s is %v", args[0], info.Mode())
		}
	}
}

// cmdMode checks a file's permissions: mode 600 FILE.
func cmdMode(ts *testscript.TestScript, neg bool, args []string) {
	info, err := os.Stat(ts.MkAbs(args[1]))
	ts.Check(err)
	if got := fmt.Sprintf("%o", info.Mode().Perm()); got != args[0] {
		ts.Fatalf("%s has mode %s", args[1], got)
	}
}

// cmdFIFO makes a pipe whose reader keeps what it gets in NAME.read: fifo NAME.
func cmdFIFO(ts *testscript.TestScript, neg bool, args []string) {
	path := ts.MkAbs(args[0])
	ts.Check(ts.Exec("mkfifo", args[0]))
	go func() {
		b, _ := os.ReadFile(path)
		os.WriteFile(path+".read", b, 0o600)
	}()
}

// cmdLink gives a file a second name: link NEW OLD.
func cmdLink(ts *testscript.TestScript, neg bool, args []string) {
	ts.Check(os.Link(ts.MkAbs(args[1]), ts.MkAbs(args[0])))
}

// cmdCut keeps the first N bytes of a file: cut FILE N.
func cmdCut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cut FILE N")
	}
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), n))
}

// directory is a TIFF 6.0 directory that stands at offset 8, before the
// pictures, as scanners write that know the size beforehand. Values of more
// than one number follow it.
func directory(entries [][]uint32) []byte {
	le := binary.LittleEndian
	b := append([]byte("II*\x00"), le.AppendUint32(nil, 8)...)
	b = le.AppendUint16(b, uint16(len(entries)))
	extra := uint32(8 + 2 + 12*len(entries) + 4)
	var tail []byte
	for _, e := range entries { // tag, type (3 short, 4 long), values
		b = le.AppendUint16(b, uint16(e[0]))
		b = le.AppendUint16(b, uint16(e[1]))
		values := e[2:]
		b = le.AppendUint32(b, uint32(len(values)))
		if len(values) == 1 {
			b = le.AppendUint32(b, values[0])
			continue
		}
		b = le.AppendUint32(b, extra+uint32(len(tail)))
		for _, v := range values {
			tail = le.AppendUint32(tail, v) // longs only
		}
	}
	b = le.AppendUint32(b, 0)
	return append(b, tail...)
}

// cmdAbsurd writes a sound header that promises two million pixels a side:
// absurd FILE.
func cmdAbsurd(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: absurd FILE")
	}
	b := directory([][]uint32{
		{256, 4, 2_000_000}, {257, 4, 2_000_000}, {258, 3, 16}, {259, 3, 1}, {262, 3, 1},
		{273, 4, 200}, {277, 3, 1}, {278, 4, 2_000_000}, {279, 4, 8},
	})
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), append(b, make([]byte, 200)...), 0o600))
}

// cmdEarly writes a grey scan of 240 x 160 pixels in strips of 8 rows that ends
// after some of them: early FILE STOP ROWS.
func cmdEarly(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: early FILE STOP ROWS")
	}
	stop, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	rows, err := strconv.Atoi(args[2])
	ts.Check(err)
	const w, h, strip, strips = 240, 160, 8, 20
	offsets, sizes := []uint32{273, 4}, []uint32{279, 4}
	for i := range uint32(strips) {
		offsets = append(offsets, 1024+i*strip*w*2)
		sizes = append(sizes, strip*w*2)
	}
	b := directory([][]uint32{
		{256, 4, w}, {257, 4, h}, {258, 3, 16}, {259, 3, 1}, {262, 3, 1}, offsets, {277, 3, 1}, {278, 4, strip}, sizes,
	})
	b = append(b, make([]byte, 1024-len(b))...)
	for y := range rows {
		for x := range w {
			k := walk(x/cell, y/cell, w/cell, h/cell)
			b = binary.LittleEndian.AppendUint16(b, codeOf(cellLight(k, w/cell*h/cell, stop)))
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b, 0o600))
}
