package load_test

import (
	"context"
	"fmt"

	"stopladder/analysis/judge/stops"
	"stopladder/analysis/load"
)

// From a folder to a measured roll: the labels are in the names, and the pictures
// say how they were really exposed.
func ExampleMeasure() {
	job, err := load.Plan([]string{"../../testdata/rolls/hand-held"}, load.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := load.Measure(context.Background(), job, nil, load.Options{}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, f := range r.Judged.Frames {
		if q := r.Reading(i); q != nil && q.MeasuredStop != nil {
			fmt.Printf("%-3s exposed %+.2f\n", stops.Label(f.Stop), *q.MeasuredStop)
		}
	}
	// Output:
	// −2  exposed -2.04
	// −1  exposed -1.04
	// 0   exposed +0.00
	// +1  exposed +1.03
	// +2  exposed +1.90
}
