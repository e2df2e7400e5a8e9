package scan

import (
	"encoding/binary"
	"unsafe"
)

// littleEndian says that this machine stores 16-bit words low byte first, as
// most TIFF files do: their samples are then read straight to where they go.
var littleEndian = binary.NativeEndian.Uint16([]byte{1, 0}) == 1

// bytesView returns the memory of words as bytes. This is the only unsafe code of the
// readers: both slices share one allocation made as words, so alignment and length are
// right by construction, and the view is only written to by ReadAt.
func bytesView(words []uint16) []byte {
	if len(words) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&words[0])), 2*len(words))
}
