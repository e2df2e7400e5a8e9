package exposure_test

import (
	"fmt"

	"stopladder/analysis/bracket/exposure"
)

// Marks are engraved rounded: 1/60 stands for 1/64 s, and 1/125 is one stop less.
func ExampleFind() {
	a, _ := exposure.Find(exposure.Times(), 1.0/60)
	b, _ := exposure.Find(exposure.Times(), 1.0/125)
	fmt.Printf("%s is 1/%.0f s, %s is 1/%.0f s\n", a.Text, 1/a.Exact, b.Text, 1/b.Exact)
	fmt.Printf("%+.0f stop\n", exposure.Tv(a.Exact)-exposure.Tv(b.Exact))
	// Output:
	// 1/60 is 1/64 s, 1/125 is 1/128 s
	// -1 stop
}

// f/16 at 1/128 s is EV 15; a filter of density 0.9 takes three stops of it.
func ExampleEV() {
	fmt.Printf("EV %.0f\n", exposure.EV(16, 1.0/128))
	fmt.Printf("%.1f stops\n", exposure.DensityStops(0.9))
	// Output:
	// EV 15
	// 3.0 stops
}
