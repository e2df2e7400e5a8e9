package filelock

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The test starts itself anew as another process.
func TestMain(m *testing.M) {
	switch path := os.Getenv("FILELOCK_TEST"); {
	case path == "":
		os.Exit(m.Run())
	case strings.HasPrefix(path, "hold:"):
		if _, err := Take(path[5:]); err != nil {
			os.Exit(1)
		}
		os.Stdout.WriteString("held")
		time.Sleep(time.Minute)
	default:
		for range 50 {
			release, err := Take(path)
			if err != nil {
				os.Exit(1)
			}
			text, _ := os.ReadFile(path)
			n, _ := strconv.Atoi(string(text))
			os.WriteFile(path, []byte(strconv.Itoa(n+1)), 0o666)
			release()
		}
	}
}

func again(t *testing.T, path string) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "FILELOCK_TEST="+path)
	return c
}

func TestNoCountIsLost(t *testing.T) {
	path := filepath.Join(t.TempDir(), "count")
	var all []*exec.Cmd
	for range 4 {
		c := again(t, path)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		all = append(all, c)
	}
	for _, c := range all {
		if err := c.Wait(); err != nil {
			t.Error(err)
		}
	}
	if b, _ := os.ReadFile(path); string(b) != "200" {
		t.Errorf("of 200 counts %s are there", b)
	}
	if left, _ := os.ReadDir(filepath.Dir(path)); len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
}

func TestTheDeadHoldNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x")
	c := again(t, "hold:"+path)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := out.Read(make([]byte, 4)); err != nil {
		t.Fatal(err)
	}
	if _, err := take(path, 50*time.Millisecond); err == nil || !strings.Contains(err.Error(), "x is being changed") {
		t.Errorf("while it is held: %v", err)
	}
	c.Process.Kill()
	c.Wait()
	release, err := take(path, time.Second)
	if err != nil {
		t.Fatal(err)
	}
	release()
}
