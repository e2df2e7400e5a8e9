package report_test

import (
	"context"
	"fmt"

	"stopladder/analysis/load"
	"stopladder/analysis/show/report"
)

// The report is what the commands write as JSON and CSV.
func ExampleBuild() {
	job, err := load.Plan([]string{"../../../testdata/rolls/tripod"}, load.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	roll, err := load.Measure(context.Background(), job, nil, load.Options{}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	r := report.Build(roll, report.Options{})
	fmt.Println(r.Schema, "scanned alike:", *r.Scan.Fixed)
	for _, f := range r.Frames {
		fmt.Printf("%-17s Blown %4.1f %%\n", f.File, 100*f.Blown.Any)
	}
	// Output:
	// stopladder-measure-1 scanned alike: true
	// garden -3.png     Blown  0.0 %
	// garden -2.png     Blown  0.0 %
	// garden -0.67.png  Blown  0.0 %
	// garden 0.png      Blown  0.0 %
	// garden +1.png     Blown  0.0 %
	// garden +1.67.png  Blown  0.0 %
	// garden +3.png     Blown 10.6 %
}
