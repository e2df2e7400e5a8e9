package scan

import (
	"bytes"
	"io"
	"slices"
)

// Raw files of cameras are TIFFs by structure, whose full picture is of sensor data
// and whose other pictures are previews. They are recognised so that no preview is
// measured in its place.
const (
	cameraRaw = "the raw data of a camera's sensor"
	developed = "develop all frames to 16-bit TIFFs in a raw converter, with one fixed exposure and balance and no automatic corrections, and measure those"

	tagDNGVersion      = 50706 // DNG 1.4, chapter 4
	photoCFA           = 32803 // TIFF/EP (ISO 12234-2)
	photoLinearRaw     = 34892 // DNG
	rawNikon           = 34713 // the makers' compressions, and the marks below, from memory
	rawSony            = 32767
	rawSamsung         = 32770
	rawKodak           = 65000
	rawPentax          = 65535
	rawPackedPanasonic = 34316
)

// isCameraRaw reports whether a TIFF is a camera's raw file: any of its pictures is of
// sensor data, it says so, or it bears Canon's mark behind the header.
func isCameraRaw(f io.ReaderAt, dirs []*directory) bool {
	var mark [2]byte
	if readFull(f, mark[:], 8) == nil && string(mark[:]) == "CR" {
		return true
	}
	for _, d := range dirs {
		for _, s := range append([]*directory{d}, d.below(tagSubIFDs)...) {
			photo, _ := s.one(tagPhotometric, 0)
			pack, _ := s.one(tagCompression, packNone)
			if s.has(tagDNGVersion) || photo == photoCFA || photo == photoLinearRaw ||
				slices.Contains([]uint64{rawNikon, rawSony, rawSamsung, rawKodak, rawPentax, rawPackedPanasonic}, pack) {
				return true
			}
		}
	}
	return false
}

// isOtherRaw reports whether a file begins as raw files of makers do whose headers are
// a TIFF's but for the number (Olympus, Panasonic), or none (Fujifilm).
func isOtherRaw(head []byte) bool {
	for _, mark := range []string{"IIRO", "IIRS", "MMOR", "IIU\x00", "FUJIFILM"} {
		if bytes.HasPrefix(head, []byte(mark)) {
			return true
		}
	}
	return false
}
