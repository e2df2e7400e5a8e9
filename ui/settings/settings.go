// Package settings keeps what the window remembers from one start to the next.
// It is a file of our own, written atomically: the toolkit's preferences now
// and then read a half-written file.
package settings

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"stopladder/analysis/disk/wholefile"
)

// maxRecent is how many rolls and folders are offered again.
const maxRecent = 8

// Settings are remembered between starts. The zero value is the default.
type Settings struct {
	Width    float32  `json:"width,omitempty"`   // of the window, toolkit units
	Height   float32  `json:"height,omitempty"`  //
	Ladder   float64  `json:"ladder,omitempty"`  // share of the width, 0..1
	Panel    string   `json:"panel,omitempty"`   // page beside the pictures
	Folder   string   `json:"folder,omitempty"`  // last one that scans were opened from
	Judge    string   `json:"judge,omitempty"`   // proposed for a new roll
	Shelf    string   `json:"shelf,omitempty"`   // folder of roll files that was looked at last
	Recent   []string `json:"recent,omitempty"`  // roll files, newest first
	Folders  []string `json:"folders,omitempty"` // that were opened from or saved to, newest first
	Toured   bool     `json:"toured,omitempty"`  // the tour was offered
	Rolls    []Roll   `json:"rolls,omitempty"`   // that were open, in the order of their tabs
	Front    int      `json:"front,omitempty"`   // which of them was shown
	Sheet    *Sheet   `json:"sheet,omitempty"`   // how the last one was made up
	filename string

	mu          sync.Mutex
	made, wrote int // versions of the text, so that an older one never takes the place of a newer
}

// Sheet is how a sheet was made up. What is not known any more stands for the default.
type Sheet struct {
	Arrangement string `json:"arrangement,omitempty"`
	Ground      string `json:"ground,omitempty"`
	Shape       string `json:"shape,omitempty"`
	Width       int    `json:"width,omitempty"` // pixels
	Masks       bool   `json:"masks,omitempty"`
	Kind        string `json:"kind,omitempty"` // png, png16, jpeg, pdf
	P3          bool   `json:"p3,omitempty"`
}

// Roll is a roll that was open, and how it was looked at.
type Roll struct {
	Paths  []string `json:"paths,omitempty"` // the roll file, or the scans
	Demo   string   `json:"demo,omitempty"`  // the sample roll, by its film
	Marker float64  `json:"marker,omitempty"`
	Layout int      `json:"layout,omitempty"`
	Panel  string   `json:"panel,omitempty"`
	Curve  bool     `json:"curve,omitempty"`
}

// Load reads the settings of a folder. Missing or spoiled settings are no
// error: the defaults serve.
func Load(dir string) *Settings {
	s := &Settings{}
	if dir == "" {
		return s
	}
	name := filepath.Join(dir, "settings.json")
	if b, err := os.ReadFile(name); err == nil {
		if json.Unmarshal(b, s) != nil {
			s = &Settings{}
		}
	}
	s.filename = name
	if s.Ladder < 0 || s.Ladder > 1 {
		s.Ladder = 0
	}
	return s
}

// Save writes the settings; without a folder it does nothing.
func (s *Settings) Save() error { return s.Saver()() }

// Saver returns a function that writes the settings as they are now, on any goroutine;
// what was written of later settings meanwhile stays.
func (s *Settings) Saver() func() error {
	if s.filename == "" {
		return func() error { return nil }
	}
	b, err := json.MarshalIndent(s, "", "  ")
	s.made++
	version := s.made
	return func() error {
		if err != nil {
			return err
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		if version < s.wrote {
			return nil
		}
		if err := os.MkdirAll(filepath.Dir(s.filename), 0o700); err != nil {
			return err
		}
		if err := wholefile.Write(s.filename, func(w io.Writer) error {
			_, err := w.Write(append(b, '\n'))
			return err
		}); err != nil {
			return err
		}
		s.wrote = version
		return nil
	}
}

// Opened puts a roll file at the top of the recent ones.
func (s *Settings) Opened(path string) {
	s.Recent = newest(s.Recent, path)
}

// Used puts a folder at the top of the recent ones.
func (s *Settings) Used(folder string) { s.Folders = newest(s.Folders, folder) }

func newest(list []string, path string) []string {
	list = append([]string{path}, slices.DeleteFunc(slices.Clone(list), func(p string) bool { return p == path })...)
	return list[:min(len(list), maxRecent)]
}
