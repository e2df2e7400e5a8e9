package scan

import (
	"io"
	"os"
)

// Open reads the header of a scan and checks it against lim and against the
// size of the file; no memory for pixels is taken. The file is opened read-only
// for each reading and closed after it, so a Source needs no closing.
//
// Errors: *FormatError (broken, or no picture), *UnsupportedError (sound, with
// a feature that is not read), *BoundsError (asks for too much), *TruncatedError
// (nothing of the picture is there), *ChangedError (something writes to it), or one that
// wraps the operating system's. Readings of a Source whose file was changed since it was
// opened end with a *ChangedError as well.
func Open(path string, lim Bounds) (Source, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, &fileError{path, err}
	}
	if !st.Mode().IsRegular() {
		return nil, &FormatError{Path: path, Reason: "it is not a file", Advice: "choose a TIFF, PNG or JPEG file"}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, &fileError{path, err}
	}
	defer f.Close()
	if now, err := f.Stat(); err != nil || !(identity{path, st}).is(now) {
		return nil, &ChangedError{path} // between the two looks
	}
	var head [8]byte
	n, err := io.ReadFull(f, head[:])
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, &fileError{path, err}
	}
	open := openTIFF
	switch sniff(head[:n]) {
	case "TIFF":
	case "PNG":
		open = openPNG
	case "JPEG":
		open = openJPEG
	default:
		if isOtherRaw(head[:n]) {
			return nil, &UnsupportedError{path, cameraRaw, developed}
		}
		return nil, &FormatError{Path: path, Reason: "it is neither a TIFF, a PNG nor a JPEG", Advice: "choose a scan in one of these formats"}
	}
	s, err := open(f, st.Size(), path, lim)
	id := identity{path, st}
	if changed := id.check(); changed != nil {
		return nil, changed
	}
	if err != nil {
		return nil, err
	}
	s.id = id
	return s, nil
}
