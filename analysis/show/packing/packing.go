// Package packing puts a measured roll into a pack for a friend to judge: light previews or
// the scans, and the readings of the scans.
//
// A preview is the one that everything but the exact counts is read from
// (assets/manual/light.md#the-preview): the scan reduced by a whole factor to at most 2048
// pixels, averaged in light, in the scan's own codes and under its own profile. It keeps 12
// bits of each code: measured on the demo's rolls (scans of 4000 pixels), readings and ranges
// of 12 bits are those of 16, and the file is a quarter smaller; with 8 bits an end of the
// range moves by a quarter stop, and a JPEG of quality 95 loses nearly all that is Blown
// (assets/manual/opinions.md#packs has the figures).
package packing

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"stopladder/analysis/film"
	"stopladder/analysis/film/measure"
	"stopladder/analysis/judge/opinion"
	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
	"stopladder/analysis/scan/tiffwrite"
)

// Bits are what a preview keeps of each code.
const Bits = 12

// Options say what goes into a pack.
type Options struct {
	Scans   bool   // the scans in place of previews
	Program string // version of the program
	Today   string // ISO 8601
	Saved   string // the day on which the roll's own marks were made
}

// Pack is a roll made ready for packing.
type Pack struct {
	manifest pack.Manifest
	members  []pack.Member
	LeftOut  []string // a sentence for each frame that is not in it
}

// Frames counts the frames that are in it.
func (p *Pack) Frames() (n int) { return len(p.members) - 2 }

// New makes a measured roll ready; readings are its readings as JSON. The error says in one
// sentence why there is no pack.
func New(r *film.Roll, readings []byte, o Options) (*Pack, error) {
	if r.Judged.Demo != "" {
		return nil, errors.New("the sample roll has no scans: write it as files with the command demo, and pack those")
	}
	if r.Judged.Previews() > 0 {
		return nil, errors.New("the roll came in a pack itself: ask its sender for the scans, or send back your marks")
	}
	p := &Pack{manifest: pack.Manifest{Kind: pack.Whole, Program: o.Program, ID: opinion.NewID(), Made: o.Today,
		Title: r.Judged.Called(), Scans: o.Scans}}
	if len(r.Judged.Marks) > 0 {
		p.manifest.From = r.Judged.Marks[0].Judge
	}
	sent := r.Judged.In("")
	sent.Title, sent.Sitting, sent.BaseFile, sent.Readings, sent.Blind = r.Judged.Called(), nil, "", nil, nil
	sent.Marks = []roll.Marks{{}}
	if own, ok := opinion.Own(withHashes(r), o.Saved); ok && (r.Judged.Sitting == nil || r.Judged.Sitting.Done == "" || opinion.Changed(r.Judged)) {
		sent.Marks = append(sent.Marks, opinion.Named(own))
	}
	sent.Marks = append(sent.Marks, opinion.Given(r.Judged)...)
	if len(sent.Marks) > roll.MaxMarks {
		return nil, opinion.ErrFull
	}
	p.frames(r, sent, o)
	if len(sent.Frames) == 0 {
		return nil, errors.New("not one scan could be read, so there is nothing to pack")
	}
	text, err := pack.RollText(sent)
	if err != nil {
		return nil, err
	}
	p.members = append([]pack.Member{{Name: pack.RollName, Put: pack.Text(text)}, {Name: pack.ReadingsName, Put: pack.Text(readings)}}, p.members...)
	return p, nil
}

// withHashes is the judged roll with the hashes of the scans that were measured.
func withHashes(r *film.Roll) *roll.Roll {
	c := r.Judged.Clone()
	for i := range c.Frames {
		if i < len(r.Frames) && r.Frames[i].SHA256 != "" {
			c.Frames[i].SHA256 = r.Frames[i].SHA256
		}
	}
	return c
}

// frames makes the pictures ready, and the frames that name them.
func (p *Pack) frames(r *film.Roll, sent *roll.Roll, o Options) {
	judged := sent.Frames
	sent.Frames = []roll.Frame{}
	for i, j := range judged {
		f := r.Frames[i]
		switch {
		case f.Look == nil || f.Look.Preview == nil || len(f.Look.Preview.Pix) == 0:
			p.LeftOut = append(p.LeftOut, fmt.Sprintf("%s could not be read and is not in the pack", j.Name()))
			continue
		case f.SHA256 == "" || f.Replaced != nil:
			p.LeftOut = append(p.LeftOut, fmt.Sprintf("%s was changed while it was measured and is not in the pack", j.Name()))
			continue
		}
		one := roll.Frame{Stop: j.Stop, Origin: roll.ByHand, Area: j.Area, Placed: j.Placed}
		factor := 1
		if o.Scans {
			one.File = pack.PictureName("scans", len(sent.Frames)+1, j.Stop, endings[f.Info.Format])
			one.SHA256, one.Bytes = f.SHA256, f.Bytes
			p.members = append(p.members, pack.Member{Name: one.File, Put: copied(j.File), Want: f.SHA256})
		} else {
			factor = f.Look.Preview.Factor
			one.File = pack.PictureName("previews", len(sent.Frames)+1, j.Stop, ".tif")
			one.Preview = &roll.Original{Name: j.Name(), SHA256: f.SHA256, Bytes: f.Bytes, Width: f.Info.Width, Height: f.Info.Height}
			one.Area, one.Placed = reduced(j.Area, factor), placed(j.Placed, factor)
			p.members = append(p.members, pack.Member{Name: one.File, Put: preview(f.Look)})
		}
		if r.Judged.BaseFile == j.File {
			sent.BaseFile = one.File
		}
		if i == r.Base {
			sent.Patches = spots(r.Judged.Patches, factor)
		}
		sent.Frames = append(sent.Frames, one)
	}
}

