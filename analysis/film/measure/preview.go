package measure

import "math"

// A frame keeps some 24 bytes for each pixel of its preview, 67 MB at PreviewSide.
// Rolls of more frames than FullFrames share what so many take: their previews are
// smaller.
const (
	FullFrames = 20
	leastSide  = 256
)

// PreviewSideFor returns the longest side of the previews of a roll of so many
// frames, pixels.
func PreviewSideFor(frames int) int {
	if frames <= FullFrames {
		return PreviewSide
	}
	return max(leastSide, int(PreviewSide*math.Sqrt(FullFrames/float64(frames))))
}

// previewFactor returns the whole factor by which a scan is reduced to a preview
// whose longest side is at most side, 0 standing for PreviewSide.
func previewFactor(w, h, side int) int {
	if side <= 0 {
		side = PreviewSide
	}
	return (max(w, h, 1) + side - 1) / side
}
