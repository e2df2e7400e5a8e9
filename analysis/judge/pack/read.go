package pack

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"stopladder/analysis/judge/roll"
)

// Pack is an open pack. Its pictures are not read before it is unpacked.
type Pack struct {
	Manifest
	Roll     *roll.Roll     // its frames' files are names in the pack
	Problems []roll.Problem // what of the roll could not be used
	Readings []byte         // JSON, as measured by the sender; nil: there are none

	path    string
	members map[string]*zip.File
	closer  io.Closer
}

// Close lets go of the file.
func (p *Pack) Close() error {
	if p.closer == nil {
		return nil
	}
	return p.closer.Close()
}

// Path is the pack's file.
func (p *Pack) Path() string { return p.path }

// Open reads what a pack is. The error is one sentence that names the file.
func Open(path string) (*Pack, error) {
	refuse := func(err error) (*Pack, error) {
		return nil, fmt.Errorf("cannot open the pack %q: %w; ask for it again", filepath.Base(path), err)
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no pack %q: check the name", filepath.Base(path))
	case err != nil:
		return nil, fmt.Errorf("the pack %q cannot be read: check that it may be", filepath.Base(path))
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%q is no ordinary file: choose another", filepath.Base(path))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the pack %q cannot be read: check that it may be", filepath.Base(path))
	}
	p, err := read(f, info.Size())
	if err != nil {
		f.Close()
		return refuse(err)
	}
	p.path, p.closer = path, f
	return p, nil
}

// read reads what a pack of a size is.
func read(r io.ReaderAt, size int64) (*Pack, error) {
	if err := checkEnd(r, size); err != nil {
		return nil, err
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, errors.New("its list of members is damaged")
	}
	p := &Pack{members: map[string]*zip.File{}}
	if err := p.list(z.File, size); err != nil {
		return nil, err
	}
	text, err := p.whole(ManifestName, MaxManifest)
	if err != nil {
		return nil, err
	}
	if p.Manifest, err = parse(text); err != nil {
		return nil, err
	}
	if err := p.agrees(); err != nil {
		return nil, err
	}
	return p, p.readRoll()
}

// list takes up the members: stored, none twice, and together no more than the file.
func (p *Pack) list(files []*zip.File, size int64) error {
	if len(files) > MaxMembers {
		return fmt.Errorf("it has %d members and a pack at most %d", len(files), MaxMembers)
	}
	var sum uint64
	for _, f := range files {
		switch {
		case p.members[f.Name] != nil:
			return fmt.Errorf("%q stands in it twice", line(f.Name))
		case f.Method != zip.Store || f.CompressedSize64 != f.UncompressedSize64:
			return fmt.Errorf("%q is compressed, which no member of a pack is", line(f.Name))
		case f.Flags&1 != 0:
			return fmt.Errorf("%q is encrypted", line(f.Name))
		case f.UncompressedSize64 > uint64(size):
			return fmt.Errorf("%q is larger than the pack", line(f.Name))
		}
		if sum += f.UncompressedSize64; sum > uint64(size) {
			return errors.New("its members are together larger than the file")
		}
		p.members[f.Name] = f
	}
	return nil
}

// agrees holds the members against what the pack says of itself.
func (p *Pack) agrees() error {
	for _, f := range p.Files {
		m := p.members[f.Name]
		switch {
		case m == nil:
			return fmt.Errorf("%s is not in it", f.Name)
		case m.UncompressedSize64 != uint64(f.Bytes):
			return fmt.Errorf("%s has %d bytes and should have %d", f.Name, m.UncompressedSize64, f.Bytes)
		}
	}
	if len(p.members) != len(p.Files)+1 {
		return errors.New("it has members that it does not name")
	}
	return nil
}

