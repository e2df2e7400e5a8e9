package response

import (
	"context"
	"errors"

	"stopladder/analysis/colour"
)

// frameSpace is what is needed of a frame after the fit.
type frameSpace struct {
	space *colour.Space
	max   int
}

// Fit measures the roll. base is the index of the base frame. An error is ctx's
// or says that the arguments make no roll; what the roll cannot tell is not an
// error but a Reason in the Result.
func Fit(ctx context.Context, frames []Frame, base int, opt Options) (*Result, error) {
	if base < 0 || base >= len(frames) {
		return nil, errors.New("the roll has no base frame; choose one")
	}
	return &Result{Base: base, Frames: make([]Reading, len(frames)), Reason: "not measured yet"}, ctx.Err()
}
