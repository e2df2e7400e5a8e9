package main

import (
	"bufio"
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/image/tiff"
)

// asProgram makes the test binary behave as the program, so that the window
// under test is the one that was compiled with the tests.
const asProgram = "STOPLADDER_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		if os.Getenv("STOPLADDER_TRACE") == "" { // it takes the window's time, which a benchmark measures
			go tellWhere(os.Getenv("STOPLADDER_HOME"))
		}
		main()
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// screen is a virtual X display with the program on it.
type screen struct {
	t    testing.TB
	env  []string
	home string
	cmd  *exec.Cmd
	log  *bytes.Buffer
	win  string
}

func newScreen(t testing.TB, w, h int) *screen {
	t.Helper()
	if runtime.GOOS != "linux" {
		t.Skip("SKIPPED ALOUD: the real-window test needs Linux with Xvfb")
	}
	for _, tool := range []string{"Xvfb", "xdotool", "import"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("SKIPPED ALOUD: %s is not installed; make test installs it", tool)
		}
	}
	s := &screen{t: t, home: t.TempDir(), log: &bytes.Buffer{}}
	for try := 1; ; try++ {
		display, err := startX(t, w, h)
		s.env = append(os.Environ(), "DISPLAY=:"+display, "LIBGL_ALWAYS_SOFTWARE=1", asProgram+"=1", "STOPLADDER_HOME="+s.home)
		if err == nil {
			_, err = s.try("xdotool", "getdisplaygeometry")
		}
		if err == nil {
			return s
		}
		if try == 3 { // another server may have taken the number in between; not three times
			t.Fatalf("no virtual display: %v", err)
		}
	}
}

// startX starts a virtual X server on a free display and returns its number.
func startX(t testing.TB, w, h int) (string, error) {
	r, wr, err := os.Pipe()
	if err != nil {
		return "", err
	}
	defer r.Close()
	x := exec.Command("Xvfb", "-displayfd", "3", "-screen", "0", fmt.Sprintf("%dx%dx24", w, h), "-nolisten", "tcp", "-noreset") // else it resets when xdotool leaves, and drops who is just coming
	x.ExtraFiles = []*os.File{wr}
	if err := x.Start(); err != nil {
		return "", err
	}
	wr.Close()
	t.Cleanup(func() {
		x.Process.Signal(syscall.SIGTERM) // a killed server leaves its socket behind
		x.Wait()
	})
	line, err := bufio.NewReader(r).ReadString('\n')
	return strings.TrimSpace(line), err
}

// start runs the program on paths and waits for its window.
func (s *screen) start(w, h int, paths ...string) {
	s.t.Helper()
	self, err := os.Executable()
	if err != nil {
		s.t.Fatal(err)
	}
	s.log.Reset()
	s.cmd = exec.Command(self, paths...)
	s.cmd.Env, s.cmd.Stdout, s.cmd.Stderr = s.env, s.log, s.log
	if err := s.cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { s.cmd.Process.Kill() })
	s.wait("the window", 60*time.Second, func() bool {
		out, _ := s.try("xdotool", "search", "--onlyvisible", "--name", "Stopladder")
		ids := strings.Fields(out)
		if len(ids) == 0 {
			return false
		}
		s.win = ids[len(ids)-1]
		return true
	})
	// The toolkit sets its own size late, over what it was told at first.
	s.wait("the window's size", 20*time.Second, func() bool {
		s.tool("xdotool", "windowmove", s.win, "0", "0", "windowsize", s.win, fmt.Sprint(w), fmt.Sprint(h))
		time.Sleep(300 * time.Millisecond)
		out, _ := s.try("xdotool", "getwindowgeometry", s.win)
		return strings.Contains(out, fmt.Sprintf("Geometry: %dx%d\n", w, h))
	})
	s.try("xdotool", "windowfocus", s.win)
}

func (s *screen) try(name string, args ...string) (string, error) {
	c := exec.Command(name, args...)
	c.Env = s.env
	out, err := c.CombinedOutput()
	return string(out), err
}

