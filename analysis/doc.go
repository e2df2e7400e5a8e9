// Package analysis is the root of everything that Stopladder measures and
// draws without a window. Nothing below it imports the window toolkit, so the
// headless commands and the tests need neither a display nor cgo.
//
// # The way of a scan
//
//	scan      a file on disk -> code values, in bands of rows (never trusted)
//	colour    code values -> linear light (sRGB primaries), XYZ, CIELAB, by ICC
//	measure   code values + colour -> the readings of one frame and of a roll
//	roll      what the judge made: labels, verdicts, notes, range; the roll file
//	report    readings -> the JSON and CSV contract
//	render    preview or full pixels -> the picture on the screen, with masks
//	rung      one frame's small multiples, drawn alike in window and sheet
//	sheet     the annotated comparison picture
//	scene     an invented scene, ray traced to scene-linear light
//	simulate  scene light -> film -> scanner -> frames with known truth
//	headless  the commands measure, sheet and demo
//
// # Conventions that hold everywhere
//
//   - A stop is a float64 offset from the base exposure; over is positive.
//   - Code values are what the file holds: 0..255 or 0..65535, in uint16.
//   - Pixels are interleaved R, G, B; grey files repeat their one channel.
//   - Linear light is relative: 1 is the profile's white. It is carried on the
//     sRGB primaries (D65), unbounded, so that wide-gamut scans lose nothing.
//   - CIELAB is D50 (ICC connection space).
//   - Rectangles are in full-resolution pixels of the upright picture (after
//     the orientation tag), origin top left.
//   - A value that could not be measured is absent (nil) with a reason in
//     Notes, never zero.
package analysis
