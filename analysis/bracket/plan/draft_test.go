package plan

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func TestDraftIsKeptAndForgotten(t *testing.T) {
	s := Store{Dir: filepath.Join(t.TempDir(), "home")}
	if d, err := s.Draft(); d != nil || err != nil {
		t.Fatalf("of nothing: %+v, %v", d, err)
	}
	want := &Draft{Form: Form{Meter: "EV fift", ISO: "0"}, Camera: Generic()[0], Path: "yard.ladderplan",
		Log: &Log{Note: "wind\nfrom the west", Shots: []Shot{{Number: 2, State: Done, Setting: "1/60", Note: "tripod moved"}, {State: Other}},
			Light: &Light{Meter: "EV 1"}}} // half typed: a draft may be what no plan may be
	if err := s.KeepDraft(want); err != nil {
		t.Fatal(err)
	}
	got, err := s.Draft()
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Fatalf("%+v, %v, want %+v", got, err, want)
	}
	for range 2 {
		if err := s.KeepDraft(nil); err != nil {
			t.Fatal(err)
		}
	}
	if d, err := s.Draft(); d != nil || err != nil {
		t.Fatalf("forgotten: %+v, %v", d, err)
	}
	if err := (Store{}).KeepDraft(want); err != nil {
		t.Fatal(err)
	}
}

func TestDamagedDraftIsPutAside(t *testing.T) {
	s := Store{Dir: t.TempDir()}
	for _, text := range []string{"", "{", `{"format":"other"}`, `{"format":"stopladder plan in progress","version":99}`,
		`{"format":"stopladder plan in progress","version":1,"form":{"meter":"\u0007"}}`} {
		if err := os.WriteFile(s.draftPath(), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		d, err := s.Draft()
		if d != nil || err == nil || !strings.Contains(err.Error(), "plan-in-progress-damaged.json") {
			t.Errorf("%q: %+v, %v", text, d, err)
		}
		kept, err := os.ReadFile(filepath.Join(s.Dir, "plan-in-progress-damaged.json"))
		if err != nil || string(kept) != text {
			t.Errorf("%q is not kept: %q, %v", text, kept, err)
		}
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
