package session

import (
	"context"
	"errors"
	"testing"
	"time"
)

// Work hands over what it finds on the way and what it ends in; of a roll that was closed
// nothing arrives any more.
func TestRunner(t *testing.T) {
	queue := make(chan func(), 100)
	var got []Change
	r := NewRunner(func(f func()) { queue <- f }, func(c Change) { got = append(got, c) })
	drain := func() {
		for {
			select {
			case f := <-queue:
				f()
			case <-time.After(50 * time.Millisecond):
				return
			}
		}
	}
	r.Follow(Effect{Run: []Work{{Name: "a", Do: func(_ context.Context, post func(Change)) (Change, error) {
		post(Step{1})
		return Step{2}, nil
	}}}})
	if !r.Busy() {
		t.Error("work that was begun does not run")
	}
	if drain(); len(got) != 2 || got[0] != (Step{1}) || got[1] != (Step{2}) || r.Busy() {
		t.Errorf("got %v", got)
	}
	got = nil
	bad := errors.New("no")
	r.Follow(Effect{Run: []Work{{Name: "a", Title: "T", Do: func(context.Context, func(Change)) (Change, error) { return nil, bad }}}})
	drain()
	if f, ok := got[0].(Failed); len(got) != 1 || !ok || f.Err != bad || f.Work.Title != "T" {
		t.Errorf("got %v", got)
	}
	got = nil
	ended := make(chan bool, 3)
	wait := func(ctx context.Context, post func(Change)) (Change, error) {
		post(Step{3}) // in the queue when the work is ended
		<-ctx.Done()
		ended <- true
		post(Step{4})
		return Step{5}, ctx.Err()
	}
	begin := func() { r.Follow(Effect{Run: []Work{{Name: "long", Do: wait}}}) }
	begin()
	r.Follow(Effect{Stop: []string{"long", "not there"}})
	begin()
	begin() // takes the place of the one before
	r.Follow(Effect{Closed: true})
	for range 3 {
		<-ended
	}
	if drain(); len(got) != 0 || r.Busy() {
		t.Errorf("of work that was ended came %v", got)
	}
}
