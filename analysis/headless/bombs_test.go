package headless

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// blackPNG is a grey PNG of 1 bit whose rows are zeros, interlaced or not; interlaced
// ones are not sound, which nobody gets to see.
func blackPNG(w, h uint32, interlaced byte) []byte {
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	b := append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", append(head, 1, 0, 0, 0, interlaced))...)
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	zeros := make([]byte, 1+w/8)
	for range h {
		z.Write(zeros)
	}
	z.Close()
	return append(append(b, pngChunk("IDAT", packed.Bytes())...), pngChunk("IEND", nil)...)
}

// Scans that would take gigabytes cost the other frames of a roll nothing: the command
// is held to 900 MB by the system, names each of them in a sentence, and has the
// readings of the others.
func TestBombsInARoll(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: takes long; make test-all runs it")
	}
	if runtime.GOOS != "linux" {
		t.Skip("SKIPPED: the limit of the system is set as on Linux")
	}
	dir := t.TempDir()
	sound, err := filepath.Glob(filepath.Join(testdata, "rolls", "tripod", "*.png"))
	if err != nil || len(sound) != 7 {
		t.Fatalf("%d scans, %v", len(sound), err)
	}
	roll := filepath.Join(dir, "roll")
	if err := os.Mkdir(roll, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, path := range sound {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(roll, filepath.Base(path)), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	progressive := []byte{0xFF, 0xD8, 0xFF, 0xC2, 0, 17, 8, 20000 >> 8, 20000 & 255, 20000 >> 8, 20000 & 255, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0,
		0xFF, 0xDA, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 0, 0}
	bombs := map[string][]byte{
		"interlaced +5.png":  blackPNG(40000, 24000, 1),                     // 5.8 GB to decode
		"progressive -5.jpg": append(progressive, make([]byte, 400_000)...), // 6 GB of coefficients
		"rows +6.png":        blackPNG(16000, 12000, 0),                     // 1.2 GB as code values; it is read
		"deep -6.png":        blackPNG(90000, 90000, 0)[:33+8+200],          // 8.1 gigapixels
	}
	for name, b := range bombs {
		if err := os.WriteFile(filepath.Join(roll, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(dir, "stopladder") // by which name the test is the program (TestMain)
	if err := os.Symlink(self, program); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("sh", "-c", `ulimit -d 900000 && exec "$0" measure "$1" --json "$2"`, program, roll, filepath.Join(dir, "out.json"))
	out, err := cmd.CombinedOutput()
	if cmd.ProcessState.ExitCode() != 1 {
		t.Fatalf("%v\n%.3000s", err, out)
	}
	for _, name := range []string{"interlaced +5.png", "progressive -5.jpg", "deep -6.png"} {
		if !strings.Contains(string(out), name+" was refused: ") {
			t.Errorf("nothing is said of %s:\n%s", name, out)
		}
	}
	b, err := os.ReadFile(filepath.Join(dir, "out.json"))
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Frames []struct {
			File  string
			Error *string
			Blown *struct{ Any float64 }
		}
	}
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	read := 0
	for _, f := range doc.Frames {
		if f.Error == nil && f.Blown != nil {
			read++
		}
	}
	if len(doc.Frames) != 11 || read != 8 {
		t.Errorf("%d of %d frames were read", read, len(doc.Frames))
	}
}
