package pack

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"stopladder/analysis/judge/roll"
)

// TestMain unpacks a pack, or packs one, in place of the tests where it is asked to: a
// process to be killed.
func TestMain(m *testing.M) {
	if path := os.Getenv("STOPLADDER_TEST_UNPACK"); path != "" {
		p, err := Open(path)
		if err == nil {
			_, err = p.Unpack(context.Background(), Folder(path), "2026-11-30", nil)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// Killed at any moment, an unpacking leaves the whole folder or none, and the pack as it is.
func TestKilledWhileUnpacking(t *testing.T) {
	if testing.Short() {
		t.Skip("takes long")
	}
	text, err := RollText(sent())
	if err != nil {
		t.Fatal(err)
	}
	list := []Member{{Name: RollName, Put: Text(text)}}
	big := bytes.Repeat([]byte("0123456789abcdef"), 1<<18) // 4 MB
	for _, f := range sent().Frames {
		list = append(list, Member{Name: f.File, Put: Text(big)})
	}
	var b bytes.Buffer
	if err := Write(context.Background(), &b, Manifest{Kind: Whole, ID: "0123456789abcdef"}, list); err != nil {
		t.Fatal(err)
	}
	path := saved(t, b.Bytes())
	whole, none := 0, 0
	r := rand.New(rand.NewPCG(1, 2))
	for range 40 {
		c := exec.Command(os.Args[0])
		c.Env = append(os.Environ(), "STOPLADDER_TEST_UNPACK="+path)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(r.IntN(600)) * time.Millisecond)
		c.Process.Kill()
		c.Wait()
		dir := Folder(path)
		if _, err := os.Stat(dir); err != nil {
			none++
			continue
		}
		whole++
		if got, problems, err := roll.Load(filepath.Join(dir, RollName)); err != nil || len(problems) > 0 || len(got.Frames) != 3 {
			t.Fatal("half a roll:", err, problems)
		}
		for _, f := range sent().Frames {
			if got, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(f.File))); err != nil || !bytes.Equal(got, big) {
				t.Fatalf("%s is not whole: %v", f.File, err)
			}
		}
		os.RemoveAll(dir)
	}
	t.Logf("%d times whole, %d times nothing", whole, none)
	if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, b.Bytes()) {
		t.Error("the pack is another")
	}
}