func (s *screen) tool(name string, args ...string) string {
	s.t.Helper()
	out, err := s.try(name, args...)
	if err != nil {
		s.t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return out
}

func (s *screen) keys(keys ...string) {
	s.t.Helper()
	for _, k := range keys {
		s.tool("xdotool", "key", k)
		time.Sleep(120 * time.Millisecond)
	}
}

// shot takes what is on the screen. The file is kept for a failure's sake.
func (s *screen) shot() image.Image {
	s.t.Helper()
	file := filepath.Join(s.t.TempDir(), "screen.png")
	s.tool("import", "-window", "root", file)
	f, err := os.Open(file)
	if err != nil {
		s.t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		s.t.Fatal(err)
	}
	return img
}

// wait polls until ok; a machine under load may need long, a quick one does not
// wait.
func (s *screen) wait(what string, most time.Duration, ok func() bool) {
	s.t.Helper()
	end := time.Now().Add(most)
	for !ok() {
		if time.Now().After(end) {
			s.t.Fatalf("%s did not come within %v; the program said:\n%s", what, most, tail(s.log.String()))
		}
		time.Sleep(150 * time.Millisecond)
	}
}

func tail(s string) string {
	if len(s) > 3000 {
		return "…" + s[len(s)-3000:]
	}
	return s
}

// bracket writes 8-bit scans without a profile: they are taken as sRGB, so that
// what is shown must be what is in the file, value for value.
func bracket(t *testing.T, dir string) map[string]*image.RGBA {
	t.Helper()
	out := map[string]*image.RGBA{}
	for i, name := range []string{"-1.tif", "0.tif", "+1.tif"} {
		img := image.NewRGBA(image.Rect(0, 0, 640, 480))
		seed := uint32(7 + i)
		for y := range 480 {
			for x := range 640 {
				seed = seed*1664525 + 1013904223
				v := uint8(40*(i+1) + int(seed>>27) + (x/40+y/40)%2*30)
				img.SetRGBA(x, y, color.RGBA{v, v / 2, uint8(255 - int(v)), 255})
			}
		}
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := tiff.Encode(f, img, nil); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		out[name] = img
	}
	return out
}

// shows says whether the middle 40 x 40 pixels of a scan stand on the screen,
// every pixel exact.
func shows(screen image.Image, scan *image.RGBA) bool {
	b := screen.Bounds()
	mid := image.Rect(300, 220, 340, 260)
	at := func(x, y int) color.RGBA { return color.RGBAModel.Convert(screen.At(x, y)).(color.RGBA) }
	for y := b.Min.Y; y+mid.Dy() <= b.Max.Y; y++ {
	next:
		for x := b.Min.X; x+mid.Dx() <= b.Max.X; x++ {
			if at(x, y) != scan.RGBAAt(mid.Min.X, mid.Min.Y) {
				continue
			}
			for dy := range mid.Dy() {
				for dx := range mid.Dx() {
					if at(x+dx, y+dy) != scan.RGBAAt(mid.Min.X+dx, mid.Min.Y+dy) {
						continue next
					}
				}
			}
			return true
		}
	}
	return false
}

// TestRealWindow drives the program as a person would: open a folder, look at
// actual pixels, move along the axis, judge, die, and find the marks again.
func TestRealWindow(t *testing.T) {
	dir := t.TempDir()
	scans := bracket(t, dir)
	before := map[string][]byte{}
	for name := range scans {
		before[name], _ = os.ReadFile(filepath.Join(dir, name))
	}
	s := newScreen(t, 1280, 800)
	s.start(1280, 800, dir)
	s.wait("the base frame at 1:1, exact to the pixel", 60*time.Second, func() bool {
		s.keys("a")
		return shows(s.shot(), scans["0.tif"])
	})
	s.keys("Up")
	s.wait("the frame above after Up", 20*time.Second, func() bool { return shows(s.shot(), scans["+1.tif"]) })
	s.keys("2")
	s.wait("both frames of a pair", 20*time.Second, func() bool {
		img := s.shot()
		return shows(img, scans["0.tif"]) && shows(img, scans["+1.tif"])
	})
	s.keys("1", "o", "u", "n", "r", "s", "bracketright", "Down", "h", "Down", "b", "bracketleft")
	marks := func() string {
		files, _ := filepath.Glob(filepath.Join(s.home, "recovery", "*"))
		var all strings.Builder
		for _, f := range files {
			b, _ := os.ReadFile(f)
			all.Write(b)
		}
		return all.String()
	}
	s.wait("the recovery copy", 20*time.Second, func() bool {
		m := marks()
		return strings.Contains(m, "holds") && strings.Contains(m, "strains") && strings.Contains(m, "breaks")
	})
	if err := s.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	s.cmd.Wait()

	s.start(1280, 800, dir)
	s.wait("the base frame again", 60*time.Second, func() bool {
		s.keys("a")
		return shows(s.shot(), scans["0.tif"])
	})
	if m := marks(); !strings.Contains(m, "holds") || !strings.Contains(m, "breaks") {
		t.Errorf("after the crash and a new start the marks are gone; the recovery folder holds:\n%s", tail(m))
	}
	for name, was := range before {
		if now, err := os.ReadFile(filepath.Join(dir, name)); err != nil || !bytes.Equal(now, was) {
			t.Errorf("%s was changed: scans are never written to", name)
		}
	}
	if left, _ := os.ReadDir(dir); len(left) != len(scans) {
		t.Errorf("the folder of the scans holds %d files, it held %d", len(left), len(scans))
	}
	if strings.Contains(s.log.String(), "rror") {
		t.Errorf("the program said:\n%s", tail(s.log.String()))
	}
}
