// Package history keeps what can be taken back and done again. What it keeps are values
// of before each step: they must not be changed afterwards.
package history

// most bounds the memory of a long session; a step of a roll is a few kilobytes.
const most = 200

// History is a line of steps of one value. The zero value is empty and ready to use.
type History[T any] struct {
	past, future []step[T]
	open         string // key of the step that goes on, "" for none
}

type step[T any] struct {
	name  string
	value T // of the other side of the step
}

// Keep notes a step under the name that the menu shows; before is the value that Undo
// brings back. Steps of one key that follow each other are one, as those of a drag are;
// "" is a step by itself.
func (h *History[T]) Keep(name, key string, before T) {
	h.future = nil
	if key != "" && key == h.open && len(h.past) > 0 {
		return
	}
	h.open = key
	h.past = append(h.past, step[T]{name, before})
	if len(h.past) > most {
		h.past = h.past[1:]
	}
}

// End ends the step that goes on: the next one is another, whatever its key.
func (h *History[T]) End() { h.open = "" }

// Undo takes the last step back: it returns its name and the value of before it. name is
// "" where there is none.
func (h *History[T]) Undo(now T) (before T, name string) { return h.swap(&h.past, &h.future, now) }

// Redo does the last step that was taken back again.
func (h *History[T]) Redo(now T) (after T, name string) { return h.swap(&h.future, &h.past, now) }

func (h *History[T]) swap(from, to *[]step[T], now T) (v T, name string) {
	h.End()
	if len(*from) == 0 {
		return now, ""
	}
	s := (*from)[len(*from)-1]
	*from = (*from)[:len(*from)-1]
	*to = append(*to, step[T]{s.name, now})
	return s.value, s.name
}

// Names returns what Undo and Redo would do, "" for nothing.
func (h *History[T]) Names() (undo, redo string) { return last(h.past), last(h.future) }

func last[T any](steps []step[T]) string {
	if len(steps) == 0 {
		return ""
	}
	return steps[len(steps)-1].name
}
