package median

import (
	"slices"
	"testing"
)

func TestMedian(t *testing.T) {
	v := []float64{9, 1, 4, 2}
	if Of(v) != 3 || Upper(v) != 4 || !slices.Equal(v, []float64{9, 1, 4, 2}) {
		t.Errorf("%v, %v of %v", Of(v), Upper(v), v)
	}
	if odd := v[:3]; Of(odd) != 4 || Upper(odd) != 4 {
		t.Errorf("%v, %v of %v", Of(odd), Upper(odd), odd)
	}
	if Of(nil) != 0 || Upper[int](nil) != 0 {
		t.Error("none has a median")
	}
}
