package pack

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"stopladder/analysis/judge/correction"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/roll"
	"stopladder/assets"
)

var pictures = map[string]string{"previews/01_-1.tif": "under", "previews/02_0.tif": "base", "previews/03_+0.33.tif": "over"}

func hash(n int) string { return fmt.Sprintf("%064x", n+1) }

// sent returns a roll as it goes into a pack, with an opinion of its sender.
func sent() *roll.Roll {
	r := &roll.Roll{Title: "Courtyard", Marks: []roll.Marks{{}}}
	said := roll.Marks{Judge: "Ada", Session: "00112233445566aa", Date: "2026-11-01"}
	for i, stop := range []float64{-1, 0, 1. / 3} {
		name := PictureName("previews", i+1, stop, ".tif")
		r.Frames = append(r.Frames, roll.Frame{File: name, Stop: stop, Origin: roll.ByHand,
			Preview: &roll.Original{Name: fmt.Sprint(i, ".tif"), SHA256: hash(i), Width: 4000, Height: 3000}})
		said.Verdicts = append(said.Verdicts, roll.Said{Name: fmt.Sprint(i, ".tif"), SHA256: hash(i), Stop: stop, Verdict: roll.Holds})
	}
	r.Marks = append(r.Marks, said)
	// What a careless or hostile sender could leave in: none of it reaches the friend.
	r.Frames[0].Verdict, r.Frames[0].Note = roll.Breaks, "gone"
	r.Frames[0].Hand = &correction.Settings{Exposure: 1}
	r.Marks[0] = roll.Marks{Judge: "Ada", Range: &roll.Range{Lo: -1, Hi: 1}}
	r.Blind = []roll.Blind{{Judge: "Ada", Begun: "2026-11-01", Views: []roll.View{{Name: "0.tif", SHA256: hash(0), Stop: -1, Verdict: roll.Holds}}}}
	r.Sitting = &roll.Sitting{Session: "ffffffffffffffff", Done: "2026-11-01"}
	return r
}

