package main

import (
	"os/exec"
	"slices"
	"testing"
	"time"
)

// A child is killed after the first thing that it tells, not after the minute that is
// given to one that tells nothing: else every kill would take that minute.
func TestAChildIsHeard(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("SKIPPED: there is no sh to be the child")
	}
	began := time.Now()
	told, _, alive, err := killedAtWork(exec.Command(sh, "-c", "echo a1; exec sleep 300"), time.Millisecond)
	if err != nil || !alive || !slices.Equal(told, []string{"a1"}) {
		t.Fatalf("told %q, alive %v, %v", told, alive, err)
	}
	if took := time.Since(began); took > firstWord/2 {
		t.Errorf("it took %v: the child was not heard", took)
	}
}
