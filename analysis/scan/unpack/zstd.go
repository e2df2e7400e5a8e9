package unpack

import (
	"errors"
	"io"

	"github.com/klauspost/compress/zstd"
)

// ZstdWindow is the largest window of a Zstandard frame that is decoded, in bytes:
// what RFC 8878, 3.1.1.1.2 asks every decoder for. Encoders need more at their two
// highest levels alone.
const ZstdWindow = 8 << 20

// Zstd decodes Zstandard (RFC 8878), which libtiff numbers 50000.
type Zstd struct {
	src sourceError
	d   *zstd.Decoder
	buf []byte
	err error // why it cannot begin
}

// sourceError remembers what the source said when it failed.
type sourceError struct {
	r   io.Reader
	err error
}

func (s *sourceError) Read(b []byte) (int, error) {
	n, err := s.r.Read(b)
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}

// Reset begins anew.
func (z *Zstd) Reset(src io.Reader) {
	z.src = sourceError{r: src}
	if z.d == nil {
		z.d, z.err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true),
			zstd.WithDecoderMaxWindow(ZstdWindow), zstd.WithDecoderMaxMemory(1<<62))
	}
	if z.d != nil {
		z.err = z.d.Reset(&z.src)
	}
}

// Next is described at Decoder.
func (z *Zstd) Next(n int) ([]byte, error) {
	if z.err != nil {
		return nil, z.why(z.err)
	}
	if len(z.buf) < n {
		z.buf = make([]byte, n)
	}
	k, err := io.ReadFull(z.d, z.buf[:n])
	return z.buf[:k], z.why(err)
}

// Check reads on to the end of the frame, at most about most bytes of what it holds,
// so that its checksum is compared where it has one. It returns ErrCorrupt where that
// does not fit or what is left cannot be decoded.
func (z *Zstd) Check(most int) error {
	if z.err != nil {
		return z.why(z.err)
	}
	_, err := io.CopyN(io.Discard, z.d, int64(most))
	if err == io.EOF {
		return nil
	}
	return z.why(err)
}

// why returns an error as a Decoder gives it.
func (z *Zstd) why(err error) error {
	switch {
	case err == nil:
		return nil
	case z.src.err != nil:
		return z.src.err
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return io.ErrUnexpectedEOF
	}
	return ErrCorrupt
}
