package settings

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

func TestRoundTripAndSpoiledFile(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	s := Load(dir)
	s.Ladder, s.Judge = 0.4, "E. Ample"
	for _, p := range []string{"a", "b", "a"} {
		s.Opened(p)
	}
	if err := s.Save(); err != nil {
		t.Fatal(err)
	}
	back := Load(dir)
	if back.Ladder != 0.4 || back.Judge != "E. Ample" || !reflect.DeepEqual(back.Recent, []string{"a", "b"}) {
		t.Errorf("read back %+v", back)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".stopladder-*")); len(left) > 0 {
		t.Errorf("left over: %v", left)
	}
	if err := os.WriteFile(filepath.Join(dir, "settings.json"), []byte("{half"), 0o600); err != nil {
		t.Fatal(err)
	}
	if s := Load(dir); s.Judge != "" {
		t.Error("a spoiled file was taken")
	}
}
