package history

import "testing"

func TestStepsAreTakenBackAndDoneAgain(t *testing.T) {
	var h History[int]
	if v, name := h.Undo(7); v != 7 || name != "" {
		t.Errorf("an empty history gave %d, %q", v, name)
	}
	h.Keep("one", "", 0)
	h.Keep("two", "", 1)
	v, name := h.Undo(2)
	if v != 1 || name != "two" {
		t.Errorf("took back %q to %d", name, v)
	}
	if undo, redo := h.Names(); undo != "one" || redo != "two" {
		t.Errorf("next are %q and %q", undo, redo)
	}
	if v, name = h.Redo(v); v != 2 || name != "two" {
		t.Errorf("did %q again, to %d", name, v)
	}
	h.Undo(2)
	h.Keep("other", "", 1) // what was taken back is gone
	if _, redo := h.Names(); redo != "" {
		t.Errorf("%q can be done again after another step", redo)
	}
}

func TestADragIsOneStep(t *testing.T) {
	var h History[int]
	for i := range 5 {
		h.Keep("drag", "drag", i)
	}
	h.End()
	h.Keep("drag", "drag", 5)
	if v, _ := h.Undo(9); v != 5 {
		t.Errorf("the second drag goes back to %d", v)
	}
	h.Keep("drag", "drag", 5) // a step taken back is over
	h.Undo(9)
	if v, _ := h.Undo(5); v != 0 {
		t.Errorf("the first drag goes back to %d", v)
	}
	if undo, _ := h.Names(); undo != "" {
		t.Errorf("%q is left", undo)
	}
}

func TestOldStepsAreForgotten(t *testing.T) {
	var h History[int]
	for i := range most + 10 {
		h.Keep("step", "", i)
	}
	n, v := 0, most+10
	for name := "step"; name != ""; {
		if v, name = h.Undo(v); name != "" {
			n++
		}
	}
	if n != most || v != 10 {
		t.Errorf("%d steps, back to %d", n, v)
	}
}