func packed(t testing.TB) []byte {
	t.Helper()
	text, err := RollText(sent())
	if err != nil {
		t.Fatal(err)
	}
	list := []Member{{Name: RollName, Put: Text(text)}, {Name: ReadingsName, Put: Text([]byte("{}"))}}
	for _, name := range []string{"previews/01_-1.tif", "previews/02_0.tif", "previews/03_+0.33.tif"} {
		list = append(list, Member{Name: name, Put: Text([]byte(pictures[name]))})
	}
	var b bytes.Buffer
	if err := Write(context.Background(), &b, Manifest{Kind: Whole, Program: "1", ID: "0123456789abcdef", From: "Ada", Title: "Courtyard"}, list); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func saved(t testing.TB, pack []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "courtyard"+Ext)
	if err := os.WriteFile(path, pack, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestThereAndBack(t *testing.T) {
	p, err := Open(saved(t, packed(t)))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	dir := Folder(p.Path())
	file, err := p.Unpack(context.Background(), dir, "2026-11-30", nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range pictures {
		if got, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name))); err != nil || string(got) != want {
			t.Errorf("%s: %q %v", name, got, err)
		}
	}
	r, problems, err := roll.Load(file)
	if err != nil || len(problems) != 0 || r.Judged() != 0 || r.Previews() != 3 || !opinion.Hidden(r) || r.Sitting.Pack != p.ID || r.Sitting.From != "Ada" {
		t.Fatalf("%v %v %+v", err, problems, r)
	}
	if r.Blind != nil || r.Frames[0].Hand != nil || r.Frames[0].Note != "" || r.Marks[0].Range != nil || r.Marks[0].Judge != "" || r.Sitting.Session == "ffffffffffffffff" {
		t.Errorf("the sender's own marks reached the friend: %+v", r)
	}
	if _, _, err := Reply(r, "1", "2026-11-30"); err == nil || !strings.Contains(err.Error(), "not done") {
		t.Error(err)
	}
	r.Judge().Judge = "Ben"
	for i := range r.Frames {
		r.Frames[i].Verdict = roll.Strains
	}
	if err := opinion.Done(r, "2026-11-30"); err != nil {
		t.Fatal(err)
	}
	if err := r.Save(file); err != nil {
		t.Fatal(err)
	}

	// Unpacked again, what was judged stays.
	if again, err := p.Unpack(context.Background(), dir, "2026-12-30", nil); err != nil || again != file {
		t.Error(err)
	}
	if r, _, _ := roll.Load(file); r.Judged() != 3 {
		t.Error("a second unpacking cost what was judged")
	}

	m, list, err := Reply(r, "1", "2026-11-30")
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := Write(context.Background(), &b, m, list); err != nil {
		t.Fatal(err)
	}
	answer, err := Open(saved(t, b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Close()
	if _, err := answer.Unpack(context.Background(), filepath.Join(t.TempDir(), "x"), "", nil); err == nil {
		t.Error("an answer was unpacked as a roll")
	}
	mine := &roll.Roll{}
	for i, stop := range []float64{-1, 0, 1. / 3} {
		mine.Frames = append(mine.Frames, roll.Frame{File: fmt.Sprintf("/x/%d.tif", i), SHA256: hash(i), Stop: stop, Verdict: roll.Breaks})
	}
	out, err := opinion.Merge(mine, opinion.Given(answer.Roll))
	if err != nil || len(out.Added) != 1 || out.Added[0].Judge != "Ben" || out.Added[0].Seen != roll.OnPreviews || mine.Frames[0].Verdict != roll.Breaks {
		t.Fatalf("%+v %v", out, err)
	}
}

func TestSchema(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(assets.Schema("pack-1")))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("pack-1.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("pack-1.json")
	if err != nil {
		t.Fatal(err)
	}
	b := packed(t)
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open(ManifestName)
	if err != nil {
		t.Fatal(err)
	}
	have, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(have); err != nil {
		t.Error(err)
	}
}

// made writes an archive by hand: what a stranger could send.
func made(t testing.TB, change func(m *Manifest, members map[string]string, z *zip.Writer) (order []string)) []byte {
	t.Helper()
	text, err := RollText(sent())
	if err != nil {
		t.Fatal(err)
	}
	members := map[string]string{RollName: string(text)}
	order := []string{RollName}
	for name, v := range pictures {
		members[name] = v
		order = append(order, name)
	}
	m := Manifest{Format: Format, Version: Version, Kind: Whole, ID: "0123456789abcdef"}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if more := change(&m, members, z); more != nil {
		order = more
	}
	if m.Files == nil {
		for _, name := range order {
			sum := sha256.Sum256([]byte(members[name]))
			m.Files = append(m.Files, File{name, int64(len(members[name])), hex.EncodeToString(sum[:])})
		}
	}
	manifest, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	members[ManifestName] = string(manifest)
	for _, name := range append(order, ManifestName) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, members[name])
	}
	z.Close()
	return b.Bytes()
}

