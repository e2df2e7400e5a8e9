// Package analysis is the root of everything that Stopladder measures and
// draws without a window. Nothing below it imports the window toolkit, so the
// headless commands and the tests need neither a display nor cgo.
//
// # The way of a scan
//
//	scan      a file on disk -> code values (never trusted) -> linear light, CIELAB
//	judge     what a person says of the scans: labels, corrections, limits, verdicts
//	bracket   the plan of the exposures and the log of what was really exposed
//	film      light -> readings of frames and roll: registration, response, noise,
//	          casts, what salvage costs, the range
//	show      readings -> picture, ladder, sheet, plot, card, JSON and CSV
//	demo      an invented scene -> film -> scanner -> frames with known truth
//	load      paths -> a measured roll, with events on the way
//	headless  the commands
//	disk      files written whole; the folder of the program's own
//	parallel  loops on several processors
//
// DEVELOPERS.md maps the packages and what each imports.
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
