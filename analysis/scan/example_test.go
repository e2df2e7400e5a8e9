package scan_test

import (
	"context"
	"fmt"

	"stopladder/analysis/scan"
)

// A scan is opened, which reads its header alone, and its rows are streamed.
func ExampleOpen() {
	src, err := scan.Open("../../testdata/rolls/tripod/garden +3.png", scan.DefaultBounds)
	if err != nil {
		fmt.Println(err)
		return
	}
	in := src.Info()
	fmt.Printf("%s, %d x %d, %d bits, profile of %d bytes\n", in.Format, in.Width, in.Height, in.Bits, len(in.ICC))
	var top uint16
	err = src.Stream(context.Background(), func(y int, rows []uint16) error {
		for _, code := range rows {
			top = max(top, code)
		}
		return nil
	})
	fmt.Println("highest code", top, err)

	_, err = scan.Open("../../testdata/hostile/bomb-size.tif", scan.DefaultBounds)
	fmt.Println(err)
	// Output:
	// PNG, 140 x 120, 8 bits, profile of 532 bytes
	// highest code 250 <nil>
	// bomb-size.tif was refused: it is 2147483648 x 2147483648 pixels and the longest side allowed is 100000; check the file, or scan at a lower resolution.
}