// Each of these is refused, whole, and leaves nothing on the disk.
func TestHostile(t *testing.T) {
	type members = map[string]string
	add := func(name, text string) func(*Manifest, members, *zip.Writer) []string {
		return func(_ *Manifest, m members, _ *zip.Writer) (order []string) {
			m[name] = text
			for n := range m {
				order = append(order, n)
			}
			return order
		}
	}
	rollOf := func(file string) func(*Manifest, members, *zip.Writer) []string {
		return func(_ *Manifest, m members, _ *zip.Writer) []string {
			text, _ := json.Marshal(file)
			m[RollName] = `{"format":"stopladder roll","version":1,"frames":[{"file":` + string(text) + `,"stop":0,"stopFrom":"hand"}]}`
			return nil
		}
	}
	same := func(*Manifest, members, *zip.Writer) []string { return nil }
	good := made(t, same)
	for name, b := range map[string][]byte{
		"path up":             made(t, add("../evil.tif", "x")),
		"path up in a folder": made(t, add("previews/../../evil.tif", "x")),
		"absolute":            made(t, add("/tmp/evil.tif", "x")),
		"drive":               made(t, add(`C:\evil.tif`, "x")),
		"backslash":           made(t, add(`previews\01_0.tif`, "x")),
		"share":               made(t, add("//host/share/evil.tif", "x")),
		"device":              made(t, add("previews/nul.tif", "x")),
		"capital":             made(t, add("PREVIEWS/01_-1.tif", "x")),
		"other name":          made(t, add("previews/01_-1.sh", "x")),
		"folder":              made(t, add("previews/", "")),
		"roll up":             made(t, rollOf("../../etc/passwd")),
		"roll absolute":       made(t, rollOf("/etc/passwd")),
		"roll share":          made(t, rollOf("//host/share/x.tif")),
		"roll device":         made(t, rollOf("/dev/zero")),
		"roll not in it":      made(t, rollOf("previews/09_0.tif")),
		"roll dots":           made(t, rollOf("previews/../previews/02_0.tif/../../x")),
		"no frames": made(t, func(_ *Manifest, m members, _ *zip.Writer) []string {
			m[RollName] = `{"format":"stopladder roll","version":1,"frames":[]}`
			return nil
		}),
		"no roll": made(t, func(_ *Manifest, m members, _ *zip.Writer) []string { m[RollName] = "{"; return nil }),
		"twice": made(t, func(_ *Manifest, m members, z *zip.Writer) []string {
			w, _ := z.CreateHeader(&zip.FileHeader{Name: RollName, Method: zip.Store})
			io.WriteString(w, m[RollName])
			return nil
		}),
		"not named": made(t, func(_ *Manifest, m members, z *zip.Writer) []string {
			w, _ := z.CreateHeader(&zip.FileHeader{Name: "previews/07_0.tif", Method: zip.Store})
			io.WriteString(w, "x")
			return nil
		}),
		"compressed": made(t, func(_ *Manifest, _ members, z *zip.Writer) []string {
			w, _ := z.CreateHeader(&zip.FileHeader{Name: "previews/07_0.tif", Method: zip.Deflate})
			w.Write(make([]byte, 50<<20)) // 50 MB in 50 kB
			return nil
		}),
		"wrong hash": made(t, func(m *Manifest, _ members, _ *zip.Writer) []string {
			m.Files = []File{{RollName, 5, hash(3)}}
			return nil
		}),
		"newer":         made(t, func(m *Manifest, _ members, _ *zip.Writer) []string { m.Version = 9; return nil }),
		"other kind":    made(t, func(m *Manifest, _ members, _ *zip.Writer) []string { m.Kind = "program"; return nil }),
		"id as path":    made(t, func(m *Manifest, _ members, _ *zip.Writer) []string { m.ID = "../../../../abcd"; return nil }),
		"answer frames": made(t, func(m *Manifest, _ members, _ *zip.Writer) []string { m.Kind = Answer; return []string{RollName} }),
		"many": made(t, func(_ *Manifest, _ members, z *zip.Writer) []string {
			for i := range 3000 {
				z.CreateHeader(&zip.FileHeader{Name: fmt.Sprintf("previews/%04d_0.tif", i), Method: zip.Store})
			}
			return nil
		}),
		"comment": append(append([]byte{}, good[:len(good)-2]...), append([]byte{3, 0}, "abc"...)...),
		"empty":   nil,
		"no zip":  bytes.Repeat([]byte("no pack "), 100),
	} {
		path := saved(t, b)
		p, err := Open(path)
		if err == nil {
			_, err = p.Unpack(context.Background(), Folder(path), "", nil)
			p.Close()
		}
		if err == nil {
			t.Errorf("%s: it was taken", name)
			continue
		}
		if strings.ContainsAny(err.Error(), "\x1b\n") {
			t.Errorf("%s: %q", name, err)
		}
		left(t, name, path)
	}
	p, err := Open(saved(t, good))
	if err != nil {
		t.Fatal("the pack of which these are made is none:", err)
	}
	p.Close()
}

// left fails where anything but the pack lies beside it.
func left(t *testing.T, name, path string) {
	t.Helper()
	entries, _ := os.ReadDir(filepath.Dir(path))
	for _, e := range entries {
		if e.Name() != filepath.Base(path) {
			t.Errorf("%s: %s was left behind", name, e.Name())
		}
	}
}

