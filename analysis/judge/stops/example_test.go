package stops_test

import (
	"fmt"

	"stopladder/analysis/judge/stops"
)

// The labels of a roll are read from its file names together.
func ExampleAssign() {
	a := stops.Assign([]string{"courtyard -2.tif", "courtyard 0.tif", "courtyard +1.tif", "courtyard p1.5.tif", "notes.tif"})
	for i, f := range a.Frames {
		switch {
		case i == a.Base:
			fmt.Println(f.Name, "is the base frame")
		case f.Known:
			fmt.Println(f.Name, "is", stops.Label(f.Stop))
		default:
			fmt.Println(f.Name, "has no label")
		}
	}
	// Output:
	// courtyard -2.tif is −2
	// courtyard 0.tif is the base frame
	// courtyard +1.tif is +1
	// courtyard p1.5.tif is +1½
	// notes.tif has no label
}

// What somebody types may be a range with a step.
func ExampleParseList() {
	list, err := stops.ParseList("-1..+1/0.5")
	fmt.Println(list, err)
	_, err = stops.ParseList("-1, 0, often")
	fmt.Println(err)
	// Output:
	// [-1 -0.5 0 0.5 1] <nil>
	// in the list of stops "-1, 0, often": " often" is not a stop: write for example -1, 0, +1/3 or 1.5
}
