package packing

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"

	"stopladder/analysis/judge/pack"
	"stopladder/analysis/judge/roll"
)

// Figures are what the sender of a pack measured of one full scan, as shares 0..1 of its
// image area; nil where it was not measured.
type Figures struct {
	File                  string
	Blown, Blocked, Noisy *float64
}

// Sent reads the sender's readings, which lie beside the roll file of a pack that was
// unpacked. nil: there are none, or they cannot be read.
func Sent(r *roll.Roll) []Figures {
	f, err := os.Open(filepath.Join(filepath.Dir(r.Path()), pack.ReadingsName))
	if err != nil {
		return nil
	}
	defer f.Close()
	if st, err := f.Stat(); err != nil || !st.Mode().IsRegular() || st.Size() > pack.MaxReadings {
		return nil
	}
	type share struct {
		Any *float64 `json:"any"`
	}
	var doc struct {
		Frames []struct {
			File    string   `json:"file"`
			Blown   share    `json:"blown"`
			Blocked share    `json:"blocked"`
			Noisy   *float64 `json:"noisy"`
		} `json:"frames"`
	}
	if err := json.NewDecoder(io.LimitReader(f, pack.MaxReadings)).Decode(&doc); err != nil {
		return nil
	}
	var out []Figures
	for _, f := range doc.Frames[:min(len(doc.Frames), roll.MaxFrames)] {
		out = append(out, Figures{f.File, valid(f.Blown.Any), valid(f.Blocked.Any), valid(f.Noisy)})
	}
	return out
}

// valid is a share, nil for what is none.
func valid(v *float64) *float64 {
	if v == nil || !(*v >= 0 && *v <= 1) {
		return nil
	}
	return v
}
