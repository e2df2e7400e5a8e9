// Package pack reads and writes packs: a roll in one file, for a friend to judge, and the
// friend's answer.
//
// A pack is a ZIP archive (PKWARE's APPNOTE 6.3) whose members are stored, not compressed:
// what they hold is compressed in itself, and nothing grows when it is taken out. Extension
// .ladderpack. Its members are
//
//	pack.json            what the pack is, and name, size and SHA-256 of every other member
//	                     (assets/schema/pack-1.json)
//	roll.stopladder      the roll file, whose frames are members of the pack
//	readings.json        the readings of the scans, measured by the sender
//	                     (assets/schema/measure-1.json)
//	previews/01_-3.tif   light previews
//	scans/01_-3.tif      the scans, where they were wished
//
// An answer has pack.json and roll.stopladder alone, without frames: the judge's opinions.
//
// A pack comes from a stranger. Names are those above and nothing else: none is a path of the
// sender's choice. There are at most MaxMembers, none stands twice, their sizes add up to no
// more than the file, and what is not as pack.json says is not taken. A pack is unpacked
// whole, into a folder that was not there, or not at all.
package pack

import (
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"stopladder/analysis/judge/roll"
)

// Ext is the extension of packs.
const Ext = ".ladderpack"

// Version of the pack that this program writes.
const Version = 1

// Format is what pack.json begins with.
const Format = "stopladder pack"

// The kinds of packs.
const (
	Whole  = "roll"    // a roll to be judged
	Answer = "opinion" // what a judge says of it
)

// Members that have names of their own.
const (
	ManifestName = "pack.json"
	RollName     = "roll.stopladder"
	ReadingsName = "readings.json"
)

// What a pack may hold.
const (
	MaxMembers  = roll.MaxFrames + 3
	MaxManifest = 1 << 20         // bytes of pack.json
	MaxReadings = 64 << 20        // bytes of readings.json
	MaxFile     = int64(64) << 30 // bytes of a pack
	maxIndex    = 1 << 20         // bytes of the list at its end
)

// Manifest is pack.json.
type Manifest struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	Kind    string `json:"kind"`
	Program string `json:"program,omitempty"` // version that wrote it
	ID      string `json:"id"`                // 16 hex digits; an answer has that of the pack it answers
	Made    string `json:"made,omitempty"`    // day, ISO 8601
	From    string `json:"from,omitempty"`    // who sends it
	Title   string `json:"title,omitempty"`   // what the roll is called
	Scans   bool   `json:"scans,omitempty"`   // the scans are in it; else light previews
	Files   []File `json:"files"`
}

// File is a member of a pack.
type File struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// pictureName is what previews and scans are called: numbered, so that no system has a
// device of that name, in lower case, so that no system takes two for one.
var pictureName = regexp.MustCompile(`^(previews|scans)/[0-9]{2,4}_[-+]?[0-9]{1,2}(\.[0-9]{1,4})?\.(tif|png|jpg)$`)

// PictureName returns the name of the n-th frame's picture, from 1, in a folder.
func PictureName(folder string, n int, stop float64, ext string) string {
	label := strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%+.2f", stop), "0"), ".")
	if strings.Trim(label, "+-0.") == "" {
		label = "0"
	}
	return fmt.Sprintf("%s/%02d_%s%s", folder, n, label, ext)
}

// most is how many bytes a member may have.
func most(name string) int64 {
	switch name {
	case RollName:
		return roll.MaxFileBytes
	case ReadingsName:
		return MaxReadings
	}
	return MaxFile
}

// line is a short text of a stranger.
func line(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200])
	}
	return s
}

// parse reads pack.json.
func parse(text []byte) (m Manifest, err error) {
	if err := json.Unmarshal(text, &m); err != nil {
		return m, errors.New("what it says of itself is damaged")
	}
	switch {
	case m.Format != Format:
		return m, errors.New("it is no pack of Stopladder")
	case m.Version > Version:
		return m, fmt.Errorf("it was written by a newer Stopladder (pack version %d, this program reads up to %d): open it with that", m.Version, Version)
	case m.Version < 1 || m.Kind != Whole && m.Kind != Answer || !roll.IsID(m.ID):
		return m, errors.New("what it says of itself is damaged")
	}
	seen := map[string]bool{}
	for _, f := range m.Files {
		picture := pictureName.MatchString(f.Name)
		switch {
		case f.Name != RollName && !(m.Kind == Whole && (f.Name == ReadingsName || picture)):
			return m, fmt.Errorf("it has %q, which has no place in a pack", line(f.Name))
		case seen[f.Name]:
			return m, fmt.Errorf("%s stands in it twice", f.Name)
		case f.Bytes < 0 || f.Bytes > most(f.Name) || len(f.SHA256) != 64:
			return m, fmt.Errorf("what it says of %s makes no sense", f.Name)
		}
		seen[f.Name] = true
	}
	if !seen[RollName] || len(m.Files) > MaxMembers-1 {
		return m, errors.New("it has no roll, or more than a roll")
	}
	m.Program, m.Made, m.From, m.Title = line(m.Program), line(m.Made), line(m.From), line(m.Title)
	return m, nil
}