// A pack that is cut anywhere, or one bit of which is another, is refused or tells all.
func TestCutAndDamaged(t *testing.T) {
	whole := packed(t)
	for n := 0; n < len(whole); n += 41 {
		path := saved(t, whole[:n])
		if p, err := Open(path); err == nil {
			p.Close()
			t.Fatalf("a pack cut to %d of %d bytes was taken", n, len(whole))
		}
	}
	for n := 0; n < len(whole); n += 13 {
		b := append([]byte{}, whole...)
		b[n] ^= 1 << (n % 8)
		path := saved(t, b)
		p, err := Open(path)
		if err != nil {
			continue
		}
		_, err = p.Unpack(context.Background(), Folder(path), "", nil)
		p.Close()
		if err != nil {
			left(t, fmt.Sprint("bit in byte ", n), path)
			continue
		}
		for name, want := range pictures {
			if got, err := os.ReadFile(filepath.Join(Folder(path), filepath.FromSlash(name))); err != nil || string(got) != want {
				t.Fatalf("byte %d: %s is %q (%v)", n, name, got, err)
			}
		}
	}
}

func TestUnpackWholeOrNotAtAll(t *testing.T) {
	path := saved(t, packed(t))
	p, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	dir := Folder(path)

	// Stopped in the middle.
	ctx, stop := context.WithCancel(context.Background())
	if _, err := p.Unpack(ctx, dir, "", func(done float64) { stop() }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	left(t, "stopped", path)

	// Into what is something else.
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "mine.txt"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	var there *ThereError
	if _, err := p.Unpack(context.Background(), dir, "", nil); !errors.As(err, &there) {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, RollName)); !errors.Is(err, fs.ErrNotExist) {
		t.Error("something was put into a folder that was there")
	}
}

func TestChangedWhilePacked(t *testing.T) {
	text, _ := RollText(sent())
	list := []Member{{Name: RollName, Put: Text(text)}, {Name: "scans/01_-1.tif", Put: Text([]byte("new")), Want: hash(1)}}
	err := Write(context.Background(), io.Discard, Manifest{Kind: Whole, ID: "0123456789abcdef"}, list)
	if err == nil || !strings.Contains(err.Error(), "changed while it was packed") {
		t.Error(err)
	}
}

func TestPictureNames(t *testing.T) {
	for stop, want := range map[float64]string{0: "scans/03_0.tif", -3: "scans/03_-3.tif", 10: "scans/03_+10.tif", 1. / 3: "scans/03_+0.33.tif", -0.5: "scans/03_-0.5.tif", 0.004: "scans/03_0.tif", -0.001: "scans/03_0.tif"} {
		if got := PictureName("scans", 3, stop, ".tif"); got != want || !pictureName.MatchString(got) {
			t.Errorf("%g: %s, want %s", stop, got, want)
		}
	}
}

// What a pack says of itself is refused or makes sense.
func FuzzManifest(f *testing.F) {
	f.Add([]byte(`{"format":"stopladder pack","version":1,"kind":"roll","id":"0123456789abcdef","files":[{"name":"roll.stopladder","bytes":5,"sha256":"` + hash(1) + `"},{"name":"previews/01_-1.tif","bytes":9,"sha256":"` + hash(2) + `"}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := parse(b)
		if err != nil {
			return
		}
		seen := map[string]bool{}
		for _, one := range m.Files {
			if seen[one.Name] || one.Bytes < 0 || !filepath.IsLocal(one.Name) || strings.ContainsAny(one.Name, `\:`) {
				t.Errorf("%q is a member", one.Name)
			}
			seen[one.Name] = true
		}
	})
}

// A pack of any bytes is refused or is one; nothing is taken for it beyond its size.
func FuzzOpen(f *testing.F) {
	f.Add(packed(f))
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := read(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			return
		}
		for _, fr := range p.Roll.Frames {
			if !pictureName.MatchString(filepath.ToSlash(fr.File)) {
				t.Errorf("%q is a frame", fr.File)
			}
		}
		for _, m := range opinion.Given(p.Roll) {
			if len(m.Verdicts) > roll.MaxFrames {
				t.Error("more verdicts than frames")
			}
		}
	})
}

// Blind judgings stay at home, and the roll that is packed keeps them.
func TestBlindJudgingsStayAtHome(t *testing.T) {
	r := sent()
	r.Blind = []roll.Blind{{Begun: "2026-11-30", Views: []roll.View{{Name: "secret.tif", Verdict: roll.Breaks}}}}
	text, err := RollText(r)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), "blind") || strings.Contains(string(text), "secret.tif") {
		t.Errorf("the pack tells what was judged blind: %s", text)
	}
	if len(r.Blind) != 1 {
		t.Error("the roll lost its blind judging")
	}
}
