package planner

import (
	"sync"
	"time"

	"stopladder/analysis/bracket/plan"
)

// keepEvery is for how long what is typed may be lost when the program is killed.
const keepEvery = 300 * time.Millisecond

// keeper writes the plan in progress to the settings folder a little after it was
// changed, beside the window's goroutine. It is safe for concurrent use.
type keeper struct {
	drafts *plan.Drafts // used while writing is held

	lock  sync.Mutex // of what follows
	timer *time.Timer
	draft *plan.Draft

	writing sync.Mutex // one write at a time, the later one last
}

// set has a draft written soon, or forgotten where it is nil.
func (k *keeper) set(d *plan.Draft) {
	k.lock.Lock()
	defer k.lock.Unlock()
	k.draft = d
	if k.timer == nil {
		k.timer = time.AfterFunc(keepEvery, k.flush)
	}
}

// flush writes at once what is waiting.
func (k *keeper) flush() {
	k.writing.Lock()
	defer k.writing.Unlock()
	k.lock.Lock()
	waiting, d := k.timer != nil, k.draft
	if waiting {
		k.timer.Stop()
		k.timer = nil
	}
	k.lock.Unlock()
	if waiting {
		// Where this fails saving will fail aloud; a word at every key would be in the way.
		_ = k.drafts.Keep(d)
	}
}

// close writes what waits and lets another window take up what is kept.
func (k *keeper) close() {
	k.flush()
	k.writing.Lock()
	defer k.writing.Unlock()
	k.drafts.Close()
}
