package ui

import (
	"context"
	"sync"

	"stopladder/analysis/judge/roll"
)

// copies keep the recovery copy of one open roll. They are used by workers and by the
// window's goroutine.
type copies struct {
	mu      sync.Mutex
	journal *roll.Journal // nil where none can be kept
}

// keep writes a recovery copy, unless that was given up.
func (c *copies) keep(ctx context.Context, r *roll.Roll, path string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.journal == nil || ctx.Err() != nil {
		return nil
	}
	return c.journal.Keep(r, path)
}

// drop takes the copy away.
func (c *copies) drop() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.journal != nil {
		_ = c.journal.Clear() // a copy of saved work does no harm
	}
}

// close ends the keeping. What was not saved, and not given up on purpose, stays for the
// next session to find.
func (c *copies) close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.journal != nil {
		_ = c.journal.Close()
		c.journal = nil
	}
}
