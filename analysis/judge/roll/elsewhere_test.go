package roll

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// A roll file of a stranger names scans on other machines and devices: they are not so
// much as looked for, what the file says of them is saved again, and they are looked for
// once the person says so.
func TestElsewhere(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("paths of Unix")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "a"+Ext)
	paths := []string{"//host/share/x.tif", `\\\\host\\share\\y.tif`, "/net/host/z.tif", "/dev/null", "../../../../../../../../dev/zero", "//host/share/x2.tif", "0.tif", "/somewhere/1.tif"}
	var frames []string
	for i, p := range paths {
		verdict := ""
		if i == 0 {
			verdict = `,"verdict":"holds"`
		}
		frames = append(frames, `{"file":"`+p+`","stop":`+string(rune('0'+i))+verdict+`}`)
	}
	text := `{"format":"stopladder roll","version":1,"baseFrame":"//host/share/x.tif","frames":[` + strings.Join(frames, ",") + `]}`
	os.WriteFile(path, []byte(text), 0o600)
	r, problems, err := Load(path)
	if err != nil || len(r.Frames) != len(paths) {
		t.Fatal(r, problems, err)
	}
	if n := len(r.Elsewhere()); n != 6 {
		t.Errorf("%d are set aside: %q", n, r.Elsewhere())
	}
	for _, f := range r.Frames[:6] {
		if !strings.HasPrefix(f.File, dir+string(filepath.Separator)) {
			t.Errorf("%s would be looked for", f.File)
		}
	}
	told := 0
	for _, p := range r.Check(t.Context(), true) {
		if strings.Contains(p.Text, "was not looked for") {
			told++
		}
	}
	if told != 6 {
		t.Errorf("%d of 6 are told", told)
	}
	if err := r.Clone().Save(filepath.Join(dir, "b"+Ext)); err != nil {
		t.Fatal(err)
	}
	saved, _ := os.ReadFile(filepath.Join(dir, "b"+Ext))
	for _, p := range paths {
		if !strings.Contains(string(saved), `"`+p+`"`) && p != "../../../../../../../../dev/zero" && p != "/somewhere/1.tif" {
			t.Errorf("%s is not in the saved file:\n%s", p, saved)
		}
	}
	if !strings.Contains(string(saved), `"baseFrame": "//host/share/x.tif"`) {
		t.Errorf("the base frame is another:\n%s", saved)
	}
	r.LookElsewhere()
	if len(r.Elsewhere()) != 0 || r.Frames[0].File != filepath.Clean("/host/share/x.tif") || r.BaseFile != r.Frames[0].File {
		t.Errorf("after saying so: %s", r.Frames[0].File)
	}
	// On the machine that the roll file itself comes from, nothing is asked.
	for _, c := range []struct{ saved, dir, want string }{
		{"//host/share/x.tif", "//host/share/rolls", ""}, {"//host/other/x.tif", "//host/share", "another machine"}, {"x.tif", "//host/share", ""},
		{"/net/a/x.tif", "/net/a/rolls", ""}, {"/net/b/x.tif", "/net/a/rolls", "another machine"}, {`\\.\PhysicalDrive0`, "/r", "a device"}, {"network/x.tif", "/r", ""},
	} {
		if got := elsewhere(c.saved, c.dir); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}
