package userdir

import (
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func TestDir(t *testing.T) {
	t.Setenv("STOPLADDER_HOME", "/elsewhere")
	if d, err := Dir(); err != nil || d != "/elsewhere" {
		t.Errorf("with the variable set: %q, %v", d, err)
	}
	t.Setenv("STOPLADDER_HOME", "")
	t.Setenv("HOME", t.TempDir())
	t.Setenv("XDG_CONFIG_HOME", "")
	if d, err := Dir(); err != nil || filepath.Base(d) != "stopladder" {
		t.Errorf("by default: %q, %v", d, err)
	}
	t.Setenv("HOME", "")
	if runtime.GOOS == "windows" {
		return // the folder does not hang on HOME there
	}
	if _, err := Dir(); err == nil || !strings.Contains(err.Error(), "STOPLADDER_HOME") {
		t.Errorf("without a home the error is %v; it should say what to set", err)
	}
}
