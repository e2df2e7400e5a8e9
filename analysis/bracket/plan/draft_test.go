package plan

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// opened opens the drafts of a window that closes with the test.
func opened(t *testing.T, s Store) (*Drafts, *Draft, int) {
	t.Helper()
	k, d, more, err := s.OpenDrafts()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(k.Close)
	return k, d, more
}

func TestDraftIsKeptAndForgotten(t *testing.T) {
	s := Store{Dir: filepath.Join(t.TempDir(), "home")}
	k, d, _ := opened(t, s)
	if d != nil {
		t.Fatalf("of nothing: %+v", d)
	}
	want := &Draft{Form: Form{Meter: "EV fift", ISO: "0"}, Camera: Generic()[0], Path: "yard.ladderplan",
		Log: &Log{Note: "wind\nfrom the west", Shots: []Shot{{Number: 2, State: Done, Setting: "1/60", Note: "tripod moved"}, {State: Other}},
			Light: &Light{Meter: "EV 1"}}} // half typed: a draft may be what no plan may be
	if err := k.Keep(want); err != nil {
		t.Fatal(err)
	}
	k.Close()
	k, got, _ := opened(t, s)
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("%+v, want %+v", got, want)
	}
	for range 2 {
		if err := k.Keep(nil); err != nil {
			t.Fatal(err)
		}
	}
	k.Close()
	if _, d, _ := opened(t, s); d != nil {
		t.Fatalf("forgotten: %+v", d)
	}
	k, _, _ = opened(t, Store{})
	if err := k.Keep(want); err != nil {
		t.Fatal(err)
	}
}

// Windows that plan at the same time keep a draft each; what they leave comes back one by
// one, and what an open window keeps is not given to another.
func TestWindowsAtTheSameTimeKeepADraftEach(t *testing.T) {
	s := Store{Dir: t.TempDir()}
	titled := func(title string) *Draft { return &Draft{Form: Form{Title: title}} }
	var open []*Drafts
	for _, title := range []string{"a", "b", "c"} {
		k, d, more := opened(t, s)
		if d != nil || more != 0 {
			t.Fatalf("window %s was given %+v of an open one, and %d more", title, d, more)
		}
		if err := k.Keep(titled(title)); err != nil {
			t.Fatal(err)
		}
		open = append(open, k)
	}
	if err := open[0].Keep(titled("A")); err != nil { // after the others wrote theirs
		t.Fatal(err)
	}
	open[0].Close()
	open[2].Close()
	found := map[string]int{}
	for range 2 {
		k, d, more := opened(t, s)
		if d == nil {
			t.Fatalf("only %v came back", found)
		}
		found[d.Form.Title] = more
		if err := k.Keep(nil); err != nil { // saved
			t.Fatal(err)
		}
	}
	if want := map[string]int{"A": 1, "c": 0}; !reflect.DeepEqual(found, want) {
		t.Errorf("came back, with so many more: %v, want %v", found, want)
	}
	open[1].Close()
	if _, d, _ := opened(t, s); d == nil || d.Form.Title != "b" {
		t.Errorf("after the window of b was closed there is %+v", d)
	}
}

func TestDamagedDraftIsPutAside(t *testing.T) {
	s := Store{Dir: t.TempDir()}
	for _, text := range []string{"", "{", `{"format":"other"}`, `{"format":"stopladder plan in progress","version":99}`,
		`{"format":"stopladder plan in progress","version":1,"form":{"meter":"\u0007"}}`} {
		if err := os.WriteFile(filepath.Join(s.Dir, "plan-in-progress.json"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		k, d, _, err := s.OpenDrafts()
		if d != nil || err == nil || !strings.Contains(err.Error(), "plan-in-progress-damaged.json") {
			t.Errorf("%q: %+v, %v", text, d, err)
		}
		kept, err := os.ReadFile(filepath.Join(s.Dir, "plan-in-progress-damaged.json"))
		if err != nil || string(kept) != text {
			t.Errorf("%q is not kept: %q, %v", text, kept, err)
		}
		if err := k.Keep(&Draft{Form: Form{Title: "x"}}); err != nil {
			t.Errorf("after a damaged one nothing is kept: %v", err)
		}
		if err := k.Keep(nil); err != nil {
			t.Error(err)
		}
		k.Close()
	}
}

func FuzzDecodeDraft(f *testing.F) {
	f.Add([]byte(`{"format":"stopladder plan in progress","version":1,"form":{"meter":"EV 12"},"log":{"shots":[{"number":1,"state":"exposed"}]}}`))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := decodeDraft(text)
		if err != nil {
			return
		}
		// What was read can be planned with, or refused, and nothing else.
		p, err := New(d.Form, append(Generic(), d.Camera))
		if err != nil {
			return
		}
		p.Log = d.Log
		_ = p.check()
	})
}