var endings = map[string]string{"TIFF": ".tif", "PNG": ".png", "JPEG": ".jpg"}

// Write writes the pack. progress, which may be nil, gets how many pictures are in it.
func (p *Pack) Write(ctx context.Context, w io.Writer, progress func(done, total int)) error {
	members := append([]pack.Member{}, p.members...)
	for i := range members[2:] {
		put := members[2+i].Put
		members[2+i].Put = func(w io.Writer) error {
			if progress != nil {
				progress(i, p.Frames())
			}
			return put(w)
		}
	}
	return pack.Write(ctx, w, p.manifest, members)
}

// reduced is an image area in pixels of a preview.
func reduced(a *roll.Area, factor int) *roll.Area {
	if a == nil {
		return nil
	}
	x, y := a.X/factor, a.Y/factor
	return &roll.Area{X: x, Y: y, W: max(1, (a.X+a.W)/factor-x), H: max(1, (a.Y+a.H)/factor-y)}
}

func placed(p *roll.Placement, factor int) *roll.Placement {
	if p == nil {
		return nil
	}
	c := *p
	c.DX, c.DY = c.DX/float64(factor), c.DY/float64(factor)
	return &c
}

func spots(list []roll.Patch, factor int) (out []roll.Patch) {
	for _, p := range list {
		p.X, p.Y, p.R = p.X/float64(factor), p.Y/float64(factor), math.Max(0.5, p.R/float64(factor))
		out = append(out, p)
	}
	return out
}

// copied puts a scan as it is.
func copied(path string) func(io.Writer) error {
	return func(w io.Writer) error {
		f, err := os.Open(path)
		if err != nil {
			return fmt.Errorf("a scan cannot be read any more: %w", err)
		}
		defer f.Close()
		_, err = io.CopyBuffer(struct{ io.Writer }{w}, f, make([]byte, 1<<20))
		return err
	}
}

// preview puts the preview of a scan as a TIFF.
func preview(look *measure.Look) func(io.Writer) error {
	return func(w io.Writer) error {
		p := look.Preview
		var b seeker
		t, err := tiffwrite.NewWriter(&b, tiffwrite.Options{Width: p.W, Height: p.H, ICC: profile(look), Compression: tiffwrite.Deflate})
		if err != nil {
			return err
		}
		row := make([]uint16, 3*p.W)
		for y := range p.H {
			for i, v := range p.Pix[3*p.W*y : 3*p.W*(y+1)] {
				row[i] = kept(v, look.Info.Bits)
			}
			if err := t.WriteRows(row); err != nil {
				return err
			}
		}
		if err := t.Close(); err != nil {
			return err
		}
		_, err = w.Write(b.b)
		return err
	}
}

// profile is what a preview's codes mean: the scan's own profile, or none where it has none,
// so that the friend assumes what the roll says is assumed.
func profile(look *measure.Look) []byte {
	if look.ProfileAssumed {
		return nil
	}
	return look.Info.ICC
}

// kept is a code of a container of some bits as a preview has it: the leading bits, and full
// scale as it is, so that what stands at the ceiling still does.
func kept(v uint16, container int) uint16 {
	if container == 8 {
		v *= 257
	}
	if v == math.MaxUint16 {
		return v
	}
	const drop = 16 - Bits
	return uint16(min(uint32(v)+1<<(drop-1), math.MaxUint16) >> drop << drop)
}

// seeker is a file in memory.
type seeker struct {
	b  []byte
	at int
}

func (s *seeker) Write(p []byte) (int, error) {
	if more := s.at + len(p) - len(s.b); more > 0 {
		s.b = append(s.b, make([]byte, more)...)
	}
	s.at += copy(s.b[s.at:], p)
	return len(p), nil
}

func (s *seeker) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += int64(s.at)
	case io.SeekEnd:
		offset += int64(len(s.b))
	}
	s.at = int(offset)
	return offset, nil
}
