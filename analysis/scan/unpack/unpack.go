// Package unpack undoes what TIFF files do to their bytes: LZW, Deflate,
// Zstandard and PackBits compression. It knows nothing of pictures or files.
//
// A Decoder gives the bytes of one strip or tile piece by piece out of a bounded
// window, so that a picture in one strip takes no more memory than one in a
// thousand. Everything here expects hostile input: damage ends in an error, never
// in a panic, and no input makes memory grow beyond the window.
package unpack

import (
	"errors"
	"io"
)

// ErrCorrupt says that the bytes are not of the compression they claim to be.
var ErrCorrupt = errors.New("the compressed data is damaged")

// Decoder gives the bytes of one compressed piece of a file.
type Decoder interface {
	// Reset begins anew with the compressed bytes of src.
	Reset(src io.Reader)
	// Next returns the next n bytes, valid until the next call. When the data
	// ends or is damaged before, it returns the bytes that could be had and an
	// error: io.ErrUnexpectedEOF, ErrCorrupt, or the source's own.
	Next(n int) ([]byte, error)
}

// inputSize is the compressed bytes that are read at a time.
const inputSize = 64 << 10

// input is the compressed side of a decoder.
type input struct {
	r   io.Reader
	buf []byte
	pos int // next byte of buf[:end]
	end int
	err error // why no more comes: io.EOF at the end
}

func (in *input) reset(r io.Reader) {
	if in.buf == nil {
		in.buf = make([]byte, inputSize)
	}
	in.r, in.pos, in.end, in.err = r, 0, 0, nil
}

// fill reads until at least n unread bytes are there or the source ends.
func (in *input) fill(n int) bool {
	if in.end-in.pos >= n {
		return true
	}
	if in.err != nil {
		return false
	}
	copy(in.buf, in.buf[in.pos:in.end])
	in.end -= in.pos
	in.pos = 0
	for empty := 0; in.end < n && in.err == nil; {
		var k int
		k, in.err = in.r.Read(in.buf[in.end:])
		in.end += k
		if k > 0 {
			empty = 0
		} else if empty++; empty > 100 && in.err == nil {
			in.err = io.ErrNoProgress
		}
	}
	return in.end >= n
}

// why returns the error of an input that ended too early.
func (in *input) why() error {
	if in.err == nil || in.err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return in.err
}

// window is the decompressed side: what was decoded and not yet handed out, and
// before it what later bytes may refer to.
type window struct {
	buf  []byte
	read int   // next byte to hand out
	end  int   // decoded so far
	err  error // why no more will be decoded
}

// next hands out n bytes; more decodes some or says why it cannot. An error is
// kept until what was decoded before it has been handed out.
func (w *window) next(n int, more func(n int) error) ([]byte, error) {
	for w.end-w.read < n {
		if w.err == nil {
			w.err = more(n)
		}
		if w.err != nil && w.end-w.read < n {
			return w.take(n), w.err
		}
	}
	return w.take(n), nil
}

func (w *window) reset() { w.read, w.end, w.err = 0, 0, nil }

// take hands out n bytes, or what there is.
func (w *window) take(n int) []byte {
	n = min(n, w.end-w.read)
	b := w.buf[w.read : w.read+n : w.read+n]
	w.read += n
	return b
}

// grow makes the window at least n bytes long; what is in it stays.
func (w *window) grow(n int) {
	if len(w.buf) < n {
		b := make([]byte, n)
		copy(b, w.buf[:w.end])
		w.buf = b
	}
}

// slide drops the first n bytes.
func (w *window) slide(n int) {
	copy(w.buf, w.buf[n:w.end])
	w.read -= n
	w.end -= n
}
