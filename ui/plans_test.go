package ui

import (
	"bytes"
	"path/filepath"
	"testing"

	"stopladder/analysis/headless"
)

// A plan that the window is started with, as a desktop does for its file type, is opened in
// the window of the bracket; there is no roll then, and the start page stands.
func TestAPlanOpensTheBracket(t *testing.T) {
	path := filepath.Join(t.TempDir(), "yard.ladderplan")
	var said bytes.Buffer
	if code := headless.Main([]string{"plan", "--title", "Yard", "--camera", "large-format", "--meter", "EV 14 at ISO 100", "--iso", "100", "--from", "-2", "--to", "+2", "-o", path}, nil, &said, &said); code != headless.Done {
		t.Fatalf("%d: %s", code, said.String())
	}
	w := open(t, Options{Home: t.TempDir(), Paths: []string{path}})
	pump(w)
	if w.planner == nil || w.planner.Path() != path {
		t.Fatal("the plan is not open")
	}
	if !w.state.Empty() {
		t.Error("the plan was taken for a roll")
	}
}
