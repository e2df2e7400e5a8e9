package plan

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// Several programs enter and add at once: nothing that was acknowledged is lost.
func TestNoUpdateIsLost(t *testing.T) {
	dir := t.TempDir()
	f, err := New(Form{Meter: "EV 12 at ISO 100", ISO: "100", Camera: Generic()[0].Name, From: "-7", To: "7", Vary: "both", Step: "1"}, Generic())
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "p"+Ext)
	if err := f.Save(path); err != nil {
		t.Fatal(err)
	}
	store := Store{Dir: filepath.Join(dir, "home")}
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			for k := range 5 {
				if _, err := Change(path, func(f *File) error {
					if err := f.SetNote(strings.TrimSpace(noteOf(f) + fmt.Sprintf(" w%dk%d", i, k))); err != nil {
						return err
					}
					return nil
				}); err != nil {
					t.Error(err)
				}
			}
			if err := store.Put(Camera{Name: fmt.Sprint("mine ", i), Times: []string{"1/60", "1/30"}, Apertures: []string{"8", "11"}}); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	f, err = Load(path)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(strings.Fields(noteOf(f))); n != 40 {
		t.Errorf("%d of 40 entries are there", n)
	}
	if own, err := store.Own(); len(own) != 8 || err != nil {
		t.Errorf("%d of 8 cameras are there, %v", len(own), err)
	}
	for _, d := range []string{dir, store.Dir} {
		if left, _ := filepath.Glob(filepath.Join(d, ".stopladder-*")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}
}

func noteOf(f *File) string {
	if f.Log == nil {
		return ""
	}
	return f.Log.Note
}

// What a newer program left in the file of cameras stays there.
func TestUnknownMembersOfCamerasAreKept(t *testing.T) {
	s := Store{Dir: t.TempDir()}
	text := `{"format":"stopladder cameras","version":1,"lens cap":{"on":[1,2.50]},"cameras":[{"name":"A","times":["1/60","1/30"],"apertures":["8"],"strap":"red"},{"name":"B","times":["1/60","1/30"],"apertures":["8"],"strap":"blue"}]}`
	if err := os.WriteFile(s.path(), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := s.Put(Camera{Name: "a", Times: []string{"1/100", "1/50"}, Apertures: []string{"8"}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Remove("B"); err != nil {
		t.Fatal(err)
	}
	now, _ := os.ReadFile(s.path())
	var file struct {
		Cap     json.RawMessage `json:"lens cap"`
		Cameras []struct {
			Name, Strap string
			Times       []string
		}
	}
	if err := json.Unmarshal(now, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Cameras) != 1 || file.Cameras[0].Strap != "red" || file.Cameras[0].Times[0] != "1/100" || !strings.Contains(string(file.Cap), "2.50") {
		t.Errorf("%s", now)
	}
}