// readRoll reads the roll and the readings, and holds the roll against the members.
func (p *Pack) readRoll() error {
	text, err := p.checked(RollName)
	if err != nil {
		return err
	}
	r, problems, err := roll.Parse(text, "")
	if err != nil {
		return fmt.Errorf("its roll cannot be used, %w", err)
	}
	if p.Kind == Answer && len(r.Frames) > 0 || p.Kind == Whole && len(r.Frames) == 0 || r.Demo != "" {
		return errors.New("its roll has not what it should have")
	}
	for _, f := range r.Frames {
		name := filepath.ToSlash(f.File)
		if f.Aside() || !pictureName.MatchString(name) || p.members[name] == nil {
			return fmt.Errorf("its roll names %q, which is not in it", line(f.ScanName()))
		}
	}
	p.Roll, p.Problems = r, problems
	if p.members[ReadingsName] != nil {
		p.Readings, err = p.checked(ReadingsName)
	}
	return err
}

// whole returns what a member holds.
func (p *Pack) whole(name string, most int64) ([]byte, error) {
	m := p.members[name]
	switch {
	case m == nil:
		return nil, fmt.Errorf("%s is not in it: it is no pack of Stopladder, or was cut off", name)
	case m.UncompressedSize64 > uint64(most):
		return nil, fmt.Errorf("%s has %d bytes and may have %d", name, m.UncompressedSize64, most)
	}
	in, err := m.Open()
	if err != nil {
		return nil, fmt.Errorf("%s is damaged", name)
	}
	defer in.Close()
	text, err := io.ReadAll(io.LimitReader(in, most+1))
	if err != nil || uint64(len(text)) != m.UncompressedSize64 {
		return nil, fmt.Errorf("%s is damaged", name)
	}
	return text, nil
}

// checked is whole for a member whose hash is known.
func (p *Pack) checked(name string) ([]byte, error) {
	text, err := p.whole(name, most(name))
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(text)
	if hex.EncodeToString(sum[:]) != p.file(name).SHA256 {
		return nil, fmt.Errorf("%s is not what the pack says: it is damaged, or was changed", name)
	}
	return text, nil
}

func (p *Pack) file(name string) File {
	for _, f := range p.Files {
		if f.Name == name {
			return f
		}
	}
	return File{}
}

// checkEnd reads the record at the end of the archive and bounds the list of members before
// anything is taken for it. (APPNOTE 4.3.16; with 4.3.14 and 4.3.15 for large archives.)
func checkEnd(r io.ReaderAt, size int64) error {
	const endSize, locatorSize, end64Size = 22, 20, 56
	cut := errors.New("its end is not there: it was cut off, or is no pack")
	switch {
	case size > MaxFile:
		return fmt.Errorf("it has %d bytes and a pack at most %d", size, MaxFile)
	case size < endSize:
		return cut
	}
	le := binary.LittleEndian
	end := make([]byte, endSize)
	if _, err := r.ReadAt(end, size-endSize); err != nil {
		return errors.New("its end cannot be read")
	}
	if le.Uint32(end) != 0x06054b50 || le.Uint16(end[20:]) != 0 { // a pack has no comment
		return cut
	}
	count, length, at := uint64(le.Uint16(end[10:])), uint64(le.Uint32(end[12:])), uint64(le.Uint32(end[16:]))
	stop := size - endSize
	if count == 0xffff || length == 0xffffffff || at == 0xffffffff {
		large := make([]byte, end64Size+locatorSize)
		if size < endSize+int64(len(large)) {
			return cut
		}
		stop -= int64(len(large))
		if _, err := r.ReadAt(large, stop); err != nil {
			return errors.New("its end cannot be read")
		}
		if le.Uint32(large) != 0x06064b50 || le.Uint32(large[end64Size:]) != 0x07064b50 || le.Uint64(large[end64Size+8:]) != uint64(stop) {
			return cut
		}
		count, length, at = le.Uint64(large[32:]), le.Uint64(large[40:]), le.Uint64(large[48:])
	}
	if count > MaxMembers || length > maxIndex || at > uint64(stop) || at+length != uint64(stop) {
		return errors.New("its list of members is damaged, or too long")
	}
	return nil
}
