package colour_test

import (
	"fmt"

	"stopladder/analysis/scan/colour"
)

// The first pair of the test data of Sharma, Wu and Dalal (Color Res. Appl. 30(1),
// 2005): 2.0425.
func ExampleDeltaE2000() {
	a := colour.LAB{L: 50, A: 2.6772, B: -79.7751}
	b := colour.LAB{L: 50, A: 0, B: -82.7485}
	fmt.Printf("%.4f\n", colour.DeltaE2000(a, b))
	// Output:
	// 2.0425
}

// An 18 % grey is L* 49.5, neutral.
func ExampleLabOf() {
	l := colour.LabOf(0.18, 0.18, 0.18)
	fmt.Printf("L* %.1f, chroma under 0.01: %v\n", l.L, l.A*l.A+l.B*l.B < 1e-4)
	// Output:
	// L* 49.5, chroma under 0.01: true
}
