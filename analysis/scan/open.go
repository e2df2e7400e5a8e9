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
// (nothing of the picture is there), or one that wraps the operating system's.
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
	var head [8]byte
	n, err := io.ReadFull(f, head[:])
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, &fileError{path, err}
	}
	switch sniff(head[:n]) {
	case "TIFF":
		return opened(openTIFF(f, st.Size(), path, lim))
	case "PNG":
		return opened(openPNG(f, st.Size(), path, lim))
	case "JPEG":
		return opened(openJPEG(f, st.Size(), path, lim))
	}
	return nil, &FormatError{Path: path, Reason: "it is neither a TIFF, a PNG nor a JPEG", Advice: "choose a scan in one of these formats"}
}

// opened keeps a nil *source from becoming a Source that is not nil.
func opened(s *source, err error) (Source, error) {
	if err != nil {
		return nil, err
	}
	return s, nil
}
